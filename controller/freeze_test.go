package controller_test

import (
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/units"
)

// crashed is a beer of 1.052 that ended at 1.010 and is led to a temperature.
func crashed(t *testing.T, to units.Celsius) *desk {
	t.Helper()
	d := brewing(t)
	d.v.Limits.Lowest = -3
	d.sg = fall(1.010)
	d.wide().run(8 * units.Day)
	for d.out.Decision.Kind != controller.Hold {
		d.must(verb(controller.AdvanceNow))
	}
	d.beer = 1
	d.run(time.Hour)
	d.must(target(to))
	return d
}

// A beer whose gravity is known is led to -0.6 C at most, whatever is asked; one
// whose gravity is lost, or wort, to 0 C.
func TestNothingIsLedBelowIce(t *testing.T) {
	for name, c := range map[string]struct {
		lost  bool
		floor units.Celsius
	}{"the gravity is known": {false, -0.56}, "the hydrometer is lost": {true, 0}} {
		t.Run(name, func(t *testing.T) {
			d := crashed(t, -2)
			if c.lost {
				d.sg = nil
				d.run(8 * time.Hour)
			}
			d.run(time.Hour)
			if got := d.out.Decision.Target; got < c.floor-0.1 || got > c.floor+0.1 || !d.reason(controller.CodeFreezeFloor) {
				t.Errorf("target %v, want about %v: %v", got, c.floor, d.said())
			}
			d.beer = c.floor + 0.5
			d.run(time.Hour)
			if !d.out.Outputs.Cool {
				t.Errorf("does not cool half a kelvin above: %v", d.said())
			}
			d.beer = c.floor - 0.2
			d.run(15 * time.Minute)
			if d.out.Outputs.Cool || d.s.Alarms.Raised(alarms.Freezing) {
				t.Errorf("cools, or cries, a fifth of a kelvin below: %+v, %+v", d.out.Outputs, d.s.Alarms.List)
			}
			d.beer = c.floor - 0.7
			d.run(15 * time.Minute)
			if d.out.Outputs.Cool || !d.s.Alarms.Raised(alarms.Freezing) {
				t.Errorf("near ice: %+v, %+v", d.out.Outputs, d.s.Alarms.List)
			}
		})
	}
}

func TestWortAndAnUnknownTankAreNotLedBelowZero(t *testing.T) {
	d := sit(t)
	d.v.Limits.Lowest = -3
	d.must(controller.Verb{Kind: controller.SetMode, Mode: controller.PreChill, Celsius: -2})
	if d.step(); d.out.Decision.Target != 0 {
		t.Errorf("an unknown tank is led to %v", d.out.Decision.Target)
	}
	d = brewing(t)
	d.v.Limits.Lowest = -3
	d.must(target(-2))
	if d.step(); d.out.Decision.Target != 0 {
		t.Errorf("wort is led to %v", d.out.Decision.Target)
	}
}

// A beer that is ended cold is kept where it is, also below 0 C, for its alcohol has
// not gone; another pre-chill of the same vessel knows nothing of it.
func TestABeerEndedColdKeepsItsFloor(t *testing.T) {
	d := crashed(t, -0.4)
	d.beer = -0.4
	d.run(time.Hour)
	d.must(verb(controller.EndCold))
	d.run(30 * time.Minute)
	if d.out.Decision.Target != -0.4 || d.out.Outputs.Heat || d.s.Alarms.Raised(alarms.Freezing) {
		t.Errorf("kept at %v, outputs %+v: %v", d.out.Decision.Target, d.out.Outputs, d.said())
	}
	d.must(controller.Verb{Kind: controller.SetMode, Mode: controller.PreChill, Celsius: -0.4})
	if d.step(); d.out.Decision.Target != 0 {
		t.Errorf("an unknown tank is led to %v", d.out.Decision.Target)
	}
}

// An idle vessel in a cold room may be empty: nobody is woken for its ice.
func TestAnIdleVesselHasNoIce(t *testing.T) {
	d := sit(t)
	d.beer = -0.8
	d.run(time.Hour)
	if d.s.Alarms.Raised(alarms.Freezing) {
		t.Errorf("%+v", d.s.Alarms.List)
	}
}

