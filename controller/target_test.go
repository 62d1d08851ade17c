package controller_test

import (
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/units"
)

// led is a desk whose first stage has that target and never ends by itself.
func led(t *testing.T, k controller.Kind, to controller.Target, beer units.Celsius) *desk {
	t.Helper()
	s := two(condition{Kind: controller.Confirmed, Say: "enough"})
	s.Stages[0].Target, s.Stages[0].Kind = to, k
	s.Stages[1].Target.To = 5
	d := sit(t)
	d.beer = beer
	d.must(start(s))
	return d
}

// drift lets time pass while the beer moves at a rate in kelvins an hour.
func (d *desk) drift(t time.Duration, rate float64) {
	d.t.Helper()
	for end := d.s.Age + t; d.s.Age < end; d.step() {
		d.beer = d.beer.Plus(units.Kelvins(rate * d.dt.Hours()))
	}
}

func TestARampStartsAtTheBeer(t *testing.T) {
	for name, c := range map[string]struct {
		beer, to units.Celsius
		rate     units.KelvinsPerHour
		drift    float64
		after    time.Duration
		want     units.Celsius
	}{
		"down from where the beer is":              {21.4, 1, 1, -1, 4 * time.Hour, 17.4},
		"up from where the beer is":                {9.2, 18, 0.5, 0.5, 4 * time.Hour, 11.2},
		"it waits for a beer that does not follow": {20, 1, 1, 0, 10 * time.Hour, 19},
		"upward it waits as well":                  {10, 18, 1, 0, 10 * time.Hour, 11},
		"it waits at the pace of the beer":         {20, 1, 4, -0.5, 10 * time.Hour, 14},
		"it goes at half its rate below 4 C":       {5, 1, 1, -1, 3 * time.Hour, 3},
		"it arrives and stays":                     {4, 1, 1, -1, 6 * time.Hour, 1},
	} {
		t.Run(name, func(t *testing.T) {
			d := led(t, controller.Primary, controller.Target{Kind: controller.Ramp, To: c.to, Rate: c.rate}, c.beer)
			if got := d.out.Decision.Target; got.Minus(c.beer) > 0.1 || got.Minus(c.beer) < -0.1 {
				t.Errorf("begins at %v, the beer has %v", got, c.beer)
			}
			d.drift(c.after, c.drift)
			if got := d.out.Decision.Target.Minus(c.want); got > 0.1 || got < -0.1 {
				t.Errorf("the ramp is at %v, want %v", d.out.Decision.Target, c.want)
			}
		})
	}
}

func TestARampDownDoesNotHeat(t *testing.T) {
	d := led(t, controller.Crash, controller.Target{Kind: controller.Ramp, To: 1, Rate: 1}, 18)
	d.drift(6*time.Hour, -2.5) // the beer is far ahead of its ramp
	if d.out.Decision.Want.Heat {
		t.Errorf("heats against its own crash: %v", d.said())
	}
	d.drift(20*time.Hour, 0)
	d.beer = 0.3 // undershoot at the end
	d.run(3 * time.Hour)
	if d.out.Decision.Target != 1 {
		t.Fatalf("the ramp has not arrived: %v", d.out.Decision.Target)
	}
	if d.out.Decision.Want.Heat {
		t.Errorf("heats against the undershoot: %v", d.said())
	}
	d.drift(10*time.Minute, -5)
	d.run(30 * time.Minute)
	if !d.out.Outputs.Heat {
		t.Errorf("does not heat 1.5 K below the end of its crash: beer %v, %v", d.beer, d.said())
	}
}

