package controller

import (
	"time"

	"example.org/restpoint/controller/gravity"
	"example.org/restpoint/controller/units"
)

// A stage moves forward only by a condition or limit written in the schedule, or
// by a person; backward only by a person. Nothing but terminal gravity or a named
// person lets a beer into a crash.
func (r *run) stages() {
	st := r.stage()
	if st == nil {
		return
	}
	r.s.Batch.Age += r.elapsed
	if r.s.Batch.Pitched {
		r.s.Batch.Since += r.elapsed
	}
	r.s.Stage.In += r.elapsed
	r.judge(st)
	r.watchGravity()
	r.residual()
	r.diacetyl()
	r.remind(st)
	if r.limit(st) {
		return
	}
	at := 0
	if !st.Until.holds(r.s.Stage.Leaves, &at) {
		r.s.Stage.Waits = false
		r.fallback(st)
		return
	}
	r.leave(st, r.met(st))
}

// leave ends a stage whose condition holds, if nothing stands against it.
func (r *run) leave(st *Stage, because Reason) {
	next := r.next()
	if next == nil || r.s.Batch.Paused || !r.beerKnown() {
		return
	}
	if next.Kind == Crash && !r.earnedCrash(st, next) {
		return
	}
	r.enter(r.s.Stage.Index+1, because)
}

// beerKnown tells whether the schedule may advance at all: never while the
// thermowell is in failure.
func (r *run) beerKnown() bool {
	return r.v.Probes.Thermowell == "" || r.s.Sense.Wells.Without(r.s.Sense.Odd).Usable(r.v.Probes.count())
}

// enter begins a stage.
func (r *run) enter(index int, because Reason) {
	st := &r.sch.Stages[index]
	r.unforesee()
	r.s.Stage = StageState{
		Index: index, Name: st.Name,
		Leaves:   make([]Leaf, len(st.Until.Leaves())),
		Reminded: make([]bool, len(st.Remind)),
	}
	r.event(Event{Kind: StageEntered, Stage: st.Name, StageKind: st.Kind, Reason: because})
}

// watchGravity says once what a person wants to know of the gravity.
func (r *run) watchGravity() {
	b, g := &r.s.Batch, &r.s.Gravity
	if !b.Pitched {
		return
	}
	if !b.Told.Terminal && !b.Told.Stuck && r.tick() {
		// Past its crash a beer is not found terminal once more after a mark, unless the
		// schedule goes on to ask.
		if over, term := r.terminal(); term && r.awaitsTerminal() {
			b.Told.Terminal = true
			r.unforesee()
			r.event(Event{Kind: TerminalReached, Reason: why(CodeTerminal, num("gravity", gravityOf(g.True()), InGravity), num("window", over.Seconds(), InTime))})
		}
	}
	stuck := b.Told.Stuck
	if r.tick() || r.kind() != Primary && r.kind() != Rest {
		stuck = r.stuck()
	}
	if stuck && !b.Told.Stuck {
		b.Told.StuckAt = g.Est.Level
		r.event(Event{Kind: StuckFound, Reason: why(CodeStuck, num("gravity", gravityOf(g.True()), InGravity), num("expected", gravityOf(r.prior.Final), InGravity))})
	}
	b.Told.Stuck = stuck
	late := r.startsLate() == gravity.TooLate
	if late && !b.Told.NotStarted {
		r.event(Event{Kind: NotStarted, Reason: why(CodeNotStarted, num("since", b.Since.Seconds(), InTime), num("fallen", g.Fallen(r.prior), InPoints))})
	}
	b.Told.NotStarted = late
	lost := r.gravityLost()
	if lost && !b.Told.GravityLost {
		r.event(Event{Kind: GravityLost, Probe: r.v.Probes.Hydrometer, Reason: why(CodeGravityLost, num("silent", g.Silent().Seconds(), InTime))})
	}
	if !lost && b.Told.GravityLost {
		r.event(Event{Kind: GravityBack, Probe: r.v.Probes.Hydrometer, Reason: why(CodeGravityBack, num("gravity", gravityOf(g.True()), InGravity))})
	}
	b.Told.GravityLost = lost
}

// stuck tells whether the beer stopped above its end. Once found it stays so until
// the gravity moves: drift makes no news. Whoever let a beer into a crash has
// decided already.
func (r *run) stuck() bool {
	if k := r.kind(); k != Primary && k != Rest {
		return false
	}
	if told := r.s.Batch.Told; told.Stuck {
		return r.s.Gravity.StillStuck(told.StuckAt)
	}
	return r.s.Gravity.Stuck(r.prior)
}

