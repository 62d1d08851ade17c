package plant

import (
	"math"

	"example.org/restpoint/controller/units"
)

// probeStep is the raster of a 12-bit one-wire thermometer, whose converter
// cuts off what is below it.
const probeStep = 0.0625

// ambientLag in s: a bare probe in still air, from memory.
const ambientLag = 120

// probes holds what the thermometers have warmed to.
type probes struct {
	thermowell, surround, ambient float64
	out                           bool // the beer probe hangs in the air
	chance                        chance
}

func newProbes(p *Plant, seed uint64) probes {
	return probes{thermowell: p.heat[beer], surround: p.heat[surround], ambient: p.ambient.at(0), chance: stream(seed, streamProbes)}
}

// lagged moves x towards its target for s seconds with a time constant; the
// implicit form cannot overshoot.
func lagged(x, target, s, lag float64) float64 { return x + float64((target-x)*(s/(lag+s))) }

func (r *probes) follow(p *Plant, ambient, s float64) {
	seen := p.heat[beer]
	if r.out {
		seen = ambient
		if p.vessel.Air {
			seen = p.heat[surround]
		}
	}
	r.thermowell = lagged(r.thermowell, seen, s, p.vessel.ThermowellLag.Seconds())
	r.surround = lagged(r.surround, p.heat[surround], s, p.vessel.SurroundLag.Seconds())
	r.ambient = lagged(r.ambient, ambient, s, ambientLag)
}

func (r *probes) read(c, sd float64) units.Celsius {
	if sd > 0 {
		c += float64(sd * r.chance.normal())
	}
	return units.Celsius(math.Floor(c/probeStep) * probeStep)
}

// ProbeOut lets the beer probe fall out of its thermowell (or puts it back): it
// then sees the cabinet air, or the room when the vessel has a jacket.
func (p *Plant) ProbeOut(out bool) { p.probes.out = out }

// ReadThermowell is what the beer probe says.
func (p *Plant) ReadThermowell() units.Celsius {
	return p.probes.read(p.probes.thermowell+float64(p.vessel.ProbeOffset), p.noise.Probe)
}

// ReadSurround is what the probe in the cabinet air or on the jacket says.
func (p *Plant) ReadSurround() units.Celsius { return p.probes.read(p.probes.surround, p.noise.Probe) }

// ReadAmbient is what the probe in the room says.
func (p *Plant) ReadAmbient() units.Celsius { return p.probes.read(p.probes.ambient, p.noise.Probe) }
