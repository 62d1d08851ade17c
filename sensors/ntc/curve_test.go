package ntc_test

import (
	"math"
	"testing"

	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors/electric"
	"example.org/restpoint/sensors/ntc"
)

// short is the 44006 curve of 10 kohm with five digits (Keithley 2700 manual,
// table F-9).
func short() ntc.Curve { return ntc.Curve{A: 1.0295e-3, B: 2.391e-4, C: 1.568e-7} }

// long is the same curve for 0 to 50 C with every digit ("ABC coefficients for
// Steinhart-Hart" sheet).
func long() ntc.Curve { return ntc.Curve{A: 1.029194767e-3, B: 2.391275184e-4, C: 1.566277150e-7} }

func TestTheCurveGivesThePublishedTemperatures(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name  string
		curve ntc.Curve
		ohms  electric.Ohms
		want  float64 // to a thousandth, computed from the published coefficients
	}{
		{"five digits at freezing", short(), 29490, -0.016},
		{"five digits at 10 C", short(), 18790, 9.980},
		{"five digits at 20 C", short(), 12260, 19.999},
		{"five digits at 25 C", short(), 10000, 24.983},
		{"all digits at freezing", long(), 29490, 0.000},
		{"all digits at 10 C", long(), 18790, 9.996},
		{"all digits at 25 C", long(), 10000, 25.000},
		{"beta where it was fitted", ntc.OfBeta(10000, 3977), 10000, 25},
	} {
		got, ok := row.curve.Temperature(row.ohms)
		if !ok || math.Abs(float64(got)-row.want) > 0.0005 {
			t.Errorf("%s: %v is %v, want %g C", row.name, row.ohms, got, row.want)
		}
		if err := row.curve.Check(); err != nil {
			t.Errorf("%s: %v", row.name, err)
		}
		if back := row.curve.Resistance(got); math.Abs(float64(back/row.ohms)-1) > 1e-9 {
			t.Errorf("%s: %v is %v, want %v", row.name, got, back, row.ohms)
		}
	}
}

// A thermistor of B25/85 = 3977 has 3.265 times its 25 C resistance at freezing,
// 1.990 times at 10 C and 1.249 times at 20 C by its own four-term curve
// (a..d = 3.3539438e-3, 2.5646095e-4, 2.5158166e-6, 1.0503069e-7, curve text
// quoted with 10 kohm beads). The B of 25 to 85 C alone misses that by 0.7 K.
func TestBetaIsPoorNearFreezing(t *testing.T) {
	t.Parallel()
	beta := ntc.OfBeta(10000, 3977)
	for _, row := range []struct{ celsius, ratio, least, most float64 }{
		{0, 3.265, 0.6, 0.8},
		{10, 1.990, 0.3, 0.45},
		{20, 1.249, 0.05, 0.15},
		{30, 0.8056, -0.1, 0.1},
	} {
		got, _ := beta.Temperature(electric.Ohms(10000 * row.ratio))
		if off := float64(got) - row.celsius; off < row.least || off > row.most {
			t.Errorf("at %g C Beta is off by %.3f K, want %g to %g K", row.celsius, off, row.least, row.most)
		}
	}
	if got := float64(beta.Resistance(0)) / 10000; math.Abs(got-3.390) > 0.0005 { // computed with the four-term curve's B
		t.Errorf("Beta gives %.4f times at 0 C, want 3.390", got)
	}
}

func TestCoefficientsOfNoThermistorAreRefused(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]ntc.Curve{
		"none":                              {},
		"the second left out":               {A: 1.0295e-3, C: 1.568e-7},
		"a rising curve":                    {A: 6e-3, B: -2.391e-4},
		"a curve that turns":                {A: 1.0295e-3, B: 2.391e-4, C: -1.568e-6},
		"made for kilo-ohms":                {A: 2.7e-3, B: 2.6e-4, C: 1.6e-7},
		"made for the logarithm to ten":     {A: 1.0295e-3, B: 5.5055e-4, C: 1.914e-6},
		"the first a hundred times":         {A: 0.10295, B: 2.391e-4, C: 1.568e-7},
		"the first of the wrong sign":       {A: -1.0295e-3, B: 2.391e-4, C: 1.568e-7},
		"not a number":                      {A: math.NaN(), B: 2.391e-4},
		"endless":                           {A: 1e-3, B: math.Inf(1)},
		"a B value of nothing":              ntc.OfBeta(10000, 0),
		"a thermistor of nothing":           ntc.OfBeta(0, 3977),
		"a thermistor of less than nothing": ntc.OfBeta(-10000, 3977),
		"a thermistor of ten ohms":          ntc.OfBeta(10, 3977),
		"a thermistor of ten megohms":       ntc.OfBeta(10e6, 3977),
	} {
		if err := c.Check(); err == nil {
			t.Errorf("%s is taken: at 25 C %v", name, c.Resistance(25))
		}
	}
}

// FuzzTemperature holds that no resistance gives anything but a finite
// temperature or none, that more ohms are never warmer, and that a curve that
// passes its check leads there and back.
func FuzzTemperature(f *testing.F) {
	for _, c := range []ntc.Curve{short(), long(), ntc.OfBeta(10000, 3977), {}} {
		for _, ohms := range []float64{29490, 10000, 0, -5, 1, 1e8, math.Inf(1), math.NaN()} {
			f.Add(c.A, c.B, c.C, ohms, 1.0)
		}
	}
	f.Fuzz(func(t *testing.T, a, b, c, ohms, more float64) {
		curve := ntc.Curve{A: a, B: b, C: c}
		got, ok := curve.Temperature(electric.Ohms(ohms))
		if !ok && got != 0 || math.IsNaN(float64(got)) || math.IsInf(float64(got), 0) {
			t.Fatalf("%+v: %g ohm is %v, %v", curve, ohms, got, ok)
		}
		if curve.Check() != nil || !ok {
			return
		}
		next, still := curve.Temperature(electric.Ohms(ohms + math.Abs(more)))
		if still && next > got+1e-9 {
			t.Fatalf("%+v: %g ohm is %v, and %g ohm more is %v", curve, ohms, got, more, next)
		}
		for _, at := range []units.Celsius{-40, 0, 25, 110} {
			if back, ok := curve.Temperature(curve.Resistance(at)); !ok || math.Abs(float64(back-at)) > 1e-6 {
				t.Fatalf("%+v: %v comes back as %v, %v", curve, at, back, ok)
			}
		}
	})
}