// The usual test for terminal, where the schedule asks none: a point in two days.
const (
	terminalWithin units.Points = 1
	terminalOver                = 48 * time.Hour
)

// terminal judges the gravity as the stage wants it, or as usual, and tells over
// which window.
func (r *run) terminal() (time.Duration, bool) {
	within, over := terminalWithin, terminalOver
	if st := r.stage(); st != nil {
		for _, c := range r.leaves(st) {
			if c.Kind == Terminal {
				within, over = c.Points, c.Over
			}
		}
	}
	return over, r.s.Gravity.Terminal(float64(within), over, r.prior)
}

// speakUp is how long a hydrometer has to be heard again after a start of the
// program before its silence counts.
const speakUp = time.Hour

// gravityLost tells whether the hydrometer of a fermenting beer is silent.
func (r *run) gravityLost() bool {
	silence := r.v.Silence
	if silence == 0 {
		silence = defaultSilence
	}
	return r.s.Batch.Pitched && r.v.Probes.Hydrometer != "" && r.s.Gravity.Silent() > silence &&
		r.s.Batch.Since > silence && r.s.Up >= min(silence, speakUp)
}

// coolFerment: below this a beer counts as a lager, which is slower to begin.
const coolFerment units.Celsius = 14

// startsLate tells how late the fermentation is to begin.
func (r *run) startsLate() gravity.Lateness {
	st := r.stage()
	if st == nil || st.Kind == Hold || st.Kind == Crash || !r.s.Batch.Pitched {
		return gravity.InTime
	}
	return r.s.Gravity.Late(r.prior, r.s.Batch.Since, st.Target.To < coolFerment)
}

// limit watches the longest time in a stage. It is always an alarm; it moves the
// stage only where the schedule says so, and never into a crash.
func (r *run) limit(st *Stage) bool {
	if st.Longest.For <= 0 || r.s.Stage.In < st.Longest.For {
		return false
	}
	r.s.Stage.TooLong = true
	next := r.next()
	if st.Longest.Then != Advance || next == nil || next.Kind == Crash || r.s.Batch.Paused || !r.beerKnown() {
		return false
	}
	r.enter(r.s.Stage.Index+1, why(CodeLongest, num("longest", st.Longest.For.Seconds(), InTime)))
	return true
}

// met says which leaf ended the stage, with its numbers: the one on gravity where
// there is one, or else the last to hold.
func (r *run) met(st *Stage) Reason {
	leaves := r.leaves(st)
	best := Reason{Code: CodeMet}
	for i, c := range leaves {
		if i < len(r.s.Stage.Leaves) && r.s.Stage.Leaves[i].Met {
			of := c.Kind == Terminal || c.Kind == PointsLeft
			if best.Code == CodeMet || of || i == r.newly && best.Code != CodeTerminalMet && best.Code != CodePointsLeft {
				best = r.metLeaf(c, r.s.Stage.Leaves[i])
			}
		}
	}
	return best
}

func (r *run) metLeaf(c *Condition, l Leaf) Reason {
	g := r.s.Gravity
	switch c.Kind {
	case PointsLeft:
		return why(CodePointsLeft, num("left", g.Est.Left, InPoints), num("limit", float64(c.Points), InPoints), num("held", l.Held.Seconds(), InTime))
	case ApparentAttenuation:
		a, _ := g.Attenuation(r.prior)
		return why(CodeAttenuation, num("attenuation", a*100, InPercent), num("limit", c.Attenuation*100, InPercent))
	case GravityAtMost:
		return why(CodeGravityAtMost, num("gravity", gravityOf(g.True()), InGravity), num("limit", float64(c.Gravity), InGravity))
	case Terminal:
		return why(CodeTerminalMet, num("change", -l.Fall, InPoints), num("window", c.Over.Seconds(), InTime), num("limit", float64(c.Points), InPoints), num("gravity", gravityOf(g.True()), InGravity))
	case Dwell:
		return why(CodeDwell, num("held", l.Held.Seconds(), InTime), num("limit", c.AtLeast.Seconds(), InTime))
	case BeerAt:
		return why(CodeBeerAt, num("beer", float64(r.s.Sense.Beer.Celsius), InCelsius), num("limit", float64(c.Beer), InCelsius))
	case Pitched:
		return Reason{Code: CodePitched}
	case Confirmed:
		return Reason{Code: CodeConfirmed, Name: c.Say}
	case Never, All, Any:
	}
	return Reason{Code: CodeMet}
}

// gravityOf turns points above water into a gravity, as a plain number.
func gravityOf(points float64) float64 { return 1 + points/1000 }
