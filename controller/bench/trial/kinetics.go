package main

import (
	"math"
	"math/rand/v2"

	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/units"
)

// kinetics is one way in which a beer may ferment. Those that are held out were
// never looked at when the estimator was made.
type kinetics struct {
	name    string
	heldOut bool
	// draw gives a beer: its wort, its temperature, and its curve where it is not
	// the plant's own. stop is by how much of the fall a stuck one stops short, in
	// shares of it; 0 for one that ends.
	draw func(r *rand.Rand, stop float64) brewed
}

type brewed struct {
	wort    plant.Wort
	celsius units.Celsius
	curve   plant.Curve
	end     units.Gravity // where it really stops
}

func allKinetics() []kinetics {
	return []kinetics{
		{"three sugars, growth", false, threeSugars},
		{"de Andres-Toro", false, andresToro},
		{"Gee-Ramirez", false, geeRamirez},
		{"Richards", false, richards},
		{"Gompertz", false, gompertz},
		{"two stages", false, twoStages},
		{"Monod", false, monod},
		{"Weibull", true, weibull},
		{"Contois", true, contois},
		{"Levenspiel", true, levenspiel},
	}
}

func between(r *rand.Rand, low, high float64) float64 { return low + (high-low)*r.Float64() }

// wort draws a usual wort: 1.040 to 1.065, apparent attenuation of 68 to 84 % (5 to
// 95 % of 54 published fermentations: 62 to 80 %, and stronger yeasts).
func wort(r *rand.Rand) plant.Wort {
	original := between(r, 40, 65)
	final := original * (1 - between(r, 0.68, 0.84))
	return plant.Wort{Original: units.Gravity(1 + original/1000), Final: units.Gravity(1 + final/1000)}
}

// stopped is where a beer stops that leaves a share of its fall.
func stopped(w plant.Wort, stop float64) units.Gravity {
	return w.Final.Plus(units.Points(stop * float64(w.Original.Minus(w.Final))))
}

func threeSugars(r *rand.Rand, stop float64) brewed {
	w := wort(r)
	w.Vigour, w.PitchRate = between(r, 0.6, 1.3), between(r, 0.7, 1.5)
	b := brewed{wort: w, celsius: units.Celsius(between(r, 17, 22)), end: w.Final}
	if stop > 0 {
		b.end = stopped(w, stop)
		b.wort.StuckAt = b.end
	}
	return b
}

// along makes the curve of a beer from the share of its fall that is done so many
// hours after pitching.
func along(w plant.Wort, stop float64, done func(hours float64) float64) (plant.Curve, units.Gravity) {
	end := stopped(w, stop)
	from, to := float64(w.Original.Plato()), float64(end.Plato())
	first := done(0)
	return func(hours float64) units.Plato {
		share := (done(hours) - first) / (1 - first)
		return units.Plato(from + (to-from)*min(1, max(0, share)))
	}, end
}

// table integrates a model in steps of 0.1 h and looks its shares up.
func table(hours int, next func() float64) func(float64) float64 {
	const perHour = 10
	shares := make([]float64, hours*perHour+1)
	for i := range shares {
		shares[i] = next()
	}
	return func(h float64) float64 {
		at := h * perHour
		i := int(at)
		if i >= len(shares)-1 {
			return 1
		}
		return shares[i] + (at-float64(i))*(shares[i+1]-shares[i])
	}
}

func andresToro(r *rand.Rand, stop float64) brewed {
	w := wort(r)
	c := between(r, 10, 13.5) // above 15 C its yeast dies before the sugar is gone
	m, first := plant.NewDeAndresToro(), true
	start := m.Sugar
	done := table(400, func() float64 {
		if !first {
			m = m.After(0.1, c)
		}
		first = false
		return 1 - m.Sugar/start
	})
	curve, end := along(w, stop, done)
	return brewed{w, units.Celsius(c), curve, end}
}

func geeRamirez(r *rand.Rand, stop float64) brewed {
	w := wort(r)
	c := between(r, 16, 21)
	mass := func(m plant.Engasser) float64 { return 180*m.Glucose + 342*m.Maltose + 504*m.Maltotriose }
	m, first := plant.NewEngasser(), true
	start := mass(m)
	done := table(900, func() float64 {
		if !first {
			m = m.After(0.1, c)
		}
		first = false
		return 1 - mass(m)/start
	})
	lag := between(r, 4, 14)
	curve, end := along(w, stop, func(h float64) float64 { return done(max(0, h-lag)) })
	return brewed{w, units.Celsius(c), curve, end}
}

