package units_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"example.org/restpoint/controller/units"
)

// The same table of worked values. 0.005 P of extract is 0.003 % of alcohol.
func TestAlcoholOfCommonBeers(t *testing.T) {
	for _, row := range worked() {
		og, fg := units.Gravity(row.og), units.Gravity(row.fg)
		oe, ae := og.Plato(), fg.Plato()
		near(t, "by mass, Balling", float64(units.AlcoholBalling(oe, ae)), row.mass, 0.005)
		near(t, "by volume, Balling", float64(units.AlcoholBalling(oe, ae).ByVolume(fg)), row.volume, 0.006)
		near(t, "by volume, Cutaia", float64(units.AlcoholCutaia(oe, ae).ByVolume(fg)), row.cutaia, 0.006)
		near(t, "by volume, the quick rule", float64(units.AlcoholQuick(og, fg)), row.quick, 0.0006)
	}
}

// Measured means of five breweries' data sets (Cutaia et al. 2009, table III), n =
// 92, 112, 71, 221 and 36: the whole chain against the laboratory. Alcohol from
// gravity is honest to 0.15 by volume, which is 0.12 by mass. Balling's real extract
// falls short of the measured by up to 0.18 P, in the strong beers.
func TestAlcoholAgainstTheLaboratory(t *testing.T) {
	for _, row := range []struct{ oe, alcohol, left, ae, balling, cutaia float64 }{
		{14.08, 4.72, 5.28, 3.11, 4.689, 4.632},
		{14.54, 5.14, 4.88, 2.53, 5.147, 5.091},
		{17.67, 6.56, 5.38, 2.45, 6.639, 6.622},
		{11.34, 3.82, 3.80, 2.01, 3.929, 3.848},
		{12.75, 4.21, 4.74, 2.79, 4.226, 4.158},
	} {
		oe, ae := units.Plato(row.oe), units.Plato(row.ae)
		near(t, "Balling against the laboratory", float64(units.AlcoholBalling(oe, ae)), row.alcohol, 0.12)
		near(t, "Cutaia against the laboratory", float64(units.AlcoholCutaia(oe, ae)), row.alcohol, 0.12)
		near(t, "real extract against the laboratory", float64(units.RealExtract(oe, ae)), row.left, 0.19)
		// From the laboratory's own alcohol and real extract Balling's inverse gives up
		// to 0.24 P more than the wort was measured to have.
		near(t, "original extract", float64(units.OriginalExtract(units.MassPercent(row.alcohol), units.Plato(row.left))), row.oe, 0.25)
		near(t, "Balling, computed apart", float64(units.AlcoholBalling(oe, ae)), row.balling, 0.0006)
		near(t, "Cutaia, computed apart", float64(units.AlcoholCutaia(oe, ae)), row.cutaia, 0.0006)
	}
}

// 12 P down to 3 P: the published example uses the factor 0.421 (A. J. deLange, a
// brewers' forum); the equations as computed apart.
func TestAlcoholOfThePublishedExample(t *testing.T) {
	fg := units.Plato(3).Gravity()
	near(t, "by mass, the example", float64(units.AlcoholBalling(12, 3)), 3.789, 0.12)
	near(t, "by volume, the example", float64(units.AlcoholBalling(12, 3).ByVolume(fg)), 4.85, 0.15)
	near(t, "by mass, Balling", float64(units.AlcoholBalling(12, 3)), 3.803, 0.0006)
	near(t, "by volume, Balling", float64(units.AlcoholBalling(12, 3).ByVolume(fg)), 4.865, 0.001)
	near(t, "by mass, Cutaia", float64(units.AlcoholCutaia(12, 3)), 3.734, 0.0006)
}

// Balling's printed factors alcohol/(original - apparent), from F. Eckhardt's table.
// Printed systems spread by 0.010.
func TestBallingFactors(t *testing.T) {
	factor := func(oe units.Plato) float64 {
		return float64(units.AlcoholBalling(oe, oe/4)) / float64(oe-oe/4)
	}
	for oe, printed := range map[units.Plato]float64{
		6: 0.4073, 8: 0.4110, 10: 0.4148, 12: 0.4187, 14: 0.4226, 15: 0.4246, 16: 0.4267, 18: 0.4309, 20: 0.4351, 25: 0.4462,
	} {
		near(t, "factor", factor(oe), printed, 0.010)
	}
	// The equation as computed apart at 12 P.
	near(t, "factor at 12 P", factor(12), 0.4226, 0.0001)
	// At 30 P, stronger than any beer, the equation misses the printed 0.4580 by
	// 0.0110: outside the spread, and known.
	near(t, "what it misses at 30 P", factor(30)-0.4580, 0.0110, 0.0001)
}

func TestAlcoholKeepsItsOrderAndGoesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		original := units.Plato(rapid.Float64Range(5, 30).Draw(t, "original"))
		apparent := units.Plato(rapid.Float64Range(-2, float64(original)).Draw(t, "apparent"))
		alcohol, left := units.AlcoholBalling(original, apparent), units.RealExtract(original, apparent)
		if alcohol < -1e-12 || left < apparent-1e-12 || left > original+1e-12 {
			t.Fatalf("%v to %v: %v and %v left", original, apparent, alcohol, left)
		}
		if back := units.OriginalExtract(alcohol, left); math.Abs(float64(back-original)) > 1e-9 {
			t.Fatalf("%v to %v gives %v back", original, apparent, back)
		}
		beer := apparent.Gravity()
		if back := alcohol.ByVolume(beer).ByMass(beer); math.Abs(float64(back-alcohol)) > 1e-12 {
			t.Fatalf("%v by volume and back is %v", alcohol, back)
		}
		if units.AlcoholBalling(original, apparent-0.1) <= alcohol || units.AlcoholCutaia(original, apparent-0.1) <= units.AlcoholCutaia(original, apparent) {
			t.Fatalf("%v to %v: a lower end gives no more alcohol", original, apparent)
		}
		// Two equations of one thing: within the honest 0.15 by volume for beers.
		if original >= 9 && original <= 20 && apparent >= original/6 && apparent <= original/2 {
			if off := math.Abs(float64(alcohol - units.AlcoholCutaia(original, apparent))); off > 0.12 {
				t.Fatalf("%v to %v: the equations are %.3f %% apart", original, apparent, off)
			}
		}
	})
}
