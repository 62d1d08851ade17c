package controller_test

import (
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/units"
)

// byGravity is an ale whose primary waits for a gravity and not for points left,
// which count to where the yeast will really stop.
func byGravity(t *testing.T) *desk {
	t.Helper()
	s := ale()
	s.Stages[1].Until = condition{Kind: controller.GravityAtMost, Gravity: 1.012}
	d := on(t, s)
	d.must(verb(controller.PitchedNow))
	return d.wide()
}

// A beer that stops above its end: within twelve points the rest begins by
// itself, above that a person is asked.
func TestAStuckPrimary(t *testing.T) {
	for name, c := range map[string]struct {
		end  units.Gravity
		want string
	}{
		"eight points above the end the rest begins":    {1.018, "diacetyl rest"},
		"twenty points above the end a person is asked": {1.030, "primary"},
	} {
		t.Run(name, func(t *testing.T) {
			d := byGravity(t)
			d.sg = fall(c.end)
			d.until(300*time.Hour, func() bool { return d.happened(controller.StuckFound) > 0 })
			d.run(time.Hour)
			d.at(c.want)
			if !d.s.Alarms.Raised(alarms.Stuck) || d.happened(controller.StuckFound) != 1 {
				t.Errorf("alarm %v, told %d times", d.s.Alarms.Raised(alarms.Stuck), d.happened(controller.StuckFound))
			}
			// It ferments on: stuck no more.
			from := d.s.Batch.Since
			d.sg = func(since time.Duration) units.Gravity {
				return c.end.Plus(units.Points(-0.5 * (since - from).Hours()))
			}
			d.run(12 * time.Hour)
			if d.s.Alarms.Raised(alarms.Stuck) {
				t.Error("still stuck six points further down")
			}
		})
	}
}

// What the schedule says of a stuck beer is done, and not what is usual.
func TestAStuckBeerAsTheScheduleSays(t *testing.T) {
	for name, c := range map[string]struct {
		primary, rest controller.Then
		end           units.Gravity
		want          string
	}{
		"eight points above, the primary asks":          {controller.Ask, "", 1.018, "primary"},
		"eight points above, the primary advances":      {controller.Advance, "", 1.018, "diacetyl rest"},
		"twenty points above, the primary advances":     {controller.Advance, "", 1.030, "diacetyl rest"},
		"twenty points above, nothing is said":          {"", "", 1.030, "primary"},
		"the rest never advances into a crash":          {controller.Advance, controller.Advance, 1.018, "diacetyl rest"},
		"eight points above, the rest asks of its own":  {"", controller.Ask, 1.018, "diacetyl rest"},
		"twenty points above, only the rest would move": {"", controller.Advance, 1.030, "primary"},
	} {
		t.Run(name, func(t *testing.T) {
			s := ale()
			s.Stages[1].Until = condition{Kind: controller.GravityAtMost, Gravity: 1.012}
			s.Stages[1].Stuck, s.Stages[2].Stuck = c.primary, c.rest
			d := on(t, s)
			d.must(verb(controller.PitchedNow))
			d.wide().sg = fall(c.end)
			d.until(300*time.Hour, func() bool { return d.happened(controller.StuckFound) > 0 })
			d.run(80 * time.Hour)
			d.at(c.want)
			if !d.s.Alarms.Raised(alarms.Stuck) || d.happened(controller.StuckFound) != 1 {
				t.Errorf("alarm %v, told %d times", d.s.Alarms.Raised(alarms.Stuck), d.happened(controller.StuckFound))
			}
		})
	}
}

// A beer that is stuck in one stage does not run through every other: each has it
// for as long as it takes to find a beer stuck.
func TestAStuckBeerStaysAWhileInEachStage(t *testing.T) {
	s := ale()
	s.Stages[1].Until = condition{Kind: controller.GravityAtMost, Gravity: 1.012}
	warm := s.Stages[1]
	warm.Name, warm.Target.To, warm.Stuck = "warmer", 21, controller.Advance
	s.Stages[1].Stuck = controller.Advance
	s.Stages = append(s.Stages[:2:2], append([]controller.Stage{warm}, s.Stages[2:]...)...)
	d := on(t, s)
	d.must(verb(controller.PitchedNow))
	d.wide().sg = fall(1.024)
	d.until(300*time.Hour, func() bool { return d.out.Decision.Stage == "warmer" })
	d.run(35 * time.Hour)
	d.at("warmer")
	d.run(2 * time.Hour)
	d.at("diacetyl rest")
	for _, e := range d.log {
		if e.Kind == controller.StageEntered && e.Stage != "fill" && e.Stage != "primary" && e.Reason.Code != controller.CodeStuckAdvance {
			t.Errorf("%s began because %s", e.Stage, e.Reason)
		}
	}
	// And a pause, or a lost thermometer, holds it as it holds everything.
	p := on(t, s)
	p.must(verb(controller.PitchedNow))
	p.wide().sg = fall(1.024)
	p.must(verb(controller.Pause))
	p.run(200 * time.Hour)
	p.at("primary")
}

