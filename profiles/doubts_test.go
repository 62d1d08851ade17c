package profiles_test

import (
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles"
	"example.org/restpoint/profiles/strict"
)

func asProblems(err error) []strict.Problem {
	if p, ok := errors.AsType[*strict.Problems](err); ok {
		return p.List
	}
	return nil
}

// One side of each limit is quiet, the other doubtful by its rule and no other.
func TestEachDoubtHasTwoSides(t *testing.T) {
	t.Parallel()
	cap6 := 19 + units.Celsius(thermal.YeastRise(6)) // what six points can do above 19 C
	seen := map[strict.Rule]bool{}
	for _, row := range []struct {
		name            string
		quiet, doubtful []string
		rule            strict.Rule
	}{
		{"a second primary", []string{"name: rest\n    kind: rest", "name: rest\n    kind: primary"}, []string{"name: cold hold\n    kind: hold", "name: cold hold\n    kind: rest"}, profiles.KindOrder},
		{"the cap that six points can reach", []string{"to: 20 C", "to: " + (cap6 - 0.001).String()}, []string{"to: 20 C", "to: " + (cap6 + 0.001).String()}, profiles.YeastHeat},
		{"an unknown rest of the extract says nothing of heat", []string{"{points-left: 6}", "{confirmed: go}", "to: 20 C", "to: 30 C"}, []string{"{points-left: 6}", "{terminal: {within: 1 point, over: 2 d}}"}, profiles.YeastHeat},
		{"the whole beer", []string{"points-left: 6", "points-left: 41.9"}, []string{"points-left: 6", "points-left: 42.1"}, profiles.HoldsAtOnce},
		{"the gravity of the wort", []string{"points-left: 6", "gravity-at-most: 1.0519"}, []string{"points-left: 6", "gravity-at-most: 1.052"}, profiles.HoldsAtOnce},
		{"three spreads below the end", []string{"points-left: 6", "gravity-at-most: 1.0041", "free-rise: {to: 20 C, heat-after: 8 h}", "at: 20 C"}, []string{"points-left: 6", "gravity-at-most: 1.0039", "free-rise: {to: 20 C, heat-after: 8 h}", "at: 20 C"}, profiles.HardlyMet},
		// (1.052 - 1.004) / 0.052 = 92.3 %
		{"the attenuation of three spreads", []string{"points-left: 6", "apparent-attenuation: 92.2 %", "free-rise: {to: 20 C, heat-after: 8 h}", "at: 20 C"}, []string{"points-left: 6", "apparent-attenuation: 92.4 %", "free-rise: {to: 20 C, heat-after: 8 h}", "at: 20 C"}, profiles.HardlyMet},
		{"a limit just behind the wait", []string{"over: 48 h}}", "over: 48 h}}\n    longest: {for: 2881 min}"}, []string{"over: 48 h}}", "over: 48 h}}\n    longest: {for: 2880 min}"}, profiles.ShortLongest},
		{"a wait that is one of several ways", []string{"{points-left: 6}", "{any: [{points-left: 6}, {for: {at-least: 9 d, beer-above: 17 C}}]}\n    longest: {for: 5 d}"}, []string{"{points-left: 6}", "{all: [{points-left: 6}, {for: {at-least: 9 d, beer-above: 17 C}}]}\n    longest: {for: 5 d}"}, profiles.ShortLongest},
		{"a clock that is needed", []string{"{points-left: 6}", "{any: [{points-left: 6}, {for: 9 d}]}\n    by-clock: accepted", "to: 20 C", "to: 21 C"}, []string{"{points-left: 6}", "{all: [{points-left: 6}, {for: 9 d}]}\n    by-clock: accepted"}, profiles.ClockNotNeeded},
		{"yeast in every way to end a fill", []string{"{pitched: true}", "{all: [{pitched: true}, {confirmed: full}]}"}, []string{"{pitched: true}", "{any: [{pitched: true}, {confirmed: full}]}"}, profiles.NeverPitched},
		{"a rest five kelvins lower", []string{"free-rise: {to: 20 C, heat-after: 8 h}", "at: 14 C"}, []string{"free-rise: {to: 20 C, heat-after: 8 h}", "at: 13.9 C"}, profiles.CooledEarly},
		{"a job that is said when the stage has begun", []string{"over: 48 h}}", "over: 48 h}}\n    remind: [{when: {after: 12 h}, say: dump, mark: dump}]"}, []string{"over: 48 h}}", "over: 48 h}}\n    remind: [{when: {before: crash, by: 12 h}, say: dump, mark: dump}]"}, profiles.DisturbedWindow},
		{"a job that marks nothing", []string{"over: 48 h}}", "over: 48 h}}\n    remind: [{when: {before: crash, by: 12 h}, say: gas}]"}, []string{"{points-left: 6}", "{points-left: 6}\n    remind: [{when: {after: 2 d}, say: sugar, mark: addition}]"}, profiles.DisturbedWindow},
		{"stirring does not move the end", []string{"{points-left: 6}", "{points-left: 6}\n    remind: [{when: {after: 2 d}, say: rouse, mark: rouse}]"}, []string{"{points-left: 6}", "{apparent-attenuation: 70 %}\n    remind: [{when: {after: 2 d}, say: hops, mark: dry-hop}]", "to: 20 C", "to: 19.5 C"}, profiles.DisturbedWindow},
		// 1.052 to 1.010, read 2 points lower and 3 higher, is 3.8 % of alcohol by mass: -1.56 C and 1 K.
		{"a crash just above ice", []string{"{to: 1 C, rate", "{to: -0.55 C, rate", "beer-at: 1 C", "beer-at: -0.5 C"}, []string{"{to: 1 C, rate", "{to: -0.65 C, rate", "beer-at: 1 C", "beer-at: -0.5 C"}, profiles.Ice},
		{"wort at its freezing point", []string{"{at: 17 C}", "{at: 0 C}", "{at: 19 C}", "{at: 19 C}"}, []string{"{at: 17 C}", "{at: -0.1 C}"}, profiles.Ice},
		{"a primary far below the fill is pitched warm on purpose", []string{"{at: 17 C}", "{at: 30 C}"}, []string{"{at: 19 C}", "{at: 30 C}", "free-rise: {to: 20 C, heat-after: 8 h}", "at: 20 C"}, profiles.CooledEarly},
	} {
		if _, warnings, err := profiles.Parse("a.yaml", with(t, row.quiet...)); err != nil || len(warnings) > 0 {
			t.Errorf("%s: %v, warns %v", row.name, err, warnings)
		}
		_, warnings, err := profiles.Parse("a.yaml", with(t, row.doubtful...))
		if err != nil || len(warnings) != 1 || warnings[0].Rule != row.rule {
			t.Errorf("%s: the other side gives %v, %v, want the rule %s alone", row.name, err, warnings, row.rule)
		}
		seen[row.rule] = true
	}
	for _, rule := range profiles.WarningRules() {
		if !seen[rule] {
			t.Errorf("no limit of the rule %q is looked at", rule)
		}
	}
}

