package controller_test

import (
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/units"
)

func known(d time.Duration) controller.Outage { return controller.Outage{Length: d, Known: true} }

func TestAfterARestartEveryCompressorRests(t *testing.T) {
	for name, gap := range map[string]controller.Outage{
		"a known outage of seconds": known(3 * time.Second), "a known outage of a day": known(24 * time.Hour),
		"an outage of unknown length": {}, "an outage before the clock was set": {Length: -time.Hour, Known: true},
	} {
		t.Run(name, func(t *testing.T) {
			d := sit(t)
			d.v.Cool, d.beer = compressor(), 19
			d.must(start(ale()))
			d.must(verb(controller.PitchedNow))
			d.run(time.Hour)
			d.beer = 20
			d.run(10 * time.Minute)
			if !d.out.Outputs.Cool {
				t.Fatalf("no cooling at the start: %v", d.said())
			}
			d.restart(gap)
			d.step()
			for n := range 5 {
				if d.out.Outputs.Cool {
					t.Fatalf("cooling %d min after the start", n)
				}
				if !d.reason(controller.CodeCoolHeld) {
					t.Errorf("no word of the rest: %v", d.said())
				}
				d.step()
			}
			if !d.out.Outputs.Cool {
				t.Errorf("no cooling after the rest: %v", d.said())
			}
			if d.happened(controller.Resumed) != 1 {
				t.Errorf("told %d times", d.happened(controller.Resumed))
			}
		})
	}
}

func TestWhatAnOutageCounts(t *testing.T) {
	for name, c := range map[string]struct {
		gap  controller.Outage
		want time.Duration
	}{
		"a known outage makes the beer older":          {known(9 * time.Hour), 9 * time.Hour},
		"an unknown one does not":                      {controller.Outage{Length: 9 * time.Hour}, 0},
		"a clock that went back makes nothing younger": {known(-9 * time.Hour), 0},
	} {
		t.Run(name, func(t *testing.T) {
			d := brewing(t)
			d.sg = fall(1.010)
			d.run(30 * time.Hour)
			before := d.s
			d.restart(c.gap)
			d.step()
			if got := d.s.Gravity.Now - before.Gravity.Now; got != c.want {
				t.Errorf("gravity is older by %v", got)
			}
			if got := d.s.Batch.Since - before.Batch.Since; got != c.want {
				t.Errorf("pitching is longer ago by %v", got)
			}
			if d.s.Stage.In != before.Stage.In || d.s.Batch.Age != before.Batch.Age || d.s.Age != before.Age {
				t.Error("dwell counts an outage")
			}
		})
	}
}

// The step after a start has nothing but what it reads now: a temperature of
// before the outage moves no relay.
func TestATemperatureOfBeforeTheOutageIsForgotten(t *testing.T) {
	d := sit(t)
	d.dt, d.v.Step = 5*time.Second, 5*time.Second
	d.must(controller.Verb{Kind: controller.SetMode, Mode: controller.PreChill, Celsius: 18})
	d.beer = 16
	d.run(5 * time.Minute)
	if !d.out.Outputs.Heat {
		t.Fatalf("no heat at the start: %v", d.said())
	}
	d.restart(known(10 * time.Hour))
	d.mute = true
	d.step()
	if d.s.Sense.Beer.Usable() || !d.reason(controller.CodeNoBeer) || d.out.Decision.Want.Heat {
		t.Errorf("goes by a temperature of ten hours ago: %+v", d.s.Sense.Beer)
	}
	if d.s.Alarms.Raised(alarms.ProbeLost) {
		t.Error("the probe counts as lost before it could answer")
	}
	d.mute, d.beer = false, 24 // ten hours later
	d.step()
	if got := d.s.Sense.Beer; !got.Usable() || got.Celsius != 24 {
		t.Errorf("the first reading is not believed: %+v", got)
	}
	d.restart(known(10 * time.Hour))
	d.mute = true
	d.run(70 * time.Second)
	if !d.s.Alarms.Raised(alarms.ProbeLost) {
		t.Error("a probe that does not answer for a minute is not lost")
	}
}

func TestAFailedProbeIsNotHealedByARestart(t *testing.T) {
	d := warm(t)
	d.fault = controller.Unplugged
	d.run(2 * time.Minute)
	d.fault = controller.NoFault
	d.run(10 * time.Second) // two readings
	d.restart(known(time.Minute))
	for n := 1; n <= 5; n++ {
		d.step()
		if usable := d.s.Sense.Beer.Usable(); usable != (n == 5) {
			t.Errorf("after %d good readings: usable %v", n, usable)
		}
	}
}

