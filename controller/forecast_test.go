package controller_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
)

// foretold is the forecast of a milestone as it stands now.
func (d *desk) foretold(m controller.Milestone) (controller.Forecast, bool) {
	d.t.Helper()
	for _, f := range d.out.Decision.Forecast.From() {
		if f.Event == m {
			return f, true
		}
	}
	return controller.Forecast{}, false
}

func (d *desk) milestones() string {
	var list []string
	for _, f := range d.out.Decision.Forecast.List {
		list = append(list, string(f.Event))
	}
	return strings.Join(list, " ")
}

// Through a whole ale: what is ahead is forecast in order, and what has passed no
// more; each forecast stands in the order early, middle, late.
func TestWhatIsForecastThroughAnAle(t *testing.T) {
	d := sit(t).wide()
	d.sg = fall(1.010)
	d.must(controller.Verb{Kind: controller.Start, Batch: "b1", Schedule: ale()})
	d.run(3 * time.Hour)
	if got := d.milestones(); got != "" {
		t.Errorf("before the yeast is in: %s", got)
	}
	d.must(controller.Verb{Kind: controller.PitchedNow})
	seen := map[string][]string{}
	ordered := func() {
		for _, f := range d.out.Decision.Forecast.From() {
			if f.Early < 0 || f.Early > f.Middle || f.Middle > f.Late {
				t.Fatalf("%+v", f)
			}
		}
		stage := d.out.Decision.Stage
		if got := d.milestones(); !slices.Contains(seen[stage], got) {
			seen[stage] = append(seen[stage], got)
		}
	}
	foresees := map[controller.Milestone]controller.Forecast{}
	var from time.Duration
	d.until(300*time.Hour, func() bool {
		ordered()
		if d.out.Decision.Since >= 42*time.Hour && from == 0 { // half of the fall
			from = d.s.Age
			for _, f := range d.out.Decision.Forecast.From() {
				foresees[f.Event] = f
			}
		}
		return d.out.Decision.Stage == "diacetyl rest"
	})
	if f := foresees[controller.RestBegins]; d.s.Age-from < f.Early || d.s.Age-from > f.Late {
		t.Errorf("the rest begins %v after the forecast %v", d.s.Age-from, f)
	}
	d.beer = 21
	d.until(300*time.Hour, func() bool { ordered(); return d.happened(controller.TerminalReached) > 0 })
	if f := foresees[controller.TerminalMet]; d.s.Age-from < f.Early || d.s.Age-from > f.Late {
		t.Errorf("terminal %v after the forecast %v", d.s.Age-from, f)
	}
	d.until(300*time.Hour, func() bool { ordered(); return d.out.Decision.Stage == "crash" })
	d.until(100*time.Hour, func() bool {
		d.beer = max(1, d.beer.Plus(-1.0/12))
		ordered()
		return d.out.Decision.Stage == "cold hold"
	})
	if f := foresees[controller.Crashed]; d.s.Age-from < f.Early || d.s.Age-from > f.Late {
		t.Errorf("crashed %v after the forecast %v", d.s.Age-from, f)
	}
	d.run(2 * time.Hour)
	ordered()
	all := "rest terminal crashed ready"
	for stage, want := range map[string][]string{
		"primary": {"", all}, "diacetyl rest": {"terminal crashed ready", "crashed ready"}, "crash": {"crashed ready"}, "cold hold": {""},
	} {
		for _, got := range seen[stage] {
			if !slices.Contains(want, got) {
				t.Errorf("in %s %q is forecast, want one of %q", stage, got, want)
			}
		}
		// Terminal may be the last that a rest waits for.
		if last := want[len(want)-1]; stage != "diacetyl rest" && !slices.Contains(seen[stage], last) {
			t.Errorf("in %s %q is never forecast: %q", stage, last, seen[stage])
		}
	}
}

// fitted is an ale in the middle of its fall, with a curve.
func fitted(t *testing.T, s *controller.Schedule) *desk {
	t.Helper()
	d := sit(t).wide()
	d.sg = fall(1.010)
	d.must(controller.Verb{Kind: controller.Start, Batch: "b1", Schedule: s})
	if d.out.Decision.Kind == controller.Fill {
		d.must(controller.Verb{Kind: controller.PitchedNow})
	}
	d.run(50 * time.Hour)
	return d
}

