package plant

import (
	"time"

	"example.org/restpoint/controller/units"
)

// Outputs are the relay levels that act on the vessel.
type Outputs struct{ Heat, Cool bool }

// The plant's own time is cut at every whole kinetic step, and no thermal step
// is longer than thermalStep. The shortest time constant of the vessels here is
// about 90 s (a jacket with its valve open), so that 10 s is well inside what
// the method follows.
const (
	thermalStep = 10 * time.Second
	kineticStep = time.Minute
)

// Plant is one running fermenter. It is not safe for use from several goroutines.
type Plant struct {
	vessel  Vessel
	wort    Wort
	noise   Noise
	ambient Ambient
	chiller *Chiller

	elapsed time.Duration
	mass    float64 // kg of beer
	heat    thermal
	ledger  Ledger // what is not in heat

	enthalpyAtStart float64

	pitched, sticking bool
	broth             broth
	curve             Curve   // instead of the plant's own kinetics
	ripe              float64 // h since pitching, for the curve
	end               float64 // P, apparent extract with no sugar left
	stop              float64 // P of sugar where the yeast gives up
	dropRate          float64 // P/h over the present kinetic step
	yeastPower        float64 // W over the present kinetic step

	probes     probes
	hydrometer hydrometer
}

// New gives a full vessel, all of it at the start temperature, in a room that
// stays at 18 C, with no yeast in it yet.
func New(v Vessel, w Wort, n Noise, seed uint64, start units.Celsius) *Plant {
	if w.PitchRate == 0 {
		w.PitchRate = 1
	}
	if w.Vigour == 0 {
		w.Vigour = 1
	}
	p := &Plant{vessel: v, wort: w, noise: n, ambient: Ambient{Mean: 18}}
	p.mass = float64(v.Volume) * waterDensity * float64(w.Original)
	p.end = float64(w.Final.Plato())
	p.stop = 0
	if w.StuckAt > w.Final {
		p.stop = float64(w.StuckAt.Plato()) - p.end
	}
	total := float64(w.Original.Plato()) - p.end
	p.broth[glucose], p.broth[maltose] = total*glucoseShare, total*maltoseShare
	p.broth[maltotriose] = total * maltotrioseShare
	p.broth[suspended] = 1
	p.SetTemperatures(start, start)
	p.probes = newProbes(p, seed)
	p.hydrometer = newHydrometer(p, seed)
	return p
}

// SetTemperatures puts the beer and its surround (with heater and evaporator)
// at given temperatures and begins a new ledger.
func (p *Plant) SetTemperatures(b, s units.Celsius) {
	p.heat = thermal{beer: float64(b), surround: float64(s), heater: float64(s), evaporator: float64(s)}
	p.ledger = Ledger{}
	p.enthalpyAtStart = p.enthalpy()
}

// SetAmbient holds the room at one temperature from now on.
func (p *Plant) SetAmbient(c units.Celsius) { p.ambient = Ambient{Mean: c} }

// SetWeather lets the room swing between day and night.
func (p *Plant) SetWeather(a Ambient) { p.ambient = a }

// Couple takes the glycol from a chiller that other vessels may share. A vessel
// without a glycol jacket stays as it is.
func (p *Plant) Couple(c *Chiller) {
	if p.vessel.GlycolFlow > 0 {
		p.chiller = c
	}
}

// Pitch puts the yeast in. Before it nothing ferments; a second pitch adds yeast.
func (p *Plant) Pitch() {
	p.pitched = true
	p.sticking = false
	p.broth[yeast] += p.wort.PitchRate
}

// Stick makes the yeast give up, over some hours.
func (p *Plant) Stick() { p.sticking = true }

// Advance runs the plant for dt with the relays at the given levels. The same
// calls give the same bits; other cuts of the same time give the same beer
// within the error of the integration (below a millikelvin).
func (p *Plant) Advance(dt time.Duration, out Outputs) {
	for dt > 0 {
		into := p.elapsed % kineticStep
		if into == 0 {
			p.ferments(kineticStep.Hours())
		}
		h := min(dt, thermalStep, kineticStep-into)
		p.warm(h, out)
		p.elapsed += h
		dt -= h
	}
}

// warm is one thermal sub-step.
func (p *Plant) warm(h time.Duration, out Outputs) {
	s := h.Seconds()
	f := flows{
		beerCapacity: p.beerCapacity(), vessel: &p.vessel,
		ambient: p.ambient.at(p.elapsed + h/2), glycol: float64(p.vessel.Glycol),
		yeast: p.yeastPower, cool: out.Cool,
	}
	if p.chiller != nil {
		f.glycol = p.chiller.temperature
	}
	if out.Heat {
		f.heater = float64(p.vessel.Heater)
	}
	before := p.heat[cooled]
	p.heat = rk4(p.heat, s, f.slope)
	if p.chiller != nil {
		p.chiller.load += p.heat[cooled] - before
	}
	p.ledger.Yeast += float64(f.yeast * s)
	p.ledger.Heater += float64(f.heater * s)
	p.probes.follow(p, f.ambient, s)
	p.hydrometer.follow(p, out.Cool, s)
}

// Elapsed is the plant's own time.
func (p *Plant) Elapsed() time.Duration { return p.elapsed }

// Beer is the true temperature of the beer.
func (p *Plant) Beer() units.Celsius { return units.Celsius(p.heat[beer]) }

// Surround is the true temperature of the cabinet air or the jacket.
func (p *Plant) Surround() units.Celsius { return units.Celsius(p.heat[surround]) }

// Ambient is the true temperature of the room.
func (p *Plant) Ambient() units.Celsius { return units.Celsius(p.ambient.at(p.elapsed)) }

// Extract is the true apparent extract.
func (p *Plant) Extract() units.Plato { return units.Plato(p.end + p.sugar() + p.broth[dextrin]) }

// Gravity is the true gravity of the beer at 20 C.
func (p *Plant) Gravity() units.Gravity { return p.Extract().Gravity() }

// End is where this beer will really end if it is left warm: above its Final
// when it sticks, below it after a dry hop. It knows nothing of a later Stick.
func (p *Plant) End() units.Gravity { return units.Plato(p.end + p.stop).Gravity() }

// DropPerDay is how fast the apparent extract falls, in P a day.
func (p *Plant) DropPerDay() units.Plato { return units.Plato(p.dropRate * 24) }

// HeatOfFermentation is what the yeast gives off.
func (p *Plant) HeatOfFermentation() units.Watts { return units.Watts(p.yeastPower) }

// Diacetyl is in ppm, with the precursor that will still turn into it.
func (p *Plant) Diacetyl() (free, total float64) {
	return p.broth[diacetyl], p.broth[diacetyl] + p.broth[precursor]
}
