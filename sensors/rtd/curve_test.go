package rtd_test

import (
	"math"
	"testing"

	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors/electric"
	"example.org/restpoint/sensors/rtd"
)

// table is IEC 60751 for Pt100. Most rows are computed from the coefficients of
// the DIN EN 60751 formula sheets, to a thousandth of an ohm; the rows to a
// hundredth are from memory of the standard's printed table.
func table() []struct{ celsius, ohms, within float64 } {
	return []struct{ celsius, ohms, within float64 }{
		{-200, 18.52, 0.005},
		{-100, 60.26, 0.005},
		{-40, 84.271, 0.0005},
		{-20, 92.160, 0.0005},
		{-10, 96.086, 0.0005},
		{-5, 98.044, 0.0005},
		{0, 100.000, 0.0005},
		{2, 100.781, 0.0005},
		{4, 101.562, 0.0005},
		{10, 103.903, 0.0005},
		{12, 104.682, 0.0005},
		{15, 105.849, 0.0005},
		{18, 107.016, 0.0005},
		{20, 107.793, 0.0005},
		{22, 108.570, 0.0005},
		{25, 109.735, 0.0005},
		{30, 111.673, 0.0005},
		{40, 115.541, 0.0005},
		{50, 119.397, 0.0005},
		{100, 138.505, 0.0005},
		{850, 390.48, 0.005},
	}
}

func TestTheCurveIsThatOfTheStandardInBothDirections(t *testing.T) {
	t.Parallel()
	for _, row := range table() {
		for e, times := range map[rtd.Element]float64{rtd.Pt100: 1, rtd.Pt1000: 10} {
			r := e.Resistance(units.Celsius(row.celsius))
			if math.Abs(float64(r)-row.ohms*times) > row.within*times*1.001 {
				t.Errorf("%s at %g C: %v, want %g ohm", e, row.celsius, r, row.ohms*times)
			}
			// The inverse itself is exact: what its own curve gives comes back.
			back, ok := e.Temperature(r)
			if !ok || math.Abs(float64(back)-row.celsius) > 1e-9 {
				t.Errorf("%s of %v: %v, %v; want %g C", e, r, back, ok, row.celsius)
			}
		}
	}
}

// 107.793 ohm is 19.9987 C and 119.397 ohm is 49.9997 C by the closed form of
// IEC 60751, computed to four places with the coefficients of the formula sheets.
func TestTheInverseGivesThePublishedTemperatures(t *testing.T) {
	t.Parallel()
	for ohms, want := range map[electric.Ohms]float64{107.793: 19.9987, 119.397: 49.9997} {
		if got, ok := rtd.Pt100.Temperature(ohms); !ok || math.Abs(float64(got)-want) > 0.00005 {
			t.Errorf("%v: %v, want %g C", ohms, got, want)
		}
	}
}

func TestAResistanceOfNoPlatinumIsNoTemperature(t *testing.T) {
	t.Parallel()
	for _, ohms := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), -1, 0, 18.5, 390.49, 1e9} {
		if got, ok := rtd.Pt100.Temperature(electric.Ohms(ohms)); ok || got != 0 {
			t.Errorf("%g ohm is taken as %v", ohms, got)
		}
	}
	for _, e := range []rtd.Element{0, -100} {
		if got, ok := e.Temperature(100); ok || got != 0 {
			t.Errorf("an element of %g ohm gives %v", float64(e), got)
		}
	}
	if got := rtd.Element(500).String(); got != "Pt with 500 ohm at 0 C" {
		t.Error(got)
	}
}

// FuzzTemperature holds that any resistance gives either nothing or a
// temperature of the standard's range that leads back to it, and that more ohms
// are never colder.
func FuzzTemperature(f *testing.F) {
	for _, row := range table() {
		f.Add(row.ohms, 0.001)
	}
	f.Add(math.NaN(), math.Inf(1))
	f.Add(99.99999999999999, 1e-14)
	f.Fuzz(func(t *testing.T, ohms, more float64) {
		for _, e := range []rtd.Element{rtd.Pt100, rtd.Pt1000} {
			got, ok := e.Temperature(electric.Ohms(ohms))
			if !ok {
				if got != 0 {
					t.Fatalf("%g ohm is no temperature and %v", ohms, got)
				}
				continue
			}
			if inside := got >= -200.0000001 && got <= 850.0000001; !inside {
				t.Fatalf("%g ohm is %v", ohms, got)
			}
			if back := float64(e.Resistance(got)); math.Abs(back-ohms) > 1e-9*float64(e) {
				t.Fatalf("%g ohm is %v, which is %g ohm", ohms, got, back)
			}
			// Around 0 C the two halves meet to 1e-9 K, not to the last bit.
			if next, ok := e.Temperature(electric.Ohms(ohms + math.Abs(more))); ok && next < got-1e-9 {
				t.Fatalf("%g ohm is %v, and %g ohm is %v", ohms, got, ohms+math.Abs(more), next)
			}
		}
	})
}