// richards is the five-parameter logistic: s of 1 is the usual one, other values
// were fitted to real fermentations from 0.1 to 10.
func richards(r *rand.Rand, stop float64) brewed {
	w := wort(r)
	k, middle, s := between(r, 0.05, 0.13), between(r, 36, 72), math.Exp(between(r, -1.2, 1.2))
	curve, end := along(w, stop, func(h float64) float64 {
		return math.Pow(1+s*math.Exp(-k*(h-middle)), -1/s)
	})
	return brewed{w, units.Celsius(between(r, 16, 22)), curve, end}
}

func gompertz(r *rand.Rand, stop float64) brewed {
	w := wort(r)
	k, middle := between(r, 0.035, 0.08), between(r, 26, 50)
	curve, end := along(w, stop, func(h float64) float64 {
		return math.Exp(-math.Exp(-k * (h - middle)))
	})
	return brewed{w, units.Celsius(between(r, 16, 22)), curve, end}
}

// twoStages is a logistic with a slow second sugar behind it, as maltotriose is in
// many beers.
func twoStages(r *rand.Rand, stop float64) brewed {
	w := wort(r)
	k, middle := between(r, 0.07, 0.14), between(r, 34, 60)
	slow, tau := between(r, 0.06, 0.2), between(r, 25, 60)
	curve, end := along(w, stop, func(h float64) float64 {
		fast := 1 / (1 + math.Exp(-k*(h-middle)))
		late := max(0, h-middle)
		return (1-slow)*fast + slow*(1-math.Exp(-late/tau))
	})
	return brewed{w, units.Celsius(between(r, 16, 22)), curve, end}
}

// monod is yeast that grows on one sugar by the law of Monod (1949): from a sharp
// end to a long one by its half saturation.
func monod(r *rand.Rand, stop float64) brewed {
	half := math.Exp(between(r, -3, 0))
	return grown(r, stop, func(sugar, _ float64) float64 { return sugar / (half + sugar) })
}

// contois is yeast that grows by the law of Contois (1959): the more of it there is,
// the more sugar it needs for the same speed.
func contois(r *rand.Rand, stop float64) brewed {
	share := math.Exp(between(r, -2, 0.5))
	return grown(r, stop, func(sugar, yeast float64) float64 { return sugar / (share*yeast + sugar) })
}

// levenspiel is yeast that alcohol slows down, after Levenspiel (1980): by a power of
// what is missing to the alcohol that would stop it, beyond what this wort can give.
func levenspiel(r *rand.Rand, stop float64) brewed {
	power, most, half := between(r, 0.4, 2), between(r, 1.05, 1.6), math.Exp(between(r, -4, -1.5))
	return grown(r, stop, func(sugar, _ float64) float64 {
		return math.Pow(1-(1-sugar)/most, power) * sugar / (half + sugar)
	})
}

// grown is a beer whose yeast grows on one sugar, and eats it as it grows. Its
// fastest fall is a beer's: 0.8 points an hour is the median of 54 real fermentations.
func grown(r *rand.Rand, stop float64, law func(sugar, yeast float64) float64) brewed {
	w := wort(r)
	const speed = 0.12
	yeast := between(r, 0.01, 0.06)
	sugar, first, fastest := 1.0, true, 0.0
	done := table(900, func() float64 {
		for range 10 {
			if first {
				break
			}
			more := 0.01 * speed * law(sugar, yeast) * yeast
			yeast += more
			sugar = max(0, sugar-more)
			fastest = max(fastest, more/0.01)
		}
		first = false
		return 1 - sugar
	})
	lag := between(r, 4, 14)
	pace := between(r, 0.5, 1.2) / (fastest * float64(w.Original-w.Final) * 1000)
	curve, end := along(w, stop, func(h float64) float64 { return done(pace * max(0, h-lag)) })
	return brewed{w, units.Celsius(between(r, 16, 22)), curve, end}
}

// weibull is a fall whose rate grows with a power of time.
func weibull(r *rand.Rand, stop float64) brewed {
	w := wort(r)
	power, scale := between(r, 1.4, 2.8), between(r, 40, 80)
	curve, end := along(w, stop, func(h float64) float64 { return 1 - math.Exp(-math.Pow(h/scale, power)) })
	return brewed{w, units.Celsius(between(r, 16, 22)), curve, end}
}