// Who returns a stuck beer to its primary wants it there.
func TestAReturnedStuckBeerIsNotMovedOnAtOnce(t *testing.T) {
	d := byGravity(t)
	d.sg = fall(1.018)
	d.until(300*time.Hour, func() bool { return d.out.Decision.Stage == "diacetyl rest" })
	d.must(controller.Verb{Kind: controller.Return, Stage: "primary"})
	d.run(24 * time.Hour)
	d.at("primary")
	d.until(20*time.Hour, func() bool { return d.out.Decision.Stage == "diacetyl rest" })
}

func TestAPrimaryWithoutGravity(t *testing.T) {
	for name, c := range map[string]struct {
		silent time.Duration // after pitching
		before func(*desk)
		want   string
	}{
		"the late forecast is waited for, then the rest begins": {40 * time.Hour, func(*desk) {}, "diacetyl rest"},
		"a pause holds the stage":                               {40 * time.Hour, func(d *desk) { d.must(verb(controller.Pause)) }, "primary"},
		"without any forecast a person is asked":                {2 * time.Hour, func(*desk) {}, "primary"},
	} {
		t.Run(name, func(t *testing.T) {
			d := brewing(t).wide()
			d.sg = fall(1.010)
			d.run(c.silent)
			d.sg = nil
			d.run(20 * time.Hour)
			d.at("primary")
			c.before(d)
			d.run(80 * time.Hour)
			d.at(c.want)
			if n := d.happened(controller.GravityLost); n != 1 {
				t.Errorf("told %d times", n)
			}
		})
	}
}

// Ale begins within 18 to 30 h, lager within 30 to 48 h (common practice).
func TestAFermentationThatDoesNotBegin(t *testing.T) {
	for name, c := range map[string]struct {
		at          units.Celsius
		slow, alarm time.Duration
	}{"an ale": {19, 18 * time.Hour, 30 * time.Hour}, "a lager": {10, 30 * time.Hour, 48 * time.Hour}} {
		t.Run(name, func(t *testing.T) {
			s := two(condition{Kind: controller.PointsLeft, Points: 6})
			s.Stages[0].Target.To = c.at
			d := on(t, s)
			d.beer = c.at
			d.sg = func(time.Duration) units.Gravity { return 1.052 }
			d.run(c.slow - time.Hour)
			if d.s.Alarms.Raised(alarms.SlowStart) {
				t.Errorf("slow within %v", c.slow)
			}
			d.run(2 * time.Hour)
			if d.s.Alarms.Raised(alarms.SlowStart) {
				t.Error("the hydrometer was given no time to show a fall")
			}
			d.run(6 * time.Hour)
			if !d.s.Alarms.Raised(alarms.SlowStart) || d.s.Alarms.Raised(alarms.NotStarted) {
				t.Errorf("after %v: slow %v, not started %v", c.slow, d.s.Alarms.Raised(alarms.SlowStart), d.s.Alarms.Raised(alarms.NotStarted))
			}
			d.run(c.alarm - c.slow - 8*time.Hour)
			if d.happened(controller.NotStarted) != 0 {
				t.Errorf("told within %v", c.alarm)
			}
			d.run(2 * time.Hour)
			if d.happened(controller.NotStarted) != 1 || !d.s.Alarms.Raised(alarms.NotStarted) {
				t.Errorf("told %d times after %v", d.happened(controller.NotStarted), c.alarm)
			}
			d.run(2 * time.Hour) // the alarm of the lower level is over by then
			if d.s.Alarms.Raised(alarms.SlowStart) {
				t.Error("slow and not started stand together")
			}
			raised := 0
			for _, e := range d.log {
				if e.Kind == controller.AlarmRaised && e.Alarm == string(alarms.SlowStart) {
					raised++
				}
			}
			if raised != 1 {
				t.Errorf("slow-start was raised %d times", raised)
			}
			d.sg = func(time.Duration) units.Gravity { return 1.048 }
			d.run(8 * time.Hour)
			if d.s.Alarms.Raised(alarms.NotStarted) {
				t.Error("not begun after a fall of four points")
			}
		})
	}
}

