package controller_test

import (
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/units"
	seen "example.org/restpoint/controller/watch"
)

func acknowledge(id alarms.ID) controller.Verb {
	return controller.Verb{Kind: controller.Acknowledge, Alarm: string(id)}
}

// A limit that was passed by the relay's own work latches that relay and no other.
func TestALimitLatchesWhatPassedIt(t *testing.T) {
	for name, c := range map[string]struct {
		target, at, back units.Celsius
		id               alarms.ID
		heat             bool
	}{
		"the high limit latches heat":    {29, 30.5, 25, alarms.HighLimit, true},
		"the low limit latches cooling":  {-0.5, -1.2, 4, alarms.LowLimit, false},
		"ice latches cooling like that":  {2, -0.7, 6, alarms.Freezing, false},
		"heat that is long off does not": {18, 30.5, 25, alarms.HighLimit, true},
	} {
		t.Run(name, func(t *testing.T) {
			d := sit(t)
			d.beer = c.target.Plus(-1)
			if !c.heat {
				d.beer = c.target.Plus(1)
			}
			if c.id == alarms.Freezing {
				d.v.Limits.Lowest = -5
			}
			d.must(controller.Verb{Kind: controller.SetMode, Mode: controller.PreChill, Celsius: c.target})
			d.until(time.Hour, func() bool { return d.out.Outputs.Heat || d.out.Outputs.Cool })
			d.run(10 * time.Minute)
			latches := c.target != 18
			if !latches {
				d.beer = 18
				d.drift(90*time.Minute, 0.1)
			}
			d.beer = c.at
			d.run(12 * time.Minute)
			if !d.s.Alarms.Raised(c.id) {
				t.Fatalf("no alarm: %+v", d.s.Alarms)
			}
			d.run(70 * time.Minute)
			d.must(acknowledge(c.id)) // known, and the beer is still beyond, long after the run
			d.run(time.Minute)
			if w := d.s.Runaway; w.HeatTripped != (c.heat && latches) || w.CoolTripped != (!c.heat && latches) {
				t.Fatalf("latched: %+v", w)
			}
			d.beer = c.back
			if c.heat {
				d.must(target(29))
			}
			d.drift(90*time.Minute, 0.1)
			on := d.out.Outputs.Heat
			if !c.heat {
				on = d.out.Outputs.Cool
			}
			if on == latches {
				t.Errorf("on %v, latched %v: %v", on, latches, d.said())
			}
			if !latches {
				return
			}
			if phaseOf(d, c.id) != alarms.Latched {
				t.Errorf("the alarm is %q", phaseOf(d, c.id))
			}
			d.must(acknowledge(c.id))
			d.drift(30*time.Minute, 0.1)
			if d.s.Runaway.HeatTripped || d.s.Runaway.CoolTripped || d.s.Alarms.Raised(c.id) || d.out.Outputs == (controller.Outputs{}) {
				t.Errorf("after a person's word: %+v, %v", d.out.Outputs, d.said())
			}
		})
	}
}

// The high limit never stops cooling, the low one never heat.
func TestALatchLeavesTheOtherRelayAlone(t *testing.T) {
	d := brewing(t)
	d.s.Runaway.HeatTripped = true
	d.beer = 21
	if d.run(30 * time.Minute); !d.out.Outputs.Cool {
		t.Errorf("heat is latched and cooling does not run: %v", d.said())
	}
	d = brewing(t)
	d.s.Runaway.CoolTripped, d.s.Runaway.CoolLocked = true, true
	d.beer = 17
	if d.drift(10*time.Minute, 0.1); !d.out.Outputs.Heat {
		t.Errorf("cooling is latched and heat does not run: %v", d.said())
	}
}

func TestCoolingThatWarmsIsLatched(t *testing.T) {
	d := brewing(t)
	d.s.Watch = seen.State{} // the start is hours ago
	d.beer = 20
	d.drift(30*time.Minute, 0)
	d.drift(40*time.Minute, 2)
	if d.out.Outputs.Cool || !d.s.Alarms.Raised(alarms.CoolWrong) || d.s.Alarms.Raised(alarms.HeatIneffective) {
		t.Fatalf("cooling warms: %v, %+v", d.out.Outputs, d.s.Alarms)
	}
	d.run(5 * time.Hour)
	if d.out.Outputs.Cool {
		t.Error("cools without a person's word")
	}
	d.must(acknowledge(alarms.CoolWrong))
	if d.drift(30*time.Minute, -1); !d.out.Outputs.Cool {
		t.Errorf("does not cool after it: %v", d.said())
	}
}

