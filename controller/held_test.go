package controller_test

import (
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
)

// What holds although something else would hold it too: each of these is one clause
// that could be lost without any other test noticing.

func TestACompressorThatWasOffForHoursRestsAfterAStart(t *testing.T) {
	d := brewing(t)
	d.v.Cool, d.beer = compressor(), 19
	d.run(10 * time.Hour)
	d.beer = 20
	d.restart(known(time.Second))
	for n := range 5 {
		if d.step(); d.out.Outputs.Cool {
			t.Fatalf("cooling %d min after the start", n)
		}
	}
	d.step()
	if d.step(); !d.out.Outputs.Cool {
		t.Errorf("no cooling after the rest: %v", d.said())
	}
}

func TestAConditionThatHoldsMovesNothingOnALostProbe(t *testing.T) {
	d := on(t, two(condition{Kind: controller.Dwell, AtLeast: 2 * time.Hour}))
	d.v.SuckBack = controller.CO2Supply
	d.run(time.Hour)
	d.mute = true
	d.run(4 * time.Hour)
	d.at("first")
	d.mute = false
	d.run(10 * time.Minute)
	d.at("last")
}

func TestALimitIsReachedOnItsMinute(t *testing.T) {
	s := two(condition{Kind: controller.BeerAt, Beer: 25})
	s.Stages[0].Longest = controller.Longest{For: 10 * time.Hour, Then: controller.Advance}
	d := on(t, s)
	d.until(20*time.Hour, func() bool { return d.s.Stage.In == 10*time.Hour-time.Minute || d.out.Decision.Stage == "last" })
	d.at("first")
	d.step()
	d.at("last")
}

func TestAStuckBeerIsNotTerminal(t *testing.T) {
	for name, stuck := range map[string]bool{"a beer that ends well is": false, "one that was found stuck is not": true} {
		t.Run(name, func(t *testing.T) {
			d := brewing(t).wide()
			d.sg = fall(1.010)
			d.must(verb(controller.AdvanceNow))
			d.at("diacetyl rest")
			met := false
			for end := d.s.Age + 9*units.Day; d.s.Age < end && !met && d.out.Decision.Stage == "diacetyl rest"; d.step() {
				if stuck {
					d.s.Batch.Told.Stuck, d.s.Batch.Told.StuckAt = true, d.s.Gravity.Est.Level
				}
				met = met || d.s.Stage.Leaves[0].Met
			}
			if met == stuck {
				t.Errorf("terminal %v", met)
			}
		})
	}
}

// A minimum run is for the contact and the compressor; what may not be on is off.
func TestAMinimumRunDoesNotOutliveAWord(t *testing.T) {
	for name, c := range map[string]struct {
		celsius units.Celsius
		do      func(*desk)
	}{
		"cooling into cleaning": {12, func(d *desk) { d.must(controller.Verb{Kind: controller.SetMode, Mode: controller.Cleaning}) }},
		"cooling into idling":   {12, func(d *desk) { d.must(controller.Verb{Kind: controller.SetMode, Mode: controller.Idle}) }},
		"heat into cleaning":    {8, func(d *desk) { d.must(controller.Verb{Kind: controller.SetMode, Mode: controller.Cleaning}) }},
		"heat into idling":      {8, func(d *desk) { d.must(controller.Verb{Kind: controller.SetMode, Mode: controller.Idle}) }},
		"heat on a probe that says nonsense twice": {8, func(d *desk) {
			for range 2 {
				d.beer = 85
				d.step()
			}
		}},
	} {
		t.Run(name, func(t *testing.T) {
			d := sit(t)
			d.v.Cool, d.dt, d.v.Step, d.beer = compressor(), 5*time.Second, 5*time.Second, c.celsius
			d.must(controller.Verb{Kind: controller.SetMode, Mode: controller.PreChill, Celsius: 10})
			d.until(time.Hour, func() bool { return d.out.Outputs.Heat || d.out.Outputs.Cool })
			d.step()
			c.do(d)
			if d.out.Outputs != (controller.Outputs{}) {
				t.Errorf("still %+v: %v", d.out.Outputs, d.said())
			}
		})
	}
}

func TestTheHydrometersThermometerEndsAHeatThatRan(t *testing.T) {
	d := brewing(t)
	d.dt, d.v.Step, d.beer = 5*time.Second, 5*time.Second, 17
	d.v.Heat.MinOn = 10 * time.Minute
	d.until(time.Hour, func() bool { return d.out.Outputs.Heat })
	d.in.Readings = append(d.in.Readings, controller.Reading{Probe: "fv1/hydrometer", Value: controller.OfSample(1.030, 17)})
	d.step()
	d.mute = true
	d.until(2*time.Minute, func() bool { return d.out.Decision.Backup == controller.ByHydrometer })
	if d.out.Outputs.Heat {
		t.Errorf("heat by the hydrometer's thermometer: %v", d.said())
	}
}
