package plant

// DeAndresToro is the beer fermentation model of de Andres-Toro and others
// (1998), in g/L, ppm and hours. It is a second opinion and a source of stuck
// fermentations, not the truth of a Plant: above 15 C its yeast dies before the
// sugar is gone, below 8 C nothing was fitted, and its ethanol yield is not
// conserved, so that gravity may be taken from its sugar only. Its ester term,
// of which several forms circulate, is left out.
type DeAndresToro struct {
	Latent, Active, Dead     float64 // yeast, g/L
	Sugar, Ethanol, Diacetyl float64 // g/L, g/L, ppm

	start float64 // g/L of sugar at the beginning
}

// NewDeAndresToro gives the model with its usual start: 1.92, 0.08 and 2 g/L of
// yeast, 130 g/L of sugar.
func NewDeAndresToro() DeAndresToro {
	return DeAndresToro{Latent: 1.92, Active: 0.08, Dead: 2, Sugar: 130, start: 130}
}

// andresRates are exp(a + b/T), the pairs that eight public codings agree on.
type andresRates struct{ growth, uptake, wake, death, settle, ethanol, half float64 }

func newAndresRates(c float64) andresRates {
	t := c + kelvin
	return andresRates{
		growth:  exp(108.31 - 31934.09/t),
		uptake:  exp(-41.92 + 11654.64/t),
		wake:    exp(30.72 - 9501.54/t),
		death:   exp(130.16 - 38313/t),
		settle:  exp(33.82 - 10033.28/t),
		ethanol: exp(3.27 - 1267.24/t), // one coding has 3.72, a swap of digits
		half:    exp(-119.63 + 34203.95/t),
	}
}

// After is the model some hours later at a constant temperature, by one
// Runge-Kutta step: 0.1 h follows the equations to 0.1 %.
func (m DeAndresToro) After(hours, celsius float64) DeAndresToro {
	r := newAndresRates(celsius)
	half := m.start / 2
	y := rk4([6]float64{m.Latent, m.Active, m.Dead, m.Sugar, m.Ethanol, m.Diacetyl}, hours, func(y [6]float64) [6]float64 {
		latent, active, dead, sugar, ethanol, vdk := y[0], y[1], y[2], max(0, y[3]), y[4], y[5]
		growth := r.growth * sugar / (half + ethanol)
		settle := r.settle * half / (half + ethanol)
		saturation := sugar / (r.half + sugar)
		return [6]float64{
			-(r.wake * latent),
			float64((growth-r.death)*active) + float64(r.wake*latent),
			float64(r.death*active) - float64(settle*dead),
			-(r.uptake * saturation * active),
			(1 - ethanol/half) * r.ethanol * saturation * active,
			float64(1.27672e-4*sugar*active) - float64(1.13864e-3*vdk*ethanol),
		}
	})
	m.Latent, m.Active, m.Dead, m.Sugar, m.Ethanol, m.Diacetyl = y[0], y[1], y[2], max(0, y[3]), y[4], y[5]
	return m
}
