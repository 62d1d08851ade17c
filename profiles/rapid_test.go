package profiles_test

import (
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles"
)

// tenths draws a number of one decimal, which has one spelling.
func tenths(t *rapid.T, label string, lo, hi int) float64 {
	return float64(rapid.IntRange(lo, hi).Draw(t, label)) / 10
}

func hours(t *rapid.T, label string, lo, hi int) time.Duration {
	return time.Duration(rapid.IntRange(lo, hi).Draw(t, label)) * time.Hour
}

func drawWords(t *rapid.T, label string) string {
	return rapid.StringMatching(`[a-zA-Zäöü][a-z0-9 ,:.#'!-]{0,18}[a-z.!]`).Draw(t, label)
}

// drawTarget draws a target that can follow the stage before.
func drawTarget(t *rapid.T, before *controller.Stage) controller.Target {
	to := units.Celsius(tenths(t, "to", -30, 450))
	switch kind := rapid.SampledFrom([]controller.TargetKind{controller.At, controller.Ramp, controller.FreeRise}).Draw(t, "target"); {
	case kind == controller.Ramp:
		return controller.Target{Kind: kind, To: to, Rate: units.KelvinsPerHour(tenths(t, "rate", 1, 200))}
	case kind == controller.FreeRise && (before == nil || to > before.Target.To):
		after := time.Duration(0)
		if rapid.Bool().Draw(t, "heater") {
			after = hours(t, "heat after", 1, 100)
		}
		return controller.Target{Kind: kind, To: to, HeatAfter: after}
	}
	return controller.Target{Kind: controller.At, To: to}
}

// drawLeaf draws a condition that can be judged in a stage that leads the beer
// from low to high.
func drawLeaf(t *rapid.T, kind controller.Kind, low, high units.Celsius) controller.Condition {
	kinds := []controller.ConditionKind{controller.Dwell, controller.BeerAt, controller.Confirmed}
	if kind == controller.Fill {
		kinds = append(kinds, controller.Pitched)
	} else {
		kinds = append(kinds, controller.PointsLeft, controller.ApparentAttenuation, controller.GravityAtMost, controller.Terminal)
	}
	c := controller.Condition{Kind: rapid.SampledFrom(kinds).Draw(t, "condition")}
	between := units.Celsius(tenths(t, "between", int(low*10), int(high*10)))
	switch c.Kind {
	case controller.PointsLeft:
		c.Points = units.Points(tenths(t, "points", 5, 600))
	case controller.ApparentAttenuation:
		c.Attenuation = tenths(t, "attenuation", 50, 1100) / 100
	case controller.GravityAtMost:
		c.Gravity = units.Gravity(float64(rapid.IntRange(970, 1200).Draw(t, "gravity")) / 1000)
	case controller.Terminal:
		c.Points, c.Over = units.Points(tenths(t, "within", 1, 50)), hours(t, "over", 24, 336)
	case controller.Dwell:
		c.AtLeast = hours(t, "at least", 1, 2000)
		if between < high && rapid.Bool().Draw(t, "above") {
			c.Beer, c.HasBeerAbove = between, true
		}
	case controller.BeerAt:
		c.Beer = between
	case controller.Confirmed:
		c.Say = drawWords(t, "say")
	case controller.Never, controller.Pitched, controller.All, controller.Any:
	}
	return c
}

func drawTree(t *rapid.T, kind controller.Kind, low, high units.Celsius, depth int) controller.Condition {
	if depth == 0 || rapid.Bool().Draw(t, "leaf") {
		return drawLeaf(t, kind, low, high)
	}
	c := controller.Condition{Kind: rapid.SampledFrom([]controller.ConditionKind{controller.All, controller.Any}).Draw(t, "group")}
	for range rapid.IntRange(1, 3).Draw(t, "of") {
		c.Of = append(c.Of, drawTree(t, kind, low, high, depth-1))
	}
	return c
}

