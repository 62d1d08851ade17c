package gravity

import "math"

// The kinetics of a fermentation, side by side. None is the truth: a beer is a
// mixture of them, weighed by how they do. All have a real tail: of what is left a
// share of k is eaten an hour, whatever the beginning was like.
//
//	sigmoid   (1 + s*exp(-k*(t-m)))^(-1/s): s near 0 is Gompertz, 1 the logistic
//	straight  a fall of constant speed between two soft ends, 2*wide hours apart
//	two       a logistic, and a second sugar with a slower time of its own
type shape struct {
	k      float64 // 1/h, of the tail
	roots  int     // the sigmoid's 1/s is 2 to the power of this
	second float64 // share of the second sugar
	slow   float64 // h, its time
	wide   float64 // h, half of the straight part; 0 = a sigmoid
	weight float64 // before any data
}

// shapes lists them. Full logistic fits of 21 measured beers gave a k of 0.059 to
// 0.145 an hour, and a logistic's tail is shorter than a real one; published
// models of beer go from a fall that is straight to its end (de Andres-Toro) to a
// third of it in a slow second part (Gee and Ramirez). The weights are engineering
// judgement.
func shapes() []shape {
	ks := [...]struct{ k, weight float64 }{{0.016, 0.02}, {0.023, 0.05}, {0.032, 0.10}, {0.044, 0.18}, {0.060, 0.22}, {0.083, 0.20}, {0.115, 0.13}, {0.16, 0.06}, {0.25, 0.03}, {0.45, 0.01}}
	skews := [...]struct {
		roots  int
		weight float64
	}{{4, 0.3}, {1, 0.3}, {-1, 0.25}, {-3, 0.15}}
	list := make([]shape, 0, len(ks)*len(skews)+6+18)
	for _, s := range skews {
		for _, k := range ks {
			list = append(list, shape{k: k.k, roots: s.roots, weight: 0.55 * k.weight * s.weight})
		}
	}
	for _, k := range [...]float64{0.12, 0.25} {
		for _, wide := range [...]float64{12, 22, 36} {
			list = append(list, shape{k: k, wide: wide, weight: 0.15 / 6})
		}
	}
	for _, k := range [...]float64{0.06, 0.1, 0.18} {
		for _, second := range [...]float64{0.12, 0.3, 0.55} {
			for _, slow := range [...]float64{24, 45} {
				list = append(list, shape{k: k, second: second, slow: slow, weight: 0.3 / 18})
			}
		}
	}
	return list
}

// skew is the sigmoid's s.
func (h *shape) skew() float64 { return math.Ldexp(1, -h.roots) }

// fallen is the share of the fall that is done at t when the middle is at m, and
// its change with the middle.
func (h *shape) fallen(t, m float64) (share, byMiddle float64) {
	if h.wide > 0 {
		ea, eb := math.Exp(min(600, h.k*(t-m+h.wide))), math.Exp(min(600, h.k*(t-m-h.wide)))
		share = (math.Log1p(ea) - math.Log1p(eb)) / (2 * h.k * h.wide)
		return share, (eb/(1+eb) - ea/(1+ea)) / (2 * h.wide)
	}
	e := math.Exp(min(600, -h.k*(t-m)))
	base := 1 + float64(h.skew()*e)
	part := 1 / base
	for range h.roots { // s below 1: powers
		part *= part
	}
	for range -h.roots {
		part = math.Sqrt(part)
	}
	part = float64(part * (1 - h.second))
	share, byMiddle = part, -float64(part/base*h.k*e)
	if h.second > 0 && t > m {
		late := float64(h.second * math.Exp(-(t-m)/h.slow))
		share += h.second - late
		byMiddle -= late / h.slow
	}
	return share, byMiddle
}
