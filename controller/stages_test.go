package controller_test

import (
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/alarms"
)

type condition = controller.Condition

// Every kind of condition: it does not hold before its time, then it does, and
// the reason says why in words.
func TestConditions(t *testing.T) {
	dwell := condition{Kind: controller.Dwell, AtLeast: 3 * time.Hour}
	confirmed := condition{Kind: controller.Confirmed, Say: "tastes clean"}
	waitAWhile := func(d *desk) { d.run(4 * time.Hour) }
	confirm := func(d *desk) { d.must(verb(controller.Confirm)) }
	for name, c := range map[string]struct {
		until  condition
		before func(*desk) // after it the stage must still be the first
		then   func(*desk) // after it the last
		code   controller.Code
	}{
		"points left": {
			condition{Kind: controller.PointsLeft, Points: 6},
			func(d *desk) { d.run(40 * time.Hour) },
			func(d *desk) { d.run(50 * time.Hour) }, controller.CodePointsLeft,
		},
		"apparent attenuation": {
			condition{Kind: controller.ApparentAttenuation, Attenuation: 0.5},
			func(d *desk) { d.run(40 * time.Hour) },
			func(d *desk) { d.run(50 * time.Hour) }, controller.CodeAttenuation,
		},
		"gravity at most": {
			condition{Kind: controller.GravityAtMost, Gravity: 1.020},
			func(d *desk) { d.run(40 * time.Hour) },
			func(d *desk) { d.run(50 * time.Hour) }, controller.CodeGravityAtMost,
		},
		"terminal": {
			condition{Kind: controller.Terminal, Points: 1, Over: 48 * time.Hour},
			func(d *desk) { d.run(100 * time.Hour) },
			func(d *desk) { d.run(100 * time.Hour) }, controller.CodeTerminalMet,
		},
		"a time": {
			dwell, func(d *desk) { d.run(3*time.Hour - 3*time.Minute) },
			func(d *desk) { d.run(5 * time.Minute) }, controller.CodeDwell,
		},
		"a time above a temperature": {
			condition{Kind: controller.Dwell, AtLeast: 3 * time.Hour, HasBeerAbove: true, Beer: 20},
			func(d *desk) {
				d.beer = 20.5
				d.run(2 * time.Hour)
				d.beer = 20
				d.run(10 * time.Hour) // does not count, and takes nothing away
			},
			func(d *desk) { d.beer = 20.5; d.run(65 * time.Minute) }, controller.CodeDwell,
		},
		"the beer at a temperature": {
			condition{Kind: controller.BeerAt, Beer: 20},
			func(d *desk) {
				d.beer = 19.69
				d.run(2 * time.Hour)
				d.beer = 19.8
				d.run(25 * time.Minute)
				d.beer = 19.5 // begins anew
				d.step()
				d.beer = 20.2
				d.run(25 * time.Minute)
			},
			func(d *desk) { d.run(6 * time.Minute) }, controller.CodeBeerAt,
		},
		"a person": {confirmed, waitAWhile, confirm, controller.CodeConfirmed},
		"all of two, the person last": {
			condition{Kind: controller.All, Of: []condition{dwell, confirmed}},
			waitAWhile, confirm, controller.CodeConfirmed,
		},
		"all of two, the person first": {
			condition{Kind: controller.All, Of: []condition{dwell, confirmed}},
			confirm, waitAWhile, controller.CodeDwell,
		},
		"any of two by the person": {
			condition{Kind: controller.Any, Of: []condition{dwell, confirmed}},
			func(*desk) {}, confirm, controller.CodeConfirmed,
		},
		"any of two by the time": {
			condition{Kind: controller.Any, Of: []condition{confirmed, dwell}},
			func(*desk) {}, waitAWhile, controller.CodeDwell,
		},
		"one inside the other": {
			condition{Kind: controller.All, Of: []condition{
				{Kind: controller.Any, Of: []condition{{Kind: controller.BeerAt, Beer: 25}, dwell}}, confirmed,
			}},
			waitAWhile, confirm, controller.CodeConfirmed,
		},
		"nested, whose first branch never holds": {
			condition{Kind: controller.Any, Of: []condition{
				{Kind: controller.All, Of: []condition{{Kind: controller.BeerAt, Beer: 25}, dwell}}, confirmed,
			}},
			waitAWhile, confirm, controller.CodeConfirmed,
		},
	} {
		t.Run(name, func(t *testing.T) {
			d := on(t, two(c.until))
			d.sg = fall(1.010)
			c.before(d)
			d.at("first")
			c.then(d)
			d.at("last")
			for _, e := range d.log {
				if e.Kind == controller.StageEntered && e.Stage == "last" && e.Reason.Code != c.code {
					t.Errorf("ended by %s: %v, want %s", e.Reason.Code, e.Reason, c.code)
				}
			}
		})
	}
}

