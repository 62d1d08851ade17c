package units_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"example.org/restpoint/controller/units"
)

// 24 P with 8.5 % is the worked example that the older quotation of the formula
// carries (brewingmaster, "freezing point of beer"): only one sign gives it.
func TestFreezingPointOfTheWorkedExample(t *testing.T) {
	near(t, "24 P and 8.5 %", float64(units.FreezingPoint(8.5, 24)), -4.73, 0.005)
}

// For common beers: the formula, the same with the wrong sign as a brewers' union's
// list quotes it, alcohol and water alone, and a full colligative sum of alcohol,
// extract (500 g/mol) and 5 g/L of CO2, computed apart; they agree to 0.2 K.
func TestFreezingPointOfCommonBeers(t *testing.T) {
	for _, row := range []struct{ oe, ae, alcohol, beer, wrongSign, ethanol, colligative float64 }{
		{8, 2.0, 2.48, -1.56, -0.52, -1.01, -1.41},
		{10, 2.2, 3.26, -1.97, -0.77, -1.34, -1.78},
		{12, 2.5, 4.01, -2.37, -1.01, -1.66, -2.17},
		{12, 3.0, 3.80, -2.28, -0.92, -1.57, -2.10},
		{14, 3.2, 4.61, -2.70, -1.18, -1.92, -2.51},
		{16, 3.6, 5.36, -3.09, -1.41, -2.25, -2.92},
		{18, 4.0, 6.12, -3.49, -1.65, -2.59, -3.35},
		{20, 4.5, 6.85, -3.88, -1.88, -2.92, -3.79},
		{24, 6.0, 8.14, -4.58, -2.26, -3.54, -4.65},
	} {
		oe, alcohol := units.Plato(row.oe), units.MassPercent(row.alcohol)
		beer, ethanol := units.FreezingPoint(alcohol, oe), units.FreezingPointOfEthanol(alcohol)
		near(t, "alcohol", float64(units.AlcoholBalling(oe, units.Plato(row.ae))), row.alcohol, 0.006)
		near(t, "beer", float64(beer), row.beer, 0.01)
		near(t, "alcohol and water", float64(ethanol), row.ethanol, 0.01)
		near(t, "against the colligative sum", float64(beer), row.colligative, 0.2)
		// The wrong sign is warmer than alcohol and water, which no beer can be.
		if beer >= ethanol || row.wrongSign <= float64(ethanol) || math.Abs(float64(beer)-row.wrongSign) < 1 {
			t.Errorf("beer of %g %% freezes at %v, alcohol and water at %v", row.alcohol, beer, ethanol)
		}
	}
}

// Wort of 12 P freezes at -0.7 to -0.85 C, and as it ferments ever colder.
func TestFreezingPointFallsAsWortFerments(t *testing.T) {
	near(t, "wort", float64(units.FreezingPointOfWort(12)), -0.775, 0.1)
	for ae, want := range map[units.Plato]float64{12: -0.68, 8: -1.39, 5: -1.92, 3: -2.28} {
		near(t, "12 P on its way", float64(units.FreezingPoint(units.AlcoholBalling(12, ae), 12)), want, 0.006)
	}
}

// Ice-point depressions of alcohol and water: the CRC Handbook (from memory), 5 % by
// mass after an engineering page (brewingmaster), the ideal law 1.86 K kg/mol, which
// agrees to 0.06 K, and a rounder table, 10 % by volume at -4 C (engineeringtoolbox).
func TestFreezingPointOfAlcoholAndWater(t *testing.T) {
	for _, row := range []struct{ alcohol, handbook, ideal float64 }{
		{0.5, 0.20, 0.203},
		{1, 0.40, 0.408},
		{2, 0.81, 0.824},
		{3, 1.23, 1.249},
		{4, 1.65, 1.682},
		{5, 2.09, 2.125},
		{6, 2.54, 2.577},
		{7, 2.99, 3.039},
		{8, 3.47, 3.511},
		{9, 3.96, 3.993},
		{10, 4.47, 4.486},
		{12, 5.56, 5.505},
	} {
		got := -float64(units.FreezingPointOfEthanol(units.MassPercent(row.alcohol)))
		near(t, "handbook", got, row.handbook, 1e-9)
		near(t, "ideal", got, row.ideal, 0.06)
	}
	near(t, "5 %", float64(units.FreezingPointOfEthanol(5)), -2.13, 0.05)
	near(t, "10 % by volume", float64(units.FreezingPointOfEthanol(units.VolumePercent(10).ByMass(0.987))), -4, 0.55)
	for _, none := range []units.MassPercent{0, -1, units.MassPercent(math.NaN())} {
		near(t, "no alcohol", float64(units.FreezingPointOfEthanol(none)), 0, 0)
	}
	near(t, "stronger than the table", float64(units.FreezingPointOfEthanol(20)), -5.56, 0)
}

