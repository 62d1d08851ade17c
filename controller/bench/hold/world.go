package main

import (
	"math"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/units"
)

// How a hold is judged: it begins at its target with a vessel that nobody knows, a
// day counts as learning, and what comes after two and a half days as settled.
const (
	step      = bench.Step
	learning  = 24 * time.Hour
	settledAt = 60 * time.Hour
	whole     = 96 * time.Hour
	doorShare = 0.6 // of the air goes out with every opening
)

// levels of both relays in one step.
type levels = controller.Outputs

// train is what was driven, a step each.
type train []levels

// world is a modelled vessel with what happens around it.
type world struct {
	beer *plant.Plant
	door time.Duration
}

func (c *cellar) world(start units.Celsius) world {
	wort := plant.PaleAle()
	beer := plant.New(c.body, wort, c.noise, c.seed, start)
	beer.SetWeather(c.room)
	if c.yeast {
		beer.Pitch()
	}
	return world{beer, c.door}
}

func (w world) copied() world { return world{w.beer.Copy(), w.door} }

// advance lets one step pass.
func (w world) advance(l levels) {
	before := w.beer.Elapsed()
	w.beer.Advance(step, plant.Outputs{Heat: l.Heat, Cool: l.Cool})
	if w.door > 0 && before/w.door != w.beer.Elapsed()/w.door {
		w.beer.OpenDoor(doorShare)
	}
}

// score is how well a train of pulses held the beer.
type score struct {
	rms                    float64 // K, of the true beer
	heatStarts, coolStarts int
	heat, cold             float64 // J
	kept                   float64 // J that the vessel holds more at the end
	steps                  int
}

func (s *score) energy() float64 { return s.heat + s.cold }

// look adds one step.
func (s *score) look(off float64, was, now levels) {
	s.rms += float64(off * off)
	s.steps++
	if now.Heat && !was.Heat {
		s.heatStarts++
	}
	if now.Cool && !was.Cool {
		s.coolStarts++
	}
}

func (s *score) done(from, to plant.Ledger) {
	if s.steps > 0 {
		s.rms = math.Sqrt(s.rms / float64(s.steps))
	}
	s.heat, s.cold = to.Heater-from.Heater, to.Cooled-from.Cooled
	s.kept = to.Held - from.Held
}

// driver decides what comes next, after a step with the given levels.
type driver interface {
	next(w world, driven levels) levels
}

// held is what came of a hold.
type held struct {
	first, settled score
	from           world // where the settled part began
	trains         train // of the settled part
}

// hold runs a driver through a whole hold.
func (c *cellar) hold(d driver) held {
	w := c.world(c.target)
	var h held
	var now levels
	var begin plant.Ledger
	for w.beer.Elapsed() < whole {
		was := now
		now = d.next(w, now)
		t := w.beer.Elapsed()
		if t == settledAt {
			h.from, begin = w.copied(), w.beer.Ledger()
			h.first.done(plant.Ledger{}, plant.Ledger{})
		}
		off := float64(w.beer.Beer().Minus(c.target))
		switch {
		case t < learning:
			h.first.look(off, was, now)
		case t >= settledAt:
			h.settled.look(off, was, now)
			h.trains = append(h.trains, now)
		}
		w.advance(now)
	}
	h.settled.done(begin, w.beer.Ledger())
	return h
}

// plain is the differential thermostat that everybody can build: cooling goes on
// at a quarter of a kelvin above the target and off at as much below, heat the other
// way about. It has the same guard.
type plain struct {
	c          *cellar
	guard      guard.State
	heat, cool bool
}

const differential units.Kelvins = 0.25

func (p *plain) next(w world, driven levels) levels {
	elapsed := step
	if w.beer.Elapsed() == 0 {
		elapsed = 0
	}
	p.guard = p.guard.Observe(driven.Heat, driven.Cool, elapsed)
	beer := w.beer.ReadThermowell()
	high, low := beer >= p.c.target.Plus(differential), beer <= p.c.target.Plus(-differential)
	p.cool = (p.cool || high) && !low && p.c.cool.Fitted
	p.heat = (p.heat || low) && !high && p.c.heat.Fitted
	v := p.guard.Decide(p.c.heat, p.c.cool, guard.Wish{Heat: p.heat, Cool: p.cool})
	return levels{Heat: v.Heat, Cool: v.Cool}
}
