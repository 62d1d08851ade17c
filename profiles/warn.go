package profiles

import (
	"slices"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

// warn notes what is allowed and doubtful. It says nothing of parts in which
// something is wrong.
func warn(s *controller.Schedule, drafts []*draft) {
	for i, d := range drafts {
		d.warnLongest()
		d.warnPitched()
		d.warnJobs()
		d.warnIce(s.Wort)
		for _, l := range d.leaves {
			l.warnGravity(s.Wort)
		}
		if i > 0 {
			d.warnOrder(drafts[i-1])
			d.warnRise(drafts[i-1], s.Wort)
			d.warnCooled(drafts[i-1])
		}
	}
}

// warnOrder notes a stage of a kind that a batch meets earlier. A tank may be
// cooled in steps, with a hold between two crashes.
func (d *draft) warnOrder(before *draft) {
	if !d.kind.Good() || !before.kind.Good() {
		return
	}
	now, last := slices.Index(controller.Kinds(), d.stage.Kind), slices.Index(controller.Kinds(), before.stage.Kind)
	inSteps := before.stage.Kind == controller.Hold && d.stage.Kind == controller.Crash
	if now < last && !inSteps {
		d.kind.Warn(KindOrder, "a stage of kind %s comes after one of kind %s", d.stage.Kind, before.stage.Kind)
	}
}

// warnRise compares a free rise with the heat that is left in the yeast.
func (d *draft) warnRise(before *draft, w controller.Wort) {
	if d.stage.Target.Kind != controller.FreeRise || !d.to.Good() || !before.to.Good() || !before.whole {
		return
	}
	left, known := leftWhen(&before.stage.Until, w)
	rise := d.stage.Target.To.Minus(before.stage.Target.To)
	if heat := thermal.YeastRise(left); known && heat < rise {
		d.to.Warn(YeastHeat, "the cap lies %s above the stage before, and the %s left can warm the beer by %s at most; a heater must do the rest",
			rise.Fixed(1), left.Fixed(1), heat.Fixed(1))
	}
}

// cooledEarly is a fall of the target that no fermentation asks for, other than
// that of a beer pitched warm on purpose.
const cooledEarly units.Celsius = 5

// warnCooled notes a primary or rest that cools the beer as a crash would.
func (d *draft) warnCooled(before *draft) {
	if !d.to.Good() || !before.to.Good() || !before.kind.Good() || before.stage.Kind == controller.Fill {
		return
	}
	working := d.stage.Kind == controller.Primary || d.stage.Kind == controller.Rest
	if working && d.stage.Target.To < before.stage.Target.To-cooledEarly {
		d.to.Warn(CooledEarly, "this cools working beer by %s; if the beer shall be cold, make it a stage of kind crash, which waits for the end of fermentation",
			before.stage.Target.To.Minus(d.stage.Target.To).Fixed(1))
	}
}

// warnLongest notes a limit that comes before the stage can end.
func (d *draft) warnLongest() {
	if !d.whole || !d.longest.Given() {
		return
	}
	for _, l := range d.leaves {
		wait := max(l.condition.AtLeast, l.condition.Over)
		if d.stage.Until.MustBe(l.condition.Kind) && wait >= d.stage.Longest.For {
			d.longest.Warn(ShortLongest, "the limit of %s is reached before the stage can end: it waits %s",
				units.Duration(d.stage.Longest.For), units.Duration(wait))
			return
		}
	}
}

// warnPitched notes a fill that can end before anybody says that the yeast is in.
func (d *draft) warnPitched() {
	if d.kind.Good() && d.stage.Kind == controller.Fill && (d.whole || !d.until.Given()) &&
		!d.stage.Until.MustBe(controller.Pitched) {
		d.kind.Warn(NeverPitched, "this stage does not wait for {pitched: true}, from which attenuation and forecasts are counted")
	}
}

// warnJobs notes a job that makes void what its own stage waits for: judging of
// gravity begins again after a mark, and some marks move the end.
func (d *draft) warnJobs() {
	for _, r := range d.reminds {
		if r.Mark == "" || !r.mark.Good() || !r.at.Good() {
			continue
		}
		effect, _ := r.Mark.Does()
		for _, l := range d.leaves {
			c := l.condition
			switch {
			case r.When == controller.RemindBefore && c.Kind == controller.Terminal:
				r.mark.Warn(DisturbedWindow, "doing this voids the terminal gravity of its own stage, which then waits another %s; let it be said earlier, or in the next stage", units.Duration(c.Over))
			case r.When == controller.RemindBefore && c.Kind == controller.Confirmed:
				r.mark.Warn(DisturbedWindow, "doing this voids the confirmation that its own stage waits for; let it be said earlier, or in the next stage")
			case (effect.Lower != 0 || effect.Moves) && (c.Kind == controller.PointsLeft || c.Kind == controller.ApparentAttenuation):
				r.mark.Warn(DisturbedWindow, "doing this moves the gravity or its expected end while the stage waits for %s; judging starts again", c.Kind)
			default:
				continue
			}
			break
		}
	}
}

// warnIce notes a target at which the beer might freeze, as the guard will judge it
// once the beer has ended where it is expected.
func (d *draft) warnIce(w controller.Wort) {
	floor := units.FreezeFloor(w.Original, w.Final, true)
	if d.stage.Kind == controller.Fill {
		floor = units.FreezeFloor(0, 0, false)
	}
	if d.to.Good() && d.stage.Target.To < floor {
		d.to.Warn(Ice, "a beer from %s to %s is led no colder than %s, for ice: its lowest plausible alcohol and a margin of %s count",
			w.Original.Fixed(3), w.Final.Fixed(3), floor.Fixed(1), units.FreezeMargin)
	}
}

// warnGravity compares a condition with the gravities that are expected.
func (l leaf) warnGravity(w controller.Wort) {
	c := l.condition
	if w.Original <= w.Final {
		return
	}
	const spreads = 3 // further than three standard deviations is not expected
	lowest := w.Final.Plus(-spreads * w.FinalSD)
	switch c.Kind {
	case controller.PointsLeft:
		if drop := w.Original.Minus(w.Final); c.Points >= drop {
			l.at.Warn(HoldsAtOnce, "this holds from the start: the whole beer is expected to drop %s", drop.Fixed(1))
		}
	case controller.GravityAtMost:
		if c.Gravity >= w.Original {
			l.at.Warn(HoldsAtOnce, "this holds from the start: the wort begins at %s", w.Original.Fixed(3))
		}
		if c.Gravity < lowest {
			l.at.Warn(HardlyMet, "this may never hold: the beer is expected to end at %s, give or take %s", w.Final.Fixed(3), w.FinalSD)
		}
	case controller.ApparentAttenuation:
		if most := units.ApparentAttenuationByPoints(w.Original, lowest); c.Attenuation > most {
			l.at.Warn(HardlyMet, "this may never hold: the beer is expected to end at %.0f %%",
				100*units.ApparentAttenuationByPoints(w.Original, w.Final))
		}
	case controller.Never, controller.Terminal, controller.Dwell, controller.BeerAt, controller.Pitched,
		controller.Confirmed, controller.All, controller.Any:
	}
}