// The figures were computed apart, from the same two equations and the same table.
func TestFreezeFloorOf(t *testing.T) {
	nan := units.Gravity(math.NaN())
	for _, row := range []struct {
		name          string
		original, now units.Gravity
		known         bool
		want          float64
	}{
		{"a common ale, finished", 1.050, 1.010, true, -0.465},
		{"a common lager, finished", 1.048, 1.010, true, -0.376},
		{"a strong ale, finished", 1.080, 1.018, true, -1.517},
		{"a weak beer, finished, is led no colder than wort", 1.028, 1.008, true, 0},
		{"a common ale half way is led no colder than wort", 1.050, 1.030, true, 0},
		{"wort", 1.050, 1.050, true, 0},
		{"a gravity that is lost", 1.050, 1.010, false, 0},
		{"a gravity that is none", 1.050, 0, true, 0},
		{"a gravity that is no number", 1.050, nan, true, 0},
		{"an original gravity that is not known", 0, 1.010, true, 0},
		{"an original gravity that is no number", nan, 1.010, true, 0},
		{"a gravity above the original", 1.040, 1.060, true, 0},
		{"a device that reads far below water invents no more alcohol", 1.050, 0.975, true, -1.063},
		{"a beer that ends at water", 1.050, 0.997, true, -1.063},
	} {
		near(t, row.name, float64(units.FreezeFloor(row.original, row.now, row.known)), row.want, 0.002)
	}
}

// Whatever is known, the floor keeps its margin to alcohol and water of the beer as
// read, unless wort's 0 C is the floor; and less alcohol never makes it colder.
func TestFreezeFloorIsNeverBold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		og := units.Gravity(rapid.Float64Range(1.02, 1.13).Draw(t, "original"))
		now := units.Gravity(rapid.Float64Range(0.97, float64(og)).Draw(t, "now"))
		floor := units.FreezeFloor(og, now, true)
		if floor > 0 || floor < -5 {
			t.Fatalf("%v to %v may be led to %v", og, now, floor)
		}
		ethanol := units.FreezingPointOfEthanol(units.AlcoholBalling(og.Plato(), now.Plato()))
		if floor < 0 && floor.Minus(ethanol) < units.FreezeMargin {
			t.Fatalf("%v to %v freezes at %v as alcohol and water, and may be led to %v", og, now, ethanol, floor)
		}
		if beer := units.FreezingPoint(max(0, units.AlcoholBalling(og.Plato(), now.Plato())), og.Plato()); floor <= beer+0.3 {
			t.Fatalf("%v to %v freezes at %v, and may be led to %v", og, now, beer, floor)
		}
		// Errors of reading as large as are held against the beer leave no ice.
		worse := units.FreezingPointOfEthanol(units.AlcoholBalling(og.Plus(-2).Plato(), now.Plus(3).Plato()))
		if floor < 0 && floor.Minus(worse) < units.FreezeMargin-1e-9 {
			t.Fatalf("%v to %v, a little worse, freezes at %v, and may be led to %v", og, now, worse, floor)
		}
		points := units.Points(rapid.Float64Range(0, 40).Draw(t, "points"))
		if units.FreezeFloor(og, now.Plus(points), true) < floor || units.FreezeFloor(og.Plus(-points), now, true) < floor {
			t.Fatalf("%v to %v, %v less fermented, may be led colder", og, now, points)
		}
		if units.FreezeFloor(og, now, false) < floor {
			t.Fatal("a lost gravity may be led colder")
		}
	})
}
