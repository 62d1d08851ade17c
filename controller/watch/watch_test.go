package watch_test

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"example.org/restpoint/controller/units"
	"example.org/restpoint/controller/watch"
)

// vessel is a beer that moves as it is told, and its relays.
type vessel struct {
	s          watch.State
	beer       units.Celsius
	heat, cool bool
	age        time.Duration
	starts     int64
}

// run lets the beer move at a pace, read in the raster of the usual probe.
func (v *vessel) run(d time.Duration, pace units.KelvinsPerHour) {
	const step = 10 * time.Second
	for range int(d / step) {
		v.age += step
		v.beer = v.beer.Plus(units.Kelvins(float64(pace) * step.Hours()))
		seen := units.Celsius(float64(int(float64(v.beer)*16)) / 16)
		v.s.Step(&watch.Input{Beer: seen, Known: true, Heat: v.heat, Cool: v.cool, Elapsed: step, Age: v.age, CoolSwitches: v.starts})
	}
}

func TestARunThatMovesTheBeerTheWrongWay(t *testing.T) {
	for name, c := range map[string]struct {
		heat  bool
		pace  units.KelvinsPerHour
		over  time.Duration
		wrong bool
	}{
		"cooling that cools":                                 {false, -2, time.Hour, false},
		"cooling that the yeast outdoes":                     {false, 0.5, 6 * time.Hour, false},
		"cooling that warms by 2 K an hour":                  {false, 2, 18 * time.Minute, true},
		"and has not done so for long":                       {false, 2, 10 * time.Minute, false},
		"cooling that warms by 1.2 K an hour all the time":   {false, 1.2, 3 * time.Hour, false},
		"heat that heats":                                    {true, 2, time.Hour, false},
		"heat that cools by 2 K an hour":                     {true, -2, 18 * time.Minute, true},
		"heat in a cold room, at half a kelvin an hour down": {true, -0.5, 6 * time.Hour, false},
	} {
		t.Run(name, func(t *testing.T) {
			v := vessel{beer: 18, heat: c.heat, cool: !c.heat}
			v.run(c.over, c.pace)
			if got := v.s.Heat.Wrong(+1) || v.s.Cool.Wrong(-1); got != c.wrong {
				t.Errorf("wrong %v, want %v: %+v %+v", got, c.wrong, v.s.Heat, v.s.Cool)
			}
		})
	}
}

func TestAReadingThatStandsStill(t *testing.T) {
	v := vessel{beer: 18, heat: true}
	if v.run(119*time.Minute, 0); v.s.Heat.Stuck() {
		t.Error("stuck before two hours")
	}
	if v.run(2*time.Minute, 0); !v.s.Heat.Stuck() {
		t.Error("not stuck after two hours of heat")
	}
	if v.run(10*time.Minute, 1); v.s.Heat.Stuck() {
		t.Error("stuck though it moves")
	}
	v.heat = false
	if v.run(24*time.Hour, 0); v.s.Heat.Stuck() || v.s.Cool.Stuck() {
		t.Error("a good tank at rest stands still for hours, and that is no fault")
	}
}

func TestALongRunThatStillFalls(t *testing.T) {
	v := vessel{beer: 18, cool: true}
	if v.run(50*time.Minute, -2); v.s.Cool.Falls(2, 0.3) {
		t.Error("falls before a whole hour was seen")
	}
	if v.run(time.Hour, -2); !v.s.Cool.Falls(2, 0.3) {
		t.Errorf("does not fall at its usual pace: %+v", v.s.Cool)
	}
	if v.s.Cool.Falls(0, 0.3) {
		t.Error("falls by a pace that nobody knows")
	}
	if v.run(130*time.Minute, -0.5); v.s.Cool.Falls(2, 0.3) {
		t.Errorf("falls though it is a quarter of its usual pace: %+v", v.s.Cool)
	}
	if v.run(130*time.Minute, -0.75); !v.s.Cool.Falls(2, 0.3) {
		t.Errorf("does not fall at more than a third of its usual pace: %+v", v.s.Cool)
	}
	v.cool = false
	if v.run(time.Minute, -2); v.s.Cool.Falls(2, 0.3) {
		t.Error("an ended run falls")
	}
}

