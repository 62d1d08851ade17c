// Package controller is the core of restpoint: the words of the trade and the
// rules by which a fermentation is looked after, as one pure function.
//
//	state', outcome = Step(vessel, state, input)
//
// It has no clock, no input or output, no goroutine, no lock and no chance.
// Time reaches it as counted duration, readings arrive raw, and what it wants
// done is returned as data. The daemon, the simulator, the replay of a recorded
// batch, a foreign plant on a pipe and the tests are five callers of Step; so
// what was simulated is what will run, and every decision can be taken again
// from its record.
//
// The package refuses to touch the world: it imports the standard library's
// pure parts and its own pure children only, and a test holds it to that.
package controller

import (
	"time"

	"example.org/restpoint/controller/gravity"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

// run is one step at work: a copy of the state and what was found so far. It
// lives inside Step and nowhere else.
type run struct {
	v       *Vessel
	sch     *Schedule
	in      Input
	s       State
	out     Outcome
	elapsed time.Duration
	late    bool
	prior   gravity.Prior
	aim     thermal.Aim
	aimed   bool
	wish    guard.Wish
	verdict guard.Verdict
	clamped bool
	floor   units.Celsius // no colder, for ice
	iced    units.Celsius // the target that is colder than that
	blindly bool          // cooling goes by its share of the last day
	reasons []Reason
	numbers []Number     // of those that are given in every step: one piece of memory for all
	newly   int          // the condition that has come to hold in this step; -1 = none
	flatOf  *Stage       // the stage whose leaves are in flat
	flat    []*Condition // its conditions, taken apart once a step
}

// Step takes one vessel one step on. It never changes its arguments, never
// panics, and gives the same answer to the same question on every call.
func Step(v *Vessel, s State, in Input) (State, Outcome) {
	r := &run{v: v, sch: v.Schedule, s: s, in: in, reasons: make([]Reason, 0, 4), numbers: make([]Number, 0, 8)}
	r.time()
	r.sense()
	r.gravity()
	r.orders()
	r.stages()
	r.opinion()
	r.forecast()
	r.target()
	r.thermostat()
	r.guard()
	r.alarms()
	r.explain()
	return r.s, r.out
}

// Fresh is the state of a vessel that nothing is known of: idle, both relays off.
func Fresh() State { return State{Version: StateVersion, Mode: Idle} }

// lateFactor is how many nominal steps may pass before the loop counts as late.
const lateFactor = 3

// time counts what has passed. Time is counted, not read: a clock that jumps
// changes nothing here.
func (r *run) time() {
	switch {
	case r.s.Version == StateVersion:
	case r.s.Mode == InBatch:
		r.lostState()
	default:
		r.s = Fresh()
	}
	r.elapsed = max(0, r.in.Elapsed)
	if r.in.Elapsed <= 0 {
		r.begin()
	}
	if r.v.Step > 0 && r.elapsed > lateFactor*r.v.Step {
		r.late = true
		r.event(Event{Kind: LateLoop, Reason: why(CodeLate, num("elapsed", r.elapsed.Seconds(), InTime), num("allowed", (lateFactor*r.v.Step).Seconds(), InTime))})
	}
	r.s.Age += r.elapsed
	r.s.Up += r.elapsed
	if r.sch != nil {
		r.prior = priorOf(r.wort())
	}
	if r.s.Mode == InBatch && r.stage() == nil {
		// A batch without its schedule cannot be looked after: stop and ask.
		r.lostState()
	}
	r.s.Guard = r.s.Guard.Observe(r.in.Actual.Heat, r.in.Actual.Cool, r.elapsed)
}

// begin is the first step of a process: every compressor counts as just stopped,
// a ramp goes on from where the beer is now, and no temperature of before the
// outage is known any more.
func (r *run) begin() {
	r.s.Up = 0
	r.s.Guard = r.s.Guard.Started()
	r.s.Thermal = r.s.Thermal.Started()
	last := r.s.Sense.Beer
	r.s.Sense = r.s.Sense.started()
	if r.s.Mode != InBatch || r.s.Age == 0 {
		return
	}
	r.s.Back = Back{Look: true, Seen: last.Usable(), Was: last.Celsius, Strayed: r.s.Back.Strayed}
	gap := time.Duration(0)
	if r.in.Gap.Known {
		gap = max(0, r.in.Gap.Length)
	} else {
		r.s.Gravity = r.s.Gravity.Broken()
		r.s.Batch.Diacetyl = r.s.Batch.Diacetyl.Lose()
	}
	r.outage(gap)
	if r.s.Batch.Pitched {
		r.s.Batch.Since += gap
	}
	r.s.Gravity.Now += gap
	r.s.Stage.Ramping = false
	r.unforesee()
	because := Reason{Code: CodeResumedBlind}
	if r.in.Gap.Known {
		because = why(CodeResumed, num("outage", gap.Seconds(), InTime))
	}
	r.event(Event{Kind: Resumed, Reason: because})
}

// lostState idles a vessel whose batch cannot be understood.
func (r *run) lostState() {
	answers, age, relays := r.s.Answers, r.s.Age, r.s.Guard
	r.s = Fresh()
	r.s.Answers, r.s.Age, r.s.Guard = answers, age, relays
	r.s.Lost = true
	r.out.Commit = true
}

func priorOf(w Wort) gravity.Prior {
	return gravity.Prior{
		Original: float64(w.Original.Minus(1)),
		Final:    float64(w.Final.Minus(1)),
		SD:       max(0.5, float64(w.FinalSD)),
	}
}

// event notes what happened, with the stage it happened in.
func (r *run) event(e Event) {
	if r.s.Mode == InBatch && e.Stage == "" {
		e.Stage, e.StageKind = r.s.Stage.Name, r.kind()
	}
	r.out.Events = append(r.out.Events, e)
	r.out.Commit = true
}

// stage is the running stage, or nil.
func (r *run) stage() *Stage {
	if r.s.Mode != InBatch || r.sch == nil || r.s.Stage.Index < 0 || r.s.Stage.Index >= len(r.sch.Stages) {
		return nil
	}
	return &r.sch.Stages[r.s.Stage.Index]
}

func (r *run) kind() Kind {
	if st := r.stage(); st != nil {
		return st.Kind
	}
	return ""
}

// next is the stage after the running one, or nil.
func (r *run) next() *Stage {
	if r.s.Mode != InBatch || r.sch == nil || r.s.Stage.Index+1 >= len(r.sch.Stages) {
		return nil
	}
	return &r.sch.Stages[r.s.Stage.Index+1]
}

// leaves takes a stage's condition apart, once a step.
func (r *run) leaves(st *Stage) []*Condition {
	if r.flatOf != st {
		r.flatOf, r.flat = st, st.Until.Leaves()
	}
	return r.flat
}
