package controller

import (
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

// The diacetyl rest: the beer is let rise while the yeast can still clean up. It
// begins by the schedule's condition, most often points left, or by what stands
// here when gravity cannot tell any more. Its end is the schedule's alone.

// StuckRest is with how many points above the expected end a stuck primary still
// moves to its rest: late warmth costs more than early.
const StuckRest units.Points = 12

// fallback moves a primary to its rest where gravity cannot do it any more.
func (r *run) fallback(st *Stage) {
	next := r.next()
	if st.Kind != Primary || next == nil || next.Kind != Rest || r.s.Batch.Paused || !r.beerKnown() {
		return
	}
	g := r.s.Gravity
	over := g.True() - r.prior.Final
	if r.s.Batch.Told.Stuck && over <= float64(StuckRest) {
		r.enter(r.s.Stage.Index+1, why(CodeStuckRest, num("above", over, InPoints), num("limit", float64(StuckRest), InPoints)))
		return
	}
	if !r.gravityLost() {
		return
	}
	points := units.Points(6)
	for _, c := range r.leaves(st) {
		if c.Kind == PointsLeft {
			points = c.Points
		}
	}
	if _, late, ok := g.Until(float64(points), r.prior); ok && g.Silent().Hours() >= late {
		r.enter(r.s.Stage.Index+1, why(CodeBlindRest, num("silent", g.Silent().Seconds(), InTime), num("late", late*3600, InTime)))
	}
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
	r.aim.HeatTo = floor
	if beer.Usable() && r.heatHelps(st, limit.Minus(beer.Celsius)) {
		r.aim.HeatTo = max(floor, limit)
	}
}

// probeStep is the raster of the usual probe: heat starts one step early.
const probeStep units.Kelvins = 0.0625

func (r *run) heatHelps(st *Stage, missing units.Kelvins) bool {
	if st.Target.HeatAfter > 0 && r.s.Stage.In >= st.Target.HeatAfter {
		return true
	}
	if !r.s.Gravity.Est.Known {
		return st.Target.HeatAfter == 0
	}
	return thermal.YeastRise(units.Points(r.s.Gravity.Est.Left)) < missing
}