func TestAWeldedContact(t *testing.T) {
	for name, c := range map[string]struct {
		before, on, after units.KelvinsPerHour
		rest              time.Duration
		other             bool
		want              bool
	}{
		"a heater that is off":                      {0, 1, 0, 3 * time.Hour, false, false},
		"a heater that stays on":                    {0, 1, 1, 4 * time.Hour, false, true},
		"one that stays on, seen for an hour only":  {0, 1, 1, 70 * time.Minute, false, false},
		"a yeast that warms as before":              {0.3, 1.3, 0.3, 4 * time.Hour, false, false},
		"a strong yeast that warms as before":       {0.7, 1.3, 0.7, 4 * time.Hour, false, false},
		"a yeast that wakes meanwhile":              {0, 1, 0.4, 4 * time.Hour, false, false},
		"a heater too weak to tell":                 {0, 0.3, 0.3, 4 * time.Hour, false, false},
		"cooling works meanwhile, so nothing shows": {0, 1, 1, 4 * time.Hour, true, false},
	} {
		t.Run(name, func(t *testing.T) {
			v := vessel{beer: 12}
			v.run(3*time.Hour, c.before)
			v.heat = true
			v.run(3*time.Hour, c.on)
			v.heat, v.cool = false, c.other
			v.run(c.rest, c.after)
			if got := v.s.HeatTrace.Weld; got != c.want {
				t.Errorf("welded %v, want %v: %+v", got, c.want, v.s.HeatTrace)
			}
			if !c.want {
				return
			}
			v.run(3*time.Hour, 0)
			if v.s.HeatTrace.Weld {
				t.Error("still welded though the beer stands")
			}
		})
	}
	v := vessel{beer: 20}
	v.run(3*time.Hour, 0)
	v.cool = true
	v.run(3*time.Hour, -2)
	v.cool = false
	if v.run(4*time.Hour, -1.2); !v.s.CoolTrace.Weld || v.s.HeatTrace.Weld {
		t.Errorf("a valve that stays open: %+v", v.s)
	}
}

func TestWhoTouchesTheBeerVoidsWhatIsSeen(t *testing.T) {
	v := vessel{beer: 12, cool: true}
	v.run(10*time.Minute, 2)
	v.s = v.s.Void()
	if v.run(119*time.Minute, 3); v.s.Cool.Wrong(-1) {
		t.Error("warm wort that is filled in is no fault")
	}
	if v.run(16*time.Minute, 3); !v.s.Cool.Wrong(-1) {
		t.Error("two hours later it still is none")
	}
}

func TestShareOfTheLastDay(t *testing.T) {
	var d watch.Duty
	age := time.Duration(0)
	day := func(hours int, on func(int) bool) {
		for m := range hours * 60 {
			age += time.Minute
			d.Step(age, on(m), time.Minute)
		}
	}
	day(11, func(int) bool { return true })
	if _, known := d.Mean(); known {
		t.Error("half a day is said to be a day")
	}
	day(13, func(int) bool { return true })
	day(24, func(m int) bool { return m%4 == 0 })
	if mean, known := d.Mean(); !known || mean < 0.24 || mean > 0.28 {
		t.Errorf("mean %v, want a quarter", mean)
	}
	d.Step(age+30*time.Hour, true, time.Minute)
	if _, known := d.Mean(); known {
		t.Error("yesterday is known after a day without a count")
	}
}

func TestStartsWithinTheHour(t *testing.T) {
	v := vessel{beer: 18, starts: 40_000}
	v.run(time.Minute, 0)
	if n := v.s.CoolStarts.Hour(); n != 0 {
		t.Errorf("%d starts of before anybody counted", n)
	}
	for range 7 {
		v.starts++
		v.run(8*time.Minute, 0)
	}
	if n := v.s.CoolStarts.Hour(); n != 7 {
		t.Errorf("%d starts, want 7", n)
	}
	if v.run(30*time.Minute, 0); v.s.CoolStarts.Hour() >= 7 {
		t.Error("old starts are not forgotten")
	}
	if v.run(2*time.Hour, 0); v.s.CoolStarts.Hour() != 0 {
		t.Error("starts of before an hour count")
	}
}

// Whatever comes, the counts stay sane.
func TestCountsStaySane(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var s watch.State
		age, n := time.Duration(0), int64(0)
		for range rapid.IntRange(1, 200).Draw(t, "steps") {
			e := time.Duration(rapid.IntRange(0, 20_000).Draw(t, "s")) * time.Second
			age += e
			if rapid.IntRange(0, 20).Draw(t, "gap") == 0 {
				age += time.Duration(rapid.IntRange(0, 72).Draw(t, "h")) * time.Hour
			}
			n += int64(rapid.IntRange(0, 2).Draw(t, "starts"))
			s.Step(&watch.Input{Beer: units.Celsius(rapid.Float64Range(-5, 45).Draw(t, "beer")), Known: rapid.Bool().Draw(t, "known"), Heat: rapid.Bool().Draw(t, "heat"), Cool: rapid.Bool().Draw(t, "cool"), Elapsed: e, Age: age, CoolSwitches: n})
			if mean, known := s.Duty.Mean(); known && (mean < 0 || mean > 1) {
				t.Fatalf("share %v", mean)
			}
			if h := s.CoolStarts.Hour(); h < 0 || h > n {
				t.Fatalf("%d starts of %d", h, n)
			}
		}
	})
}
