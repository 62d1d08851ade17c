package controller

import "example.org/restpoint/controller/units"

// PressureLimits are what the tank and its fittings can stand above the air's
// pressure. A transducer is only read: relief valve and vacuum breaker protect the
// tank, this program does not.
type PressureLimits struct {
	Lowest  units.Pascals // below it there is a vacuum; 0 = UsualVacuum
	Highest units.Pascals // 0 = no alarm
}

// UsualVacuum is where a vacuum begins where nothing else is said: thin walls are
// rated near zero, and usual transducers are 1 or 2 kPa off (1 % of 2 bar).
const UsualVacuum units.Pascals = -3 * units.PascalsPerKilo

func (r *run) overPressure() bool {
	g, most := r.s.Sense.Gauge, r.v.Pressure.Highest
	return g.Usable() && most > 0 && g.Gauge > most
}

// vacuum tells whether the tank is being sucked in.
func (r *run) vacuum() bool {
	g, least := r.s.Sense.Gauge, r.v.Pressure.Lowest
	if least == 0 {
		least = UsualVacuum
	}
	return g.Usable() && g.Gauge < least
}

// residual follows the carbon dioxide that the beer holds for sure: while it
// ferments, as much as it can under the pressure above it; afterwards what is lost
// does not come back by itself, so the least counts.
func (r *run) residual() {
	b, beer := &r.s.Batch, r.s.Sense.Beer
	if !b.Pitched || !r.s.Gravity.Est.Known || !r.s.Gravity.Begun(r.prior) || !beer.Usable() {
		return
	}
	var top units.Pascals
	if r.s.Sense.Gauge.Usable() {
		top = max(0, r.s.Sense.Gauge.Gauge)
	}
	now := max(0, units.Carbonation(top, beer.Celsius))
	over := b.Told.Terminal || r.kind() == Crash || r.kind() == Hold
	if over && b.Residual > 0 {
		now = min(now, b.Residual)
	}
	b.Residual = now
}
