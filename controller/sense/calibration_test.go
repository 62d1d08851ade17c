package sense_test

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/restpoint/controller/sense"
	"example.org/restpoint/controller/units"
)

// The figures of these examples are the project's own.
func TestACalibrationMakesAGravityOfWhatWasRead(t *testing.T) {
	line, err := sense.OfPairs(sense.Pair{Reads: 1.002, Is: 1.000}, sense.Pair{Reads: 1.052, Is: 1.051})
	if err != nil {
		t.Fatal(err)
	}
	swapped, err := sense.OfPairs(sense.Pair{Reads: 1.052, Is: 1.051}, sense.Pair{Reads: 1.002, Is: 1.000})
	if err != nil {
		t.Fatal(err)
	}
	angle := sense.OfTerms([]float64{0.9302, 2.62e-3, -1.2e-5}, 20, 80)
	for _, row := range []struct {
		name   string
		c      sense.Calibration
		number float64
		want   units.Gravity
		known  bool
	}{
		{"none: the number is the gravity", sense.Calibration{}, 1.0312, 1.0312, true},
		{"an offset of two points down", sense.OfOffset(-2), 1.0312, 1.0292, true},
		{"the first of two points", line, 1.002, 1.000, true},
		{"the second of two points", line, 1.052, 1.051, true},
		{"between two points", line, 1.027, 1.0255, true},
		{"beyond two points", line, 1.102, 1.102, true},
		{"the points in the other order", swapped, 1.027, 1.0255, true},
		{"an angle of 60 degrees", angle, 60, 1.0442, true}, // 0.9302 + 0.1572 - 0.0432
		{"an angle at the end of what was fitted", angle, 80, 1.063, true},
		{"an angle beyond what was fitted", angle, 80.1, 0, false},
		{"an angle before what was fitted", angle, 19.9, 0, false},
		{"no number", sense.OfOffset(1), math.NaN(), 0, false},
		{"no number, and no calibration", sense.Calibration{}, math.Inf(1), 0, false},
		{"a number that has no gravity", sense.OfTerms([]float64{1, 1, 1, 1, 1}, 0, 0), 1e300, 0, false},
	} {
		got, known := row.c.Apply(row.number)
		if known != row.known || known && math.Abs(float64(got-row.want)) > 1e-9 {
			t.Errorf("%s: %v (%v), want %v (%v)", row.name, got, known, row.want, row.known)
		}
	}
}

func TestTwoPointsThatMakeNoLine(t *testing.T) {
	for _, row := range []struct {
		name string
		a, b sense.Pair
		want string
	}{
		{"too near", sense.Pair{Reads: 1.000, Is: 1.000}, sense.Pair{Reads: 1.019, Is: 1.020}, "too near"},
		{"the same", sense.Pair{Reads: 1.000, Is: 1.000}, sense.Pair{Reads: 1.000, Is: 1.050}, "too near"},
		{"swapped", sense.Pair{Reads: 1.000, Is: 1.050}, sense.Pair{Reads: 1.050, Is: 1.000}, "slope of -1.00"},
		{"flat", sense.Pair{Reads: 1.000, Is: 1.000}, sense.Pair{Reads: 1.050, Is: 1.0249}, "slope of 0.50"},
		{"steep", sense.Pair{Reads: 1.000, Is: 1.000}, sense.Pair{Reads: 1.020, Is: 1.0401}, "slope of 2.00"},
	} {
		if _, err := sense.OfPairs(row.a, row.b); err == nil || !strings.Contains(err.Error(), row.want) {
			t.Errorf("%s: %v, want %q", row.name, err, row.want)
		}
	}
	if _, err := sense.OfPairs(sense.Pair{Reads: 1.032, Is: 1.030}, sense.Pair{Reads: 1.052, Is: 1.050}); err != nil {
		t.Errorf("20 points apart: %v", err)
	}
}

