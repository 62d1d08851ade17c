package profiles_test

import (
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles"
)

// two is a schedule of one stage and a hold beside it.
func two(kind, target, more string) []byte {
	return fmt.Appendf(nil, `schedule: s
wort: {original-gravity: 1.052, final-gravity: 1.010}
stages:
  - {name: one, kind: %s, target: %s, %s}
  - {name: two, kind: hold, target: {at: 19 C}}
`, kind, target, more)
}

// wantTwo is what two is read to, when only the first stage is told.
func wantTwo(first controller.Stage) *controller.Schedule {
	first.Name = "one"
	return &controller.Schedule{
		Name: "s",
		Wort: controller.Wort{Original: 1.052, Final: 1.010, FinalSD: 2},
		Stages: []controller.Stage{
			first,
			{Name: "two", Kind: controller.Hold, Target: controller.Target{Kind: controller.At, To: 19}},
		},
	}
}

func TestEveryConditionIsReadToItsFieldsAndNoOther(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name, until string
		want        controller.Condition
	}{
		{"the fewest points", "{points-left: 0.5}", controller.Condition{Kind: controller.PointsLeft, Points: 0.5}},
		{"the most points", "{points-left: 60 points}", controller.Condition{Kind: controller.PointsLeft, Points: 60}},
		{"the least attenuation", "{apparent-attenuation: 5 %}", controller.Condition{Kind: controller.ApparentAttenuation, Attenuation: 0.05}},
		{"more attenuation than there is extract", "{apparent-attenuation: 110%}", controller.Condition{Kind: controller.ApparentAttenuation, Attenuation: 1.1}},
		{"a gravity below water", "{gravity-at-most: 0.970}", controller.Condition{Kind: controller.GravityAtMost, Gravity: 0.97}},
		{"a gravity in Plato", "{gravity-at-most: 3 P}", controller.Condition{Kind: controller.GravityAtMost, Gravity: units.Plato(3).Gravity()}},
		{"the narrowest terminal over the shortest time", "{terminal: {within: 0.1 points, over: 24 h}}", controller.Condition{Kind: controller.Terminal, Points: 0.1, Over: 24 * time.Hour}},
		{"the widest terminal over the longest time", "{terminal: {over: 14 d, within: 5 points}}", controller.Condition{Kind: controller.Terminal, Points: 5, Over: 14 * units.Day}},
		{"a time with a temperature", "{for: {at-least: 1 d 12 h, beer-above: 64.4 F}}", controller.Condition{Kind: controller.Dwell, AtLeast: 36 * time.Hour, Beer: 18, HasBeerAbove: true}},
		{"a temperature above which time counts may be zero", "{for: {at-least: 1 h, beer-above: 0 C}}", controller.Condition{Kind: controller.Dwell, AtLeast: time.Hour, HasBeerAbove: true}},
		{"a temperature of the beer", "{beer-at: 18.5 C}", controller.Condition{Kind: controller.BeerAt, Beer: 18.5}},
		{"a temperature of zero", "{beer-at: 32 F}", controller.Condition{Kind: controller.BeerAt}},
		{"a person's words", `{confirmed: "it is: clean, and bright"}`, controller.Condition{Kind: controller.Confirmed, Say: "it is: clean, and bright"}},
		{"all of one", "{all: [{points-left: 6}]}", controller.Condition{Kind: controller.All, Of: []controller.Condition{{Kind: controller.PointsLeft, Points: 6}}}},
		{"any in all, in the order written", "{all: [{for: 2 d}, {any: [{beer-at: 19 C}, {confirmed: go}]}]}", controller.Condition{Kind: controller.All, Of: []controller.Condition{
			{Kind: controller.Dwell, AtLeast: 48 * time.Hour},
			{Kind: controller.Any, Of: []controller.Condition{{Kind: controller.BeerAt, Beer: 19}, {Kind: controller.Confirmed, Say: "go"}}},
		}}},
	} {
		s, _, err := profiles.Parse("a.yaml", two("primary", "{at: 19 C}", "until: "+row.until))
		if err != nil {
			t.Errorf("%s: %v", row.name, err)
			continue
		}
		// 64.4 F is 18 C but for the last bit.
		if c := &s.Stages[0].Until; c.HasBeerAbove && c.Beer > 17.9999 && c.Beer < 18.0001 {
			c.Beer = 18
		}
		want := wantTwo(controller.Stage{
			Kind: controller.Primary, Target: controller.Target{Kind: controller.At, To: 19}, Until: row.want,
			Longest: controller.Longest{For: 14 * units.Day, Then: controller.Ask},
		})
		if !reflect.DeepEqual(s, want) {
			t.Errorf("%s: read as\n%+v\nwant\n%+v", row.name, s, want)
		}
	}
}

