package units_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"example.org/restpoint/controller/units"
)

// The five temperatures with a decimal more are published outputs of the CIPM-2001
// formula (connorb, water density); the others are its values as computed apart.
func TestWaterDensity(t *testing.T) {
	for c, rho := range map[float64]float64{
		0: 999.8428, 10: 999.7027, 15: 999.1026, 20: 998.2067, 30: 995.6488,
		4: 999.9749, 5: 999.9668, 12: 999.5005, 140.0 / 9: 999.0170, 18: 998.5984, 22: 997.7730, 25: 997.0470, 35: 994.0326, 40: 992.2152,
	} {
		near(t, "density", units.WaterDensity(units.Celsius(c)), rho, 1e-4)
	}
}

// An older and wholly other formula: Kell 1975 after Jones and Harris (J. Res. NIST
// 97, 1992), on the temperature scale and the water of its day. They differ by up to
// 0.0033 kg/m3.
func TestWaterDensityAfterKell(t *testing.T) {
	for c, rho := range map[float64]float64{
		0: 999.8395, 4: 999.9720, 5: 999.9638, 10: 999.6996, 12: 999.4974, 15: 999.0996, 140.0 / 9: 999.0141, 18: 998.5956,
		20: 998.2041, 22: 997.7705, 25: 997.0449, 30: 995.6473, 35: 994.0319, 40: 992.2158,
	} {
		near(t, "density", units.WaterDensity(units.Celsius(c)), rho, 0.0035)
	}
}

// Corrections in points at a reading of 1.050, computed apart from the CIPM-2001
// densities, with a soda-lime glass and without; and the cubic of Manning
// (BrewingTechniques 1(3), 1993) as printed by demonick, which has its zero a little
// off 59 F. Methods agree to half a point from 10 to 30 C.
func TestHydrometerCorrection(t *testing.T) {
	for _, row := range []struct{ at, water60, glass60, water20, glass20, printed float64 }{
		{0, -0.87, -0.46, -1.72, -1.19, -0.91},
		{4, -1.01, -0.70, -1.86, -1.44, -0.88},
		{10, -0.72, -0.57, -1.57, -1.31, -0.50},
		{12, -0.51, -0.41, -1.36, -1.15, -0.29},
		{15, -0.09, -0.08, -0.94, -0.81, 0.11},
		{140.0 / 9, 0, 0, -0.85, -0.74, 0.19},
		{18, 0.44, 0.38, -0.41, -0.36, 0.60},
		{20, 0.85, 0.74, 0, 0, 0.98},
		{25, 2.07, 1.83, 1.22, 1.09, 2.10},
		{30, 3.55, 3.17, 2.70, 2.43, 3.45},
		{40, 7.20, 6.55, 6.34, 5.81, 6.82},
	} {
		at := units.Celsius(row.at)
		got60 := float64(units.CorrectHydrometer(1.050, at, units.Glass60F).Minus(1.050))
		got20 := float64(units.CorrectHydrometer(1.050, at, units.Glass20C).Minus(1.050))
		near(t, "60 F glass", got60, row.glass60, 0.006)
		near(t, "20 C glass", got20, row.glass20, 0.006)
		near(t, "60 F, water alone", 1050*(units.WaterDensity(units.Glass60F)/units.WaterDensity(at)-1), row.water60, 0.006)
		near(t, "20 C, water alone", 1050*(units.WaterDensity(units.Glass20C)/units.WaterDensity(at)-1), row.water20, 0.006)
		if row.at >= 10 && row.at <= 30 {
			near(t, "the printed cubic", got60, row.printed, 0.5)
		}
	}
}

// A glass hydrometer in a warmer sample floats deeper: the true gravity is
// higher than what it reads, and the same where the glass is at home.
func TestAWarmerSampleIsCorrectedUpwards(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		reading := units.Gravity(rapid.Float64Range(0.99, 1.15).Draw(t, "reading"))
		sample := units.Celsius(rapid.Float64Range(10, 39).Draw(t, "sample"))
		glass := rapid.SampledFrom([]units.Celsius{units.Glass20C, units.Glass60F}).Draw(t, "glass")
		if got := units.CorrectHydrometer(reading, glass, glass); math.Abs(float64(got-reading)) > 1e-12 {
			t.Fatalf("at home %v is corrected to %v", reading, got)
		}
		if units.CorrectHydrometer(reading, sample+1, glass) <= units.CorrectHydrometer(reading, sample, glass) {
			t.Fatalf("%v at %v is corrected more than a kelvin warmer", reading, sample)
		}
	})
}
