package main

import (
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/units"
)

// ours is the program itself: the same Step as on a board, which is told nothing of
// the vessel but its relays and its volume.
type ours struct {
	tank   *bench.Tank
	orders []controller.Order
	begun  bool
}

// program gives the core with a schedule that is about to begin with its first stage.
func (c *cellar) program(sch *controller.Schedule) *ours {
	v := &controller.Vessel{
		Name: "fv1", Step: step, Volume: c.body.Volume, Heat: c.heat, Cool: c.cool,
		Probes:   controller.Probes{Thermowell: "fv1/thermowell"},
		Limits:   controller.Limits{Lowest: -1, Highest: 30},
		SuckBack: controller.CO2Supply, InAir: c.body.Air,
	}
	if c.surround {
		v.Probes.Surround = "fv1/surround"
	}
	o := &ours{tank: &bench.Tank{Vessel: v, State: controller.Fresh()}}
	o.tell(controller.Verb{Kind: controller.Start, Batch: "b1", Schedule: sch})
	o.tell(controller.Verb{Kind: controller.PitchedNow})
	return o
}

func (o *ours) tell(v controller.Verb) {
	o.orders = append(o.orders, controller.Order{Who: "brewer", Do: v})
}

func (o *ours) next(w world, driven levels) levels {
	o.tank.Beer = w.beer
	in := controller.Input{Elapsed: step, Actual: driven, Orders: o.orders, Readings: o.tank.Sense(step)}
	if !o.begun {
		in.Elapsed, o.begun = 0, true
	}
	o.orders = nil
	o.tank.State, o.tank.Out = controller.Step(o.tank.Vessel, o.tank.State, in)
	if o.tank.Out.Schedule != nil {
		o.tank.Vessel = o.tank.Vessel.With(o.tank.Out.Schedule)
	}
	return o.tank.Out.Outputs
}

// stages makes a schedule of a first stage that a person ends, and what follows.
func stages(list ...controller.Stage) *controller.Schedule {
	s := &controller.Schedule{Name: "hold", Wort: controller.Wort{Original: 1.052, Final: 1.010, FinalSD: 2}}
	for _, st := range list {
		st.Longest = controller.Longest{For: 60 * units.Day, Then: controller.Ask}
		s.Stages = append(s.Stages, st)
	}
	return s
}

func byHand() controller.Condition {
	return controller.Condition{Kind: controller.Confirmed, Say: "done"}
}

// holding is a schedule that holds one temperature until somebody ends it.
func (c *cellar) holding() *controller.Schedule {
	return stages(controller.Stage{Name: "primary", Kind: controller.Primary, Target: controller.Target{Kind: controller.At, To: c.target}, Until: byHand()})
}

// The crash: from an ale's warmth to just above ice.
const (
	warm      units.Celsius        = 20
	cold      units.Celsius        = 1
	near      units.Kelvins        = 0.3 // that far from its end a crash is over
	crashRate units.KelvinsPerHour = 2
	under     units.Kelvins        = 0.2 // below its end that a crash may go
	tooLong                        = 12 * units.Day
	after                          = 24 * time.Hour // the undershoot is looked for
	warmUp                         = 24 * time.Hour // held at the beginning, so that something can be learnt
)

// crash is how a beer came down.
type crash struct {
	took        time.Duration // from the order to within near of the end; 0 = never
	undershoot  units.Kelvins
	shortest    time.Duration
	shortestLow units.Kelvins
}

// crashes tells whether the vessel can be crashed at all.
func (c *cellar) crashes() bool { return c.cool.Fitted }

// still is the same cellar with a beer that is ready, in a room that is not hot.
func (c *cellar) still() *cellar {
	d := *c
	d.yeast, d.door = false, 0
	d.room = plant.Ambient{Mean: min(c.room.Mean, 20), Swing: c.room.Swing, Coldest: c.room.Coldest}
	return &d
}

