package profiles_test

import (
	"errors"
	"math"
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

func TestTheAleReadsAsItIsWritten(t *testing.T) {
	t.Parallel()
	f, err := profiles.Load("pale-ale-with-rest")
	if err != nil {
		t.Fatal(err)
	}
	want := &controller.Schedule{
		Name:        "pale-ale-with-rest",
		About:       "Clean ale, held cool while it grows, warmed near the end, crashed bright.",
		Wort:        controller.Wort{Original: 1.052, Final: 1.010, FinalSD: 2},
		Carbonation: 2.5,
		Stages: []controller.Stage{
			{
				Name: "fill", Kind: controller.Fill,
				Target:  controller.Target{Kind: controller.At, To: 17},
				Until:   controller.Condition{Kind: controller.Pitched},
				Longest: controller.Longest{For: units.Day, Then: controller.Ask},
			},
			{
				Name: "primary", Kind: controller.Primary,
				Target:  controller.Target{Kind: controller.At, To: 19},
				Until:   controller.Condition{Kind: controller.PointsLeft, Points: 6},
				Longest: controller.Longest{For: 10 * units.Day, Then: controller.Ask},
			},
			{
				Name: "diacetyl rest", Kind: controller.Rest,
				Target: controller.Target{Kind: controller.FreeRise, To: 21, HeatAfter: 8 * time.Hour},
				Until: controller.Condition{Kind: controller.All, Of: []controller.Condition{
					{Kind: controller.Terminal, Points: 1, Over: 48 * time.Hour},
					{Kind: controller.Dwell, AtLeast: 48 * time.Hour, Beer: 20.5, HasBeerAbove: true},
				}},
				Longest: controller.Longest{For: 10 * units.Day, Then: controller.Ask},
				Remind: []controller.Reminder{{
					When: controller.RemindBefore, Stage: "crash", By: 24 * time.Hour,
					Say: "Connect the CO2 bottle and its regulator.",
				}},
			},
			{
				Name: "crash", Kind: controller.Crash,
				Target:  controller.Target{Kind: controller.Ramp, To: 1, Rate: 1},
				Until:   controller.Condition{Kind: controller.BeerAt, Beer: 1},
				Longest: controller.Longest{For: 5 * units.Day, Then: controller.Ask},
			},
			{
				Name: "cold hold", Kind: controller.Hold, Target: controller.Target{Kind: controller.At, To: 1},
				Remind: []controller.Reminder{{When: controller.RemindAfter, By: units.Day, Say: "Dump the cone: the yeast is down.", Mark: controller.Dump}},
			},
		},
	}
	if !reflect.DeepEqual(f.Schedule, want) {
		t.Errorf("got\n%+v\nwant\n%+v", f.Schedule, want)
	}
	if got := f.Doc.Where("stages[3].target.free-rise.to").Line; !strings.Contains(line(f.Source, got), "free-rise") {
		t.Errorf("the cap is said to stand in line %d: %q", got, line(f.Source, got))
	}
}

func line(src []byte, n int) string {
	lines := strings.Split(string(src), "\n")
	if n < 1 || n > len(lines) {
		return ""
	}
	return lines[n-1]
}

// base is a small sound schedule; rows replace parts of it.
const base = `schedule: test
wort: {original-gravity: 1.052, final-gravity: 1.010}
stages:
  - name: fill
    kind: fill
    target: {at: 17 C}
    until: {pitched: true}
  - name: primary
    kind: primary
    target: {at: 19 C}
    until: {points-left: 6}
  - name: rest
    kind: rest
    target: {free-rise: {to: 20 C, heat-after: 8 h}}
    until: {terminal: {within: 1 point, over: 48 h}}
  - name: crash
    kind: crash
    target: {ramp: {to: 1 C, rate: 1 C/h}}
    until: {beer-at: 1 C}
  - name: cold hold
    kind: hold
    target: {at: 1 C}
`

func with(t *testing.T, edits ...string) []byte {
	t.Helper()
	text := base
	for i := 0; i+1 < len(edits); i += 2 {
		if strings.Count(text, edits[i]) != 1 {
			t.Fatalf("%q stands %d times in the schedule", edits[i], strings.Count(text, edits[i]))
		}
		text = strings.Replace(text, edits[i], edits[i+1], 1)
	}
	return []byte(text)
}

func TestWhatIsAllowedIsRead(t *testing.T) {
	t.Parallel()
	primary := func(s *controller.Schedule) *controller.Stage { return &s.Stages[1] }
	for _, row := range []struct {
		name, old, now string
		holds          func(s *controller.Schedule) bool
	}{
		{"points with their unit", "{points-left: 6}", "{points-left: 6 points}", func(s *controller.Schedule) bool { return primary(s).Until.Points == 6 }},
		{"a share of attenuation", "{points-left: 6}", "{apparent-attenuation: 70 %}", func(s *controller.Schedule) bool { return primary(s).Until.Attenuation == 0.7 }},
		{"a gravity below water", "final-gravity: 1.010}", "final-gravity: 0.996}", func(s *controller.Schedule) bool { return s.Wort.Final == 0.996 }},
		{"a gravity to wait for", "{points-left: 6}", "{gravity-at-most: 1.014}", func(s *controller.Schedule) bool { return primary(s).Until.Gravity == 1.014 }},
		{"a gravity in Plato", "{points-left: 6}", "{gravity-at-most: 4 P}", func(s *controller.Schedule) bool { return primary(s).Until.Gravity.Fixed(4) == "1.0157" }},
		{"a person", "{points-left: 6}", "{confirmed: go on}", func(s *controller.Schedule) bool { return primary(s).Until.Say == "go on" }},
		{"a clock that is accepted", "{points-left: 6}", "{for: 6 d}\n    by-clock: accepted", func(s *controller.Schedule) bool {
			return primary(s).ByClock && primary(s).Until.AtLeast == 6*units.Day
		}},
		{"a clock beside a gravity", "{points-left: 6}", "{all: [{points-left: 6}, {for: 3 d}]}", func(s *controller.Schedule) bool { return len(primary(s).Until.Of) == 2 }},
		{"time above a temperature is no clock alone", "{points-left: 6}", "{for: {at-least: 3 d, beer-above: 18 C}}", func(s *controller.Schedule) bool {
			return primary(s).Until.HasBeerAbove && primary(s).Until.Beer == 18
		}},
		{"time in a group without a temperature", "{points-left: 6}", "{all: [{for: {at-least: 3 d}}, {points-left: 6}]}", func(s *controller.Schedule) bool {
			return primary(s).Until.Of[0].AtLeast == 72*time.Hour && !primary(s).Until.Of[0].HasBeerAbove
		}},
		{"a limit that moves on into a rest", "{points-left: 6}", "{points-left: 6}\n    longest: {for: 9 d, then: advance}", func(s *controller.Schedule) bool {
			return primary(s).Longest == controller.Longest{For: 9 * units.Day, Then: controller.Advance}
		}},
		{"a limit that asks unless told", "{points-left: 6}", "{points-left: 6}\n    longest: {for: 9 d}", func(s *controller.Schedule) bool {
			return primary(s).Longest == controller.Longest{For: 9 * units.Day, Then: controller.Ask}
		}},
		{"a free rise without a time for the heater", ", heat-after: 8 h", "", func(s *controller.Schedule) bool { return s.Stages[2].Target.HeatAfter == 0 }},
		{
			"a person guards every way into the cold", "{terminal: {within: 1 point, over: 48 h}}",
			"{any: [{terminal: {within: 1 point, over: 48 h}}, {all: [{confirmed: it is done}, {for: 5 d}]}]}",
			func(s *controller.Schedule) bool { return len(s.Stages[2].Until.Of) == 2 },
		},
		{"a reminder by points", "{points-left: 6}", "{points-left: 6}\n    remind: [{when: {points-left: 9}, say: taste}]", func(s *controller.Schedule) bool {
			return primary(s).Remind[0] == controller.Reminder{When: controller.RemindPoints, Points: 9, Say: "taste"}
		}},
		{"Fahrenheit", "{at: 19 C}", "{at: 66.2 F}", func(s *controller.Schedule) bool { return math.Abs(float64(primary(s).Target.To)-19) < 1e-9 }},
		{"the spread of the end, unless it is told", "schedule: test", "schedule: two", func(s *controller.Schedule) bool { return s.Wort.FinalSD == 2 }},
	} {
		s, warnings, err := profiles.Parse("a.yaml", with(t, row.old, row.now))
		switch {
		case err != nil:
			t.Errorf("%s: %v", row.name, err)
		case len(warnings) > 0:
			t.Errorf("%s: warns %v", row.name, warnings)
		case !row.holds(s):
			t.Errorf("%s: read as %+v", row.name, s)
		}
	}
}

func TestWhatIsDoubtfulIsWarnedOf(t *testing.T) {
	t.Parallel()
	seen := map[strict.Rule]bool{}
	for _, row := range []struct {
		name, want string
		edits      []string
	}{
		{
			"kinds out of order", `a.yaml:13:11: stages[3].kind: a stage of kind fill comes after one of kind primary`,
			[]string{"kind: rest", "kind: fill", "{terminal: {within: 1 point, over: 48 h}}", "{all: [{pitched: true}, {confirmed: cold}]}"},
		},
		{
			"a cap that the yeast cannot reach", `a.yaml:14:30: stages[3].target.free-rise.to: the cap lies 2.0 K above the stage before, and the 6.0 points left can warm the beer by 1.8 K at most; a heater must do the rest`,
			[]string{"to: 20 C", "to: 21 C"},
		},
		{
			"a cap after several ways to end", `a.yaml:14:30: stages[3].target.free-rise.to: the cap lies 2.0 K above the stage before, and the 5.6 points left can warm the beer by 1.7 K at most; a heater must do the rest`,
			[]string{"to: 20 C", "to: 21 C", "{points-left: 6}", "{any: [{points-left: 3}, {apparent-attenuation: 70 %}]}"},
		},
		{
			"points that are left from the start", `a.yaml:11:26: stages[2].until.points-left: this holds from the start: the whole beer is expected to drop 42.0 points`,
			[]string{"points-left: 6", "points-left: 50"},
		},
		{
			"a gravity above the wort", `a.yaml:11:30: stages[2].until.gravity-at-most: this holds from the start: the wort begins at 1.052`,
			[]string{"points-left: 6", "gravity-at-most: 1.060"},
		},
		{
			"a gravity that is not expected", `a.yaml:11:30: stages[2].until.gravity-at-most: this may never hold: the beer is expected to end at 1.010, give or take 2 points`,
			[]string{"points-left: 6", "gravity-at-most: 1.003", "{free-rise: {to: 20 C, heat-after: 8 h}}", "{at: 20 C}"},
		},
		{
			"an attenuation that is not expected", `a.yaml:11:35: stages[2].until.apparent-attenuation: this may never hold: the beer is expected to end at 81 %`,
			[]string{"points-left: 6", "apparent-attenuation: 95 %", "{free-rise: {to: 20 C, heat-after: 8 h}}", "{at: 20 C}"},
		},
		{
			"a limit before the end", `a.yaml:16:14: stages[3].longest: the limit of 1 d 12 h is reached before the stage can end: it waits 2 d`,
			[]string{"over: 48 h}}", "over: 48 h}}\n    longest: {for: 36 h}"},
		},
		{
			"a clock that was accepted for nothing", `a.yaml:12:15: stages[2].by-clock: no clock alone can end this stage, so this changes nothing`,
			[]string{"{points-left: 6}", "{points-left: 6}\n    by-clock: accepted"},
		},
		{
			"a fill that nobody pitches", `a.yaml:5:11: stages[1].kind: this stage does not wait for {pitched: true}, from which attenuation and forecasts are counted`,
			[]string{"{pitched: true}", "{confirmed: full}"},
		},
		{
			"a rest that does the work of a crash", `a.yaml:14:25: stages[3].target.ramp.to: this cools working beer by 15.0 K; if the beer shall be cold, make it a stage of kind crash, which waits for the end of fermentation`,
			[]string{"{free-rise: {to: 20 C, heat-after: 8 h}}", "{ramp: {to: 4 C, rate: 1 C/h}}"},
		},
		{
			"a crash below ice", `a.yaml:18:25: stages[4].target.ramp.to: a beer from 1.052 to 1.010 is led no colder than -0.6 C, for ice: its lowest plausible alcohol and a margin of 1 K count`,
			[]string{"{to: 1 C, rate", "{to: -0.9 C, rate", "beer-at: 1 C", "beer-at: -0.9 C"},
		},
		{
			"a job before the taste test is confirmed", `a.yaml:16:65: stages[3].remind[1].mark: doing this voids the confirmation that its own stage waits for; let it be said earlier, or in the next stage`,
			[]string{"{terminal: {within: 1 point, over: 48 h}}", "{confirmed: clean}\n    remind: [{when: {before: crash, by: 1 d}, say: rouse, mark: rouse}]"},
		},
	} {
		_, warnings, err := profiles.Parse("a.yaml", with(t, row.edits...))
		if err != nil || len(warnings) != 1 {
			t.Errorf("%s: %v, %v", row.name, err, warnings)
			continue
		}
		if got := warnings[0].String(); got != row.want {
			t.Errorf("%s:\n got %s\nwant %s", row.name, got, row.want)
		}
		seen[warnings[0].Rule] = true
	}
	for _, rule := range profiles.WarningRules() {
		if !seen[rule] {
			t.Errorf("nothing warns by the rule %q", rule)
		}
	}
}

func TestColdInStepsIsNotDoubtful(t *testing.T) {
	t.Parallel()
	src := with(t, "  - name: cold hold\n", `  - name: pause
    kind: hold
    target: {at: 1 C}
    until: {confirmed: the cone is dumped}
  - name: second crash
    kind: crash
    target: {ramp: {to: -0.5 C, rate: 1 C/d}}
    until: {beer-at: -0.5 C}
  - name: cold hold
`)
	if _, warnings, err := profiles.Parse("a.yaml", src); err != nil || len(warnings) > 0 {
		t.Errorf("%v, %v", err, warnings)
	}
}

// TestTheYeastCanWarmTheBeerByItsExtractOnly holds the heat against a published
// whole batch: 12 P to 3 P without cooling is +10.8 K at 586 kJ/kg (a tank
// maker's specific heat and the Balling share of real extract, as computed in a
// study of the literature; 9 P are 36 points at 4 points a degree Plato).
func TestTheYeastCanWarmTheBeerByItsExtractOnly(t *testing.T) {
	t.Parallel()
	if got := thermal.YeastRise(36); math.Abs(float64(got)-10.8) > 0.2 {
		t.Errorf("36 points warm by %v, want 10.8 K", got)
	}
	if got := thermal.YeastRise(6); got < 1.6 || got > 2 {
		t.Errorf("6 points warm by %v, want a little less than 2 K", got)
	}
	if got := thermal.YeastRise(0); got != 0 {
		t.Errorf("no points warm by %v", got)
	}
}

// What happens to a stuck beer is told as it is done.
func TestWhatAStuckBeerDoesIsExplained(t *testing.T) {
	t.Parallel()
	const (
		asks, goesOn = "When the beer is stuck an alarm asks", "the next stage begins all the same, however far above its end it is."
		usual, blind = "12 points or less above its expected end, or when the hydrometer", "Moves on with an alarm when the hydrometer has been silent"
	)
	for _, row := range []struct {
		name      string
		old, new  string
		said, not []string
	}{
		{"nothing is said of it", "", "", []string{usual}, []string{asks, goesOn, blind}},
		{"a primary asks", "{points-left: 6}", "{points-left: 6}\n    stuck: {then: ask}", []string{asks, blind}, []string{usual, goesOn}},
		{"a primary moves on", "{points-left: 6}", "{points-left: 6}\n    stuck: {then: advance}", []string{goesOn, blind}, []string{usual, asks}},
		{"a rest asks", "over: 48 h}}", "over: 48 h}}\n    stuck: {then: ask}", []string{asks, usual}, []string{goesOn, blind}},
	} {
		src := with(t)
		if row.old != "" {
			src = with(t, row.old, row.new)
		}
		s, warnings, err := profiles.Parse("a.yaml", src)
		if err != nil || len(warnings) > 0 {
			t.Errorf("%s: %v, %v", row.name, err, warnings)
			continue
		}
		text := strings.Join(strings.Fields(profiles.Explain(s)), " ")
		for _, want := range row.said {
			if !strings.Contains(text, want) {
				t.Errorf("%s: %q is missing in %s", row.name, want, text)
			}
		}
		for _, not := range row.not {
			if strings.Contains(text, not) {
				t.Errorf("%s: %q is said in %s", row.name, not, text)
			}
		}
	}
}

func TestEveryConditionIsExplained(t *testing.T) {
	t.Parallel()
	src := with(t, "{pitched: true}", "{all: [{pitched: true}, {any: [{for: 2 h}, {confirmed: full}]}]}",
		"{points-left: 6}", `{any: [{gravity-at-most: 1.012}, {apparent-attenuation: 72.5 %}, {for: 6 d}]}
    by-clock: accepted
    longest: {for: 9 d, then: advance}
    remind: [{when: {after: 1 d}, say: "look for foam"}, {when: {points-left: 9}, say: "warm the room!"}, {when: {heat-points-left: 6}, say: measure}]`,
		", heat-after: 8 h", "")
	s, _, err := profiles.Parse("a.yaml", src)
	if err != nil {
		t.Fatal(err)
	}
	golden(t, filepath.Join("testdata", "explain", "every-condition.txt"), profiles.Explain(s))
}

func TestAScheduleIsLoadedByNameOrPath(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "mine.yaml")
	if err := os.WriteFile(path, []byte(base), 0o600); err != nil {
		t.Fatal(err)
	}
	f, err := profiles.Load(path)
	if err != nil || f.Name != path || string(f.Source) != base {
		t.Errorf("%v: %+v", err, f)
	}
	all := strings.Join(profiles.Builtin(), ", ")
	for name, want := range map[string]string{
		"cool-lagr":           `"cool-lagr" is no schedule; "cool-lager" is probably meant: built in are ` + all + `; a file is given by its path`,
		"stout":               `"stout" is no schedule: built in are ` + all + `; a file is given by its path`,
		"/nowhere/stout.yaml": "read schedule: open /nowhere/stout.yaml: no such file or directory",
		"../builtin":          "read schedule: open ../builtin: no such file or directory",
	} {
		if _, err := profiles.Load(name); err == nil || err.Error() != want {
			t.Errorf("%s: %v, want %s", name, err, want)
		}
	}
	if _, ok := profiles.Source("../builtin/cool-lager"); ok {
		t.Error("a built-in schedule is found by a path")
	}
}