func TestForecastsAreMadeEachHourAndAnewWhenThingsChange(t *testing.T) {
	d := fitted(t, ale())
	notes := 0
	for range 72 { // of 5 minutes
		d.step()
		notes += len(d.out.Notes)
		for _, n := range d.out.Notes {
			if n.Kind != controller.ForecastMade || len(n.Forecasts) == 0 || d.out.Commit {
				t.Errorf("the note %s, commit %v", n, d.out.Commit)
			}
		}
	}
	if notes != 6 {
		t.Errorf("%d notes in six hours", notes)
	}
	d.step()
	if age := d.out.Decision.Forecast.Age; age == 0 {
		t.Error("a forecast of every step")
	}
	one, _ := d.foretold(controller.TerminalMet)
	d.step()
	if two, _ := d.foretold(controller.TerminalMet); two.Middle != one.Middle-d.dt {
		t.Errorf("%v, and a step later %v", one.Middle, two.Middle)
	}
	for _, v := range []controller.Verb{
		{Kind: controller.Mark, Mark: controller.Dump},
		{Kind: controller.Pause},
		{Kind: controller.Resume},
		{Kind: controller.Arm},
		{Kind: controller.Return, Stage: "primary"},
		{Kind: controller.Adopt, Schedule: ale()},
	} {
		d.run(10 * time.Minute)
		if d.must(v); d.out.Decision.Forecast.Age != 0 {
			t.Errorf("%s leaves the forecast as it was", v.Kind)
		}
	}
	d.restart(controller.Outage{Length: 20 * time.Minute, Known: true})
	if d.step(); d.out.Decision.Forecast.Age != 0 {
		t.Error("an outage leaves the forecast as it was")
	}
}

func TestNothingIsForecastThatCannotBeTold(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(*desk)
		want  string
	}{
		"a paused batch goes nowhere, its beer does": {func(d *desk) { d.must(controller.Verb{Kind: controller.Pause}) }, "terminal"},
		"after days of silence the curve is old":     {func(d *desk) { d.sg = nil; d.run(40 * time.Hour) }, ""},
		"an ended batch":                             {func(d *desk) { d.must(controller.Verb{Kind: controller.EndOff}) }, ""},
	} {
		d := fitted(t, ale())
		c.spoil(d)
		if got := d.milestones(); got != c.want {
			t.Errorf("%s: %q is forecast", name, got)
		}
	}
	d := sit(t).wide()
	d.must(controller.Verb{Kind: controller.Start, Batch: "b1", Schedule: ale()})
	d.must(controller.Verb{Kind: controller.PitchedNow})
	if d.run(50 * time.Hour); d.milestones() != "" {
		t.Errorf("without a hydrometer %q is forecast", d.milestones())
	}
}

// ready is when the hold of a schedule of one stage begins, which is left by a condition.
func ready(t *testing.T, until controller.Condition, longest controller.Longest) (controller.Forecast, bool) {
	t.Helper()
	s := ale()
	s.Stages = []controller.Stage{
		s.Stages[0],
		{Name: "first", Kind: controller.Primary, Target: controller.Target{Kind: controller.At, To: 18}, Until: until, Longest: longest},
		{Name: "last", Kind: controller.Hold, Target: controller.Target{Kind: controller.At, To: 18}},
	}
	return fitted(t, s).foretold(controller.Ready)
}

// 50 h after pitching the curve of the desk has 14 points left; six are left after
// 64 h and 10.5 after 55 h (computed from fall).
func TestForecastOfEachCondition(t *testing.T) {
	ask := controller.Longest{For: 1000 * time.Hour, Then: controller.Ask}
	points := controller.Condition{Kind: controller.PointsLeft, Points: 6}
	dwell := controller.Condition{Kind: controller.Dwell, AtLeast: 100 * time.Hour}
	clean := controller.Condition{Kind: controller.Confirmed, Say: "clean"}
	both := func(k controller.ConditionKind, of ...controller.Condition) controller.Condition {
		return controller.Condition{Kind: k, Of: of}
	}
	for _, c := range []struct {
		name       string
		until      controller.Condition
		longest    controller.Longest
		from, to   time.Duration // of the middle
		person, no bool
	}{
		{"six points left", points, ask, 8 * time.Hour, 20 * time.Hour, false, false},
		{"gravity at most, six points above the end", controller.Condition{Kind: controller.GravityAtMost, Gravity: 1.016}, ask, 8 * time.Hour, 20 * time.Hour, false, false},
		{"attenuation that leaves six points", controller.Condition{Kind: controller.ApparentAttenuation, Attenuation: 36.0 / 52}, ask, 8 * time.Hour, 20 * time.Hour, false, false},
		{"gravity below the end never comes", controller.Condition{Kind: controller.GravityAtMost, Gravity: 1.002}, ask, 0, 0, false, true},
		{"what is left of a dwell", dwell, ask, 49 * time.Hour, 51 * time.Hour, false, false},
		{"the later of both", both(controller.All, points, dwell), ask, 49 * time.Hour, 51 * time.Hour, false, false},
		{"the earlier of two", both(controller.Any, points, dwell), ask, 8 * time.Hour, 20 * time.Hour, false, false},
		{"a person is reckoned as given at once, and it is said", both(controller.All, dwell, clean), ask, 49 * time.Hour, 51 * time.Hour, true, false},
		{"a person who may is not waited for", both(controller.Any, dwell, clean), ask, 49 * time.Hour, 51 * time.Hour, true, false},
		{"both where one cannot be told", both(controller.All, dwell, controller.Condition{Kind: controller.GravityAtMost, Gravity: 1.002}), ask, 0, 0, false, true},
		{"one of two where the other cannot be told", both(controller.Any, dwell, controller.Condition{Kind: controller.GravityAtMost, Gravity: 1.002}), ask, 49 * time.Hour, 51 * time.Hour, false, false},
		{"a limit that advances", controller.Condition{Kind: controller.GravityAtMost, Gravity: 1.002}, controller.Longest{For: 60 * time.Hour, Then: controller.Advance}, 9 * time.Hour, 11 * time.Hour, false, false},
	} {
		f, ok := ready(t, c.until, c.longest)
		if ok == c.no || ok && (f.Middle < c.from || f.Middle > c.to || f.Person != c.person) {
			t.Errorf("%s: %v %+v", c.name, ok, f)
		}
	}
}

