package gravity_test

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"pgregory.net/rapid"

	"example.org/restpoint/controller/gravity"
)

// lager is the rest of the model of de Andres-Toro, that tells how its sugar falls
// and its ethanol rises, by the equations as the reference has them.
type lager struct{ latent, active, sugar, ethanol float64 }

func (m lager) slope(celsius float64) lager {
	t := celsius + 273.15
	growth := math.Exp(108.31-31934.09/t) * m.sugar / (65 + m.ethanol)
	wake, death := math.Exp(30.72-9501.54/t), math.Exp(130.16-38313/t)
	saturation := m.sugar / (math.Exp(-119.63+34203.95/t) + m.sugar)
	return lager{
		latent:  -wake * m.latent,
		active:  (growth-death)*m.active + wake*m.latent,
		sugar:   -math.Exp(-41.92+11654.64/t) * saturation * m.active,
		ethanol: (1 - m.ethanol/65) * math.Exp(3.27-1267.24/t) * saturation * m.active,
	}
}

func (m lager) plus(k lager, h float64) lager {
	return lager{m.latent + h*k.latent, m.active + h*k.active, max(0, m.sugar+h*k.sugar), m.ethanol + h*k.ethanol}
}

// after is one Runge-Kutta step.
func (m lager) after(h, celsius float64) lager {
	a := m.slope(celsius)
	b := m.plus(a, h/2).slope(celsius)
	c := m.plus(b, h/2).slope(celsius)
	d := m.plus(c, h).slope(celsius)
	return m.plus(a, h/6).plus(b, h/3).plus(c, h/3).plus(d, h/6)
}

// modelled is the diacetyl after some hours of the model's own sugar and ethanol.
func modelled(celsius, hours float64) float64 {
	const h = 0.05
	m := lager{latent: 1.92, active: 0.08, sugar: 130}
	diacetyl := 0.0
	for range int(math.Round(hours / h)) {
		next := m.after(h, celsius)
		diacetyl = gravity.DiacetylAfter(diacetyl, m.sugar, next.sugar, (m.ethanol+next.ethanol)/2, h, celsius)
		m = next
	}
	return diacetyl
}

// Driven by the model's own course it gives the model's diacetyl: check values of
// the public equations (de Andres-Toro and others 1998), integrated elsewhere to
// nine digits. Within 0.1 %, or a millionth where next to nothing is left.
func TestTheDiacetylOfThePublishedModel(t *testing.T) {
	for _, row := range []struct{ celsius, hours, want float64 }{
		{8, 24, 0.328539},
		{8, 72, 0.817662},
		{8, 160, 0.047981},
		{10, 48, 0.908854},
		{10, 120, 0.213225},
		{12, 48, 1.176822},
		{12, 96, 0.464135},
		{12, 200, 0.000905},
		{13, 48, 1.377439},
		{13, 72, 0.989990},
		{13, 120, 0.081783},
	} {
		if got := modelled(row.celsius, row.hours); math.Abs(got-row.want) > 1e-3*row.want+1e-6 {
			t.Errorf("%g C after %g h: %.6f mg/L, want %.6f", row.celsius, row.hours, got, row.want)
		}
	}
}

// The same, against every row of the check values within what the model was fitted to.
func TestTheDiacetylOfEveryCheckValue(t *testing.T) {
	folder := os.Getenv("RESTPOINT_DATA")
	if folder == "" {
		t.Skip("RESTPOINT_DATA is not set: the check values are not part of the project")
	}
	f, err := os.Open(filepath.Join(folder, "model_check_de_andres_toro.csv"))
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
	worst, n := 0.0, 0
	for _, row := range rows[1:] {
		var v [3]float64 // temperature, hours, diacetyl
		for i, column := range []int{0, 1, 7} {
			if v[i], err = strconv.ParseFloat(row[column], 64); err != nil {
				t.Fatal(err)
			}
		}
		if v[0] < 8 || v[0] > 15 {
			continue
		}
		n++
		off := math.Abs(modelled(v[0], v[1])-v[2]) / (v[2] + 1e-3)
		worst = max(worst, off)
		if off > 1e-3 {
			t.Errorf("%g C after %g h: off by %.2f %%", v[0], v[1], off*100)
		}
	}
	t.Logf("%d values, the worst is off by %.3f %%", n, worst*100)
	if n < 20 {
		t.Errorf("only %d values", n)
	}
}