func drawStage(t *rapid.T, n int, before *controller.Stage) controller.Stage {
	s := controller.Stage{Name: fmt.Sprintf("%s %d", drawWords(t, "name"), n), Kind: rapid.SampledFrom(controller.Kinds()).Draw(t, "kind")}
	s.Target = drawTarget(t, before)
	low, high := s.Target.To, s.Target.To
	if before != nil {
		low, high = min(low, before.Target.To), max(high, before.Target.To)
	}
	// A person guards every way out, so that no clock ends a stage and no way
	// leads into the cold unguarded.
	s.Until = controller.Condition{Kind: controller.All, Of: []controller.Condition{
		drawTree(t, s.Kind, low, high, 2), {Kind: controller.Confirmed, Say: drawWords(t, "say")},
	}}
	s.Longest = controller.DefaultLongest(s.Kind)
	if rapid.Bool().Draw(t, "limit") {
		s.Longest = controller.Longest{For: hours(t, "longest", 1, 8760), Then: controller.Ask}
	}
	s.ByClock = rapid.Bool().Draw(t, "by clock")
	if s.Kind == controller.Primary || s.Kind == controller.Rest {
		s.Stuck = rapid.SampledFrom([]controller.Then{"", controller.Ask}).Draw(t, "stuck")
	}
	if s.Kind != controller.Fill && rapid.Bool().Draw(t, "by points") {
		s.Remind = append(s.Remind, controller.Reminder{When: controller.RemindPoints, Points: units.Points(tenths(t, "points", 5, 600)), Say: drawWords(t, "say")})
	}
	if s.Kind == controller.Primary && rapid.Bool().Draw(t, "by heat") {
		s.Remind = append(s.Remind, controller.Reminder{When: controller.RemindHeat, Points: units.Points(tenths(t, "points by heat", 5, 600)), Say: drawWords(t, "say")})
	}
	if rapid.Bool().Draw(t, "after") {
		mark := rapid.SampledFrom(append(controller.MarkKinds(), "")).Draw(t, "mark")
		s.Remind = append(s.Remind, controller.Reminder{When: controller.RemindAfter, By: hours(t, "by", 1, 500), Say: drawWords(t, "say"), Mark: mark})
	}
	return s
}

func drawSchedule(t *rapid.T) *controller.Schedule {
	final := rapid.IntRange(970, 1100).Draw(t, "final")
	s := &controller.Schedule{
		Name: drawWords(t, "schedule"),
		Wort: controller.Wort{
			Original: units.Gravity(float64(rapid.IntRange(final+1, 1200).Draw(t, "original")) / 1000),
			Final:    units.Gravity(float64(final) / 1000),
			FinalSD:  units.Points(tenths(t, "spread", 1, 150)),
		},
	}
	if rapid.Bool().Draw(t, "told") {
		s.About, s.Carbonation = drawWords(t, "about"), units.Volumes(tenths(t, "gas", 5, 60))
	}
	var before *controller.Stage
	for i := range rapid.IntRange(1, 6).Draw(t, "stages") {
		s.Stages = append(s.Stages, drawStage(t, i, before))
		before = &s.Stages[i]
	}
	last := len(s.Stages) - 1
	for i := range last {
		if rapid.Bool().Draw(t, "before") {
			s.Stages[i].Remind = append(s.Stages[i].Remind, controller.Reminder{
				When: controller.RemindBefore, Stage: s.Stages[rapid.IntRange(i+1, last).Draw(t, "which")].Name, By: hours(t, "by", 1, 500), Say: drawWords(t, "say"),
			})
		}
	}
	s.Stages[last].Until, s.Stages[last].Longest, s.Stages[last].ByClock = controller.Condition{}, controller.Longest{}, false
	s.Stages[last].Stuck = ""
	return s
}

// quote writes a text so that YAML reads it as it is.
func quote(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }

// in writes hours in one of the ways in which people do.
func in(d time.Duration) string {
	h := int(d / time.Hour)
	switch {
	case h%24 == 0:
		return fmt.Sprintf("%d d", h/24)
	case h > 24 && h%5 == 0:
		return fmt.Sprintf("%d d %d h", h/24, h%24)
	case h < 24:
		return fmt.Sprintf("%d min", h*60)
	}
	return fmt.Sprintf("%d h", h)
}

func writeCondition(c *controller.Condition) string {
	switch c.Kind {
	case controller.PointsLeft:
		return fmt.Sprintf("{points-left: %.1f}", float64(c.Points))
	case controller.ApparentAttenuation:
		return fmt.Sprintf("{apparent-attenuation: %.1f %%}", c.Attenuation*100)
	case controller.GravityAtMost:
		return fmt.Sprintf("{gravity-at-most: %.3f}", float64(c.Gravity))
	case controller.Terminal:
		return fmt.Sprintf("{terminal: {over: %s, within: %.1f points}}", in(c.Over), float64(c.Points))
	case controller.Dwell:
		if c.HasBeerAbove {
			return fmt.Sprintf("{for: {beer-above: %.1f C, at-least: %s}}", float64(c.Beer), in(c.AtLeast))
		}
		return fmt.Sprintf("{for: %s}", in(c.AtLeast))
	case controller.BeerAt:
		return fmt.Sprintf("{beer-at: %.1f C}", float64(c.Beer))
	case controller.Pitched:
		return "{pitched: true}"
	case controller.Confirmed:
		return "{confirmed: " + quote(c.Say) + "}"
	case controller.All, controller.Any:
		parts := make([]string, len(c.Of))
		for i := range c.Of {
			parts[i] = writeCondition(&c.Of[i])
		}
		return fmt.Sprintf("{%s: [%s]}", c.Kind, strings.Join(parts, ", "))
	case controller.Never:
	}
	return ""
}

