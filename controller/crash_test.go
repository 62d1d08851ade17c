package controller_test

import (
	"strconv"
	"testing"
	"time"

	"pgregory.net/rapid"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
)

func anyCondition(t *rapid.T, depth int) controller.Condition {
	kinds := []controller.ConditionKind{
		controller.PointsLeft, controller.ApparentAttenuation, controller.GravityAtMost, controller.Terminal,
		controller.Dwell, controller.BeerAt, controller.Pitched, controller.Confirmed,
	}
	if depth > 0 {
		kinds = append(kinds, controller.All, controller.Any)
	}
	c := controller.Condition{
		Kind: rapid.SampledFrom(kinds).Draw(t, "condition"), Points: 60, Over: 12 * time.Hour, Attenuation: 0.01,
		Gravity: 1.06, AtLeast: time.Hour, Beer: 18, Say: "it is good",
	}
	if c.Kind == controller.Terminal {
		c.Points = 1
	}
	if c.Kind == controller.All || c.Kind == controller.Any {
		for range rapid.IntRange(0, 3).Draw(t, "parts") {
			c.Of = append(c.Of, anyCondition(t, depth-1))
		}
	}
	return c
}

func anySchedule(t *rapid.T) *controller.Schedule {
	s := &controller.Schedule{Name: "any", Wort: ale().Wort}
	for i := range rapid.IntRange(1, 5).Draw(t, "stages") {
		st := controller.Stage{
			Name: "stage " + strconv.Itoa(i), Kind: rapid.SampledFrom(controller.Kinds()).Draw(t, "kind"),
			Target: controller.Target{
				Kind: rapid.SampledFrom([]controller.TargetKind{controller.At, controller.Ramp, controller.FreeRise}).Draw(t, "target"),
				To:   units.Celsius(rapid.IntRange(0, 25).Draw(t, "to")), Rate: 2,
			},
			Longest: controller.Longest{For: 3 * time.Hour, Then: rapid.SampledFrom([]controller.Then{controller.Ask, controller.Advance}).Draw(t, "then")},
		}
		st.Until = anyCondition(t, 2)
		s.Stages = append(s.Stages, st)
	}
	return s
}

func anyOrder(t *rapid.T, n int, s *controller.Schedule) controller.Order {
	kinds := controller.VerbKinds()
	return controller.Order{
		ID: strconv.Itoa(n), Who: rapid.SampledFrom([]string{"", "brewer"}).Draw(t, "who"),
		Do: controller.Verb{
			Kind: rapid.SampledFrom(kinds).Draw(t, "order"), Batch: "b", Schedule: s,
			Stage: "stage " + strconv.Itoa(rapid.IntRange(0, 4).Draw(t, "stage")), Celsius: 15,
			Mark: controller.Dump, Mode: rapid.SampledFrom(controller.Modes()).Draw(t, "mode"),
			Value: controller.OfGravity(1.012), For: time.Hour,
		},
	}
}

// mayHaveCrashed tells whether what led into a crash was allowed to: an order by a
// named person, or a condition that cannot hold without terminal gravity or what a
// named person confirmed. It is written without the code's own rules.
func mayHaveCrashed(t *rapid.T, was *controller.Stage, leaves []controller.Leaf, in controller.Input) bool {
	for _, o := range in.Orders {
		switch o.Do.Kind {
		case controller.AdvanceNow, controller.Return, controller.Start, controller.Adopt:
			if o.Who != "" {
				return true
			}
		default:
		}
	}
	if was == nil || len(leaves) == 0 {
		return false
	}
	// Take terminal and confirmed away: the condition must not hold any more.
	at := 0
	var holds func(c *controller.Condition) bool
	holds = func(c *controller.Condition) bool {
		switch c.Kind {
		case controller.All:
			all := len(c.Of) > 0
			for i := range c.Of {
				all = holds(&c.Of[i]) && all
			}
			return all
		case controller.Any:
			one := false
			for i := range c.Of {
				one = holds(&c.Of[i]) || one
			}
			return one
		case controller.Terminal, controller.Confirmed:
			at++
			return false
		default:
			at++
			return true // everything else might hold
		}
	}
	if holds(&was.Until) {
		t.Logf("the stage %s could end by %+v", was.Name, was.Until)
		return false
	}
	return true
}

