package plant

import "math"

// Elementary functions with the same bits everywhere. Only +, -, *, / and
// square root are used, which the floating point standard defines exactly.

const (
	ln2High = 6.93147180369123816490e-01 // leading 32 bits of ln 2, so that k*ln2High is exact
	ln2Low  = 1.90821492927058770002e-10 // the rest of it
)

// exp is e^x, within 2e-15 of itself for |x| < 700.
func exp(x float64) float64 {
	if x > 700 || x < -700 { // nothing in this package goes there; stay finite
		x = math.Copysign(700, x)
	}
	k := math.Floor(float64(x/math.Ln2) + 0.5)
	r := x - float64(k*ln2High)
	r -= float64(k * ln2Low)
	sum := 1.0
	for n := 13.0; n >= 1; n-- { // Taylor, |r| <= 0.35: the term left out is below 5e-18
		sum = 1 + float64(float64(sum*r)/n)
	}
	return math.Ldexp(sum, int(k))
}

// ln is the natural logarithm of x > 0, within 4e-16 of max(1, |ln x|).
func ln(x float64) float64 {
	m, e := math.Frexp(x)
	if m < math.Sqrt2/2 {
		m, e = 2*m, e-1
	}
	z := (m - 1) / (m + 1) // ln m = 2 atanh z, |z| <= 0.172
	z2 := z * z
	sum := 0.0
	for n := 21.0; n >= 1; n -= 2 {
		sum = float64(sum*z2) + 1/n
	}
	whole := float64(e)
	return float64(whole*ln2High) + (float64(2*z*sum) + float64(whole*ln2Low))
}

// turnSine is sin(2 pi turns), within 1e-12 for |turns| < 1e4.
func turnSine(turns float64) float64 {
	f := turns - math.Floor(turns+0.5) // -0.5 to 0.5
	switch {
	case f > 0.25:
		f = 0.5 - f
	case f < -0.25:
		f = -0.5 - f
	}
	x := 2 * math.Pi * f
	x2 := x * x
	sum := 1.0
	for n := 20.0; n >= 2; n -= 2 {
		sum = 1 - float64(float64(sum*x2)/(n*(n+1)))
	}
	return x * sum
}

// vector is a state that rk4 can integrate.
type vector interface {
	[5]float64 | [6]float64 | [9]float64
}

// rk4 is one classical Runge-Kutta step of h.
func rk4[V vector](y V, h float64, slope func(V) V) V {
	k1 := slope(y)
	k2 := slope(moved(y, h/2, k1))
	k3 := slope(moved(y, h/2, k2))
	k4 := slope(moved(y, h, k3))
	for i := 0; i < len(y); i++ {
		y[i] += float64(h / 6 * (k1[i] + float64(2*k2[i]) + float64(2*k3[i]) + k4[i]))
	}
	return y
}

func moved[V vector](y V, h float64, k V) V {
	for i := 0; i < len(y); i++ {
		y[i] += float64(h * k[i])
	}
	return y
}