func writeTarget(g controller.Target) string {
	switch g.Kind {
	case controller.Ramp:
		return fmt.Sprintf("{ramp: {rate: %.1f K/h, to: %.1f C}}", float64(g.Rate), float64(g.To))
	case controller.FreeRise:
		if g.HeatAfter > 0 {
			return fmt.Sprintf("{free-rise: {to: %.1f C, heat-after: %s}}", float64(g.To), in(g.HeatAfter))
		}
		return fmt.Sprintf("{free-rise: {to: %.1f C}}", float64(g.To))
	case controller.At:
	}
	return fmt.Sprintf("{at: %.1f C}", float64(g.To))
}

func writeReminder(r controller.Reminder) string {
	when := ""
	switch r.When {
	case controller.RemindBefore:
		when = fmt.Sprintf("before: %s, by: %s", quote(r.Stage), in(r.By))
	case controller.RemindAfter:
		when = "after: " + in(r.By)
	case controller.RemindPoints:
		when = fmt.Sprintf("points-left: %.1f", float64(r.Points))
	case controller.RemindHeat:
		when = fmt.Sprintf("heat-points-left: %.1f", float64(r.Points))
	}
	mark := ""
	if r.Mark != "" {
		mark = ", mark: " + string(r.Mark)
	}
	return fmt.Sprintf("{when: {%s}, say: %s%s}", when, quote(r.Say), mark)
}

func write(s *controller.Schedule) string {
	var b strings.Builder
	fmt.Fprintf(&b, "schedule: %s\n", quote(s.Name))
	if s.About != "" {
		fmt.Fprintf(&b, "about: %s\ncarbonation: %.1f volumes\n", quote(s.About), float64(s.Carbonation))
	}
	fmt.Fprintf(&b, "wort:\n  original-gravity: %.3f\n  final-gravity: %.3f\n  final-gravity-sd: %.1f points\nstages:\n",
		float64(s.Wort.Original), float64(s.Wort.Final), float64(s.Wort.FinalSD))
	for i := range s.Stages {
		st := &s.Stages[i]
		fmt.Fprintf(&b, "- name: %s\n  kind: %s\n  target: %s\n", quote(st.Name), st.Kind, writeTarget(st.Target))
		if st.Until.Kind != controller.Never {
			fmt.Fprintf(&b, "  until: %s\n", writeCondition(&st.Until))
		}
		if st.Longest != controller.DefaultLongest(st.Kind) && st.Longest.For > 0 {
			fmt.Fprintf(&b, "  longest: {for: %s, then: %s}\n", in(st.Longest.For), st.Longest.Then)
		}
		if st.Stuck != "" {
			fmt.Fprintf(&b, "  stuck: {then: %s}\n", st.Stuck)
		}
		if st.ByClock {
			b.WriteString("  by-clock: accepted\n")
		}
		if len(st.Remind) > 0 {
			b.WriteString("  remind:\n")
		}
		for _, r := range st.Remind {
			b.WriteString("  - " + writeReminder(r) + "\n")
		}
	}
	return b.String()
}

// What a brewer can write is read as it is written, whatever it is made of; and
// its explanation fits a terminal.
func TestAnySoundScheduleReadsBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		want := drawSchedule(rt)
		src := write(want)
		got, warnings, err := profiles.Parse("a.yaml", []byte(src))
		if err != nil {
			rt.Fatalf("%s\n%v", src, err)
		}
		if !reflect.DeepEqual(got, want) {
			rt.Fatalf("%s\nread as\n%+v\nwant\n%+v", src, got, want)
		}
		lines := strings.Count(src, "\n")
		for _, w := range warnings {
			if w.Line < 1 || w.Line > lines || w.Path == "" {
				rt.Fatalf("%s\nwarns at no place: %v", src, w)
			}
		}
		for line := range strings.SplitSeq(profiles.Explain(got), "\n") {
			if len([]rune(line)) > 80 {
				rt.Fatalf("%s\nexplained wider than a terminal: %q", src, line)
			}
		}
	})
}
