package profiles

import (
	"strings"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles/strict"
)

// check looks at what single values cannot tell.
func check(s *controller.Schedule, drafts []*draft) {
	checkNames(drafts)
	for i, d := range drafts {
		last := i == len(drafts)-1
		d.checkEnd(last)
		d.checkClock()
		d.checkStuck()
		for _, l := range d.leaves {
			d.checkPlace(l)
		}
		d.checkReminders(s, i)
		if !last {
			d.checkCold(drafts[i+1])
		}
		if i > 0 {
			d.checkReach(drafts[i-1])
		}
	}
	warn(s, drafts)
}

func checkNames(drafts []*draft) {
	for i, d := range drafts {
		for _, before := range drafts[:i] {
			if d.name.Good() && strings.EqualFold(d.stage.Name, before.stage.Name) {
				d.name.Fail(NameTwice, "another stage is called %q already, in line %d", before.stage.Name, before.name.Place().Line)
			}
		}
	}
}

// checkEnd holds that every stage but the last says when it ends.
func (d *draft) checkEnd(last bool) {
	if !last {
		if d.endless {
			d.item.Fail(UntilMissing, "the stage never ends; only the last one has no until")
		}
		return
	}
	for _, v := range []*strict.Value{d.until, d.longest, d.stuck, d.byClock} {
		v.FailKey(LastStageEnds, "the last stage holds until a person ends the batch; it has no until, longest, stuck or by-clock")
	}
	d.stage.Longest = controller.Longest{}
}

// checkStuck holds that a beer can be found stuck in its stage.
func (d *draft) checkStuck() {
	if k := d.stage.Kind; d.stuck.Given() && d.kind.Good() && k != controller.Primary && k != controller.Rest {
		d.stuck.FailKey(StuckPlace, "only in a stage of kind primary or rest is a beer found stuck; this one is of kind %s", k)
	}
}

// checkClock holds that a clock alone ends no stage, unless the brewer accepts it.
func (d *draft) checkClock() {
	if !d.whole || !d.until.Good() {
		return
	}
	alone := byClockAlone(&d.stage.Until)
	switch {
	case alone && !d.byClock.Given():
		d.until.Fail(ClockAlone, `the clock alone can end this stage, whatever the beer does; add a condition, or write "by-clock: accepted" beside it`)
	case !alone && d.byClock.Good():
		d.byClock.Warn(ClockNotNeeded, "no clock alone can end this stage, so this changes nothing")
	}
}

// byClockAlone tells whether the condition can hold by time in the stage and
// nothing else: no gravity, no temperature, no person.
func byClockAlone(c *controller.Condition) bool {
	switch c.Kind {
	case controller.Dwell:
		return !c.HasBeerAbove
	case controller.All:
		for i := range c.Of {
			if !byClockAlone(&c.Of[i]) {
				return false
			}
		}
		return len(c.Of) > 0
	case controller.Any:
		for i := range c.Of {
			if byClockAlone(&c.Of[i]) {
				return true
			}
		}
	case controller.Never, controller.PointsLeft, controller.ApparentAttenuation, controller.GravityAtMost,
		controller.Terminal, controller.BeerAt, controller.Pitched, controller.Confirmed:
	}
	return false
}

// checkPlace holds that a condition can be judged in its stage.
func (d *draft) checkPlace(l leaf) {
	if !d.kind.Good() {
		return
	}
	fill := d.stage.Kind == controller.Fill
	switch l.condition.Kind {
	case controller.Pitched:
		if !fill {
			l.at.FailKey(PitchedPlace, "only a stage of kind fill waits for the yeast; this one is of kind %s", d.stage.Kind)
		}
	case controller.PointsLeft, controller.Terminal, controller.ApparentAttenuation, controller.GravityAtMost:
		if fill {
			l.at.FailKey(NoYeastYet, "in a stage of kind fill there is no yeast yet, so gravity says nothing; use pitched")
		}
	case controller.Never, controller.Dwell, controller.BeerAt, controller.Confirmed, controller.All, controller.Any:
	}
}