func TestEveryTargetIsReadToItsFieldsAndNoOther(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name, target string
		want         controller.Target
	}{
		{"the coldest", "{at: -3 C}", controller.Target{Kind: controller.At, To: -3}},
		{"the warmest", "{at: 45 C}", controller.Target{Kind: controller.At, To: 45}},
		{"zero", "{at: 0 C}", controller.Target{Kind: controller.At}},
		{"Fahrenheit", "{at: 68 F}", controller.Target{Kind: controller.At, To: 20}},
		{"a ramp by the hour", "{ramp: {to: 18 C, rate: 1 C/h}}", controller.Target{Kind: controller.Ramp, To: 18, Rate: 1}},
		{"a ramp by the day", "{ramp: {rate: 24 K/d, to: 18 C}}", controller.Target{Kind: controller.Ramp, To: 18, Rate: 1}},
		{"the slowest ramp", "{ramp: {to: 18 C, rate: 0.01 K/h}}", controller.Target{Kind: controller.Ramp, To: 18, Rate: 0.01}},
		{"the fastest ramp", "{ramp: {to: 18 C, rate: 36 F/h}}", controller.Target{Kind: controller.Ramp, To: 18, Rate: 20}},
		{"a free rise", "{free-rise: {to: 21 C}}", controller.Target{Kind: controller.FreeRise, To: 21}},
		{"a free rise with a heater soon", "{free-rise: {to: 21 C, heat-after: 1 min}}", controller.Target{Kind: controller.FreeRise, To: 21, HeatAfter: time.Minute}},
		{"a free rise with a heater late", "{free-rise: {to: 21 C, heat-after: 2 d}}", controller.Target{Kind: controller.FreeRise, To: 21, HeatAfter: 48 * time.Hour}},
	} {
		s, _, err := profiles.Parse("a.yaml", two("primary", row.target, "until: {confirmed: go}"))
		if err != nil {
			t.Errorf("%s: %v", row.name, err)
			continue
		}
		if got := s.Stages[0].Target; got != row.want {
			t.Errorf("%s: read as %+v, want %+v", row.name, got, row.want)
		}
	}
}

func TestWhatIsLeftOutHasItsDefault(t *testing.T) {
	t.Parallel()
	for kind, longest := range map[controller.Kind]time.Duration{
		controller.Fill: units.Day, controller.Primary: 14 * units.Day, controller.Rest: 10 * units.Day,
		controller.Crash: 5 * units.Day, controller.Hold: 60 * units.Day,
	} {
		s, _, err := profiles.Parse("a.yaml", two(string(kind), "{at: 19 C}", "until: {confirmed: go}"))
		if err != nil {
			t.Errorf("%s: %v", kind, err)
			continue
		}
		want := wantTwo(controller.Stage{
			Kind: kind, Target: controller.Target{Kind: controller.At, To: 19},
			Until:   controller.Condition{Kind: controller.Confirmed, Say: "go"},
			Longest: controller.Longest{For: longest, Then: controller.Ask},
		})
		if !reflect.DeepEqual(s, want) {
			t.Errorf("%s: read as\n%+v\nwant\n%+v", kind, s, want)
		}
	}
}