func TestABatchBringsItsOwnGravities(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name, original, final string
		want                  controller.Wort
		wrong                 string
	}{
		{"none of its own", "", "", controller.Wort{Original: 1.052, Final: 1.010, FinalSD: 2}, ""},
		{"its own original", "1.060", "", controller.Wort{Original: 1.060, Final: 1.010, FinalSD: 2}, ""},
		{"its own final, below water", "", "0.998", controller.Wort{Original: 1.052, Final: 0.998, FinalSD: 2}, ""},
		{"both in Plato", "15 P", "3 P", controller.Wort{Original: units.Plato(15).Gravity(), Final: units.Plato(3).Gravity(), FinalSD: 2}, ""},
		{"an original below the schedule's final", "1.009", "", controller.Wort{}, "the original gravity 1.0090 is not above the final gravity 1.0100"},
		{"a final that is the original", "", "1.052", controller.Wort{}, "the original gravity 1.0520 is not above the final gravity 1.0520"},
		{"an original without a point", "1060", "", controller.Wort{}, `original gravity: "1060" is not a gravity such as "1.048" or "12 P"; write "1.060"`},
		{"a final in bare Plato", "", "3", controller.Wort{}, `final gravity: "3" is not a gravity such as "1.048" or "12 P"; if degrees Plato are meant, write "3 P"`},
		{"words", "thick", "", controller.Wort{}, `original gravity: "thick" is not a gravity such as "1.048" or "12 P"`},
	} {
		s, _, err := profiles.Parse("a.yaml", with(t))
		if err != nil {
			t.Fatal(err)
		}
		before := *s
		got, err := profiles.WithGravities(s, row.original, row.final)
		switch {
		case row.wrong != "":
			if got != nil || err == nil || err.Error() != row.wrong {
				t.Errorf("%s: %v, %v, want %s", row.name, got, err, row.wrong)
			}
		case err != nil || got.Wort != row.want || got.Name != s.Name || !reflect.DeepEqual(got.Stages, s.Stages):
			t.Errorf("%s: %v, %+v", row.name, err, got)
		}
		if !reflect.DeepEqual(*s, before) {
			t.Errorf("%s: the schedule itself was changed", row.name)
		}
	}
}