// FuzzParse holds that any text is either refused with its reasons or read to a
// schedule that keeps the rules on which the core relies.
func FuzzParse(f *testing.F) {
	f.Add([]byte(base))
	for _, name := range profiles.Builtin() {
		src, _ := profiles.Source(name)
		f.Add(src)
	}
	bad, err := filepath.Glob("testdata/invalid/*.yaml")
	if err != nil {
		f.Fatal(err)
	}
	for _, name := range bad {
		src, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(src)
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		s, _, err := profiles.Parse("f.yaml", src)
		if problems, ok := errors.AsType[*strict.Problems](err); ok {
			if s != nil || len(problems.List) == 0 || problems.Render() == "" {
				t.Fatal("refused without a reason, or half")
			}
			return
		}
		sound(t, s)
		if profiles.Explain(s) == "" {
			t.Fatal("not explained")
		}
	})
}

// sound looks at a schedule without the checker's own code.
func sound(t *testing.T, s *controller.Schedule) {
	t.Helper()
	if s.Name == "" || len(s.Stages) == 0 || s.Wort.Final >= s.Wort.Original || s.Wort.FinalSD <= 0 {
		t.Fatalf("accepted %+v", s)
	}
	for i := range s.Stages {
		st := &s.Stages[i]
		last := i == len(s.Stages)-1
		if st.Name == "" || st.Kind == "" || st.Target.Kind == "" || st.Target.To < -3 || st.Target.To > 45 ||
			(st.Target.Kind == controller.Ramp) != (st.Target.Rate > 0) {
			t.Fatalf("accepted stage %+v", st)
		}
		if last != (st.Until.Kind == controller.Never) || last != (st.Longest.For == 0) {
			t.Fatalf("stage %d of %d ends wrongly: %+v", i+1, len(s.Stages), st)
		}
		if !last && s.Stages[i+1].Kind == controller.Crash &&
			(st.Longest.Then != controller.Ask || st.Stuck == controller.Advance || !st.Until.MustBe(controller.Terminal, controller.Confirmed)) {
			t.Fatalf("lets the beer into the cold: %+v", st)
		}
		for _, c := range st.Until.Leaves() {
			if c.Kind == controller.Never || c.Points < 0 || c.AtLeast < 0 || c.Over < 0 {
				t.Fatalf("accepted condition %+v", c)
			}
		}
	}
}
