package controller_test

import (
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/units"
)

// After an outage the hydrometer gets an hour to speak: its silence meanwhile is
// the outage's, and begins no rest and raises no alarm.
func TestAnOutageIsNotTheHydrometersSilence(t *testing.T) {
	d := brewing(t).wide()
	d.sg = fall(1.010)
	d.run(40 * time.Hour)
	d.restart(controller.Outage{Length: 90 * time.Hour, Known: true})
	d.sg = nil
	d.run(45 * time.Minute)
	d.at("primary")
	if n := d.happened(controller.GravityLost); n != 0 {
		t.Errorf("the hydrometer counts as lost after 45 min: told %d times", n)
	}
	d.run(time.Hour)
	if n := d.happened(controller.GravityLost); n != 1 {
		t.Errorf("two hours of silence are told %d times, want once", n)
	}
}

// Cooling a closed tank draws a vacuum, whoever asks for it: an order may not cool
// a beer far before the tank is armed.
func TestADeepTargetHasToBeArmed(t *testing.T) {
	for name, c := range map[string]struct {
		guard  controller.SuckBack
		armed  bool
		target units.Celsius
		taken  bool
	}{
		"some kelvins are nothing":           {controller.NoProtection, false, 13.5, true},
		"a crash by order is none":           {controller.NoProtection, false, 2, false},
		"a breaker saves the tank, not beer": {controller.VacuumBreaker, false, 2, false},
		"an armed tank may be cooled":        {controller.VacuumBreaker, true, 2, true},
		"a gas supply needs no arming":       {controller.CO2Supply, false, 2, true},
		"warming is always allowed":          {controller.NoProtection, false, 25, true},
	} {
		t.Run(name, func(t *testing.T) {
			d := sit(t)
			d.v.SuckBack = c.guard
			d.must(controller.Verb{Kind: controller.Start, Batch: "b1", Schedule: ale()})
			d.run(5 * time.Minute)
			if c.armed {
				d.must(controller.Verb{Kind: controller.Arm})
			}
			a := d.tell(controller.Verb{Kind: controller.SetTarget, Celsius: c.target})
			if a.Taken != c.taken || !c.taken && a.Reason.Code != controller.CodeNeedsArming {
				t.Errorf("taken %v: %v", a.Taken, a.Reason)
			}
		})
	}
}

// After an outage a beer should lie between where it was and where it was to go, and
// 1.5 K on both sides. Beyond that a person is asked, once, and the target is kept.
func TestABeerThatLeftItsBandMeanwhileIsAskedFor(t *testing.T) {
	for name, c := range map[string]struct {
		stage    string
		was, now units.Celsius
		asked    bool
	}{
		"where it was":                                  {"primary", 19, 19.2, false},
		"a little warmer":                               {"primary", 19, 20.4, false},
		"too warm":                                      {"primary", 19, 20.75, true},
		"too cold":                                      {"primary", 19, 17.25, true},
		"on the way to its rest":                        {"diacetyl rest", 19.2, 20.2, false},
		"below where its rest began":                    {"diacetyl rest", 19.2, 17.5, true},
		"a crash that warmed a little":                  {"crash", 10, 11.25, false},
		"a crash that went on by itself":                {"crash", 10, 4, false},
		"a crash that warmed up":                        {"crash", 10, 13, true},
		"a cold beer that the room warmed while nobody": {"cold hold", 1, 9, true},
	} {
		t.Run(name, func(t *testing.T) {
			d := brewing(t).wide()
			d.v.SuckBack = controller.CO2Supply
			d.beer = 19
			d.run(time.Hour)
			for d.s.Stage.Name != c.stage {
				if d.s.Stage.Index > 0 && d.s.Stage.Name == "diacetyl rest" {
					d.must(controller.Verb{Kind: controller.Arm})
				}
				d.must(controller.Verb{Kind: controller.AdvanceNow})
				d.run(time.Minute)
			}
			d.beer = c.was
			d.run(30 * time.Minute)
			d.restart(controller.Outage{Length: 20 * time.Hour, Known: true})
			d.beer = c.now
			d.run(5 * time.Minute)
			if got := d.s.Alarms.Raised(alarms.Strayed); got != c.asked {
				t.Fatalf("asked %v, want %v", got, c.asked)
			}
			if !d.out.Decision.HasTarget {
				t.Error("no target is kept")
			}
			d.beer = c.was
			d.run(time.Hour)
			if got := d.s.Alarms.Raised(alarms.Strayed); got != c.asked {
				t.Errorf("an hour later: asked %v, want %v until a person answers", got, c.asked)
			}
			if !c.asked {
				return
			}
			d.must(controller.Verb{Kind: controller.Acknowledge, Alarm: string(alarms.Strayed)})
			d.run(time.Minute)
			if d.s.Alarms.Raised(alarms.Strayed) {
				t.Error("it is asked again after the answer")
			}
			d.restart(controller.Outage{Length: time.Minute, Known: true})
			d.run(5 * time.Minute)
			if d.s.Alarms.Raised(alarms.Strayed) {
				t.Error("it is asked after an outage in which nothing happened")
			}
		})
	}
}