func TestAFileThatCannotBeUsedIsNamed(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	bad := filepath.Join(folder, "bad.yaml")
	if err := os.WriteFile(bad, []byte("schedule: x\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	f, err := profiles.Load(bad)
	if f != nil || err == nil || err.Error() != bad+`:1:1: the key "wort" is missing`+"\n"+bad+`:1:1: the key "stages" is missing` {
		t.Errorf("%v, %v", f, err)
	}
	if _, err := profiles.Load(folder); err == nil || !strings.HasPrefix(err.Error(), "read schedule: read "+folder) {
		t.Errorf("a folder gives %v", err)
	}
	if _, err := profiles.Load(""); err == nil {
		t.Error("no name at all is a schedule")
	}
	src, ok := profiles.Source("cool-lager")
	if f, err := profiles.Read("cool-lager", src); !ok || err != nil || f.Name != "cool-lager" || len(f.Source) != len(src) {
		t.Errorf("a built-in schedule by its text: %v", err)
	}
}

// plain is a hold at 4 C of which rows change a part.
func plain() *controller.Schedule {
	return &controller.Schedule{
		Name: "plain", Wort: controller.Wort{Original: 1.050, Final: 1.010, FinalSD: 1},
		Stages: []controller.Stage{
			{
				Name: "one", Kind: controller.Rest, Target: controller.Target{Kind: controller.At, To: 18},
				Until: controller.Condition{Kind: controller.PointsLeft, Points: 1}, Longest: controller.Longest{For: 3 * units.Day, Then: controller.Ask},
			},
			{Name: "two", Kind: controller.Hold, Target: controller.Target{Kind: controller.At, To: 18}},
		},
	}
}

func TestOddSchedulesAreExplainedInWords(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name    string
		change  func(s *controller.Schedule)
		say     string
		neither string
	}{
		{"one point is one", func(*controller.Schedule) {}, "Ends when 1 point or fewer are left to the end of this beer.", "1 points"},
		{"one point of spread is one", func(*controller.Schedule) {}, "give or take 1 point (one standard deviation).", "Carbonation"},
		{"carbonation where it is given", func(s *controller.Schedule) { s.Carbonation = 2.4 }, "Carbonation of 2.4 volumes.", ""},
		{"a text with its full stop gets no second", func(s *controller.Schedule) { s.About = "Sour." }, "Sour.", "Sour.."},
		{"a text of several lines becomes one", func(s *controller.Schedule) { s.About = "sour\n  and wild" }, "sour and wild.", ""},
		{"a question stays one", func(s *controller.Schedule) {
			s.Stages[0].Remind = []controller.Reminder{{When: controller.RemindAfter, By: time.Hour, Say: "clean?"}}
		}, "1 h into this stage: clean?", "clean?."},
		{"a job that marks the beer", func(s *controller.Schedule) {
			s.Stages[0].Remind = []controller.Reminder{{When: controller.RemindAfter, By: time.Hour, Say: "two doses of hops", Mark: controller.DryHop}}
		}, `two doses of hops. Doing it marks "dry-hop": judging starts again. The expected end moves down by 2 points. The spread of the expected end grows by a factor of 2.`, "counts any more"},
		{"a job after which nothing read before counts", func(s *controller.Schedule) {
			s.Stages[0].Remind = []controller.Reminder{{When: controller.RemindAfter, By: time.Hour, Say: "sugar", Mark: controller.Addition}}
		}, `Doing it marks "addition": judging starts again. No gravity read before counts any more. The spread of the expected end grows by a factor of 1.5.`, "moves down"},
		{"a job after which the beer is the same", func(s *controller.Schedule) {
			s.Stages[0].Remind = []controller.Reminder{{When: controller.RemindAfter, By: time.Hour, Say: "cone", Mark: controller.Dump}}
		}, `Doing it marks "dump": judging starts again.`, "spread"},
		{"one day is one", func(s *controller.Schedule) {
			s.Stages[0].Until = controller.Condition{Kind: controller.Dwell, AtLeast: units.Day}
		}, "Ends when this stage has lasted 1 d.", "1 d have"},
		{"a gravity of three places is not given four", func(s *controller.Schedule) {
			s.Stages[0].Until = controller.Condition{Kind: controller.GravityAtMost, Gravity: 0.998}
		}, "Ends when the gravity is 0.998 or lower.", "0.9980"},
		{"a gravity of four places is", func(s *controller.Schedule) {
			s.Stages[0].Until = controller.Condition{Kind: controller.GravityAtMost, Gravity: 1.0105}
		}, "Ends when the gravity is 1.0105 or lower.", ""},
		{"nothing left warms nothing", func(s *controller.Schedule) {
			s.Stages[0].Until = controller.Condition{Kind: controller.Terminal, Points: 1, Over: 2 * units.Day}
			s.Stages[1].Target = controller.Target{Kind: controller.FreeRise, To: 20}
		}, "Lets the yeast warm the beer up to 20 C;", "left by then"},
		{"one point left is one", func(s *controller.Schedule) {
			s.Stages[1].Target = controller.Target{Kind: controller.FreeRise, To: 20}
		}, "The 1 point left by then can warm it by 0.3 K at most.", "1 points"},
		{"a limit that is not the default", func(*controller.Schedule) {}, "After 3 d an alarm asks a person what to do.", "default"},
		{"a limit that is", func(s *controller.Schedule) { s.Stages[0].Longest.For = 10 * units.Day }, "After 10 d (the default) an alarm asks", ""},
		{"a limit that moves on by itself is not the default", func(s *controller.Schedule) {
			s.Stages[0].Longest = controller.Longest{For: 10 * units.Day, Then: controller.Advance}
		}, "After 10 d an alarm is raised and the next stage begins all the same.", "default"},
		{"a slow ramp by the day", func(s *controller.Schedule) {
			s.Stages[0].Target = controller.Target{Kind: controller.Ramp, To: 2, Rate: 0.1}
		}, "Leads the beer to 2 C at 2.4 K/d,", "K/h"},
		{"a fast ramp by the hour", func(s *controller.Schedule) {
			s.Stages[0].Target = controller.Target{Kind: controller.Ramp, To: 2, Rate: 0.5}
		}, "at 0.5 K/h,", "K/d"},
		{"a free rise at the very beginning knows of no heat before", func(s *controller.Schedule) {
			s.Stages[0].Target = controller.Target{Kind: controller.FreeRise, To: 21}
		}, "A heater helps only when the yeast cannot do it.", "left by then"},
		{"Fahrenheit to a tenth", func(s *controller.Schedule) { s.Stages[0].Target.To = units.Fahrenheit(66) }, "Keeps the beer at 18.9 C.", ""},
		{"just below freezing is not minus nothing", func(s *controller.Schedule) { s.Stages[0].Target.To = -0.04 }, "Keeps the beer at 0 C.", "-0"},
		{"a hold does not move on when stuck", func(*controller.Schedule) {}, "Holds until a person ends the batch.", "stuck"},
		{"a taste test before the cold", func(s *controller.Schedule) {
			s.Stages[1].Kind = controller.Crash
			s.Stages[0].Until = controller.Condition{Kind: controller.Confirmed, Say: "clean"}
		}, `Ends when a person confirms "clean".`, "without a taste test"},
		{"no taste test before the cold", func(s *controller.Schedule) { s.Stages[1].Kind = controller.Crash }, "Then crashes without a taste test", ""},
		{"all of one needs no brackets", func(s *controller.Schedule) {
			s.Stages[0].Until = controller.Condition{Kind: controller.All, Of: []controller.Condition{
				{Kind: controller.Any, Of: []controller.Condition{{Kind: controller.Pitched}, {Kind: controller.BeerAt, Beer: 3}}},
			}}
		}, "Ends when a person says that the yeast is in, or the beer is at 3 C", "(a person"},
	} {
		s := plain()
		row.change(s)
		got := strings.Join(strings.Fields(profiles.Explain(s)), " ")
		if !strings.Contains(got, row.say) || row.neither != "" && strings.Contains(got, row.neither) {
			t.Errorf("%s: explained as\n%s\nwant %q, not %q", row.name, got, row.say, row.neither)
		}
	}
}
