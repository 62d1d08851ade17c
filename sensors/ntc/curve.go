package ntc

import (
	"fmt"
	"math"

	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors/electric"
)

// Between these a thermistor at a fermenter is believed. Beyond the one it is
// open (common practice: an input that reads -40 C or less has no sensor), beyond
// the other shorted: beads in resin are made for 105 to 125 C (from memory of
// data sheets), and boiling water is the hottest that a vessel sees.
const (
	coldest units.Celsius = -40
	hottest units.Celsius = 110
)

const (
	kelvin = 273.15 // 0 C (definition)
	room   = 25     // C, at which the trade gives the resistance of a thermistor
)

// What a thermistor may have at 25 C. Those for measuring have 1 to 100 kohm;
// coefficients that say otherwise were made for another unit or logarithm.
const (
	leastAtRoom electric.Ohms = 100
	mostAtRoom  electric.Ohms = 1_000_000
)

// Coefficients that leave these do not describe a thermistor at all.
const (
	least electric.Ohms = 1
	most  electric.Ohms = 100_000_000
)

// Curve is a thermistor by the coefficients of Steinhart and Hart:
// 1/T = A + B ln R + C (ln R)^3, in kelvins and ohms. Keep every digit that is
// given: five of them cost 0.02 K.
type Curve struct{ A, B, C float64 }

// OfBeta makes the curve that goes through 25 C and has the slope of a B value.
// It is good near 25 C and poor near freezing: the B of 25 to 85 C of one common
// thermistor puts ice at -0.7 C.
func OfBeta(at25 electric.Ohms, b units.Kelvins) Curve {
	return Curve{A: 1/(kelvin+room) - math.Log(float64(at25))/float64(b), B: 1 / float64(b)}
}

// Temperature gives the temperature at which the thermistor has a resistance,
// or false where the curve gives none.
func (c Curve) Temperature(r electric.Ohms) (units.Celsius, bool) {
	if inside := r >= least && r <= most; !inside { // which a NaN is not
		return 0, false
	}
	t := 1/c.inverse(math.Log(float64(r))) - kelvin
	if sane := t > -kelvin && t < 1e6; !sane {
		return 0, false
	}
	return units.Celsius(t), true
}

// inverse is 1/T for the logarithm of a resistance.
func (c Curve) inverse(l float64) float64 { return c.A + l*(c.B+c.C*l*l) }

// Resistance gives the resistance at a temperature, by halving the range of the
// logarithm. The curve must pass Check.
func (c Curve) Resistance(t units.Celsius) electric.Ohms {
	want := 1 / (float64(t) + kelvin)
	low, high := math.Log(float64(least)), math.Log(float64(most))
	for {
		middle := (low + high) / 2
		if middle <= low || middle >= high {
			return electric.Ohms(math.Exp(middle))
		}
		if c.inverse(middle) < want {
			low = middle
		} else {
			high = middle
		}
	}
}

// Check holds that the coefficients describe a thermistor: its resistance only
// falls as it gets warmer, over all temperatures at which it may be believed, and
// is one that is sold.
func (c Curve) Check() error {
	top := math.Log(float64(most))
	falls := c.B > 0 && c.B+3*c.C*top*top > 0
	reaches := c.inverse(0) < 1/(float64(hottest)+kelvin) && c.inverse(top) > 1/(float64(coldest)+kelvin)
	if !falls || !reaches {
		return fmt.Errorf("no thermistor has the coefficients %g, %g, %g: its resistance would not fall all the way from %s to %s",
			c.A, c.B, c.C, coldest, hottest)
	}
	if r := c.Resistance(room); r < leastAtRoom || r > mostAtRoom {
		return fmt.Errorf("with the coefficients %g, %g, %g a thermistor would have %.4g ohm at 25 C, and %s to %s are sold; they must be for ohms and the natural logarithm",
			c.A, c.B, c.C, float64(r), leastAtRoom, mostAtRoom)
	}
	return nil
}
