package units_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"example.org/restpoint/controller/units"
)

// Sucrose densities at 20/4 C by Plato, Domke and Harting (1900), in NBS Circular
// 440 (1942), from memory, as apparent gravity 20/20. Brewing strength is held to
// 0.005 P, what lies beyond to 0.01 P.
func TestPlatoOfSucroseDensities(t *testing.T) {
	for sg, p := range map[float64]float64{1.00000: 0, 1.04003: 10, 1.08297: 20, 1.12913: 30, 1.17874: 40} {
		near(t, "Plato", float64(units.Gravity(sg).Plato()), p, platoTolerance(p))
	}
	// SG 1.040 in the NBS, the ASBC's and the ICUMSA's own table (encyclopedia
	// article "Brix").
	for _, p := range []float64{9.99325, 9.99359, 9.99249} {
		near(t, "1.040", float64(units.Gravity(1.040).Plato()), p, 0.005)
	}
}

func platoTolerance(p float64) float64 {
	if p > 20 {
		return 0.01
	}
	return 0.005
}

// Published equations in one table: the ASBC's cubic (liquisearch, "Brix: tables"),
// the NBS cubic and rational form (encyclopedia article "Brix"), Lincoln's
// (liquisearch), De Clerck's (Spencer, "attenuation"), the physical form of Buhl
// (OSF preprint 2023), points over four (trade rule), and the ICUMSA's 1990 density
// polynomial (coefficients from memory). NBS forms hold to 40 P, the ASBC's to 22.
func TestPlatoAgainstEveryPublishedEquation(t *testing.T) {
	type table struct {
		name      string
		column    int
		tolerance float64 // as the forms are known to differ from the NBS table over 0 to 20 P
	}
	tables := []table{
		{"ASBC", 1, 0.005},
		{"NBS cubic", 2, 0.005},
		{"NBS rational", 3, 0.005},
		{"ICUMSA", 4, 0.012},
		{"Lincoln", 5, 0.005},
		{"De Clerck", 6, 0.008},
		{"Buhl", 7, 0.05},
		{"points over four", 8, 0.74},
	}
	for _, row := range [][9]float64{
		{1.000, -0.003, -0.005, -0.002, 0.000, 0.000, 0.003, 0.000, 0.000},
		{1.004, 1.028, 1.027, 1.029, 1.032, 1.029, 1.032, 1.037, 1.000},
		{1.008, 2.052, 2.051, 2.053, 2.056, 2.051, 2.054, 2.067, 2.000},
		{1.010, 2.561, 2.560, 2.562, 2.565, 2.560, 2.563, 2.578, 2.500},
		{1.012, 3.068, 3.068, 3.070, 3.073, 3.066, 3.070, 3.088, 3.000},
		{1.016, 4.078, 4.078, 4.079, 4.082, 4.076, 4.079, 4.101, 4.000},
		{1.020, 5.081, 5.081, 5.082, 5.085, 5.078, 5.081, 5.106, 5.000},
		{1.030, 7.558, 7.558, 7.558, 7.560, 7.556, 7.559, 7.584, 7.500},
		{1.040, 9.994, 9.993, 9.992, 9.992, 9.992, 9.995, 10.015, 10.000},
		{1.048, 11.912, 11.912, 11.910, 11.908, 11.912, 11.915, 11.927, 12.000},
		{1.050, 12.388, 12.387, 12.385, 12.383, 12.388, 12.391, 12.400, 12.500},
		{1.060, 14.741, 14.740, 14.738, 14.734, 14.742, 14.745, 14.740, 15.000},
		{1.070, 17.056, 17.055, 17.053, 17.046, 17.056, 17.059, 17.036, 17.500},
		{1.080, 19.331, 19.331, 19.330, 19.320, 19.328, 19.331, 19.289, 20.000},
	} {
		got := float64(units.Gravity(row[0]).Plato())
		for _, form := range tables {
			near(t, form.name, got, row[form.column], form.tolerance+1e-9)
		}
	}
	// Beyond the ASBC's range the NBS table alone is the measure.
	for sg, nbs := range map[float64][2]float64{1.100: {23.774, 23.774}, 1.120: {28.078, 28.081}} {
		near(t, "NBS cubic", float64(units.Gravity(sg).Plato()), nbs[0], 0.01)
		near(t, "NBS rational", float64(units.Gravity(sg).Plato()), nbs[1], 0.005)
	}
}