// seen is an ale of 42 points seen every ten minutes, half gone after 42 h.
func seen(at time.Duration, celsius float64) gravity.Sight {
	eaten := 42 / (1 + math.Exp(-0.1*(at.Hours()-42)))
	return gravity.Sight{Since: at, Seen: true, Eaten: eaten, Left: 42 - eaten, Celsius: celsius}
}

func followed(to time.Duration, celsius float64) gravity.Diacetyl {
	var d gravity.Diacetyl
	for at := time.Duration(0); at <= to; at += 10 * time.Minute {
		d = d.Follow(seen(at, celsius))
	}
	return d
}

func TestTheCourseOfAnEstimate(t *testing.T) {
	if d := followed(11*time.Hour, 13); d.Known() {
		t.Errorf("before the device has settled: %+v", d)
	}
	top, after := followed(42*time.Hour, 13).MgL, followed(200*time.Hour, 13).MgL
	t.Logf("at 13 C: %.2f mg/L in the middle, %.4f after 200 h", top, after)
	if top < 0.5 || top > 3 || after <= 0 || after > 0.05 {
		t.Errorf("%.2f mg/L in the middle, %.4f in the end", top, after)
	}
	if at15, at22 := followed(60*time.Hour, 15).MgL, followed(60*time.Hour, 22).MgL; at15 != at22 {
		t.Errorf("warmer than the model was fitted to: %.3f, %.3f at its warmest", at22, at15)
	}
}

func TestAnEstimateIsLostWithSight(t *testing.T) {
	day := 24 * time.Hour
	blind := func(at time.Duration) gravity.Sight { return gravity.Sight{Since: at} }
	for _, row := range []struct {
		name string
		d    gravity.Diacetyl
		know bool
	}{
		{"not pitched long enough", gravity.Diacetyl{}.Follow(seen(6*time.Hour, 18)), false},
		{"seen from the first day on", gravity.Diacetyl{}.Follow(seen(day, 18)), true},
		{"seen later than that", gravity.Diacetyl{}.Follow(seen(day+time.Minute, 18)).Follow(seen(day+time.Hour, 18)), false},
		{"blind for a day, and seen again", followed(2*day, 18).Follow(blind(3*day - time.Hour)).Follow(seen(3*day, 18)), true},
		{"blind for longer", followed(2*day, 18).Follow(blind(3*day + time.Minute)).Follow(seen(3*day+time.Hour, 18)), false},
		{"lost by what happened", followed(2*day, 18).Lose().Follow(seen(2*day+time.Hour, 18)), false},
	} {
		if row.d.Known() != row.know {
			t.Errorf("%s: %+v", row.name, row.d)
		}
		if !row.know && row.d.MgL != 0 {
			t.Errorf("%s: a figure without sight, %+v", row.name, row.d)
		}
	}
	once := followed(2*day, 18)
	if again := once.Follow(seen(2*day, 18)); again != once {
		t.Errorf("the same time twice: %+v, then %+v", once, again)
	}
}

// A few hours without sight make little of a difference: what was eaten meanwhile
// is taken to have gone evenly.
func TestAnEstimateAcrossAShortSilence(t *testing.T) {
	var d gravity.Diacetyl
	for at := time.Duration(0); at <= 72*time.Hour; at += 10 * time.Minute {
		s := seen(at, 13)
		s.Seen = at < 40*time.Hour || at >= 46*time.Hour
		d = d.Follow(s)
	}
	if want := followed(72*time.Hour, 13).MgL; math.Abs(d.MgL-want) > 0.02*want {
		t.Errorf("%.4f mg/L with a silence of six hours, %.4f without", d.MgL, want)
	}
}

// Whatever is seen, the estimate stays a number, and none below nothing.
func TestAnEstimateStaysANumber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var d gravity.Diacetyl
		at := time.Duration(0)
		for range rapid.IntRange(1, 50).Draw(t, "looks") {
			at += time.Duration(rapid.IntRange(-60, 1800).Draw(t, "min")) * time.Minute
			d = d.Follow(gravity.Sight{
				Since: at, Seen: rapid.IntRange(0, 4).Draw(t, "seen") > 0,
				Eaten: rapid.Float64Range(-30, 200).Draw(t, "eaten"), Left: rapid.Float64Range(-30, 200).Draw(t, "left"), Celsius: rapid.Float64Range(-5, 45).Draw(t, "celsius"),
			})
			if !(d.MgL >= 0 && d.MgL < 1e4) || d.Eaten < 0 || d.Lost && d.Known() {
				t.Fatalf("%+v", d)
			}
		}
	})
}