func TestConditionsThatNeverHold(t *testing.T) {
	for name, until := range map[string]condition{
		"all of nothing": {Kind: controller.All}, "any of nothing": {Kind: controller.Any}, "never": {},
		"all, one of them never": {Kind: controller.All, Of: []condition{{}, {Kind: controller.Dwell}}},
	} {
		d := on(t, two(until))
		d.run(12 * time.Hour)
		if d.out.Decision.Stage != "first" {
			t.Errorf("%s: ended", name)
		}
	}
}

func TestGravityCountsFromPitching(t *testing.T) {
	s := ale() // begins with a fill
	s.Stages[0].Until = condition{Kind: controller.Any, Of: []condition{
		{Kind: controller.PointsLeft, Points: 60}, {Kind: controller.GravityAtMost, Gravity: 1.06}, {Kind: controller.ApparentAttenuation}, {Kind: controller.Terminal, Points: 5, Over: 6 * time.Hour},
	}}
	d := on(t, s)
	d.sg = fall(1.010)
	d.run(20 * time.Hour)
	d.at("fill")
	d.must(verb(controller.PitchedNow))
	d.run(5 * time.Hour)
	d.at("primary")
}

// Asks and MustBe are what the checker and the crash go by.
func TestWhatAConditionAsks(t *testing.T) {
	terminal, confirmed, dwell := condition{Kind: controller.Terminal}, condition{Kind: controller.Confirmed}, condition{Kind: controller.Dwell}
	all := func(of ...condition) condition { return condition{Kind: controller.All, Of: of} }
	either := func(of ...condition) condition { return condition{Kind: controller.Any, Of: of} }
	for name, c := range map[string]struct {
		c            condition
		asks, mustBe bool
	}{
		"terminal alone":                      {terminal, true, true},
		"a person alone":                      {confirmed, false, true},
		"the clock alone":                     {dwell, false, false},
		"never":                               {condition{}, false, false},
		"all with terminal":                   {all(dwell, terminal), true, true},
		"all of the clock":                    {all(dwell, dwell), false, false},
		"any with a way around":               {either(terminal, dwell), true, false},
		"any of terminal and a person":        {either(terminal, confirmed), true, true},
		"any of nothing":                      {either(), false, false},
		"all around an any with a way around": {all(either(terminal, dwell), dwell), true, false},
		"all around an any without":           {all(either(terminal, confirmed), dwell), true, true},
		"any of alls, each with one":          {either(all(dwell, terminal), all(confirmed)), true, true},
	} {
		if got := c.c.Asks(controller.Terminal); got != c.asks {
			t.Errorf("%s: asks for terminal: %v", name, got)
		}
		if got := c.c.MustBe(controller.Terminal, controller.Confirmed); got != c.mustBe {
			t.Errorf("%s: must be terminal or confirmed: %v", name, got)
		}
	}
}

func TestLongest(t *testing.T) {
	for name, c := range map[string]struct {
		then   controller.Then
		next   controller.Kind
		before func(*desk)
		want   string
	}{
		"ask only raises the alarm":          {controller.Ask, controller.Hold, func(*desk) {}, "first"},
		"advance moves on":                   {controller.Advance, controller.Hold, func(*desk) {}, "last"},
		"advance never moves into a crash":   {controller.Advance, controller.Crash, func(*desk) {}, "first"},
		"advance waits for the pause's end":  {controller.Advance, controller.Hold, func(d *desk) { d.must(verb(controller.Pause)) }, "first"},
		"advance waits for the beer's probe": {controller.Advance, controller.Hold, func(d *desk) { d.mute = true }, "first"},
	} {
		t.Run(name, func(t *testing.T) {
			s := two(condition{Kind: controller.BeerAt, Beer: 25})
			s.Stages[0].Longest = controller.Longest{For: 10 * time.Hour, Then: c.then}
			s.Stages[1].Kind = c.next
			d := on(t, s)
			d.v.SuckBack = controller.CO2Supply
			d.run(9 * time.Hour)
			c.before(d)
			d.run(2 * time.Hour)
			d.at(c.want)
			if raised := d.s.Alarms.Raised(alarms.StageTooLong); raised != (c.want == "first") {
				t.Errorf("alarm %v", raised)
			}
		})
	}
}

func TestALongerLimitThatIsAdoptedEndsTheAlarm(t *testing.T) {
	s := two(condition{Kind: controller.BeerAt, Beer: 25})
	s.Stages[0].Longest = controller.Longest{For: 10 * time.Hour, Then: controller.Ask}
	d := on(t, s)
	d.run(11 * time.Hour)
	longer := two(s.Stages[0].Until)
	d.must(controller.Verb{Kind: controller.Adopt, Schedule: longer})
	d.run(10 * time.Minute)
	if d.s.Alarms.Raised(alarms.StageTooLong) {
		t.Error("the stage is too long by a schedule that is not its own any more")
	}
}

