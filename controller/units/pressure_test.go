package units_test

import (
	"testing"

	"example.org/restpoint/controller/units"
)

// Exact by definition.
func TestPressure(t *testing.T) {
	near(t, "1 psi", units.PascalsPerPSI, 6894.757293168361, 1e-9)
	near(t, "1 atm", units.Atmosphere.PSI(), 14.69594878, 1e-8)
	near(t, "1 bar", units.Pascals(units.PascalsPerBar).PSI(), 14.50377377, 1e-8)
	near(t, "1 bar of atmospheres", units.Pascals(101325).Atmospheres(), 1, 0)
	for given, bar := range map[float64]float64{10: 0.689476, 12: 0.827371, 15: 1.034214, 30: 2.068427} {
		near(t, "bar", psi(given).Bar(), bar, 5e-7)
		near(t, "kPa", psi(given).Kilo(), bar*100, 5e-5)
	}
	for text, want := range map[string]float64{"1 bar": 1e5, "12 psi": 12 * units.PascalsPerPSI, "80 kPa": 8e4, "500 Pa": 500, "1 atm": 101325} {
		got, err := units.ParsePascals(text)
		if err != nil {
			t.Errorf("%q: %v", text, err)
		}
		near(t, text, float64(got), want, 1e-9)
	}
	if _, err := units.ParsePascals("12"); err == nil {
		t.Error("a pressure without a unit was taken")
	}
	if got := units.Pascals(500).String(); got != "500 Pa" {
		t.Errorf("printed %q", got)
	}
}

// The standard atmosphere's own table, hPa (from memory).
func TestAirGetsThinner(t *testing.T) {
	for height, hecto := range map[units.Metres]float64{0: 1013.25, 500: 954.6, 1000: 898.7, 1500: 845.6, 2000: 795.0, 3000: 701.1, 5000: 540.2} {
		near(t, "hPa", float64(units.Air(height))/100, hecto, 0.15)
	}
}