func (c *cellar) crash() crash {
	d := c.still()
	o := d.program(stages(
		controller.Stage{Name: "primary", Kind: controller.Primary, Target: controller.Target{Kind: controller.At, To: warm}, Until: byHand()},
		controller.Stage{Name: "crash", Kind: controller.Crash, Target: controller.Target{Kind: controller.Ramp, To: cold, Rate: crashRate}, Until: controller.Condition{Kind: controller.BeerAt, Beer: cold}},
		controller.Stage{Name: "hold", Kind: controller.Hold, Target: controller.Target{Kind: controller.At, To: cold}},
	))
	w := d.world(warm)
	var now levels
	var out crash
	for w.beer.Elapsed() < tooLong && (out.took == 0 || w.beer.Elapsed() < warmUp+out.took+after) {
		if w.beer.Elapsed() == warmUp {
			o.tell(controller.Verb{Kind: controller.AdvanceNow})
			out.shortest, out.shortestLow = d.shortest(w)
		}
		now = o.next(w, now)
		w.advance(now)
		if w.beer.Elapsed() <= warmUp {
			continue
		}
		off := w.beer.Beer().Minus(cold)
		if out.took == 0 && off <= near {
			out.took = w.beer.Elapsed() - warmUp
		}
		out.undershoot = max(out.undershoot, -off)
	}
	return out
}

// shortest searches the shortest crash that keeps to the rate, to half of it below
// 4 C, and does not undershoot: cooling follows the ramp in full knowledge of the beer, and goes off
// for good at the temperature that is best.
func (c *cellar) shortest(from world) (time.Duration, units.Kelvins) {
	best, low := time.Duration(0), units.Kelvins(0)
	for off := units.Kelvins(0); off <= 4; off += 0.05 {
		took, below := c.fall(from.copied(), cold.Plus(off))
		if took > 0 && below <= under && (best == 0 || took < best) {
			best, low = took, below
		}
		if best > 0 && below == 0 {
			break // from here on it only takes longer
		}
	}
	return best, low
}

// fall cools along the ramp until the beer is at stop, and then never again.
func (c *cellar) fall(w world, stop units.Celsius) (took time.Duration, below units.Kelvins) {
	begin, start := w.beer.Elapsed(), w.beer.Beer()
	since, on := step+c.cool.MinOff, false
	stopped := false
	for {
		t := w.beer.Elapsed() - begin
		if t > tooLong || stopped && t > took+after/4 && (took > 0 || t > after) {
			return took, below
		}
		ramp := led(start, t)
		stopped = stopped || w.beer.Beer() <= stop
		want := !stopped && w.beer.Beer() > ramp
		if on != want && (on && since >= c.cool.MinOn || !on && since >= c.cool.MinOff) {
			on, since = want, 0
		}
		w.advance(levels{Cool: on})
		since += step
		off := w.beer.Beer().Minus(cold)
		if took == 0 && off <= near {
			took = w.beer.Elapsed() - begin
		}
		below = max(below, -off)
	}
}

// led is where a ramp is that falls at the crash's rate, and at half of it below 4 C.
func led(start units.Celsius, t time.Duration) units.Celsius {
	const turn units.Celsius = 4
	fast := max(0, float64(start.Minus(turn))/float64(crashRate)) // h
	if h := t.Hours(); h > fast {
		return min(start, turn).Plus(units.Kelvins(-float64(crashRate) / 2 * (h - fast)))
	}
	return start.Plus(units.Kelvins(-float64(crashRate) * t.Hours()))
}

// rise lets the yeast warm a beer to its cap, and gives how far it went above.
func (c *cellar) rise() units.Kelvins {
	d := *c
	d.yeast = true
	const from, limit units.Celsius = 18, 21
	o := d.program(stages(controller.Stage{Name: "rest", Kind: controller.Rest, Target: controller.Target{Kind: controller.FreeRise, To: limit, HeatAfter: 30 * units.Day}, Until: byHand()}))
	w := d.world(from)
	var now levels
	above := units.Kelvins(0)
	for w.beer.Elapsed() < 72*time.Hour {
		now = o.next(w, now)
		w.advance(now)
		above = max(above, w.beer.Beer().Minus(limit))
	}
	return above
}