func TestAFreeRise(t *testing.T) {
	rise := func(after time.Duration) controller.Target {
		return controller.Target{Kind: controller.FreeRise, To: 21, HeatAfter: after}
	}
	t.Run("below the cap nothing cools, above it cooling runs", func(t *testing.T) {
		d := led(t, controller.Rest, rise(0), 18)
		d.sg = func(time.Duration) units.Gravity { return 1.030 } // much heat to come
		for range 12 * 60 {
			d.beer = d.beer.Plus(0.25 / 60)
			if d.step(); d.beer < 21 && d.out.Decision.Want.Cool {
				t.Fatalf("cools at %v", d.beer)
			}
		}
		d.drift(3*time.Hour, 0.25)
		if !d.out.Outputs.Cool {
			t.Errorf("does not cool at %v: %v", d.beer, d.said())
		}
	})
	t.Run("the beer does not fall more than 0.3 K below its entry", func(t *testing.T) {
		d := led(t, controller.Rest, rise(8*time.Hour), 18)
		d.sg = func(time.Duration) units.Gravity { return 1.040 } // the yeast could do it alone
		d.run(2 * time.Hour)
		if d.out.Decision.Want.Heat {
			t.Fatalf("heats though the yeast can: %v", d.said())
		}
		d.drift(2*time.Hour, -0.14)
		if !d.out.Decision.Want.Heat {
			t.Errorf("no heat at %v, entered at 18 C: %v", d.beer, d.said())
		}
	})
	t.Run("heat helps after its time", func(t *testing.T) {
		d := led(t, controller.Rest, rise(8*time.Hour), 18)
		d.sg = func(time.Duration) units.Gravity { return 1.040 }
		d.run(8*time.Hour - 5*time.Minute)
		if d.out.Decision.Want.Heat {
			t.Fatalf("heats before its time: %v", d.said())
		}
		if d.run(10 * time.Minute); !d.out.Decision.Want.Heat {
			t.Errorf("no heat after its time: %v", d.said())
		}
	})
	t.Run("heat helps at once when the yeast cannot do it", func(t *testing.T) {
		d := led(t, controller.Rest, rise(100*time.Hour), 18)
		d.sg = func(time.Duration) units.Gravity { return 1.015 } // 5 points: 1.5 K of the 3 K
		d.run(2 * time.Hour)
		if !d.out.Decision.Want.Heat {
			t.Errorf("no heat: %v", d.said())
		}
	})
	t.Run("without a gravity heat waits for its time", func(t *testing.T) {
		d := led(t, controller.Rest, rise(8*time.Hour), 18)
		if d.run(7 * time.Hour); d.out.Decision.Want.Heat {
			t.Errorf("heats: %v", d.said())
		}
	})
	t.Run("without a gravity and a time heat helps at once", func(t *testing.T) {
		d := led(t, controller.Rest, rise(0), 18)
		if d.run(time.Hour); !d.out.Decision.Want.Heat {
			t.Errorf("no heat: %v", d.said())
		}
	})
	t.Run("without a beer temperature nothing is aimed at", func(t *testing.T) {
		d := sit(t)
		d.mute = true
		s := two(condition{Kind: controller.Confirmed, Say: "enough"})
		s.Stages[0].Target = rise(0)
		d.must(start(s))
		d.step()
		if d.out.Decision.HasTarget || d.out.Outputs != (controller.Outputs{}) {
			t.Errorf("%+v", d.out.Decision)
		}
		s.Stages[0].Target = controller.Target{Kind: controller.Ramp, To: 1, Rate: 1}
		if d.step(); d.out.Decision.HasTarget {
			t.Error("a ramp begins without a beer")
		}
	})
}

func TestAnotherTargetLastsToTheEndOfTheStage(t *testing.T) {
	d := led(t, controller.Primary, controller.Target{Kind: controller.Ramp, To: 12, Rate: 1}, 18)
	d.must(target(20))
	d.run(10 * time.Hour)
	if d.out.Decision.Target != 20 {
		t.Errorf("target %v", d.out.Decision.Target)
	}
	d.must(verb(controller.Confirm))
	if d.step(); d.out.Decision.Target != 5 {
		t.Errorf("target %v in the next stage", d.out.Decision.Target)
	}
	d.must(target(6))
	d.must(verb(controller.EndCold))
	d.step()
	if d.s.Mode != controller.PreChill || d.out.Decision.Target != 6 || d.s.Batch.ID != "" {
		t.Errorf("ended cold: mode %s, target %v", d.s.Mode, d.out.Decision.Target)
	}
	d.must(target(4))
	if d.step(); d.out.Decision.Target != 4 {
		t.Errorf("target %v", d.out.Decision.Target)
	}
}

func TestATargetOutsideTheLimitsIsHeldAtTheLimit(t *testing.T) {
	d := brewing(t)
	d.v.Limits.Highest = 15 // the site was edited meanwhile
	d.step()
	if d.out.Decision.Target != 15 || !d.s.Alarms.Raised(alarms.OutsideLimits) {
		t.Errorf("target %v, alarm %v", d.out.Decision.Target, d.s.Alarms.Raised(alarms.OutsideLimits))
	}
}