func (d *draft) checkReminders(s *controller.Schedule, i int) {
	for _, r := range d.reminds {
		switch {
		case !r.at.Good():
		case r.When == controller.RemindPoints && d.kind.Good() && d.stage.Kind == controller.Fill:
			r.at.FailKey(NoYeastYet, "in a stage of kind fill there is no yeast yet, so gravity says nothing")
		case r.When == controller.RemindHeat && d.kind.Good() && d.stage.Kind != controller.Primary:
			r.at.FailKey(HeatPlace, "the heat of the yeast proposes the end of a primary only; this stage is of kind %s", d.stage.Kind)
		case r.When == controller.RemindBefore:
			checkBefore(s, i, r)
		}
	}
}

// checkBefore holds that a reminder waits for a stage that is still to come.
func checkBefore(s *controller.Schedule, i int, r reminder) {
	var later []string
	for _, st := range s.Stages[i+1:] {
		if st.Name == r.Stage {
			return
		}
		later = append(later, st.Name)
	}
	if len(later) == 0 {
		r.at.Fail(RemindStage, "no stage comes after this one")
		return
	}
	near := strict.Nearest(r.Stage, later)
	if near != "" {
		near = "; " + near + " is probably meant"
	}
	r.at.Fail(RemindStage, "%q is no stage after this one%s; allowed: %s", r.Stage, near, strings.Join(later, ", "))
}

// noCooler is how far a hold may lie below the stage before it and still be the
// same cellar, not a crash.
const noCooler units.Celsius = 2

// intoCold tells whether the beer enters the cold between two stages: a crash,
// or a hold that does the work of one.
func intoCold(from, to *controller.Stage) bool {
	switch {
	case to.Kind == controller.Crash:
		return true
	case to.Kind != controller.Hold || from.Kind == controller.Crash || from.Kind == controller.Hold:
		return false
	}
	return to.Target.To < from.Target.To-noCooler
}

// checkCold holds that nothing but terminal gravity or a person lets the beer
// into the cold: not another condition, and not the limit of the stage.
func (d *draft) checkCold(next *draft) {
	known := d.kind.Good() && next.kind.Good() && d.to.Good() && next.to.Good()
	if next.stage.Kind == controller.Crash {
		known = true
	}
	if !known || !intoCold(d.stage, next.stage) {
		return
	}
	if d.whole && !d.stage.Until.MustBe(controller.Terminal, controller.Confirmed) {
		d.until.Fail(UnguardedCold, "the next stage, %q, cools the beer down, so this one ends only at terminal gravity or by a person: add {terminal: ...} or {confirmed: ...} to every way in which it can end", next.stage.Name)
	}
	if d.stage.Longest.Then == controller.Advance {
		d.then.Fail(AdvanceCold, "a limit of time never cools the beer down, and the next stage, %q, would; write ask", next.stage.Name)
	}
	if d.stage.Stuck == controller.Advance {
		d.stuckThen.Fail(AdvanceCold, "a stuck beer is never cooled down by itself, and the next stage, %q, would; write ask", next.stage.Name)
	}
}

// there is how close to its target a beer counts as being there.
const there units.Celsius = 0.3

// checkReach holds that the temperatures a stage waits for lie on its way.
func (d *draft) checkReach(before *draft) {
	if !d.to.Good() || !before.to.Good() {
		return
	}
	from, to := before.stage.Target.To, d.stage.Target.To
	if d.stage.Target.Kind == controller.FreeRise && to <= from {
		d.to.Fail(RiseDown, "a free rise goes up, and the stage before is led to %s already", degrees(from))
		return
	}
	low, high := min(from, to), max(from, to)
	for _, l := range d.leaves {
		c := l.condition
		switch {
		case c.Kind == controller.BeerAt && (c.Beer < low-there || c.Beer > high+there):
			l.at.Fail(OutOfReach, "the beer never gets to %s: the stage leads it from %s to %s", degrees(c.Beer), degrees(from), degrees(to))
		case c.Kind == controller.Dwell && c.HasBeerAbove && c.Beer >= high:
			l.at.Fail(OutOfReach, "the beer never gets above %s: the stage leads it from %s to %s", degrees(c.Beer), degrees(from), degrees(to))
		}
	}
}