func TestAReadingThatStandsStillEndsARun(t *testing.T) {
	for name, c := range map[string]struct {
		beer units.Celsius
		heat bool
	}{"heat": {18, true}, "cooling": {20, false}} {
		t.Run(name, func(t *testing.T) {
			d := brewing(t)
			d.s.Watch = seen.State{}
			d.beer = c.beer
			on := func() bool { return d.out.Outputs.Heat && c.heat || d.out.Outputs.Cool && !c.heat }
			d.until(time.Hour, on)
			d.run(110 * time.Minute)
			if !on() {
				t.Fatalf("not on: %v", d.said())
			}
			d.run(20 * time.Minute)
			if on() {
				t.Error("on at a reading that has not moved for two hours")
			}
			if d.run(70 * time.Minute); !d.s.Alarms.Raised(alarms.ProbeStuck) {
				t.Errorf("nobody is called: %+v", d.s.Alarms)
			}
			// A good probe moves as soon as the relay is off.
			d.beer = d.beer.Plus(0.0625)
			if d.drift(10*time.Minute, 0.1); !on() || d.s.Alarms.Raised(alarms.ProbeStuck) {
				t.Errorf("the reading moves, and the relay stays off: %v", d.said())
			}
		})
	}
}

// Half a day of cooling on end is too long for a held beer, and not for one that
// still falls.
func TestHowLongCoolingMayRun(t *testing.T) {
	for name, c := range map[string]struct {
		pace  float64
		ends  bool
		known units.KelvinsPerHour
	}{
		"a beer that stands":                                {-0.01, true, 1},
		"one that falls at half its usual pace":             {-0.5, false, 1},
		"one that falls at a fifth of it":                   {-0.2, true, 1},
		"one that falls, and what is usual nobody has seen": {-0.1, true, 0},
	} {
		t.Run(name, func(t *testing.T) {
			d := brewing(t)
			d.v.Limits.Highest = 60
			d.beer = 28
			d.drift(10*time.Minute, 0)
			for range 12 * 60 {
				d.s.Pace.Of = c.known
				d.drift(time.Minute, c.pace)
			}
			broken := false
			for range 20 {
				d.s.Pace.Of = c.known
				d.drift(time.Minute, c.pace)
				broken = broken || !d.out.Outputs.Cool
			}
			if broken != c.ends || d.s.Alarms.Raised(alarms.CoolIneffective) != c.ends {
				t.Errorf("ended %v, want %v; alarm %v; %v", broken, c.ends, d.s.Alarms.Raised(alarms.CoolIneffective), d.said())
			}
		})
	}
}

func TestFrost(t *testing.T) {
	// A crash whose schedule wants no heat above -0.4 C.
	crash := func(t *testing.T) *desk {
		t.Helper()
		d := led(t, controller.Crash, controller.Target{Kind: controller.At, To: 1}, 1)
		d.v.Limits.Lowest = -3
		d.drift(3*time.Hour, 0.001)
		return d
	}
	d := crash(t)
	d.beer = 0.1
	if d.drift(5*time.Minute, 0); d.out.Outputs.Heat {
		t.Errorf("heats above 0 C: %v", d.said())
	}
	d.beer = -0.05
	if d.drift(2*time.Minute, 0); !d.out.Outputs.Heat || !d.reason(controller.CodeFrost) {
		t.Fatalf("no heat at 0 C: %v", d.said())
	}
	d.beer = 0.45
	if d.drift(5*time.Minute, 0); !d.out.Outputs.Heat {
		t.Error("off before 0.5 C")
	}
	d.beer = 0.55
	if d.drift(2*time.Minute, 0); d.out.Outputs.Heat {
		t.Error("still on above 0.5 C")
	}

	d = crash(t)
	d.beer = 2
	d.until(time.Hour, func() bool { return d.out.Outputs.Cool })
	d.drift(10*time.Minute, 0)
	d.beer = 0
	if d.drift(100*time.Minute, -0.01); d.out.Outputs.Heat {
		t.Errorf("heats against the undershoot of its own cooling: %v", d.said())
	}
	if d.drift(30*time.Minute, -0.01); !d.out.Outputs.Heat {
		t.Errorf("no heat hours after the cooling: %v", d.said())
	}

	d = led(t, controller.Crash, controller.Target{Kind: controller.At, To: 0}, 0.2)
	d.v.Limits.Lowest = -3
	d.beer = -0.1
	if d.drift(3*time.Hour, 0.0001); d.out.Outputs.Heat {
		t.Errorf("a beer that is wanted at 0 C is heated: %v", d.said())
	}
}

