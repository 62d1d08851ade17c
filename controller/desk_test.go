package controller_test

import (
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/units"
)

// desk is a vessel on a desk: a hand turns the thermometer and the hydrometer,
// and Step answers. Every reason that comes up is read aloud.
type desk struct {
	t     *testing.T
	v     *controller.Vessel
	s     controller.State
	out   controller.Outcome
	dt    time.Duration
	beer  units.Celsius
	sg    func(since time.Duration) units.Gravity // nil: no hydrometer reports
	mute  bool                                    // the thermowell says nothing at all
	fault controller.Fault                        // or this
	ids   int
	log   []controller.Event
	next  time.Duration // of the hydrometer
	in    controller.Input
	begun bool
}

// sit puts a vessel on the desk, with a beer of 18 C in it that was spoken of.
func sit(t *testing.T) *desk {
	t.Helper()
	v := vessel()
	v.Step = time.Minute
	full := controller.Fresh()
	full.Full = true
	return &desk{t: t, v: v, s: full, dt: time.Minute, beer: 18}
}

// wide makes the steps five minutes long, for what takes weeks.
func (d *desk) wide() *desk {
	d.dt, d.v.Step = 5*time.Minute, 5*time.Minute
	return d
}

// brewing is a desk with a running batch in its primary, the yeast in.
func brewing(t *testing.T) *desk {
	t.Helper()
	d := sit(t)
	d.must(controller.Verb{Kind: controller.Start, Batch: "b1", Schedule: ale()})
	d.must(controller.Verb{Kind: controller.PitchedNow})
	d.at("primary")
	return d
}

// fall is an ale: 1.052 to its end, lag of half a day, half gone after 42 h.
func fall(end units.Gravity) func(time.Duration) units.Gravity {
	return func(since time.Duration) units.Gravity {
		h := max(0, since.Hours()-12)
		a := math.Exp(-0.08 * 30)
		return end.Plus(units.Points(float64(end.Minus(1.052)) * -(1 + a) / (1 + a*math.Exp(0.08*h))))
	}
}

func (d *desk) step(orders ...controller.Order) []controller.Answer {
	d.t.Helper()
	in := d.in
	d.in = controller.Input{}
	in.Orders = orders
	in.Actual = d.out.Outputs
	if d.begun {
		in.Elapsed = d.dt
	} else {
		in.Actual = controller.Outputs{}
	}
	d.begun = true
	if d.fault != controller.NoFault {
		in.Readings = append(in.Readings, controller.Reading{Probe: d.v.Probes.Thermowell, Fault: d.fault})
	} else if !d.mute {
		in.Readings = append(in.Readings, controller.Reading{Probe: d.v.Probes.Thermowell, Value: controller.OfTemperature(d.beer)})
	}
	if d.next -= in.Elapsed; d.next <= 0 && d.sg != nil {
		d.next = 15 * time.Minute
		in.Readings = append(in.Readings, controller.Reading{Probe: d.v.Probes.Hydrometer, Value: controller.OfGravity(d.sg(d.s.Batch.Since))})
	}
	d.s, d.out = controller.Step(d.v, d.s, in)
	if d.out.Schedule != nil {
		d.v = d.v.With(d.out.Schedule)
	}
	d.log = append(d.log, d.out.Events...)
	d.aloud()
	return d.out.Answers
}

// aloud holds what every step must hold, and that a person can read it.
func (d *desk) aloud() {
	d.t.Helper()
	if d.out.Outputs.Heat && d.out.Outputs.Cool {
		d.t.Fatal("heat and cool together")
	}
	if d.out.Outputs.Heat && !d.s.Sense.Beer.Usable() {
		d.t.Fatal("heat without a beer temperature")
	}
	for _, r := range d.out.Decision.Reasons {
		readable(d.t, r)
	}
	for _, e := range d.out.Events {
		readable(d.t, e.Reason)
		if text := e.String(); strings.ContainsAny(text, "{}") || strings.TrimSpace(text) != text {
			d.t.Errorf("the event reads %q", text)
		}
	}
	for _, a := range d.out.Answers {
		readable(d.t, a.Reason)
	}
}

// readable tells whether a reason is a sentence with all its figures.
func readable(t *testing.T, r controller.Reason) {
	t.Helper()
	if text := r.String(); r.Code != "" && (strings.ContainsAny(text, "{}") || text == string(r.Code) || text == "") {
		t.Errorf("%s reads %q", r.Code, text)
	}
}

// run lets time pass.
func (d *desk) run(t time.Duration) {
	d.t.Helper()
	for end := d.s.Age + t; d.s.Age < end; {
		d.step()
	}
}

// until lets time pass until something is so.
func (d *desk) until(limit time.Duration, so func() bool) {
	d.t.Helper()
	for end := d.s.Age + limit; !so(); d.step() {
		if d.s.Age >= end {
			d.t.Fatalf("not within %v: %s, %v", limit, d.out.Decision.Stage, d.said())
		}
	}
}

// restart ends the process and begins another.
func (d *desk) restart(gap controller.Outage) {
	d.begun = false
	d.in.Gap = gap
}

func (d *desk) order(v controller.Verb) controller.Order {
	d.ids++
	return controller.Order{ID: "order-" + strconv.Itoa(d.ids), Who: "brewer", Do: v}
}

// tell gives an order and its answer.
func (d *desk) tell(v controller.Verb) controller.Answer {
	d.t.Helper()
	return d.step(d.order(v))[0]
}

func (d *desk) must(v controller.Verb) {
	d.t.Helper()
	if a := d.tell(v); !a.Taken {
		d.t.Fatalf("%s is refused: %v", v.Kind, a.Reason)
	}
}

// at fails unless the batch is in that stage.
func (d *desk) at(stage string) {
	d.t.Helper()
	if got := d.out.Decision.Stage; got != stage {
		d.t.Fatalf("in stage %q, want %q; %v", got, stage, d.said())
	}
}

func (d *desk) said() (text []string) {
	for _, r := range d.out.Decision.Reasons {
		text = append(text, r.String())
	}
	return text
}

// happened counts the events of a kind.
func (d *desk) happened(k controller.EventKind) int {
	n := 0
	for _, e := range d.log {
		if e.Kind == k {
			n++
		}
	}
	return n
}

func (d *desk) reason(c controller.Code) bool {
	for _, r := range d.out.Decision.Reasons {
		if r.Code == c {
			return true
		}
	}
	return false
}

// two is a schedule of one stage with a condition, and a hold behind it.
func two(until controller.Condition) *controller.Schedule {
	s := ale()
	s.Stages = []controller.Stage{
		{Name: "first", Kind: controller.Primary, Target: controller.Target{Kind: controller.At, To: 18}, Until: until, Longest: controller.Longest{For: 1000 * time.Hour, Then: controller.Ask}},
		{Name: "last", Kind: controller.Hold, Target: controller.Target{Kind: controller.At, To: 18}},
	}
	return s
}

// on starts a schedule on a fresh desk.
func on(t *testing.T, s *controller.Schedule) *desk {
	t.Helper()
	d := sit(t)
	d.v.SuckBack = controller.VacuumBreaker
	d.must(controller.Verb{Kind: controller.Start, Batch: "b1", Schedule: s})
	return d
}

func compressor() guard.Relay { return guard.Of(guard.Compressor) }
