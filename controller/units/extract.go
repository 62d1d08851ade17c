package units

import "math"

// Plato is an extract in per cent by mass, as the trade's tables give it for a
// gravity. Brix is per cent of sugar by mass: another table of the same thing, from
// which Plato's differs by less than 0.01, so that one curve serves both here.
type Plato float64

// Coefficients of the rational fit to the NBS sucrose table, 0 to 40 % by mass
// (encyclopedia article "Brix", section on specific gravity; R^2 0.99999997).
// It has an exact inverse, so that converting there and back changes nothing.
const (
	nbsLinear   = 28.14203
	nbsConstant = 202.4427
	nbsInverse  = 230.5870
)

// Plato converts by the NBS rational form; -0.002 P at 1.000 is the table's own fit.
func (g Gravity) Plato() Plato {
	s := float64(g)
	return Plato(float64(nbsLinear*s) + nbsConstant - float64(nbsInverse/s))
}

// Gravity converts by the exact inverse of the NBS rational form.
func (p Plato) Gravity() Gravity {
	b := nbsConstant - float64(p)
	return Gravity((math.Sqrt(float64(b*b)+4*nbsLinear*nbsInverse) - b) / (2 * nbsLinear))
}

func (p Plato) String() string { return exact(float64(p)) + " P" }

// Fixed prints with a fixed number of decimals, for people.
func (p Plato) Fixed(decimals int) string { return fixed(float64(p), decimals) + " P" }