// Gravities of the exact inverses of the ASBC's cubic and the NBS rational form, of
// the common rational form (48bottles) and the common cubic (from memory; wrong
// itself by up to 0.0001 at 20 P).
func TestGravityOfPlato(t *testing.T) {
	for _, row := range []struct{ p, asbc, nbs, rational, cubic float64 }{
		{0, 1.00001, 1.00001, 1.00000, 1.00001},
		{2.5, 1.00976, 1.00976, 1.00975, 1.00976},
		{5, 1.01968, 1.01967, 1.01967, 1.01968},
		{8, 1.03180, 1.03180, 1.03180, 1.03182},
		{10, 1.04003, 1.04003, 1.04003, 1.04006},
		{12, 1.04837, 1.04838, 1.04838, 1.04842},
		{14, 1.05683, 1.05684, 1.05684, 1.05690},
		{16, 1.06542, 1.06543, 1.06543, 1.06550},
		{18, 1.07413, 1.07414, 1.07414, 1.07422},
		{20, 1.08297, 1.08298, 1.08298, 1.08307},
		{25, 1.10567, 1.10563, 1.10566, 0},
		{30, 0, 1.12912, 1.12919, 0},
	} {
		got := float64(units.Plato(row.p).Gravity())
		near(t, "NBS rational", got, row.nbs, 1e-4)
		near(t, "common rational", got, row.rational, 1e-4)
		if row.asbc > 0 {
			near(t, "ASBC", got, row.asbc, 1e-4)
		}
		if row.cubic > 0 {
			near(t, "common cubic", got, row.cubic, 1.1e-4)
		}
	}
}

// An independent table in whole points (Spencer, "attenuation"), which cuts 78.5,
// 105.7 and 119.7 instead of rounding them.
func TestPointsOfAPrintedTable(t *testing.T) {
	for p, points := range map[float64]float64{
		1: 4, 2: 8, 3: 12, 4: 16, 5: 20, 6: 24, 7: 28, 8: 32, 9: 36, 10: 40, 11: 44, 12: 48, 13: 53, 14: 57, 15: 61,
		16: 65, 17: 70, 18: 74, 20: 83, 22: 92, 24: 101, 26: 110, 30: 129,
	} {
		near(t, "points", float64(units.Plato(p).Gravity().Minus(1)), points, 0.5)
	}
	for p, cut := range map[float64]float64{19: 78, 25: 105, 28: 119} {
		if got := math.Floor(float64(units.Plato(p).Gravity().Minus(1))); got != cut {
			t.Errorf("%v P is %v points, cut", p, got)
		}
	}
}

// Water has no extract, exactly, both ways; and the ASBC's cubic as printed, which
// gives it -0.003 P, is kept to 0.003 P from water to the join.
func TestWaterIsZeroPlato(t *testing.T) {
	if got := units.Gravity(1).Plato(); got != 0 {
		t.Errorf("water has %v", got)
	}
	if got := units.Plato(0).Gravity(); got != 1 {
		t.Errorf("0 P is %v", got)
	}
	for s := 0.990; s < 1.0857; s += 0.0005 {
		printed := -616.868 + 1111.14*s - 630.272*s*s + 135.997*s*s*s
		fade := 1 - (s-1)/0.08577
		added := 0.003 * fade * fade
		near(t, "above the printed cubic", float64(units.Gravity(s).Plato())-printed, added, 1e-6)
	}
}

// The two fits are used where each is good, and nothing jumps where they meet.
func TestTheFitsMeet(t *testing.T) {
	const join = 20.6275225390123
	below, above := units.Plato(math.Nextafter(join, 0)).Gravity(), units.Plato(math.Nextafter(join, 30)).Gravity()
	near(t, "the step of gravity", float64(above-below), 0, 1e-12)
	for g := units.Gravity(1.0855); g < 1.0861; g += 1e-6 {
		near(t, "the step of a millionth", float64((g+1e-6).Plato()-g.Plato()), 2.237e-4, 5e-7)
	}
	for s := 1.086; s < 1.18; s += 0.001 {
		near(t, "the NBS fit", float64(units.Gravity(s).Plato()), 28.14203*s+202.4427-230.5870/s, 1e-9)
	}
}

func TestExtractGoesBackAndRisesEverywhere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := units.Gravity(rapid.Float64Range(0.970, 1.200).Draw(t, "gravity"))
		higher := g + units.Gravity(rapid.Float64Range(1e-7, 0.05).Draw(t, "higher"))
		if back := g.Plato().Gravity(); math.Abs(float64(back-g)) > 1e-12 {
			t.Fatalf("%v is %v is %v", g, g.Plato(), back)
		}
		if higher.Plato() <= g.Plato() {
			t.Fatalf("%v is %v, %v is %v", g, g.Plato(), higher, higher.Plato())
		}
		// Nothing jumps, below water neither: a point is 0.18 to 0.28 P everywhere.
		if slope := float64(higher.Plato()-g.Plato()) / float64(higher-g); slope < 180 || slope > 280 {
			t.Fatalf("%v P from %v to %v", slope, g, higher)
		}
	})
}