func TestAForecastInWords(t *testing.T) {
	for want, f := range map[string]controller.Forecast{
		"diacetyl rest in 14 h (9 to 22 h)":                                          {Event: controller.RestBegins, Stage: "diacetyl rest", Early: 9 * time.Hour, Middle: 14 * time.Hour, Late: 22 * time.Hour},
		"terminal gravity in 3.5 d (3.0 to 5.0 d)":                                   {Event: controller.TerminalMet, Early: 3 * units.Day, Middle: 84 * time.Hour, Late: 5 * units.Day},
		"crash over in 20 h (19 to 30 h), if nobody is waited for":                   {Event: controller.Crashed, Stage: "crash", Early: 19 * time.Hour, Middle: 20 * time.Hour, Late: 30 * time.Hour, Person: true},
		"ready for the bright tank in 5.0 d (4.0 d to more than 14 d)":               {Event: controller.Ready, Stage: "cold hold", Early: 4 * units.Day, Middle: 5 * units.Day, Late: 15 * units.Day},
		"diacetyl rest in 40 h (20 h to more than 14 d)":                             {Event: controller.RestBegins, Stage: "diacetyl rest", Early: 20 * time.Hour, Middle: 40 * time.Hour, Late: 359 * time.Hour},
		"forecast: rest in 1 h (1 to 2 h); terminal gravity in 3.5 d (3.0 to 5.0 d)": {},
	} {
		got := f.String()
		if f.Event == "" {
			got = controller.Event{Kind: controller.ForecastMade, Forecasts: []controller.Forecast{
				{Event: controller.RestBegins, Stage: "rest", Early: time.Hour, Middle: time.Hour, Late: 2 * time.Hour},
				{Event: controller.TerminalMet, Early: 3 * units.Day, Middle: 84 * time.Hour, Late: 5 * units.Day},
			}}.String()
		}
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// A schedule that cools, warms and cools again says each milestone once: the crash
// is the last one, and terminal is ahead where a later stage asks for it.
func TestEachMilestoneIsForecastOnce(t *testing.T) {
	s := ale()
	warm := s.Stages[2]
	warm.Name, warm.Target, warm.Remind = "on the hops", controller.Target{Kind: controller.At, To: 18}, nil
	last := s.Stages[3]
	last.Name = "last crash"
	s.Stages = []controller.Stage{s.Stages[0], s.Stages[1], s.Stages[2], s.Stages[3], warm, last, s.Stages[4]}
	d := fitted(t, s)
	if got := d.milestones(); got != "rest terminal crashed ready" {
		t.Errorf("%q is forecast", got)
	}
	if f, _ := d.foretold(controller.Crashed); f.Stage != "last crash" {
		t.Errorf("the crash is %q", f.Stage)
	}
	d.v.SuckBack = controller.CO2Supply
	for _, stage := range []string{"diacetyl rest", "crash"} {
		d.must(controller.Verb{Kind: controller.AdvanceNow})
		d.at(stage)
	}
	if got := d.milestones(); got != "rest terminal crashed ready" { // the hops lie in a stage of kind rest
		t.Errorf("in the first crash %q is forecast", got)
	}
	d.must(controller.Verb{Kind: controller.AdvanceNow})
	d.must(controller.Verb{Kind: controller.Mark, Mark: controller.DryHop})
	if after, _ := d.foretold(controller.TerminalMet); after.Late < 7*units.Day || after.Middle > after.Late {
		t.Errorf("hops may creep for five days and a window of two follows: %+v", after)
	}
	d.must(controller.Verb{Kind: controller.AdvanceNow})
	if got := d.milestones(); got != "crashed ready" {
		t.Errorf("in the last crash %q is forecast", got)
	}
}