func TestDefaultLimitsAskAndNeverMove(t *testing.T) {
	for _, k := range append(controller.Kinds(), "lunch") {
		if l := controller.DefaultLongest(k); l.For <= 0 || l.Then != controller.Ask {
			t.Errorf("%s: %+v", k, l)
		}
	}
	if a, b := controller.DefaultLongest(controller.Fill).For, controller.DefaultLongest(controller.Primary).For; a >= b {
		t.Errorf("wort may stand without yeast for %v, ferment for %v", a, b)
	}
}

func TestAPauseHoldsTheStageAndTheTemperature(t *testing.T) {
	d := on(t, two(condition{Kind: controller.Dwell, AtLeast: time.Hour}))
	d.must(verb(controller.Pause))
	d.beer = 17
	d.drift(5*time.Hour, 0.1)
	d.at("first")
	if !d.out.Outputs.Heat || !d.out.Decision.Paused || !d.reason(controller.CodeStagePaused) {
		t.Errorf("heat %v, %v", d.out.Outputs.Heat, d.said())
	}
	d.must(verb(controller.Resume))
	d.step()
	d.at("last")
}

func TestMarksVoidWhatWasFoundInTheStage(t *testing.T) {
	s := two(condition{Kind: controller.All, Of: []condition{
		{Kind: controller.Confirmed, Say: "clean"}, {Kind: controller.GravityAtMost, Gravity: 1.020}, {Kind: controller.Dwell, AtLeast: 200 * time.Hour},
	}})
	for _, m := range controller.MarkKinds() {
		d := on(t, s).wide()
		d.sg = fall(1.010)
		d.run(90 * time.Hour)
		d.must(verb(controller.Confirm))
		d.step()
		if !d.s.Stage.Leaves[0].Met || !d.s.Stage.Leaves[1].Met {
			t.Fatalf("not met before the mark: %+v", d.s.Stage.Leaves)
		}
		held := d.s.Stage.Leaves[2].Held
		d.must(controller.Verb{Kind: controller.Mark, Mark: m})
		if d.s.Stage.Leaves[0].Met || d.s.Stage.Leaves[1].Met || d.s.Stage.Leaves[2].Held < held {
			t.Errorf("%s: %+v", m, d.s.Stage.Leaves)
		}
	}
}

func TestAReturnHasToBeEarnedAgain(t *testing.T) {
	s := ale()
	s.Stages[2].Until = condition{Kind: controller.All, Of: []condition{{Kind: controller.Terminal, Points: 1, Over: 48 * time.Hour}, {Kind: controller.Confirmed, Say: "clean"}}}
	d := on(t, s)
	d.must(verb(controller.PitchedNow))
	d.sg = fall(1.010)
	d.until(200*time.Hour, func() bool { return d.out.Decision.Stage == "diacetyl rest" })
	d.must(verb(controller.Confirm))
	d.until(200*time.Hour, func() bool { return d.s.Stage.Waits })
	if d.happened(controller.StageWaits) != 1 || d.out.Decision.NeedsWhat != "arm" || !d.s.Alarms.Raised(alarms.NeedsArming) {
		t.Errorf("told %d times, needs %q", d.happened(controller.StageWaits), d.out.Decision.NeedsWhat)
	}
	d.must(verb(controller.Arm))
	d.step()
	d.at("crash")
	d.must(controller.Verb{Kind: controller.Return, Stage: "diacetyl rest"})
	d.must(verb(controller.Confirm))
	d.run(40 * time.Hour)
	d.at("diacetyl rest")
	if d.s.Stage.Waits || d.s.Batch.Armed {
		t.Error("terminal or armed without being earned again")
	}
	d.until(20*time.Hour, func() bool { return d.s.Stage.Waits })
	if d.happened(controller.TerminalReached) != 2 {
		t.Errorf("terminal was told %d times", d.happened(controller.TerminalReached))
	}
	d.run(10 * time.Hour)
	d.at("diacetyl rest") // until it is armed again
}

func TestAdopting(t *testing.T) {
	d := brewing(t)
	d.run(time.Hour)
	other := ale()
	other.Name = "warmer"
	other.Stages = append([]controller.Stage{{Name: "extra", Kind: controller.Fill, Until: condition{Kind: controller.Pitched}}}, other.Stages...)
	other.Stages[2].Target.To = 21
	in := d.s.Stage.In
	d.must(controller.Verb{Kind: controller.Adopt, Schedule: other})
	d.step()
	if d.s.Stage.Index != 2 || d.out.Decision.Stage != "primary" || d.out.Decision.Target != 21 || d.s.Stage.In < in {
		t.Errorf("%+v, target %v", d.s.Stage, d.out.Decision.Target)
	}
	gone := ale()
	gone.Stages = gone.Stages[2:]
	if a := d.tell(controller.Verb{Kind: controller.Adopt, Schedule: gone}); a.Taken || a.Reason.Code != controller.CodeStageGone {
		t.Errorf("a schedule without the present stage: %v, %v", a.Taken, a.Reason)
	}
	d.step()
	if d.v.Schedule.Name != "warmer" {
		t.Errorf("runs %q", d.v.Schedule.Name)
	}
}