// Whatever the schedule, the orders and the readings are: nothing but terminal
// gravity or a named person lets a beer into a crash, and no stage begins that is
// not the next one or one that a person named.
func TestOnlyTerminalOrAPersonEntersACrash(t *testing.T) {
	entered := 0
	one := func(t *rapid.T) {
		sch := anySchedule(t)
		other := anySchedule(t)
		v := vessel()
		v.Step = 10 * time.Minute
		if rapid.Bool().Draw(t, "breaker") {
			v.SuckBack = controller.VacuumBreaker
		}
		s := controller.Fresh()
		var named bool // a confirmation by nobody does not count
		for i := range rapid.IntRange(5, 150).Draw(t, "steps") {
			in := controller.Input{Elapsed: v.Step, Readings: []controller.Reading{
				{Probe: "fv1/thermowell", Value: controller.OfTemperature(18)},
				{Probe: "fv1/hydrometer", Value: controller.OfGravity(1.012)},
			}}
			if i == 0 {
				in.Elapsed = 0
				in.Orders = []controller.Order{{ID: "s", Who: rapid.SampledFrom([]string{"", "brewer"}).Draw(t, "who starts"), Do: controller.Verb{Kind: controller.Start, Batch: "b", Schedule: sch}}}
			} else if rapid.IntRange(0, 7).Draw(t, "ordered") == 0 {
				in.Orders = []controller.Order{anyOrder(t, i, rapid.SampledFrom([]*controller.Schedule{sch, other}).Draw(t, "schedule"))}
			}
			for _, o := range in.Orders {
				named = named || o.Do.Kind == controller.Confirm && o.Who != ""
			}
			was, before := stageOf(v, s), s
			next, out := controller.Step(v, s, in)
			if out.Schedule != nil {
				v = v.With(out.Schedule)
			}
			now := stageOf(v, next)
			crashed := now != nil && now.Kind == controller.Crash && (was == nil || was.Kind != controller.Crash)
			if crashed {
				entered++
				if !mayHaveCrashed(t, was, before.Stage.Leaves, in) {
					t.Fatalf("step %d: %v into the crash by %+v", i, out.Events, in.Orders)
				}
				if v.SuckBack != controller.CO2Supply && !next.Batch.Armed && !returned(in) {
					t.Fatalf("step %d: into the crash of a tank that is not armed", i)
				}
				if confirmedOnly(was) && !named && len(in.Orders) == 0 {
					t.Fatalf("step %d: into the crash by a confirmation of nobody", i)
				}
			}
			if next.Mode == controller.InBatch && before.Mode == controller.InBatch && len(in.Orders) == 0 && next.Stage.Index != before.Stage.Index && next.Stage.Index != before.Stage.Index+1 {
				t.Fatalf("from stage %d to %d by itself", before.Stage.Index, next.Stage.Index)
			}
			s = next
		}
	}
	// Crashes are rare in random batches: go on until some have been looked at.
	for round := 0; round < 20 && entered < 5; round++ {
		rapid.Check(t, one)
	}
	if entered < 5 {
		t.Errorf("a crash began %d times only: the test looks at nothing", entered)
	}
}

func stageOf(v *controller.Vessel, s controller.State) *controller.Stage {
	if s.Mode != controller.InBatch || v.Schedule == nil || s.Stage.Index >= len(v.Schedule.Stages) {
		return nil
	}
	return &v.Schedule.Stages[s.Stage.Index]
}

func confirmedOnly(st *controller.Stage) bool {
	return st != nil && st.Until.MustBe(controller.Confirmed)
}

func returned(in controller.Input) bool {
	return len(in.Orders) > 0 && in.Orders[0].Do.Kind == controller.Return
}
