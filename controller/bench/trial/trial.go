package main

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/units"
)

// What is asked of every case: the rest at six points left, an end declared that is
// wrong by two points (one standard deviation).
const (
	asked      = 6.0
	declaredSD = 2.0
	step       = time.Minute
	longest    = 30 * units.Day
)

// trial is one fermentation seen by one sensor, and what was decided.
type trial struct {
	kinetics kinetics
	noise    string
	stuck    bool

	fired      bool
	left       float64 // true points left when the rest began
	late       float64 // h after six points were really left
	scripted   bool
	leftScript float64 // the same for the rule that a person would script
	lateScript float64

	stopAt        float64 // h: within a point of its end
	stuckAt       float64 // h: said; NaN = never
	falseStuck    bool
	falseTerminal bool
	estimates     int
	intervals     int
	inside        int
	widths        []float64
}

// run plays one case through the same rig and the same Step as everything else.
func run(k kinetics, noise string, level plant.Noise, seed uint64, stuck bool) trial {
	r := rand.New(rand.NewPCG(seed, 1)) //nolint:gosec // chance that can be repeated
	stop := 0.0
	if stuck {
		stop = between(r, 0.2, 0.4)
	}
	b := k.draw(r, stop)
	declared := b.wort.Final.Plus(units.Points(declaredSD * r.NormFloat64()))
	t := trial{kinetics: k, noise: noise, stuck: stuck, stuckAt: math.NaN()}
	tank := bench.NewTank("fv1", bench.Brew{Kind: bench.Conical, Wort: b.wort, Noise: level, Seed: seed, Start: b.celsius, Ambient: plant.Ambient{Mean: b.celsius - 1, Swing: 2}})
	tank.Vessel.Step = step
	if b.curve != nil {
		tank.Beer.Follow(b.curve)
	}
	rig := &bench.Rig{Tanks: []*bench.Tank{tank}}
	rig.Step(step)
	tell := func(v controller.Verb) {
		tank.Tell(controller.Order{Who: "trial", Do: v})
		rig.Step(step)
	}
	tell(controller.Verb{Kind: controller.Start, Batch: "trial", Schedule: schedule(b, declared)})
	tell(controller.Verb{Kind: controller.PitchedNow})
	tank.Beer.Pitch()
	w := watch{trial: &t, end: b.end, declared: declared, began: rig.Elapsed, true6: math.NaN()}
	for since := time.Duration(0); since < longest && (w.done == 0 || since < w.done); {
		rig.Step(step)
		since = rig.Elapsed - w.began
		w.look(tank, since)
	}
	t.late -= w.true6
	t.lateScript -= w.true6
	return t
}

// schedule is a primary and a rest that ends when terminal.
func schedule(b brewed, declared units.Gravity) *controller.Schedule {
	at := controller.Target{Kind: controller.At, To: b.celsius}
	ask := controller.Longest{For: 60 * units.Day, Then: controller.Ask}
	return &controller.Schedule{
		Name: "trial", Wort: controller.Wort{Original: b.wort.Original, Final: declared, FinalSD: declaredSD},
		Stages: []controller.Stage{
			{Name: "fill", Kind: controller.Fill, Target: at, Until: controller.Condition{Kind: controller.Pitched}, Longest: ask},
			{Name: "primary", Kind: controller.Primary, Target: at, Until: controller.Condition{Kind: controller.PointsLeft, Points: asked}, Longest: ask},
			{Name: "rest", Kind: controller.Rest, Target: at, Until: controller.Condition{Kind: controller.Terminal, Points: 1, Over: 48 * time.Hour}, Longest: ask},
			{Name: "hold", Kind: controller.Hold, Target: at},
		},
	}
}

// watch looks at a case as it goes on. It alone knows the truth.
type watch struct {
	*trial
	end      units.Gravity
	declared units.Gravity
	began    time.Duration
	true6    float64 // h when six points were really left
	readings []reading
	next     time.Duration
	done     time.Duration // when there was nothing left to see
}

type reading struct{ at, points float64 }

// settle is how long a beer is looked at after its end: twice the two days within
// which a stuck one is to be said.
const settle = 100 * time.Hour

func (w *watch) look(tank *bench.Tank, since time.Duration) {
	h := since.Hours()
	left := float64(tank.Beer.Gravity().Minus(w.end))
	if math.IsNaN(w.true6) && left <= asked {
		w.true6 = h
	}
	if w.stopAt == 0 && left < 1 {
		w.stopAt = h
		w.done = since + settle
	}
	for _, e := range tank.Out.Events {
		switch {
		case e.Kind == controller.StageEntered && e.Stage == "rest":
			w.fired, w.left, w.late = true, left, h
		case e.Kind == controller.StuckFound:
			if math.IsNaN(w.stuckAt) {
				w.stuckAt = h
			}
			w.falseStuck = w.falseStuck || !w.stuck || left > 2
		case e.Kind == controller.TerminalReached:
			w.falseTerminal = w.falseTerminal || left > 2 || w.stuck
		default:
		}
	}
	for _, r := range tank.Readings {
		if r.Value.Quantity == controller.SpecificGravity && r.Fault == controller.NoFault {
			w.readings = append(w.readings, reading{h, float64(r.Value.Gravity.Minus(1))})
		}
	}
	w.script(h, left)
	if since >= w.next {
		w.next = since + 6*time.Hour
		w.interval(tank.Out.Decision.Gravity, h, left)
	}
}

// script is the rule that a person would write: the median of six hours at or below
// the declared end and six points.
func (w *watch) script(h, left float64) {
	if w.scripted {
		return
	}
	for len(w.readings) > 0 && w.readings[0].at < h-6 {
		w.readings = w.readings[1:]
	}
	if h < 12 || len(w.readings) < 6 {
		return
	}
	v := make([]float64, len(w.readings))
	for i, r := range w.readings {
		v[i] = r.points
	}
	slices.Sort(v)
	if v[len(v)/2] <= float64(w.declared.Minus(1))+asked {
		w.scripted, w.leftScript, w.lateScript = true, left, h
	}
}

// interval looks whether the truth is where it is said to be, every six hours while
// there is something left.
func (w *watch) interval(g controller.Gravity, h, left float64) {
	if h < 12 || left < 0.5 {
		return
	}
	w.estimates++
	if !g.Known {
		return
	}
	w.intervals++
	if left >= float64(g.Low) && left <= float64(g.High) {
		w.inside++
	}
	w.widths = append(w.widths, float64(g.High-g.Low))
}
