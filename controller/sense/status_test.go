package sense_test

import (
	"math"
	"testing"
	"time"

	"example.org/restpoint/controller/sense"
	"example.org/restpoint/controller/units"
)

// read gives a thermometer readings, one each step.
func read(t sense.Thermometer, p sense.Place, step time.Duration, of func(i int) units.Celsius, n int) sense.Thermometer {
	for i := range n {
		t = t.Advance(step).Take(of(i), sense.NoFault, 0, p).Check(p)
	}
	return t
}

func well() sense.Place {
	return sense.Place{Lowest: -5, Highest: 45, Slow: true, Stale: time.Minute}
}

func flat(c units.Celsius) func(int) units.Celsius {
	return func(int) units.Celsius { return c }
}

// The states of NAMUR NE 107.
func TestHowGoodASignalIs(t *testing.T) {
	p := well()
	good := read(sense.Thermometer{}, p, 5*time.Second, flat(18), 10)
	for name, c := range map[string]struct {
		t    sense.Thermometer
		want sense.Status
	}{
		"a probe that reads is good":              {good, sense.Good},
		"one that has not spoken yet":             {sense.Thermometer{}, sense.Check},
		"one reading that failed":                 {good.Advance(5*time.Second).Take(0, sense.TimedOut, 0, p), sense.OutOfSpec},
		"one reading that cannot be":              {good.Advance(5*time.Second).Take(85, sense.NoFault, 0, p), sense.OutOfSpec},
		"a jump that is not believed yet":         {good.Advance(5*time.Second).Take(25, sense.NoFault, 0, p), sense.OutOfSpec},
		"a value that is half a minute old":       {good.Advance(29 * time.Second), sense.Good},
		"one that is late":                        {good.Advance(31 * time.Second), sense.OutOfSpec},
		"one that is stale":                       {good.Advance(61 * time.Second).Check(p), sense.Failure},
		"readings that scatter by half a kelvin":  {read(good, p, 5*time.Second, func(i int) units.Celsius { return 18 + units.Celsius(i%2) }, 200), sense.Maintenance},
		"readings that scatter by a probe's step": {read(good, p, 5*time.Second, func(i int) units.Celsius { return 18 + units.Celsius(i%2)/16 }, 200), sense.Good},
	} {
		t.Run(name, func(t *testing.T) {
			if got := c.t.Status(p); got != c.want {
				t.Errorf("%q, want %q: %+v", got, c.want, c.t)
			}
		})
	}
}

// toward is a probe with a time constant of two minutes that meets another
// temperature.
func toward(from, to float64, step time.Duration) func(int) units.Celsius {
	return func(i int) units.Celsius {
		return units.Celsius(to + (from-to)*math.Exp(-step.Seconds()*float64(i+1)/120))
	}
}

func TestAProbeThatGoesWhereNoBeerCanGo(t *testing.T) {
	for name, c := range map[string]struct {
		step    time.Duration
		of      func(int) units.Celsius
		handled bool
		away    bool
	}{
		"out of its well into a cold room":                 {5 * time.Second, toward(18, 4, 5*time.Second), false, true},
		"out of its well into a warm room":                 {5 * time.Second, toward(18, 26, 5*time.Second), false, true},
		"and read every ten seconds":                       {10 * time.Second, toward(18, 0, 10*time.Second), false, true},
		"a crash of 6 K an hour":                           {5 * time.Second, func(i int) units.Celsius { return 18 - units.Celsius(i)/120 }, false, false},
		"wort that is filled in":                           {5 * time.Second, toward(18, 26, 5*time.Second), true, false},
		"a step of another probe, which readings bear out": {5 * time.Second, flat(25), false, false},
	} {
		t.Run(name, func(t *testing.T) {
			p := well()
			th := read(sense.Thermometer{}, p, c.step, flat(18), 200)
			p.Handled = c.handled
			th = read(th, p, c.step, c.of, int(10*time.Minute/c.step))
			if th.Motion.Away != c.away || th.Usable() == c.away {
				t.Fatalf("away %v, want %v: %+v", th.Motion.Away, c.away, th)
			}
			if !c.away {
				return
			}
			if th.Fault != sense.Moved || th.Status(p) != sense.Failure {
				t.Errorf("%+v", th)
			}
			if started := th.Started(); !started.Motion.Away || started.Usable() {
				t.Errorf("a restart puts it back: %+v", started)
			}
			if told := th.Settle(); !told.Usable() || told.Motion.Away || told.Celsius != th.Celsius {
				t.Errorf("a person's word: %+v", told)
			}
			back := read(th, p, c.step, flat(18.5), 4)
			if back.Usable() {
				t.Error("believed again after four readings")
			}
			if back = read(back, p, c.step, flat(18.5), 1); !back.Usable() || back.Motion.Away || back.Celsius != 18.5 {
				t.Errorf("not believed again where it was: %+v", back)
			}
		})
	}
	good := read(sense.Thermometer{}, well(), 5*time.Second, flat(18), 9)
	if good.Settle() != good {
		t.Error("a word on a probe that is where it belongs changes it")
	}
}