func TestReminders(t *testing.T) {
	s := ale()
	s.Stages[1].Remind = []controller.Reminder{
		{When: controller.RemindAfter, By: 24 * time.Hour, Say: "look at the blow-off"},
		{When: controller.RemindPoints, Points: 20, Say: "dry hops from the cold store"},
		{When: controller.RemindBefore, Stage: "diacetyl rest", By: 6 * time.Hour, Say: "switch the heating mat on"},
		{When: controller.RemindBefore, Stage: "crash", By: 1000 * time.Hour, Say: "not the next stage: never here"},
		{When: "whenever", Say: "nobody knows when: never"},
	}
	d := on(t, s)
	d.v.SuckBack = controller.CO2Supply
	d.must(verb(controller.PitchedNow))
	d.sg = fall(1.010)
	when := map[string]time.Duration{}
	left := map[string]units.Points{}
	for d.s.Age < 15*24*time.Hour && d.out.Decision.Kind != controller.Crash {
		if d.step(); d.out.Decision.Kind == controller.Rest {
			d.beer = 20.8
		}
		for _, e := range d.out.Events {
			if e.Kind == controller.ReminderDue {
				if _, twice := when[e.Say]; twice {
					t.Errorf("%q twice", e.Say)
				}
				when[e.Say], left[e.Say] = d.s.Stage.In, d.out.Decision.Gravity.Left
			}
		}
	}
	d.at("crash")
	if got := when["look at the blow-off"]; got != 24*time.Hour {
		t.Errorf("after a day: after %v", got)
	}
	if got := left["dry hops from the cold store"]; got > 20 || got < 17 {
		t.Errorf("with twenty points left: with %v", got)
	}
	if got := left["switch the heating mat on"]; got < 5 || got > 14 {
		t.Errorf("six hours before six points are left: with %v left", got)
	}
	if _, ok := when["CO2 bottle on"]; !ok || len(when) != 4 {
		t.Errorf("%v", when)
	}
}

// What is nearest to its end says when the stage may end: all waits for the last,
// any for the first.
func TestRemindersLookThroughConditions(t *testing.T) {
	long, short := condition{Kind: controller.Dwell, AtLeast: 100 * time.Hour}, condition{Kind: controller.Dwell, AtLeast: 40 * time.Hour}
	for name, c := range map[string]struct {
		until condition
		want  time.Duration // ten hours before this
	}{
		"a time":                  {short, 40 * time.Hour},
		"all of two times":        {condition{Kind: controller.All, Of: []condition{short, long}}, 100 * time.Hour},
		"any of two times":        {condition{Kind: controller.Any, Of: []condition{long, short}}, 40 * time.Hour},
		"a time and a person":     {condition{Kind: controller.All, Of: []condition{short, {Kind: controller.Confirmed, Say: "x"}}}, 40 * time.Hour},
		"a time or a temperature": {condition{Kind: controller.Any, Of: []condition{short, {Kind: controller.BeerAt, Beer: 25}}}, 10 * time.Hour},
		"a gravity may come within a day": {condition{Kind: controller.Any, Of: []condition{
			{Kind: controller.GravityAtMost, Gravity: 1}, {Kind: controller.ApparentAttenuation, Attenuation: 0.9}, {Kind: controller.PointsLeft, Points: 1}, long,
		}}, 100 * time.Hour},
	} {
		t.Run(name, func(t *testing.T) {
			s := two(c.until)
			s.Stages[0].Remind = []controller.Reminder{{When: controller.RemindBefore, Stage: "last", By: 10 * time.Hour, Say: "soon"}}
			d := on(t, s)
			d.until(100*time.Hour, func() bool { return d.happened(controller.ReminderDue) > 0 })
			if got, want := d.s.Stage.In, c.want-10*time.Hour; got < want || got > want+12*time.Minute { // looked at every ten minutes
				t.Errorf("after %v, want %v", got, want)
			}
		})
	}
}

// A fermentation that begins between the two levels is warned of once, and the
// warning goes by itself.
func TestAFermentationThatBeginsLate(t *testing.T) {
	d := on(t, two(condition{Kind: controller.PointsLeft, Points: 6}))
	d.sg = func(since time.Duration) units.Gravity {
		return units.Gravity(1.052).Plus(units.Points(-max(0, since.Hours()-24) * 0.8))
	}
	d.until(25*time.Hour, func() bool { return d.s.Alarms.Raised(alarms.SlowStart) })
	d.until(12*time.Hour, func() bool { return !d.s.Alarms.Raised(alarms.SlowStart) })
	if d.happened(controller.NotStarted) != 0 || d.s.Alarms.Raised(alarms.NotStarted) {
		t.Error("it counts as not started")
	}
}
