package site

import (
	"fmt"
	"slices"

	"example.org/restpoint/controller"
	"example.org/restpoint/profiles"
	"example.org/restpoint/profiles/strict"
)

// fit compares a schedule with a vessel, line by line.
type fit struct {
	site     *Site
	index    int
	file     *profiles.File
	problems []strict.Problem
	warnings []strict.Problem
}

// CheckFit compares a schedule with the vessel that shall go through it. The
// error is a *strict.Problems of the schedule's file that names the lines of
// both files; the warnings say what the vessel cannot do by itself.
func (s *Site) CheckFit(vessel int, f *profiles.File) ([]strict.Problem, error) {
	c := &fit{site: s, index: vessel, file: f}
	stages := f.Schedule.Stages
	for i := range stages {
		c.limits(i)
		c.means(i)
		if stages[i].Kind == controller.Crash && c.vessel().SuckBack != controller.CO2Supply {
			c.warn(i, "kind", NeedsArming, "the vessel %s has no CO2 supply (suck-back: %s), so this stage waits until a person arms it",
				c.vessel().Name, c.vessel().SuckBack)
		}
		if asksGravity(&stages[i].Until) && c.vessel().Hydrometer.Pushed == "" {
			c.warn(i, "until", NoHydrometer, "the vessel %s has no hydrometer, so this ends only by samples that a person enters", c.vessel().Name)
		}
	}
	warnings := f.Doc.Problems(c.warnings...).List
	if len(c.problems) > 0 {
		return warnings, f.Doc.Problems(c.problems...)
	}
	return warnings, nil
}

func (c *fit) vessel() *Vessel { return &c.site.Vessels[c.index] }

// where tells where the vessel's own file says something.
func (c *fit) where(part string) strict.Place {
	return c.site.Doc.Where(fmt.Sprintf("vessels[%d].%s", c.index+1, part))
}

// limits holds that no stage leads the beer beyond what the vessel stands.
func (c *fit) limits(i int) {
	t, l := c.file.Schedule.Stages[i].Target, c.vessel().Limits
	rule, bound, name, beyond := TooCold, l.Lowest, "lowest", "below"
	switch {
	case t.To < l.Lowest:
	case t.To > l.Highest:
		rule, bound, name, beyond = TooWarm, l.Highest, "highest", "above"
	default:
		return
	}
	c.problems = append(c.problems, c.file.Doc.Problem(targetPath(i, t.Kind), rule,
		"%s is %s the %s temperature of the vessel %s, %s (%s)",
		t.To.Fixed(1), beyond, name, c.vessel().Name, bound.Fixed(1), c.where("limits."+name)))
}

// means warns of what the vessel lacks to lead the beer where the stage wants it.
func (c *fit) means(i int) {
	stages := c.file.Schedule.Stages
	t := stages[i].Target
	heater := c.vessel().Heat.Kind != NoRelayFitted
	switch {
	case t.Kind == controller.FreeRise && !heater:
		c.warn(i, "target.free-rise.to", NoHeater, "the vessel %s has no heater (%s), so this cap is only a wish: the yeast and the room decide how warm the beer gets",
			c.vessel().Name, c.where("name"))
	case i == 0:
	case t.To > stages[i-1].Target.To && !heater:
		c.warn(i, "target", NoHeater, "the vessel %s has no heater (%s), so only the yeast and the room can warm the beer", c.vessel().Name, c.where("name"))
	case t.To < stages[i-1].Target.To && c.vessel().Cool.Kind == NoRelayFitted:
		c.warn(i, "target", NoCooler, "the vessel %s has no cooling (%s), so only the room can cool the beer", c.vessel().Name, c.where("name"))
	}
}

func (c *fit) warn(i int, part string, rule strict.Rule, format string, args ...any) {
	path := fmt.Sprintf("stages[%d].%s", i+1, part)
	c.warnings = append(c.warnings, c.file.Doc.Problem(path, rule, format, args...))
}

// targetPath is where a schedule says the temperature of a stage.
func targetPath(i int, k controller.TargetKind) string {
	path := fmt.Sprintf("stages[%d].target.%s", i+1, k)
	if k != controller.At {
		path += ".to"
	}
	return path
}

func asksGravity(c *controller.Condition) bool {
	return slices.ContainsFunc([]controller.ConditionKind{
		controller.PointsLeft, controller.ApparentAttenuation, controller.GravityAtMost, controller.Terminal,
	}, c.Asks)
}
