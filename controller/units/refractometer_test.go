package units_test

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/restpoint/controller/units"
)

// Published fits for a finished beer, from memory, in Brix of the wort (i) and of the
// beer (f), both already divided by the wort factor.
type fit func(i, f float64) float64

func terrillCubic(i, f float64) float64 { // Terrill 2011
	return 1 - 0.0044993*i + 0.0117741*f + 0.000275806*i*i - 0.00127169*f*f - 0.00000727999*i*i*i + 0.0000632929*f*f*f
}

func bonham(i, f float64) float64 { // Bonham 2001
	return 1.001843 - 0.002318474*i - 0.000007775*i*i - 0.000000034*i*i*i + 0.00574*f + 0.00003344*f*f + 0.000000086*f*f*f
}

func novotnyLinear(i, f float64) float64 { return 1 - 0.002349*i + 0.006276*f } // Novotny 2017

func novotnyQuadratic(i, f float64) float64 { // Novotny 2017
	return 1 + 1.335e-5*i*i - 3.239e-5*i*f + 2.916e-5*f*f - 2.421e-3*i + 6.219e-3*f
}

// Finished beers of 9 to 18 P whose attenuation, by the fit itself, is 63 to 82 %.
func TestRefractometerAgainstPublishedFits(t *testing.T) {
	for _, row := range []struct {
		name      string
		published fit
		tolerance float64 // points: how far apart published fits are
	}{
		{"the cubic of Terrill", terrillCubic, 2.5},
		{"Bonham's", bonham, 2.5},
		{"the linear fit of Novotny", novotnyLinear, 1},
		{"the quadratic fit of Novotny", novotnyQuadratic, 1},
	} {
		beers := 0
		for original := 9.0; original <= 18; original++ {
			og := units.Plato(original).Gravity()
			for now := 2.0; now < original; now += 0.1 {
				got, err := units.Refractometer(units.Brix(now), og, 1)
				if err != nil {
					continue // less than alcohol alone: no beer
				}
				if a := units.ApparentAttenuationByPlato(units.Plato(original), got.Plato()); a < 0.65 || a > 0.80 {
					continue
				}
				beers++
				if off := got.Minus(units.Gravity(row.published(original, now))); math.Abs(float64(off)) > row.tolerance {
					t.Errorf("%s: %.1f Brix from %.0f P is %s, %s away", row.name, now, original, got.Fixed(4), off.Fixed(2))
				}
			}
		}
		if beers < 80 {
			t.Errorf("%s: only %d beers were compared", row.name, beers)
		}
	}
}

// The index of refraction of ethanol and of sucrose in water at 20 C, CRC Handbook
// (from memory): what a per cent of alcohol adds, in what a per cent of sugar adds.
func TestAlcoholLooksLikeSugarByTheHandbook(t *testing.T) {
	const water, sugarStep = 1.3330, 0.00145 // a per cent of sucrose, 0 to 10 %
	for alcohol, index := range map[float64]float64{3: 1.3348, 4: 1.3354, 5: 1.3360, 6: 1.3367, 8: 1.3381} {
		looks := (index - water) / sugarStep / alcohol
		// What the program takes, found from a beer: reading = left + looks * alcohol.
		oe := units.Plato(14)
		og := oe.Gravity()
		got, err := units.Refractometer(7, og, 1)
		if err != nil {
			t.Fatal(err)
		}
		ours := (7 - float64(units.RealExtract(oe, got.Plato()))) / float64(units.AlcoholBalling(oe, got.Plato()))
		near(t, "Brix a per cent of alcohol", ours, looks, 0.05)
	}
}

func TestRefractometerRefusesNonsense(t *testing.T) {
	for _, row := range []struct {
		name     string
		reading  units.Brix
		original units.Gravity
		factor   float64
		says     string
	}{
		{"more than the wort had", 13.2, 1.050, 1.04, "13.2 Brix is above the original 12.9 Brix"},
		{"less than alcohol alone", 2, 1.050, 1.04, "alcohol alone"},
		{"water for wort", 0, 1.000, 1.04, "not that of a wort"},
		{"no original gravity", 6, 0, 1.04, "not that of a wort"},
		{"a factor of nothing", 6, 1.050, 0, "wort factor"},
		{"a factor that is no number", 6, 1.050, math.NaN(), "wort factor"},
		{"a reading that is no number", units.Brix(math.NaN()), 1.050, 1.04, "above the original"},
	} {
		got, err := units.Refractometer(row.reading, row.original, row.factor)
		if err == nil || got != 0 || !strings.Contains(err.Error(), row.says) {
			t.Errorf("%s: %v, %v", row.name, got, err)
		}
	}
}

// Wort that has not fermented gives its own gravity back; every Brix less is less
// gravity, and never more than alcohol explains.
func TestRefractometerBeginsAtTheOriginalAndFalls(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		og := units.Gravity(rapid.Float64Range(1.020, 1.120).Draw(t, "original"))
		factor := rapid.Float64Range(1.00, 1.06).Draw(t, "factor")
		full := units.Brix(float64(og.Plato()) * factor)
		near := func(got, want units.Gravity) bool { return math.Abs(float64(got-want)) < 1e-9 }
		if got, err := units.Refractometer(full, og, factor); err != nil || !near(got, og) {
			t.Fatalf("%v of %v unfermented is %v, %v", full, og, got, err)
		}
		if got := full.Wort(factor).Gravity(); !near(got, og) {
			t.Fatalf("%v of wort is %v, not %v", full, got, og)
		}
		a := full * units.Brix(rapid.Float64Range(0.45, 1).Draw(t, "share"))
		b := a * units.Brix(rapid.Float64Range(0.9, 0.999).Draw(t, "less"))
		higher, err := units.Refractometer(a, og, factor)
		if err != nil {
			t.Fatal(err)
		}
		lower, err := units.Refractometer(b, og, factor)
		if err != nil {
			t.Fatal(err)
		}
		if lower >= higher || higher > og+1e-9 || lower < 0.97 {
			t.Fatalf("of %v: %v is %v, %v is %v", og, a, higher, b, lower)
		}
		// Alcohol shows as sugar: the beer is lighter than its Brix would have it.
		if higher > a.Wort(factor).Gravity()+1e-9 {
			t.Fatalf("of %v: %v is %v", og, a, higher)
		}
	})
}