func TestAPolynomialMustRiseWhereItGivesAGravity(t *testing.T) {
	for _, row := range []struct {
		name     string
		terms    []float64
		from, to float64
		want     string // empty = it may be used
	}{
		{"a straight line", []float64{0.9, 2e-3}, 0, 0, ""},
		{"a line that falls", []float64{1.2, -2e-3}, 0, 0, "it falls"},
		{"a constant", []float64{1.05}, 0, 0, "the same gravity"},
		{"a line whose slope is nothing", []float64{1.05, 0}, 0, 0, "the same gravity"},
		{"a square has two branches", []float64{0.9302, 2.62e-3, -1.2e-5}, 0, 0, "it falls"},
		{"a square between ends on one of them", []float64{0.9302, 2.62e-3, -1.2e-5}, 20, 80, ""},
		{"a square up to its turn at 109.2", []float64{0.9302, 2.62e-3, -1.2e-5}, 20, 109, ""},
		{"a square beyond its turn", []float64{0.9302, 2.62e-3, -1.2e-5}, 20, 110, "it falls from 1.0732 at 109.2"},
		{"a cube that rises everywhere, with a saddle", []float64{1.05, 0, 0, 1e-6}, 0, 0, ""},
		{"a cube that bends within what beer has", []float64{1.05, -1e-3, 0, 1e-6}, 0, 0, "it falls"},
		{"a cube that bends below what beer has", []float64{0.5, 1e-2, -2e-4, 1.3e-6}, 0, 0, ""},
		{"a cube that bends far below what beer has", []float64{-9, 0.45, -6e-3, 2.6e-5}, 0, 0, ""},
		{"a fourth power with a branch on either side", []float64{0.9, 0, 0, 0, 1e-6}, 0, 0, "it falls"},
		{"three branches that each give a gravity", []float64{1.05, -1, 0, 1}, 0, 0, "it falls"},
		{"never a gravity between its ends", []float64{0.9, 2e-3}, 200, 300, "no gravity that a fermenter can hold"},
		{"its ends in the wrong order", []float64{0.9, 2e-3}, 80, 20, "it falls"},
		{"beyond all reckoning", []float64{1, 1, 1, 1, 1e-300}, 0, 0, "reckoned with"},
	} {
		err := sense.OfTerms(row.terms, row.from, row.to).Check()
		if (err == nil) != (row.want == "") || err != nil && !strings.Contains(err.Error(), row.want) {
			t.Errorf("%s: %v, want %q", row.name, err, row.want)
		}
	}
	if err := (sense.Calibration{}).Check(); err != nil {
		t.Errorf("none: %v", err)
	}
}

// Whatever passes the check gives greater gravities for greater numbers, wherever
// both can be in a fermenter.
func TestWhatPassesTheCheckRises(t *testing.T) {
	passing := rapid.Custom(func(t *rapid.T) sense.Calibration {
		terms := rapid.SliceOfN(rapid.Float64Range(-2, 2), 2, sense.MostTerms).Draw(t, "terms")
		// Half of them bend little enough that most pass.
		scale, bend := 1.0, rapid.SampledFrom([]float64{1, 0.01}).Draw(t, "bend")
		for i := range terms {
			terms[i] *= scale
			scale *= bend
		}
		from, to := 0.0, 0.0
		if rapid.Bool().Draw(t, "ends") {
			from, to = rapid.Float64Range(-3, 0).Draw(t, "from"), rapid.Float64Range(0.1, 3).Draw(t, "to")
		}
		return sense.OfTerms(terms, from, to)
	}).Filter(func(c sense.Calibration) bool { return c.Check() == nil })
	rapid.Check(t, func(t *rapid.T) {
		c := passing.Draw(t, "calibration")
		numbers := rapid.SliceOfN(rapid.Float64Range(-20, 20), 2, 40).Draw(t, "numbers")
		for _, a := range numbers {
			for _, b := range numbers {
				x, one := c.Apply(a)
				y, other := c.Apply(b)
				if one && other && x.Plausible() && y.Plausible() && a < b && x > y {
					t.Fatalf("%v at %v and %v at %v", x, a, y, b)
				}
			}
		}
	})
}

func TestADoubtfulCalibration(t *testing.T) {
	line := func(a, b sense.Pair) sense.Calibration {
		c, err := sense.OfPairs(a, b)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	for _, row := range []struct {
		name string
		c    sense.Calibration
		want string
	}{
		{"none", sense.Calibration{}, ""},
		{"five points off", sense.OfOffset(-5), ""},
		{"twelve points off", sense.OfOffset(-12), "-12.0 points in water are beyond 10 points"},
		{"a slope of a tenth more", line(sense.Pair{Reads: 1, Is: 1}, sense.Pair{Reads: 1.05, Is: 1.055}), ""},
		{"a slope of a fifth less", line(sense.Pair{Reads: 1, Is: 1}, sense.Pair{Reads: 1.05, Is: 1.04}), "a slope of 0.800 is beyond 15 % of 1"},
		{"of its own number nothing is known", sense.OfTerms([]float64{0.9, 2e-3}, 0, 0), ""},
	} {
		got := row.c.Doubt()
		if (got == "") != (row.want == "") || !strings.HasPrefix(got, row.want) {
			t.Errorf("%s: %q, want %q", row.name, got, row.want)
		}
	}
}
