package gravity

import "math"

// The kinetics of a fermentation, side by side. None is the truth: a beer is a
// mixture of them, weighed by how they do. Each is a function of z = k*(t-m) with a
// form of its own; how fast the beer is, k, and the form are found with the middle m.
//
//	sigmoid   (1 + s*exp(-z))^(-1/s): a small s is Gompertz, 1 the logistic, a
//	          large one growth that stops short when the sugar is gone; form = ln s
//	straight  a fall of constant speed between two soft ends; form = ln of half its
//	          length, in units of 1/k
//	two       a logistic, and a second sugar with a slower time of its own; form =
//	          ln of that time, in units of 1/k
type shape struct {
	kind   kind
	form   float64 // before any data
	second float64 // share of the second sugar
	weight float64 // before any data
	usual  float64 // 1/h, the k of a usual beer
	stray  bool    // it stops where nobody expects it
}

type kind uint8

const (
	sigmoid kind = iota
	straightFall
	twoSugars
)

const (
	many = 14
	// usualFall is the fastest fall of a usual beer, in shares of the whole an hour:
	// 0.8 points of 40 (the median of 54 published fermentations, 4.7 P a day).
	usualFall = 0.020
	// rateSD is how far beers are from that, in logarithms: a factor of 1.65.
	rateSD = 0.5
	formSD = 0.6
)

// shapes lists them. Published models of beer go from a fall that is straight to
// its end (de Andres-Toro) to a third of it in a slow second part (Gee and
// Ramirez). The weights are engineering judgement.
func shapes() [many]shape {
	list := [many]shape{
		{kind: sigmoid, form: -2.2, weight: 0.19},
		{kind: sigmoid, form: 0, weight: 0.19},
		{kind: sigmoid, form: 2.2, weight: 0.17},
		{kind: straightFall, form: 1, weight: 0.05},
		{kind: straightFall, form: 2, weight: 0.05},
		{kind: sigmoid, form: -2.2, weight: 0.05, stray: true},
		{kind: sigmoid, form: 0, weight: 0.05, stray: true},
		{kind: sigmoid, form: 2.2, weight: 0.05, stray: true},
	}
	i := 8
	for _, second := range [...]float64{0.12, 0.3, 0.5} {
		for _, slow := range [...]float64{3, 8} {
			list[i] = shape{kind: twoSugars, second: second, form: math.Log(slow), weight: 0.35 / 6}
			i++
		}
	}
	for i := range list {
		list[i].usual = usualFall / list[i].steepest()
	}
	return list
}

// steepest is the greatest change of the share with z, at the middle.
func (h *shape) steepest() float64 {
	x := math.Exp(h.form)
	switch h.kind {
	case straightFall:
		return math.Tanh(x/2) / (2 * x)
	case twoSugars:
		return (1 - h.second) / 4
	default:
		return math.Exp(-math.Log1p(x) * (1 + 1/x))
	}
}

// done is the share of the fall that is done, and how it changes.
type done struct{ share, byZ, byForm float64 }

func (h *shape) done(z, form float64) done {
	x := math.Exp(form)
	if h.kind == straightFall {
		ea, eb := math.Exp(min(600, z+x)), math.Exp(min(600, z-x))
		a, b := ea/(1+ea), eb/(1+eb)
		share := (math.Log1p(ea) - math.Log1p(eb)) / (2 * x)
		return done{share, (a - b) / (2 * x), float64(0.5*(a+b)) - share}
	}
	e := math.Exp(min(600, -z))
	if h.kind == sigmoid {
		base := 1 + float64(x*e)
		ln := math.Log(base)
		share := math.Exp(-ln / x)
		return done{share, float64(share*e) / base, float64(share * (ln/x - e/base))}
	}
	first := (1 - h.second) / (1 + e)
	d := done{share: first, byZ: float64(first*e) / (1 + e)}
	if z > 0 {
		late := float64(h.second * math.Exp(-z/x))
		d.share += h.second - late
		d.byZ += late / x
		d.byForm = -late * z / x
	}
	return d
}

// fall is a shape at one middle, speed and form, as the beer sees it: from nothing at
// pitching on.
type fall struct {
	shape           *shape
	middle, k, form float64
	start           done
	scale           float64
}

func (h *shape) at(middle, rate, form float64) fall {
	f := fall{shape: h, middle: middle, k: h.usual * math.Exp(rate), form: form}
	f.start = h.done(-f.k*middle, form)
	f.scale = 1 / max(1e-6, 1-f.start.share)
	return f
}

// left is the share that is left at t, with its changes.
type left struct{ share, byMiddle, byRate, byForm, perHour float64 }

func (f *fall) left(t float64) left {
	z := f.k * (t - f.middle)
	d := f.shape.done(z, f.form)
	rest := (1 - d.share) * f.scale
	return left{
		share:    rest,
		byMiddle: float64(f.k * f.scale * (d.byZ - float64(f.start.byZ*rest))),
		byRate:   -f.scale * (float64(d.byZ*z) + float64(f.start.byZ*rest*f.k*f.middle)),
		byForm:   -f.scale * (d.byForm - float64(f.start.byForm*rest)),
		perHour:  f.scale * f.k * d.byZ,
	}
}
