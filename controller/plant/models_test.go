package plant_test

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"example.org/restpoint/controller/plant"
)

// records reads a table of numbers below its # remarks and its heading.
func records(t *testing.T, name string) [][]float64 {
	t.Helper()
	dir := os.Getenv("RESTPOINT_DATA")
	if dir == "" {
		t.Skip("RESTPOINT_DATA is not set: no measured records here")
	}
	f, err := os.Open(filepath.Join(dir, name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var table [][]float64
	for _, row := range rows[1:] {
		var numbers []float64
		for _, cell := range row {
			v, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				t.Fatal(err)
			}
			numbers = append(numbers, v)
		}
		table = append(table, numbers)
	}
	if len(table) == 0 {
		t.Fatalf("%s: empty", name)
	}
	return table
}

// thousandth: 0.1 % of the value, or of what prints as nothing in the table.
func thousandth(t *testing.T, name string, got, want, floor float64) {
	t.Helper()
	near(t, name, got, want, max(1e-3*math.Abs(want), floor))
}

func andres(hours float64, profile func(h float64) float64) plant.DeAndresToro {
	m := plant.NewDeAndresToro()
	for i := range int(math.Round(hours * 10)) {
		m = m.After(0.1, profile(float64(i)/10+0.05))
	}
	return m
}

func hold(c float64) func(float64) float64 { return func(float64) float64 { return c } }

// Trajectory at 13 C, computed with LSODA at rtol 1e-9 from the equations of
// de Andres-Toro et al. 1998 as eight public codings give them.
func TestDeAndresToroAt13C(t *testing.T) {
	t.Parallel()
	for _, row := range [][]float64{
		{12, 0.7062, 1.859, 0.184, 126.4, 3.599, 0.1924},
		{24, 0.2598, 3.544, 0.289, 116.6, 12.45, 0.6491},
		{36, 0.09555, 4.990, 0.4865, 101.0, 23.97, 1.136},
		{48, 0.03514, 5.839, 0.6746, 81.28, 35.03, 1.377},
		{60, 0.01293, 5.951, 0.7927, 59.83, 43.68, 1.288},
		{72, 0.004755, 5.449, 0.8123, 39.27, 49.62, 0.990},
		{84, 0.001749, 4.591, 0.7462, 21.45, 53.42, 0.6485},
		{96, 0.0006433, 3.631, 0.6294, 7.415, 55.73, 0.366},
		{108, 0.0002366, 2.752, 0.4981, 0.0683, 56.75, 0.1776},
		{120, 0.000087, 2.064, 0.3789, 0.000005, 56.76, 0.08178},
		{144, 0.0000118, 1.162, 0.214, 0, 56.76, 0.01734},
	} {
		m := andres(row[0], hold(13))
		h := strconv.Itoa(int(row[0])) + " h: "
		thousandth(t, h+"latent", m.Latent, row[1], 5e-7)
		thousandth(t, h+"active", m.Active, row[2], 5e-4)
		thousandth(t, h+"dead", m.Dead, row[3], 5e-4)
		thousandth(t, h+"sugar", m.Sugar, row[4], 1e-4)
		thousandth(t, h+"ethanol", m.Ethanol, row[5], 5e-3)
		thousandth(t, h+"diacetyl", m.Diacetyl, row[6], 1e-5)
	}
	// The same, two figures more (scipy LSODA and DOP853, rtol 1e-11).
	m := andres(48, hold(13))
	thousandth(t, "active", m.Active, 5.83950, 0)
	thousandth(t, "sugar", m.Sugar, 81.27609, 0)
	thousandth(t, "ethanol", m.Ethanol, 35.03013, 0)
	thousandth(t, "diacetyl", m.Diacetyl, 1.377439, 0)
}

// 10 C, and the industrial profile of a public coding: 11 to 14 C in 25 h, 14 C
// to 120 h, to 16 C by 145 h, held to 160 h.
func TestDeAndresToroProfiles(t *testing.T) {
	t.Parallel()
	for _, row := range [][]float64{
		{12, 126.3, 2.307, 0.1306},
		{36, 105.6, 13.87, 0.7023},
		{60, 75.2, 27.11, 0.9735},
		{84, 41.64, 37.77, 0.7477},
		{108, 11.07, 44.85, 0.3679},
		{120, 1.436, 46.67, 0.2132},
	} {
		m := andres(row[0], hold(10))
		thousandth(t, "10 C sugar", m.Sugar, row[1], 5e-4)
		thousandth(t, "10 C ethanol", m.Ethanol, row[2], 5e-3)
		thousandth(t, "10 C diacetyl", m.Diacetyl, row[3], 5e-5)
	}
	industrial := func(h float64) float64 {
		switch {
		case h < 25:
			return 11 + 3*h/25
		case h < 120:
			return 14
		case h < 145:
			return 14 + 2*(h-120)/25
		default:
			return 16
		}
	}
	for _, row := range [][]float64{
		{24, 118.5, 10.63, 0.5562, 3.217},
		{48, 85.85, 35.39, 1.462, 6.673},
		{72, 44.39, 51.30, 1.113, 5.884},
		{96, 16.16, 56.90, 0.4284, 3.240},
		{120, 3.027, 58.65, 0.1118, 1.421},
		{144, 0.0340, 59.03, 0.0232, 0.3284},
		{160, 0.0049, 59.03, 0.0079, 0.0707},
	} {
		m := andres(row[0], industrial)
		thousandth(t, "industrial sugar", m.Sugar, row[1], 1e-4)
		thousandth(t, "industrial ethanol", m.Ethanol, row[2], 5e-3)
		thousandth(t, "industrial diacetyl", m.Diacetyl, row[3], 5e-5)
		thousandth(t, "industrial active", m.Active, row[4], 5e-4)
	}
}

// Above 15 C its yeast dies first: 22.86 g/L of sugar stay at 16 C.
func TestDeAndresToroSticksWhenWarm(t *testing.T) {
	t.Parallel()
	near(t, "sugar left at 16 C", andres(600, hold(16)).Sugar, 22.86, 0.03)
}

// The whole computed table: scipy LSODA and DOP853 at rtol 1e-11.
func TestDeAndresToroTable(t *testing.T) {
	t.Parallel()
	for _, row := range records(t, "model_check_de_andres_toro.csv") {
		profile := hold(row[0])
		if row[0] == 999 { // the table's mark for 10 C to 60 h, then to 15 C by 72 h
			profile = func(h float64) float64 { return 10 + 5*min(1, max(0, (h-60)/12)) }
		}
		m := andres(row[1], profile)
		name := strconv.FormatFloat(row[0], 'f', -1, 64) + " C, " + strconv.FormatFloat(row[1], 'f', -1, 64) + " h: "
		thousandth(t, name+"latent", m.Latent, row[2], 1e-6)
		thousandth(t, name+"active", m.Active, row[3], 1e-6)
		thousandth(t, name+"dead", m.Dead, row[4], 1e-6)
		thousandth(t, name+"sugar", m.Sugar, row[5], 1e-4)
		thousandth(t, name+"ethanol", m.Ethanol, row[6], 1e-6)
		thousandth(t, name+"diacetyl", m.Diacetyl, row[7], 1e-6)
	}
}

// Isothermal trajectories of the Gee and Ramirez set, from 70, 220, 40 and 125
// mol/m3, computed independently from the published parameters.
func TestEngasserTable(t *testing.T) {
	t.Parallel()
	for _, row := range [][]float64{
		{8, 24, 43.647, 209.039, 38.668, 132.00, 100.36},
		{8, 72, 0.652, 182.081, 35.339, 146.33, 305.61},
		{8, 150, 0, 136.814, 29.501, 160.89, 514.30},
		{12, 24, 19.556, 198.573, 37.007, 138.71, 196.38},
		{12, 72, 0, 147.912, 29.898, 157.76, 469.41},
		{12, 150, 0, 81.253, 20.055, 179.58, 782.07},
		{16, 24, 0, 179.905, 33.587, 147.70, 325.30},
		{16, 72, 0, 100.457, 21.345, 173.92, 700.90},
		{16, 150, 0, 27.045, 8.973, 198.56, 1054.06},
	} {
		m, start := plant.NewEngasser(), plant.NewEngasser()
		for range int(row[1] * 50) {
			m = m.After(0.02, row[0]) // the end of glucose is too sharp for 0.1 h
		}
		name := strconv.Itoa(int(row[0])) + " C: "
		thousandth(t, name+"glucose", m.Glucose, row[2], 1e-3)
		thousandth(t, name+"maltose", m.Maltose, row[3], 0)
		thousandth(t, name+"maltotriose", m.Maltotriose, row[4], 0)
		thousandth(t, name+"yeast", m.Yeast, row[5], 0)
		thousandth(t, name+"ethanol", m.Ethanol, row[6], 0)
		// What was eaten is what became yeast and ethanol.
		g, ma, n := start.Glucose-m.Glucose, start.Maltose-m.Maltose, start.Maltotriose-m.Maltotriose
		near(t, name+"ethanol balance", m.Ethanol, 1.92*g+3.84*ma+5.76*n, 1e-9)
		near(t, name+"yeast balance", m.Yeast-start.Yeast, 0.134*g+0.268*ma+0.402*n, 1e-9)
		if m.Glucose > 1e-3*start.Glucose && m.Maltose < 0.5*start.Maltose {
			t.Errorf("%sglucose is not eaten first", name)
		}
	}
}