func TestLimitsClocksAndRemindersAreReadToTheirFields(t *testing.T) {
	t.Parallel()
	limit := controller.Longest{For: 14 * units.Day, Then: controller.Ask}
	for _, row := range []struct {
		name, more string
		want       controller.Stage
	}{
		{"a limit that asks", "until: {confirmed: go}, longest: {for: 9 d, then: ask}", controller.Stage{Longest: controller.Longest{For: 9 * units.Day, Then: controller.Ask}}},
		{"a limit that says nothing asks", "until: {confirmed: go}, longest: {for: 1 min}", controller.Stage{Longest: controller.Longest{For: time.Minute, Then: controller.Ask}}},
		{"a limit that moves on", "until: {confirmed: go}, longest: {then: advance, for: 365 d}", controller.Stage{Longest: controller.Longest{For: 365 * units.Day, Then: controller.Advance}}},
		{"a stuck beer that asks", "until: {confirmed: go}, stuck: {then: ask}", controller.Stage{Longest: limit, Stuck: controller.Ask}},
		{"a stuck beer that moves on", "until: {confirmed: go}, stuck: {then: advance}", controller.Stage{Longest: limit, Stuck: controller.Advance}},
		{"a clock that is accepted", "until: {confirmed: go}, by-clock: accepted", controller.Stage{Longest: limit, ByClock: true}},
		{"a reminder some time after", `until: {confirmed: go}, remind: [{when: {after: 36 h}, say: "dump the cone"}]`, controller.Stage{
			Longest: limit,
			Remind:  []controller.Reminder{{When: controller.RemindAfter, By: 36 * time.Hour, Say: "dump the cone"}},
		}},
		{"a reminder before a stage", `until: {confirmed: go}, remind: [{say: bottle, when: {by: 1 d, before: two}}]`, controller.Stage{
			Longest: limit,
			Remind:  []controller.Reminder{{When: controller.RemindBefore, Stage: "two", By: units.Day, Say: "bottle"}},
		}},
		{"a proposal by heat", `until: {confirmed: go}, remind: [{when: {heat-points-left: 6}, say: taste}]`, controller.Stage{
			Longest: limit,
			Remind:  []controller.Reminder{{When: controller.RemindHeat, Points: 6, Say: "taste"}},
		}},
		{"reminders by points, in the order written", `until: {confirmed: go}, remind: [{when: {points-left: 0.5}, say: b}, {when: {points-left: 60 points}, say: a}]`, controller.Stage{
			Longest: limit,
			Remind: []controller.Reminder{
				{When: controller.RemindPoints, Points: 0.5, Say: "b"},
				{When: controller.RemindPoints, Points: 60, Say: "a"},
			},
		}},
	} {
		s, _, err := profiles.Parse("a.yaml", two("primary", "{at: 19 C}", row.more))
		if err != nil {
			t.Errorf("%s: %v", row.name, err)
			continue
		}
		row.want.Kind, row.want.Target = controller.Primary, controller.Target{Kind: controller.At, To: 19}
		row.want.Until = controller.Condition{Kind: controller.Confirmed, Say: "go"}
		if want := wantTwo(row.want); !reflect.DeepEqual(s, want) {
			t.Errorf("%s: read as\n%+v\nwant\n%+v", row.name, s, want)
		}
	}
}

func TestTheHeadOfAScheduleIsReadToItsFields(t *testing.T) {
	t.Parallel()
	const stages = "\nstages: [{name: x, kind: hold, target: {at: 4 C}}]\n"
	hold := []controller.Stage{{Name: "x", Kind: controller.Hold, Target: controller.Target{Kind: controller.At, To: 4}}}
	for _, row := range []struct {
		name, head string
		want       controller.Schedule
	}{
		{"nothing but what is needed", "schedule: a b\nwort: {original-gravity: 1.052, final-gravity: 1.010}", controller.Schedule{
			Name: "a b", Wort: controller.Wort{Original: 1.052, Final: 1.010, FinalSD: 2},
		}},
		{"all that there is", "schedule: 12\nabout: |\n  two\n  lines\nwort: {original-gravity: 12 P, final-gravity: 0.996, final-gravity-sd: 15 points}\ncarbonation: 0.5 volumes", controller.Schedule{
			Name: "12", About: "two\nlines", Carbonation: 0.5,
			Wort: controller.Wort{Original: units.Plato(12).Gravity(), Final: 0.996, FinalSD: 15},
		}},
		{"the ends of the ranges", "schedule: a\nwort: {original-gravity: 1.2, final-gravity: 0.97, final-gravity-sd: 0.1 points}\ncarbonation: 6 volumes", controller.Schedule{
			Name: "a", Carbonation: 6, Wort: controller.Wort{Original: 1.2, Final: 0.97, FinalSD: 0.1},
		}},
	} {
		s, warnings, err := profiles.Parse("a.yaml", []byte(row.head+stages))
		row.want.Stages = hold
		if err != nil || len(warnings) > 0 || !reflect.DeepEqual(s, &row.want) {
			t.Errorf("%s: %v, %v, read as\n%+v\nwant\n%+v", row.name, err, warnings, s, row.want)
		}
	}
}

