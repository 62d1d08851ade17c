package units

import "math"

// Plato is an extract in per cent by mass, as the trade's tables give it for a
// gravity. Brix is per cent of sugar by mass: another table of the same thing, from
// which Plato's differs by less than 0.01, so that one curve serves both here.
type Plato float64

// Two fits are used, each where it is the better one, and joined where they cross.
//
// Up to 20.6 P the cubic of the ASBC (as quoted in liquisearch, "Brix: tables"),
// which falls short of the sucrose tables above 22 P (0.016 P at 28 P, 0.11 P at
// 40 P). As printed it gives -0.003 P for water; 0.003 P is added there, ever less
// towards the join, so that 1.000 is exactly 0 P.
//
// Beyond, to 40 P, the rational fit to the NBS sucrose table (encyclopedia article
// "Brix", section on specific gravity; R^2 0.99999997).
//
// Below 1.000, where a dry beer's alcohol hides what extract it has, the cubic goes
// on steadily: 0.990 is -2.6 P, as the equations of alcohol expect.
const (
	asbcCubic    = 135.997
	asbcSquare   = -630.272
	asbcLinear   = 1111.14
	asbcConstant = -616.868
	// The same about water, x = gravity - 1, with -asbcWater (1 - x/joinX)^2 added.
	asbcWater = asbcConstant + asbcLinear + asbcSquare + asbcCubic // -0.003
	asbcX     = asbcLinear + 2*asbcSquare + 3*asbcCubic + 2*asbcWater/joinX
	asbcXX    = asbcSquare + 3*asbcCubic - asbcWater/(joinX*joinX)

	nbsLinear   = 28.14203
	nbsConstant = 202.4427
	nbsInverse  = 230.5870

	joinX     = 0.0857740929940523 // gravity above water where the two cross
	joinPlato = 20.6275225390123   // degrees there
)

// Plato gives the extract: the ASBC's cubic up to 20.6 P, the NBS fit beyond.
func (g Gravity) Plato() Plato {
	x := float64(g) - 1
	if x > joinX {
		s := float64(g)
		return Plato(float64(nbsLinear*s) + nbsConstant - float64(nbsInverse/s))
	}
	return Plato(x * (asbcX + float64(x*(asbcXX+float64(asbcCubic*x)))))
}

// Gravity is the inverse, exact to the last digits, of the same two fits.
func (p Plato) Gravity() Gravity {
	if p > joinPlato {
		b := nbsConstant - float64(p)
		return Gravity((math.Sqrt(float64(b*b)+4*nbsLinear*nbsInverse) - b) / (2 * nbsLinear))
	}
	// Newton's way: the cubic is nearly straight, rises everywhere, and five steps
	// leave nothing from -10 P to the join.
	x := float64(p) / asbcX
	for range 5 {
		value := float64(x * (asbcX + float64(x*(asbcXX+float64(asbcCubic*x)))))
		slope := asbcX + float64(x*(2*asbcXX+float64(3*asbcCubic*x)))
		x -= (value - float64(p)) / slope
	}
	return Gravity(1 + x)
}

func (p Plato) String() string { return exact(float64(p)) + " P" }

// Fixed prints with a fixed number of decimals, for people.
func (p Plato) Fixed(decimals int) string { return fixed(float64(p), decimals) + " P" }