// A fermenting beer whose probe is lost is cooled by half of what the day took, for
// six hours; heat is never on.
func TestAFermentingBeerWithoutAProbe(t *testing.T) {
	for name, c := range map[string]struct {
		do    func(*desk)
		blind bool
	}{
		"a fermenting ale":                  {func(*desk) {}, true},
		"a lager below 12 C":                {func(d *desk) { d.beer = 11; d.drift(30*time.Minute, 0.01) }, false},
		"a beer in its rest":                {func(d *desk) { d.must(verb(controller.AdvanceNow)) }, false},
		"a day that nobody saw":             {func(d *desk) { d.s.Watch.Duty = seen.Duty{} }, false},
		"a day that took no cooling at all": {func(d *desk) { d.s.Watch.Duty.On = [24]float32{} }, false},
	} {
		t.Run(name, func(t *testing.T) {
			d := brewing(t)
			d.v.Probes.Hydrometer = ""
			for range 48 { // half of every hour
				d.beer = 19.3
				d.drift(15*time.Minute, 0.01)
				d.beer = 18.9
				d.drift(15*time.Minute, 0.01)
			}
			c.do(d)
			d.mute = true
			d.run(3 * time.Minute)
			cooled := 0
			for range 6 * 60 {
				if d.step(); d.out.Outputs.Cool {
					cooled++
				}
				if d.out.Outputs.Heat {
					t.Fatal("heat without a probe")
				}
			}
			if got := cooled > 0; got != c.blind {
				t.Fatalf("cooled %v, want %v: %v", got, c.blind, d.said())
			}
			if c.blind && (cooled < 70 || cooled > 110) {
				t.Errorf("cooled for %d min of 6 h, a quarter was to come", cooled)
			}
			for range 6 * 60 {
				if d.step(); d.out.Outputs.Cool && d.s.Guard.Cool.For > time.Minute || d.out.Outputs.Heat {
					t.Fatalf("later than that: %+v", d.out.Outputs)
				}
			}
		})
	}
}

func TestTheGasAboveAColdBeerIsSpokenOfOnce(t *testing.T) {
	d := brewing(t).wide()
	for d.out.Decision.Stage != "crash" {
		d.must(verb(controller.AdvanceNow))
	}
	before := d.happened(controller.ReminderDue)
	d.drift(23*time.Hour, -0.7)
	d.run(50 * time.Minute)
	if d.happened(controller.ReminderDue) != before {
		t.Error("said before a day is over")
	}
	d.run(30 * time.Minute)
	if d.happened(controller.ReminderDue) != before+1 || len(d.out.Decision.Jobs) == 0 {
		t.Fatalf("not said a day after the crash began: %v", d.out.Decision.Jobs)
	}
	if a := d.tell(controller.Verb{Kind: controller.Done, Job: d.s.Batch.LastJob}); !a.Taken || len(d.out.Decision.Jobs) != 0 {
		t.Errorf("cannot be answered: %v", a.Reason)
	}
	d.run(72 * time.Hour)
	if d.happened(controller.ReminderDue) != before+1 {
		t.Error("said twice")
	}
}

func TestContactsThatAreMeasured(t *testing.T) {
	for name, c := range map[string]struct {
		contacts controller.Contacts
		want     bool
	}{
		"nothing is measured":                {controller.Contacts{}, false},
		"both are open":                      {controller.Contacts{Heat: controller.Open, Cool: controller.Open}, false},
		"the heater's stays closed":          {controller.Contacts{Heat: controller.Closed}, true},
		"the cooling's stays closed":         {controller.Contacts{Cool: controller.Closed}, true},
		"the closed one is commanded closed": {controller.Contacts{Heat: controller.Closed}, false},
	} {
		t.Run(name, func(t *testing.T) {
			d := brewing(t)
			d.dt, d.v.Step = 3*time.Second, 3*time.Second
			d.beer = 19.1
			d.run(10 * time.Minute)
			if name == "the closed one is commanded closed" {
				d.beer = 17
				d.until(time.Hour, func() bool { return d.out.Outputs.Heat })
				d.step()
			}
			d.run(time.Minute)
			d.in.Contacts = c.contacts
			if d.step(); d.s.Alarms.Raised(alarms.RelayStuck) {
				t.Error("said after three seconds")
			}
			d.in.Contacts = c.contacts
			if d.step(); d.s.Alarms.Raised(alarms.RelayStuck) != c.want {
				t.Errorf("alarm %v, want %v", !c.want, c.want)
			}
		})
	}
}

func TestRelaysThatWear(t *testing.T) {
	d := brewing(t)
	d.s.Guard.Cool.Switches = 69_999
	if d.step(); d.s.Alarms.Raised(alarms.RelayWorn) {
		t.Error("worn too soon")
	}
	d.s.Guard.Cool.Switches = 70_000
	if d.step(); !d.s.Alarms.Raised(alarms.RelayWorn) {
		t.Error("nobody is told")
	}
	d.v.Cool.Profile = guard.SSR
	if d.step(); d.s.Alarms.Raised(alarms.RelayWorn) {
		t.Error("a solid-state relay has no contact")
	}

	d = brewing(t)
	d.v.Cool = compressor()
	d.beer = 19
	d.run(10 * time.Minute)
	d.v.Cool.MinOff = 3 * time.Minute // as short as a site may make it
	for i := range 30 {
		d.beer = 20 - units.Celsius(i%2)*1.1
		d.drift(3*time.Minute, 0)
	}
	if d.run(10 * time.Minute); !d.s.Alarms.Raised(alarms.ManyStarts) {
		t.Errorf("%d starts in the hour and nobody is told", d.s.Watch.CoolStarts.Hour())
	}
}