// One side of each limit is taken, the other refused, and by its rule.
func TestEachLimitOfMeaningHasTwoSides(t *testing.T) {
	t.Parallel()
	cold := func(to string) []byte {
		return []byte(strings.Replace(string(two("rest", "{at: 19 C}", "until: {points-left: 3}")), "{at: 19 C}}\n", "{at: "+to+"}}\n", 1))
	}
	cut := func(b []byte, old, now string) []byte { return []byte(strings.Replace(string(b), old, now, 1)) }
	long := func(n int) []byte {
		return fmt.Appendf(nil, "schedule: %s\nwort: {original-gravity: 1.052, final-gravity: 1.010}\nstages: [{name: x, kind: hold, target: {at: 4 C}}]\n", strings.Repeat("ü", n))
	}
	many := func(n int) []byte {
		var b strings.Builder
		b.WriteString("schedule: s\nwort: {original-gravity: 1.052, final-gravity: 1.010}\nstages:\n")
		for i := range n {
			fmt.Fprintf(&b, "  - {name: s%d, kind: hold, target: {at: 4 C}, until: {confirmed: go}}\n", i)
		}
		return []byte(strings.TrimSuffix(b.String(), ", until: {confirmed: go}}\n") + "}\n")
	}
	base := with(t)
	for _, row := range []struct {
		name        string
		taken, over []byte
		rule        string
	}{
		{"a hold two kelvins lower is the same cellar", cold("17 C"), cold("16.9 C"), string(profiles.UnguardedCold)},
		{"a beer within 0.3 K of its way", with(t, "beer-at: 1 C", "beer-at: 0.7 C"), with(t, "beer-at: 1 C", "beer-at: 0.6 C"), string(profiles.OutOfReach)},
		{"a beer within 0.3 K above its way", with(t, "beer-at: 1 C", "beer-at: 20.3 C"), with(t, "beer-at: 1 C", "beer-at: 20.4 C"), string(profiles.OutOfReach)},
		{"time above a temperature just below the cap", with(t, "{points-left: 6}", "{for: {at-least: 1 d, beer-above: 18.9 C}}"), with(t, "{points-left: 6}", "{for: {at-least: 1 d, beer-above: 19 C}}"), string(profiles.OutOfReach)},
		{"a free rise of a tenth", with(t, "to: 20 C", "to: 19.1 C"), with(t, "to: 20 C", "to: 19 C"), string(profiles.RiseDown)},
		{"an end below the beginning", cut(base, "final-gravity: 1.010", "final-gravity: 1.0519"), cut(base, "final-gravity: 1.010", "final-gravity: 1.052"), string(profiles.WortOrder)},
		{"twenty stages", many(20), many(21), string(profiles.ManyStages)},
		{"a name of sixty letters", long(60), long(61), "long-text"},
		{"names that differ in a letter", with(t, "name: cold hold", "name: crashh"), with(t, "name: cold hold", "name: Crash"), string(profiles.NameTwice)},
		{"a limit that asks before the cold", with(t, "over: 48 h}}", "over: 48 h}}\n    longest: {for: 9 d, then: ask}"), with(t, "over: 48 h}}", "over: 48 h}}\n    longest: {for: 9 d, then: advance}"), string(profiles.AdvanceCold)},
		{"a stuck beer that asks before the cold", with(t, "over: 48 h}}", "over: 48 h}}\n    stuck: {then: ask}"), with(t, "over: 48 h}}", "over: 48 h}}\n    stuck: {then: advance}"), string(profiles.AdvanceCold)},
		{"a stuck beer that moves on into a rest", with(t, "{points-left: 6}", "{points-left: 6}\n    stuck: {then: advance}"), with(t, "{pitched: true}", "{pitched: true}\n    stuck: {then: ask}"), string(profiles.StuckPlace)},
		{"terminal in one branch of an all", with(t, "{terminal: {within: 1 point, over: 48 h}}", "{all: [{points-left: 2}, {terminal: {within: 1 point, over: 48 h}}]}"), with(t, "{terminal: {within: 1 point, over: 48 h}}", "{any: [{points-left: 2}, {terminal: {within: 1 point, over: 48 h}}]}"), string(profiles.UnguardedCold)},
		{"a clock in an all with a gravity", with(t, "{points-left: 6}", "{all: [{points-left: 6}, {for: 2 d}]}"), with(t, "{points-left: 6}", "{any: [{points-left: 6}, {for: 2 d}]}"), string(profiles.ClockAlone)},
		{"a reminder of a stage to come", with(t, "beer-at: 1 C}", "beer-at: 1 C}\n    remind: [{when: {before: cold hold, by: 1 h}, say: x}]"), with(t, "beer-at: 1 C}", "beer-at: 1 C}\n    remind: [{when: {before: crash, by: 1 h}, say: x}]"), string(profiles.RemindStage)},
		{"a reminder by points once there is yeast", with(t, "{points-left: 6}", "{points-left: 6}\n    remind: [{when: {points-left: 9}, say: x}]"), with(t, "{pitched: true}", "{pitched: true}\n    remind: [{when: {points-left: 9}, say: x}]"), string(profiles.NoYeastYet)},
	} {
		if _, _, err := profiles.Parse("a.yaml", row.taken); err != nil {
			t.Errorf("%s is refused: %v", row.name, err)
		}
		_, _, err := profiles.Parse("a.yaml", row.over)
		if list := asProblems(err); len(list) != 1 || string(list[0].Rule) != row.rule {
			t.Errorf("%s: the other side gives %v, want the rule %s alone", row.name, err, row.rule)
		}
	}
}