func TestARampGoesOnFromWhereTheBeerIs(t *testing.T) {
	d := brewing(t)
	d.must(verb(controller.AdvanceNow))
	d.must(verb(controller.AdvanceNow))
	d.at("crash")
	for range 6 * 60 {
		d.beer = d.beer.Plus(-1.0 / 60)
		d.step()
	}
	if got := d.s.Stage.RampAt; got < 11.8 || got > 12.2 {
		t.Fatalf("the ramp is at %v after six hours", got)
	}
	d.restart(known(20 * time.Hour))
	d.beer = 15
	d.step()
	if got := d.s.Stage.RampAt; got != 15 {
		t.Errorf("the ramp goes on at %v, the beer has %v", got, d.beer)
	}
}

func TestABatchThatIsNotUnderstoodIdlesAndAsks(t *testing.T) {
	for name, lose := range map[string]func(*desk){
		"its schedule is gone":            func(d *desk) { d.v = d.v.With(nil) },
		"its schedule has fewer stages":   func(d *desk) { s := ale(); s.Stages = s.Stages[:1]; d.v = d.v.With(s) },
		"its state is of another version": func(d *desk) { d.s.Version = 99 },
		"its stage is before the first":   func(d *desk) { d.s.Stage.Index = -1 },
	} {
		t.Run(name, func(t *testing.T) {
			d := brewing(t)
			d.run(time.Hour)
			switches := d.s.Guard.Heat.Switches
			lose(d)
			d.restart(known(time.Minute))
			d.step()
			if d.s.Mode != controller.Idle || d.out.Outputs != (controller.Outputs{}) || !d.s.Lost || !d.out.Commit {
				t.Fatalf("mode %s, lost %v, commit %v", d.s.Mode, d.s.Lost, d.out.Commit)
			}
			d.step()
			if !d.s.Alarms.Raised(alarms.StateLost) || d.s.Guard.Heat.Switches != switches {
				t.Errorf("alarm %v, %d switchings", d.s.Alarms.Raised(alarms.StateLost), d.s.Guard.Heat.Switches)
			}
			// A person may let it be, or start again.
			d.must(controller.Verb{Kind: controller.Acknowledge, Alarm: string(alarms.StateLost)})
			if d.step(); d.s.Lost || d.s.Alarms.Raised(alarms.StateLost) {
				t.Error("still lost after a person answered")
			}
			d.must(start(ale()))
		})
	}
}

func TestAnIdleVesselOfAnotherVersionIsFresh(t *testing.T) {
	d := sit(t)
	d.s.Version = 99
	d.step()
	if d.s.Lost || d.s.Version != controller.StateVersion || d.s.Mode != controller.Idle {
		t.Errorf("%+v", d.s)
	}
}

func TestALateLoopTurnsHeatOffForItsStep(t *testing.T) {
	d := brewing(t)
	d.beer = 17
	d.run(30 * time.Minute)
	if !d.out.Outputs.Heat {
		t.Fatalf("no heat at the start: %v", d.said())
	}
	d.dt = 3 * time.Minute
	if d.step(); !d.out.Outputs.Heat || d.happened(controller.LateLoop) != 0 {
		t.Errorf("three steps count as late: %v", d.said())
	}
	d.dt = 3*time.Minute + time.Second
	in := d.s.Stage.In
	d.step()
	if d.out.Outputs.Heat || d.happened(controller.LateLoop) != 1 || !d.s.Alarms.Raised(alarms.LateLoop) {
		t.Errorf("heat %v, told %d times", d.out.Outputs.Heat, d.happened(controller.LateLoop))
	}
	if d.s.Stage.In-in != d.dt {
		t.Errorf("counted %v of %v", d.s.Stage.In-in, d.dt)
	}
	d.dt = time.Minute
	d.run(3 * time.Minute)
	if !d.out.Outputs.Heat {
		t.Errorf("no heat after the late step: %v", d.said())
	}
}

