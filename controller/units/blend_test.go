package units_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"example.org/restpoint/controller/units"
)

func TestBlend(t *testing.T) {
	for _, row := range []struct {
		name    string
		lots    []units.Lot
		volume  units.Litres
		gravity float64
	}{
		{"20 L of 1.050 and 25 L of 1.056", []units.Lot{{20, 1.050}, {25, 1.056}}, 45, 1.0533333},
		{"equal parts", []units.Lot{{10, 1.040}, {10, 1.060}}, 20, 1.050},
		{"wort and its own volume of water", []units.Lot{{10, 1.080}, {10, 1}}, 20, 1.040},
		{"three brews in one tank", []units.Lot{{500, 1.048}, {500, 1.050}, {1000, 1.051}}, 2000, 1.050},
		{"one alone", []units.Lot{{7, 1.012}}, 7, 1.012},
	} {
		got, err := units.Blend(row.lots...)
		if err != nil || math.Abs(float64(got.Volume-row.volume)) > 1e-12 {
			t.Errorf("%s: %v, %v", row.name, got, err)
		}
		near(t, row.name, float64(got.Gravity), row.gravity, 1e-7)
	}
	for name, lots := range map[string][]units.Lot{
		"nothing": {}, "no volume": {{20, 1.050}, {0, 1.056}}, "less than nothing": {{-1, 1.050}}, "no number": {{units.Litres(math.NaN()), 1.050}},
	} {
		if got, err := units.Blend(lots...); err == nil || got != (units.Lot{}) {
			t.Errorf("%s: %v", name, got)
		}
	}
}

// Another way to the same: masses and extracts add. Volumes shrink a little when sugar
// is mixed with water, which is what the two ways differ by.
func TestBlendAgainstTheBalanceOfExtract(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low, high, tolerance := 1.000, 1.100, 0.3
		if rapid.Bool().Draw(t, "common worts") {
			low, high, tolerance = 1.030, 1.060, 0.05
		}
		lot := func(name string) units.Lot {
			return units.Lot{
				Volume:  units.Litres(rapid.Float64Range(1, 1000).Draw(t, name)),
				Gravity: units.Gravity(rapid.Float64Range(low, high).Draw(t, name+" gravity")),
			}
		}
		a, b := lot("a"), lot("b")
		got, err := units.Blend(a, b)
		if err != nil {
			t.Fatal(err)
		}
		mass := func(l units.Lot) float64 { return float64(l.Volume) * float64(l.Gravity) }
		extract := (mass(a)*float64(a.Gravity.Plato()) + mass(b)*float64(b.Gravity.Plato())) / (mass(a) + mass(b))
		if off := got.Gravity.Minus(units.Plato(extract).Gravity()); math.Abs(float64(off)) > tolerance {
			t.Fatalf("%v and %v: %v, %v away from the balance", a, b, got, off)
		}
		if got.Gravity < min(a.Gravity, b.Gravity)-1e-12 || got.Gravity > max(a.Gravity, b.Gravity)+1e-12 {
			t.Fatalf("%v and %v: %v", a, b, got)
		}
	})
}
