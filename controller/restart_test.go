package controller_test

import (
	"testing"
	"time"

	"example.org/restpoint/controller"
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
