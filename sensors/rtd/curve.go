package rtd

import (
	"math"

	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors/electric"
)

// The coefficients of IEC 60751 for industrial platinum:
// R(t) = R0 (1 + A t + B t^2 + C (t - 100) t^3), with C below 0 C only.
const (
	coefA = 3.9083e-3
	coefB = -5.775e-7
	coefC = -4.183e-12
)

// The standard has no platinum beyond these (IEC 60751).
const (
	coldest units.Celsius = -200
	hottest units.Celsius = 850
)

// Element is a platinum element, by its resistance at 0 C in ohms.
type Element electric.Ohms

// The usual elements.
const (
	Pt100  Element = 100
	Pt1000 Element = 1000
)

// String names the element as the trade does.
func (e Element) String() string {
	switch e {
	case Pt100:
		return "Pt100"
	case Pt1000:
		return "Pt1000"
	}
	return "Pt with " + electric.Ohms(e).String() + " at 0 C"
}

// Resistance gives the resistance of the element at a temperature.
func (e Element) Resistance(t units.Celsius) electric.Ohms {
	return electric.Ohms(float64(e) * ratio(float64(t)))
}

// Temperature gives the temperature at which the element has a resistance, or
// false if it has that nowhere within the standard.
func (e Element) Temperature(r electric.Ohms) (units.Celsius, bool) {
	x := float64(r) / float64(e)
	if inside := e > 0 && x >= ratio(float64(coldest)) && x <= ratio(float64(hottest)); !inside { // which a NaN is not
		return 0, false
	}
	if x < 1 {
		return units.Celsius(below(x)), true
	}
	root := math.Sqrt(float64(coefA*coefA) - float64(4*coefB)*(1-x))
	return units.Celsius((root - coefA) / (2 * coefB)), true
}

// ratio is R(t)/R0.
func ratio(t float64) float64 {
	x := 1 + t*(coefA+t*coefB)
	if t < 0 {
		x += coefC * (t - 100) * t * t * t
	}
	return x
}

// below halves the range below 0 C, where the curve has no simple inverse, until
// nothing is left of it. The curve only rises, so the way always ends at the
// one place.
func below(x float64) float64 {
	low, high := float64(coldest), 0.0
	for {
		middle := (low + high) / 2
		if middle <= low || middle >= high {
			return middle
		}
		if ratio(middle) < x {
			low = middle
		} else {
			high = middle
		}
	}
}
