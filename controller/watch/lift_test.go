package watch_test

import (
	"testing"
	"time"

	"example.org/restpoint/controller/units"
	"example.org/restpoint/controller/watch"
)

// warming is a beer under a heater of which something was learnt.
type warming struct {
	s    watch.State
	beer units.Celsius
	age  time.Duration
	ever bool // it was called weak
}

// run lets the beer move at a pace with the heater at a level.
func (w *warming) run(d time.Duration, pace float64, heat bool, rate, drift units.KelvinsPerHour) {
	const step = 10 * time.Second
	for range int(d / step) {
		w.age += step
		w.beer = w.beer.Plus(units.Kelvins(pace * step.Hours()))
		seen := units.Celsius(float64(int(float64(w.beer)*16)) / 16)
		in := watch.Input{Beer: seen, Known: true, Heat: heat, Elapsed: step, Age: w.age}
		if heat && !w.s.Lift.On {
			in.Learnt = watch.Learnt{Rest: seen, Rate: rate, Drift: drift, Lag: 6 * time.Minute}
		}
		w.s.Step(&in)
		w.ever = w.ever || w.s.Lift.Weak
	}
}

// A share of 0.3 of what is due, from half a kelvin on, is engineering judgement.
func TestAHeaterThatHasLostItsStrength(t *testing.T) {
	for name, c := range map[string]struct {
		rate, drift units.KelvinsPerHour
		pace        float64
		over        time.Duration
		weak        bool
	}{
		"as strong as ever":                      {1, -0.2, 0.8, 3 * time.Hour, false},
		"half as strong":                         {1, -0.2, 0.3, 3 * time.Hour, false},
		"dead":                                   {1, -0.2, -0.2, 90 * time.Minute, true},
		"dead, and half a kelvin is not due yet": {1, -0.2, -0.2, 30 * time.Minute, false},
		"a tenth of its strength":                {1, -0.2, -0.1, 90 * time.Minute, true},
		"a strong one, dead, seen after half an hour":    {3, 0, 0, 32 * time.Minute, true},
		"dead, in a beer that the yeast warms":           {1, 0.3, 0.3, 90 * time.Minute, true},
		"sound, on a night that is colder than was seen": {1, -0.2, 0.5, 3 * time.Hour, false},
		"dead, and nothing was ever learnt of it":        {0, 0, 0, 3 * time.Hour, false},
		"too weak by nature to tell, and dead":           {0.2, -0.1, -0.1, 4 * time.Hour, false},
	} {
		t.Run(name, func(t *testing.T) {
			w := warming{beer: 18}
			w.run(c.over, c.pace, true, c.rate, c.drift)
			if w.ever != c.weak || w.s.Lift.Weak != c.weak {
				t.Errorf("weak %v, ever %v, want %v: %+v", w.s.Lift.Weak, w.ever, c.weak, w.s.Lift)
			}
		})
	}
}

func TestAWeakHeaterStaysWeakUntilItHasWarmed(t *testing.T) {
	w := warming{beer: 18}
	w.run(2*time.Hour, -0.2, true, 1, -0.2)
	w.run(30*time.Minute, -0.2, false, 0, 0)
	if !w.s.Lift.Weak {
		t.Error("a break made it strong")
	}
	// Meanwhile it was learnt that it heats by 0.1 K/h: that is no measure.
	if w.run(2*time.Hour, -0.1, true, 0.1, -0.2); !w.s.Lift.Weak {
		t.Errorf("it is held against what it has become: %+v", w.s.Lift)
	}
	w.run(30*time.Minute, -0.2, false, 0, 0)
	if w.run(2*time.Hour, 0.1, true, 0.1, -0.2); !w.s.Lift.Weak {
		t.Errorf("a third of its strength made it sound: %+v", w.s.Lift)
	}
	w.run(30*time.Minute, -0.2, false, 0, 0)
	if w.run(2*time.Hour, 0.7, true, 0.1, -0.2); w.s.Lift.Weak {
		t.Errorf("it warms and is called weak: %+v", w.s.Lift)
	}
	w.run(2*time.Hour, -0.2, true, 1, -0.2)
	if w.run(25*time.Hour, 0, false, 0, 0); w.s.Lift.Weak {
		t.Error("a day without heat, and it is still called weak")
	}
}

func TestWhoTouchesTheBeerVoidsARunOfHeat(t *testing.T) {
	w := warming{beer: 18}
	w.run(30*time.Minute, -0.2, true, 1, -0.2)
	w.s = w.s.Void()
	if w.run(119*time.Minute, -0.2, true, 1, -0.2); w.s.Lift.Weak {
		t.Errorf("cold wort that is filled in is no fault of the heater: %+v", w.s.Lift)
	}
	if w.run(2*time.Hour, -0.2, true, 1, -0.2); !w.s.Lift.Weak {
		t.Error("hours later it still is none")
	}
}
