package controller

import (
	"time"

	"example.org/restpoint/controller/gravity"
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

// The diacetyl rest: the beer is let rise while the yeast can still clean up. It
// begins by the schedule's condition, most often points left, or by what stands
// here when gravity cannot tell any more. Its end is the schedule's alone.

// StuckRest is with how many points above the expected end a stuck primary still
// moves to its rest: late warmth costs more than early.
const StuckRest units.Points = 12

// stuckStay is how long a stage that advances when the beer is stuck has it at the
// least: the time over which a beer is found stuck. Else a beer that was stuck in
// one stage would run through every other.
const stuckStay = 36 * time.Hour

// fallback moves on where gravity cannot do it any more: out of a stage in which
// the beer is stuck, as the schedule says, and a primary to its rest.
func (r *run) fallback(st *Stage) {
	next := r.next()
	if next == nil || next.Kind == Crash || r.s.Batch.Paused || !r.beerKnown() {
		return
	}
	if because, so := r.leavesStuck(st, next); so {
		r.enter(r.s.Stage.Index+1, because)
		return
	}
	if st.Kind == Primary && next.Kind == Rest && r.gravityLost() {
		r.restBlind(st)
	}
}

// leavesStuck tells whether a stage ends because the beer is stuck in it.
func (r *run) leavesStuck(st, next *Stage) (Reason, bool) {
	if !r.s.Batch.Told.Stuck {
		return Reason{}, false
	}
	over := r.s.Gravity.True() - r.prior.Final
	switch st.Stuck {
	case Ask:
		return Reason{}, false
	case Advance:
		return why(CodeStuckAdvance, num("above", over, InPoints)), r.s.Stage.In >= stuckStay
	}
	usual := st.Kind == Primary && next.Kind == Rest && over <= float64(StuckRest)
	return why(CodeStuckRest, num("above", over, InPoints), num("limit", float64(StuckRest), InPoints)), usual
}

// restBlind begins the rest of a beer whose hydrometer is silent, once the late
// forecast has passed.
func (r *run) restBlind(st *Stage) {
	g := r.s.Gravity
	points := units.Points(6)
	for _, c := range r.leaves(st) {
		if c.Kind == PointsLeft {
			points = c.Points
		}
	}
	if span, ok := g.Until(float64(points)); ok && span.Late <= 0 {
		r.enter(r.s.Stage.Index+1, why(CodeBlindRest, num("silent", g.Silent().Seconds(), InTime), num("late", (g.Silent()+span.Late).Seconds(), InTime)))
	}
}

// diacetyl follows what a published model makes of the beer's course. It is shown
// during the rest, as advice: nothing waits for it and nothing follows from it.
func (r *run) diacetyl() {
	b, g, beer := &r.s.Batch, &r.s.Gravity, r.s.Sense.Beer
	if !b.Pitched || !r.tick() {
		return
	}
	b.Diacetyl = b.Diacetyl.Follow(gravity.Sight{
		Since: b.Since, Seen: beer.Usable() && g.Est.Known && g.Silent() < lookEvery*6,
		Eaten: g.Fallen(r.prior), Left: g.Est.Level - g.Est.Final, Celsius: float64(beer.Celsius),
	})
}

// advise shows the estimate with its limits, or that there is none.
func (r *run) advise() {
	if r.kind() != Rest {
		return
	}
	d := r.s.Batch.Diacetyl
	r.out.Decision.Diacetyl = d
	if !d.Known() {
		r.reasons = append(r.reasons, Reason{Code: CodeDiacetylUnknown})
		return
	}
	r.reasons = append(r.reasons, r.why(CodeDiacetyl, num("estimate", d.MgL, InMilligrams)))
}

// freeRise lets the yeast warm the beer: no cooling below the cap, never a fall of
// more than the floor allows. Heat helps after its time, or at once when the
// yeast's own heat cannot reach the cap.
func (r *run) freeRise(st *Stage, beer Thermometer) {
	if !r.s.Stage.Entered {
		return
	}
	limit := r.within(st.Target.To)
	floor := min(limit, r.s.Stage.Entry.Plus(-thermal.FloorDrop+thermal.HeatBand+probeStep))
	r.hold(limit)
	r.aim.HeatTo, r.aim.Over = floor, capOver
	if beer.Usable() && r.heatHelps(st, limit.Minus(beer.Celsius)) {
		r.aim.HeatTo = max(floor, limit)
	}
}

// probeStep is the raster of the usual probe: heat starts one step early.
const probeStep units.Kelvins = 0.0625

// capOver is how far above its cap cooling begins: two probe steps are no rise.
const capOver units.Kelvins = 0.1

func (r *run) heatHelps(st *Stage, missing units.Kelvins) bool {
	if st.Target.HeatAfter > 0 && r.s.Stage.In >= st.Target.HeatAfter {
		return true
	}
	if !r.s.Gravity.Est.Known {
		return st.Target.HeatAfter == 0
	}
	return thermal.YeastRise(units.Points(r.s.Gravity.Est.Left)) < missing
}