// beside is a desk in its primary with a probe beside the beer, and its reading.
func beside(t *testing.T, air bool) (d *desk, run func(d time.Duration, around units.Celsius)) {
	t.Helper()
	d = brewing(t)
	d.v.Probes.Surround, d.v.InAir = "fv1/surround", air
	d.v.Cool = guard.Of(guard.Valve)
	return d, func(long time.Duration, around units.Celsius) {
		t.Helper()
		for end := d.s.Age + long; d.s.Age < end; {
			if around != gone {
				d.in.Readings = append(d.in.Readings, controller.Reading{Probe: "fv1/surround", Value: controller.OfTemperature(around)})
			}
			d.step()
		}
	}
}

// Without a gravity the beer counts as wort, whose floor is 0 C; the bounds beside it
// are engineering judgement.
func TestAJacketIsNotCooledBelowWhereIceForms(t *testing.T) {
	for name, c := range map[string]struct {
		air    bool
		around units.Celsius
		cools  bool
	}{
		"a jacket of -3.5 C":              {false, -3.5, true},
		"a jacket of -4.5 C":              {false, -4.5, false},
		"the air of a cabinet of -11 C":   {true, -11, true},
		"the air of a cabinet of -12.5 C": {true, -12.5, false},
		"a probe that is lost":            {false, gone, true},
	} {
		t.Run(name, func(t *testing.T) {
			d, run := beside(t, c.air)
			run(time.Hour, 10)
			d.beer = 22
			run(time.Hour, 10)
			if !d.out.Outputs.Cool {
				t.Fatalf("does not cool at 22 C: %v", d.said())
			}
			run(10*time.Minute, c.around)
			if d.out.Outputs.Cool != c.cools {
				t.Errorf("cool %v, want %v: %v", d.out.Outputs.Cool, c.cools, d.said())
			}
			if got := d.reason(controller.CodeAroundCold); got == c.cools {
				t.Errorf("says so %v: %v", got, d.said())
			}
			if got := d.reason(controller.CodeAroundLost); got != (c.around == gone) {
				t.Errorf("says that the probe is lost: %v: %v", got, d.said())
			}
			if run(10*time.Minute, -1); !d.out.Outputs.Cool {
				t.Errorf("does not go on in a jacket of -1 C: %v", d.said())
			}
		})
	}
	t.Run("a minimum run is finished, and no bound of a lost probe is left", func(t *testing.T) {
		d, run := beside(t, false)
		d.v.Cool.MinOn = 30 * time.Minute
		run(time.Hour, 10)
		d.beer = 22
		for !d.out.Outputs.Cool {
			run(time.Minute, 10)
		}
		if run(25*time.Minute, -9); !d.out.Outputs.Cool {
			t.Errorf("a minimum run is cut short: %v", d.said())
		}
		if run(10*time.Minute, -9); d.out.Outputs.Cool {
			t.Errorf("cools on in a jacket of -9 C: %v", d.said())
		}
		if run(10*time.Minute, gone); !d.out.Outputs.Cool || !d.reason(controller.CodeAroundLost) {
			t.Errorf("cooling is lost with the probe: %v", d.said())
		}
	})
}

func TestAWallIsNotHeatedFarAboveTheHighest(t *testing.T) {
	for around, heats := range map[units.Celsius]bool{34: true, 36: false, gone: true} {
		d, run := beside(t, false)
		if run(time.Hour, 20); !d.out.Outputs.Heat {
			t.Fatalf("does not heat a kelvin below its target: %v", d.said())
		}
		if run(5*time.Minute, around); d.out.Outputs.Heat != heats {
			t.Errorf("heat %v with %v beside the beer: %v", d.out.Outputs.Heat, around, d.said())
		}
		if got := d.reason(controller.CodeAroundHot); got == heats {
			t.Errorf("says so %v: %v", got, d.said())
		}
	}
}
