package plant

// Engasser is the growth model of Engasser as published with temperature by Gee
// and Ramirez (1988, 1994), in mol/m3 and hours: three sugars eaten in turn. A
// Plant's own yeast is built on its structure; this is the published form, kept
// to be checked against.
type Engasser struct{ Glucose, Maltose, Maltotriose, Yeast, Ethanol float64 }

// NewEngasser gives the usual start, 108.1 g/L of sugar.
func NewEngasser() Engasser {
	return Engasser{Glucose: 70, Maltose: 220, Maltotriose: 40, Yeast: 125}
}

type engasserRates struct {
	glucose, maltose, maltotriose             float64 // uptake, 1/h
	glucoseHalf, maltoseHalf, maltotrioseHalf float64 // mol/m3
	glucoseStops, maltoseStops                float64 // mol/m3
}

func newEngasserRates(c float64) engasserRates {
	k := func(a, energy float64) float64 { return exp(a - energy/(gasConstant*(c+kelvin))) }
	return engasserRates{
		glucose: k(35.77, 22.6), maltose: k(16.40, 11.3), maltotriose: k(10.59, 7.16),
		glucoseHalf: k(-121.3, -68.6), maltoseHalf: k(-19.15, -14.4), maltotrioseHalf: k(-26.78, -19.9),
		glucoseStops: k(23.33, 10.2), maltoseStops: k(55.61, 26.3),
	}
}

// After is the model some hours later at a constant temperature, by one
// Runge-Kutta step.
func (m Engasser) After(hours, celsius float64) Engasser {
	r := newEngasserRates(celsius)
	y := rk4([5]float64{m.Glucose, m.Maltose, m.Maltotriose, m.Yeast, m.Ethanol}, hours, func(y [5]float64) [5]float64 {
		g, m, n, x := max(0, y[0]), max(0, y[1]), max(0, y[2]), y[3]
		free := r.glucoseStops / (r.glucoseStops + g)
		eatG := r.glucose * g / (r.glucoseHalf + g) * x
		eatM := r.maltose * m / (r.maltoseHalf + m) * free * x
		eatN := r.maltotriose * n / (r.maltotrioseHalf + n) * free * r.maltoseStops / (r.maltoseStops + m) * x
		return [5]float64{
			-eatG, -eatM, -eatN,
			float64(0.134*eatG) + float64(0.268*eatM) + float64(0.402*eatN),
			float64(1.92*eatG) + float64(3.84*eatM) + float64(5.76*eatN),
		}
	})
	return Engasser{y[0], y[1], y[2], y[3], y[4]}
}
