package controller_test

import (
	"math"
	"testing"
	"time"

	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/units"
)

// A beer in a cool room is held by a heater for days; then its heater fails, or does
// not. It is told before the beer is a degree too cold.
func TestAHeaterThatGoesWeakIsToldOf(t *testing.T) {
	for name, c := range map[string]struct {
		left float64 // of its strength, in the end
		want bool
	}{"a dead one": {0, true}, "one with a tenth left": {0.1, true}, "one with two thirds left": {0.66, false}, "a sound one": {1, false}} {
		t.Run(name, func(t *testing.T) {
			d := brewing(t)
			d.beer = 19
			truth, heater := 19.0, 0.0
			run := func(long time.Duration, strength float64) {
				for end := d.s.Age + long; d.s.Age < end; {
					on := 0.0
					if d.out.Outputs.Heat {
						on = 1
					}
					heater += (on - heater) / 8 // a lag of some 8 min
					truth += (strength*heater - 0.25) / 60
					d.beer = units.Celsius(math.Floor(truth*16) / 16)
					if d.step(); d.s.Alarms.Raised(alarms.HeatWeak) {
						return
					}
				}
			}
			run(3*units.Day, 1)
			if d.s.Alarms.Raised(alarms.HeatWeak) {
				t.Fatalf("told in its good days: %+v", d.s.Watch.Lift)
			}
			run(12*time.Hour, c.left)
			if got := d.s.Alarms.Raised(alarms.HeatWeak); got != c.want {
				t.Errorf("told %v, want %v: beer %v, %+v, %+v", got, c.want, d.beer, d.s.Watch.Lift, d.s.Thermal.Response.Rates())
			}
			if d.beer < 18 {
				t.Errorf("the beer is at %v", d.beer)
			}
		})
	}
}