func TestFaultsOfTheEdges(t *testing.T) {
	d := brewing(t)
	d.beer = 17
	d.run(30 * time.Minute)
	d.in.RelayFault = true
	d.step()
	if d.out.Outputs != (controller.Outputs{}) || !d.s.Alarms.Raised(alarms.RelayFault) {
		t.Errorf("a relay that could not be set: %+v", d.out.Outputs)
	}
	d.run(10 * time.Minute)
	if !d.out.Outputs.Heat {
		t.Fatalf("no heat afterwards: %v", d.said())
	}
	d.in.RecordFault = true
	d.step()
	if !d.out.Outputs.Heat || !d.s.Alarms.Raised(alarms.RecordFailing) {
		t.Error("a record that cannot be written stops the control, or nobody is told")
	}
	d.beer = 21
	d.run(time.Hour)
	if !d.out.Outputs.Cool {
		t.Fatalf("no cooling: %v", d.said())
	}
	d.in.RelayFault = true
	if d.step(); d.out.Outputs.Cool {
		t.Error("cooling goes on at a relay that could not be set")
	}
}

func TestARunThatMovesTheBeerTheWrongWay(t *testing.T) {
	d := brewing(t)
	d.beer = 17
	d.run(10 * time.Minute)
	for range 70 {
		d.beer = d.beer.Plus(-0.005)
		d.step()
	}
	if d.out.Outputs.Heat || !d.s.Runaway.HeatLocked || !d.s.Alarms.Raised(alarms.HeatIneffective) {
		t.Fatalf("an hour of heat and a colder beer: heat %v, locked %v", d.out.Outputs.Heat, d.s.Runaway.HeatLocked)
	}
	d.run(6 * time.Hour)
	if d.out.Outputs.Heat || !d.reason(controller.CodeHeatHeld) {
		t.Errorf("heat without a person: %v", d.said())
	}
	d.must(controller.Verb{Kind: controller.Acknowledge, Alarm: string(alarms.HeatIneffective)})
	d.run(2 * time.Minute)
	if !d.out.Outputs.Heat {
		t.Errorf("no heat after a person looked: %v", d.said())
	}

	d = brewing(t)
	d.beer = 20
	for range 200 {
		d.beer = d.beer.Plus(0.004)
		d.step()
	}
	if !d.out.Outputs.Cool || !d.s.Alarms.Raised(alarms.CoolIneffective) {
		t.Errorf("two hours of cooling and a warmer beer: cool %v, alarm %v", d.out.Outputs.Cool, d.s.Alarms.Raised(alarms.CoolIneffective))
	}
}

func TestLimitsOfTheVessel(t *testing.T) {
	d := brewing(t)
	d.beer = 29
	d.v.Limits.Highest = 28
	d.run(time.Hour)
	if !d.s.Alarms.Raised(alarms.HighLimit) || !d.out.Outputs.Cool {
		t.Errorf("above the highest: cool %v, %v", d.out.Outputs.Cool, d.said())
	}
	d = brewing(t)
	d.must(target(0))
	d.beer = 2
	d.run(time.Hour)
	for range 3 {
		d.beer = d.beer.Plus(-1)
		d.step()
	}
	if d.beer = -1.1; d.out.Outputs.Cool {
		t.Error("cools at the lowest temperature")
	}
	d.step()
	if !d.s.Alarms.Raised(alarms.LowLimit) || d.out.Outputs.Cool {
		t.Errorf("below the lowest: cool %v", d.out.Outputs.Cool)
	}
}

// At a limit of the vessel a relay goes off at once, minimum run or not.
func TestAtALimitNoMinimumRunCounts(t *testing.T) {
	for name, c := range map[string]struct {
		target, before, at units.Celsius
		heat               bool
	}{
		"heat at the highest": {30, 29.5, 30, true}, "cooling at the lowest": {2, 2.6, 2, false},
	} {
		t.Run(name, func(t *testing.T) {
			d := sit(t)
			d.v.Cool, d.dt, d.v.Step, d.beer = compressor(), 5*time.Second, 5*time.Second, c.before
			d.v.Limits.Lowest = 2
			d.must(controller.Verb{Kind: controller.SetMode, Mode: controller.PreChill, Celsius: c.target})
			d.until(time.Hour, func() bool { return d.out.Outputs.Heat || d.out.Outputs.Cool })
			if d.step(); d.out.Outputs.Heat != c.heat {
				t.Fatalf("%+v: %v", d.out.Outputs, d.said())
			}
			d.beer = c.at
			if d.step(); d.out.Outputs != (controller.Outputs{}) {
				t.Errorf("%+v at %v: %v", d.out.Outputs, c.at, d.said())
			}
		})
	}
}