func TestCleaningLocksBothRelays(t *testing.T) {
	d := sit(t)
	d.must(controller.Verb{Kind: controller.SetMode, Mode: controller.PreChill, Celsius: 10})
	d.run(30 * time.Minute)
	if !d.out.Outputs.Cool {
		t.Fatalf("no cooling at the start: %v", d.said())
	}
	d.must(controller.Verb{Kind: controller.SetMode, Mode: controller.Cleaning, For: 2 * time.Hour})
	for range 118 {
		if d.out.Outputs != (controller.Outputs{}) || !d.reason(controller.CodeCleaningLock) {
			t.Fatalf("%+v, %v", d.out.Outputs, d.said())
		}
		d.step()
	}
	if d.s.Alarms.Raised(alarms.CleaningTooLong) {
		t.Error("too long before its time")
	}
	d.run(5 * time.Minute)
	if !d.s.Alarms.Raised(alarms.CleaningTooLong) || d.out.Outputs != (controller.Outputs{}) {
		t.Error("nobody asks whether the vessel is forgotten, or a relay is on")
	}
	for asked, want := range map[time.Duration]time.Duration{0: 4 * time.Hour, -time.Hour: 4 * time.Hour, 30 * units.Day: 4 * time.Hour, 6 * units.Day: 6 * units.Day} {
		d.must(controller.Verb{Kind: controller.SetMode, Mode: controller.Cleaning, For: asked})
		if got := d.s.Hold.Left; got > want || got < want-2*time.Minute {
			t.Errorf("asked for %v: %v", asked, got)
		}
	}
	d.must(mode(controller.Idle))
	if d.step(); !d.reason(controller.CodeIdle) || d.out.Outputs != (controller.Outputs{}) {
		t.Errorf("%v", d.said())
	}
}

func TestABeerFarFromItsTargetIsAnAlarmAfterADay(t *testing.T) {
	for want, off := range map[alarms.ID]units.Celsius{alarms.BeerTooWarm: 21, alarms.BeerTooCold: 17} {
		d := brewing(t)
		d.beer = off
		d.run(24 * time.Hour)
		if d.s.Alarms.Raised(want) {
			t.Errorf("%s while the stage settles", want)
		}
		d.run(40 * time.Minute)
		if !d.s.Alarms.Raised(want) {
			t.Errorf("no %s, the beer is 2 K off", want)
		}
	}
}

func TestAnAlarmCanBeShelvedAndNotSwitchedOff(t *testing.T) {
	d := brewing(t)
	d.mute = true
	d.run(10 * time.Minute)
	for _, c := range []struct {
		d     time.Duration
		taken bool
	}{{13 * time.Hour, false}, {0, false}, {-time.Hour, false}, {12 * time.Hour, true}} {
		if a := d.tell(controller.Verb{Kind: controller.Shelve, Alarm: "probe-lost", For: c.d}); a.Taken != c.taken {
			t.Errorf("for %v: taken %v", c.d, a.Taken)
		}
	}
	if d.happened(controller.AlarmAnswered) != 1 || d.s.Alarms.List[0].Shelved == 0 {
		t.Errorf("%+v", d.s.Alarms)
	}
}

// phaseOf is where an alarm of the desk is.
func phaseOf(d *desk, id alarms.ID) alarms.Phase {
	for _, e := range d.s.Alarms.List {
		if e.ID == id {
			return e.Phase
		}
	}
	return ""
}

func TestADistanceThatIsMeantCallsNobody(t *testing.T) {
	for name, c := range map[string]struct {
		stage string
		beer  func(*desk)
		id    alarms.ID
		after time.Duration
		want  alarms.Phase
	}{
		"a free rise that is being helped up is not too cold": {"diacetyl rest", func(d *desk) { d.beer = 18.2 }, alarms.BeerTooCold, 40 * time.Hour, ""},
		"a free rise that falls asleep is":                    {"diacetyl rest", func(d *desk) { d.beer = 15 }, alarms.BeerTooCold, 40 * time.Hour, alarms.Unanswered},
		"a free rise beyond its cap is too warm":              {"diacetyl rest", func(d *desk) { d.beer = 23 }, alarms.BeerTooWarm, 40 * time.Hour, alarms.Unanswered},
		"a beer that trails its ramp is watched only":         {"crash", func(d *desk) { d.beer = 20 }, alarms.BeerTooWarm, 40 * time.Hour, alarms.Suppressed},
		"a new stage settles":                                 {"cold hold", func(d *desk) { d.beer = 15 }, alarms.BeerTooWarm, 10 * time.Hour, alarms.Suppressed},
		"and then it is too warm":                             {"cold hold", func(d *desk) { d.beer = 15 }, alarms.BeerTooWarm, 25 * time.Hour, alarms.Unanswered},
	} {
		t.Run(name, func(t *testing.T) {
			d := brewing(t).wide()
			for d.out.Decision.Stage != c.stage {
				d.must(verb(controller.AdvanceNow))
			}
			d.run(time.Hour) // the beer at entry is known
			c.beer(d)
			d.run(c.after)
			if got := phaseOf(d, c.id); got != c.want {
				t.Errorf("%s is %q, want %q", c.id, got, c.want)
			}
		})
	}
}
