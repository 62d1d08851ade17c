package sense_test

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"example.org/restpoint/controller/sense"
	"example.org/restpoint/controller/units"
)

func beerPlace() sense.Place {
	return sense.Place{Lowest: -5, Highest: 45, Slow: true, Stale: time.Minute}
}

func known(c units.Celsius) sense.Thermometer { return sense.Thermometer{Known: true, Celsius: c} }

func failed(c units.Celsius) sense.Thermometer {
	t := known(c)
	t.Failed, t.Fault = true, sense.TimedOut
	return t
}

func TestAThermometerThroughItsLife(t *testing.T) {
	var p sense.Thermometer
	if p.Usable() || !p.Sound() {
		t.Fatalf("a probe that has not spoken: %+v", p)
	}
	p = p.Take(18, sense.NoFault, 0, beerPlace())
	if !p.Usable() || p.Celsius != 18 {
		t.Fatalf("the first value: %+v", p)
	}
	p = p.Advance(61 * time.Second).Check(beerPlace())
	if p.Usable() || p.Fault != sense.TimedOut {
		t.Fatalf("silent for longer than a minute: %+v", p)
	}
	for n := 1; n <= 5; n++ {
		p = p.Advance(5*time.Second).Take(18.5, sense.NoFault, 0, beerPlace()).Check(beerPlace())
		if p.Usable() != (n == 5) {
			t.Fatalf("after %d values that agree: %+v", n, p)
		}
	}
	for n := 1; n <= 2; n++ {
		p = p.Take(85, sense.NoFault, 0, beerPlace())
		if p.Usable() != (n == 1) || p.Fault != sense.OutOfRange {
			t.Fatalf("after %d values that no beer has: %+v", n, p)
		}
	}
	if back := p.Started(); back.Usable() || !back.Failed {
		t.Errorf("a restart healed it: %+v", back)
	}
	if back := known(18).Started(); back.Known || back.Failed {
		t.Errorf("a temperature of before the start is known: %+v", back)
	}
}

func TestAFaultLeavesTheLastValueUntilItIsTooOld(t *testing.T) {
	p := known(18).Advance(30*time.Second).Take(0, "checksum", 0, beerPlace()).Check(beerPlace())
	if !p.Usable() || p.Celsius != 18 || p.Fault != "checksum" {
		t.Errorf("%+v", p)
	}
	if p = p.Advance(40 * time.Second).Check(beerPlace()); p.Usable() || p.Fault != "checksum" {
		t.Errorf("%+v", p)
	}
}

// No order of readings makes a number that is not one, and nothing out of range
// is ever used.
func TestWhateverComesOnlyValuesInRangeAreUsed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var p sense.Thermometer
		for range rapid.IntRange(1, 60).Draw(t, "readings") {
			x := rapid.OneOf(rapid.Float64Range(-10, 50), rapid.Just(math.NaN()), rapid.Just(math.Inf(1)), rapid.Just(85.0)).Draw(t, "celsius")
			fault := rapid.SampledFrom([]sense.Fault{"", "", "", "timeout", "bus"}).Draw(t, "fault")
			age := time.Duration(rapid.IntRange(-5, 100).Draw(t, "age")) * time.Second
			p = p.Advance(time.Duration(rapid.IntRange(0, 90).Draw(t, "elapsed"))*time.Second).Take(units.Celsius(x), fault, age, beerPlace()).Check(beerPlace())
			if p.Usable() && !(p.Celsius >= -5 && p.Celsius <= 45 && p.Age <= time.Minute) {
				t.Fatalf("used: %+v", p)
			}
		}
	})
}

func TestWhatControlGoesBy(t *testing.T) {
	silent := sense.Thermometer{}
	for name, c := range map[string]struct {
		wells  sense.Wells
		n      int
		mean   bool
		want   units.Celsius
		usable bool
		backup bool
	}{
		"a single thermowell":                                {sense.Wells{known(18)}, 1, false, 18, true, false},
		"a single thermowell, failed":                        {sense.Wells{failed(18)}, 1, false, 18, false, false},
		"the first of three":                                 {sense.Wells{known(18), known(20), known(22)}, 3, false, 18, true, false},
		"the first is lost and the others stand in":          {sense.Wells{failed(18), known(20), known(22)}, 3, false, 21, true, true},
		"the first is lost and one other too":                {sense.Wells{failed(18), failed(20), known(22)}, 3, false, 22, true, true},
		"all are lost":                                       {sense.Wells{failed(18), failed(20), failed(22)}, 3, false, 18, false, false},
		"the first has not spoken yet: nobody stands in":     {sense.Wells{silent, known(20)}, 2, false, 0, false, false},
		"the mean of two":                                    {sense.Wells{known(18), known(20)}, 2, true, 19, true, false},
		"the mean of those left":                             {sense.Wells{known(18), failed(20), known(22)}, 3, true, 20, true, true},
		"the mean while one has not spoken yet":              {sense.Wells{known(18), silent}, 2, true, 18, true, false},
		"the mean of none":                                   {sense.Wells{failed(18), failed(20)}, 2, true, 18, false, false},
		"a third thermowell that is not fitted counts never": {sense.Wells{failed(18), failed(20), known(5)}, 2, true, 18, false, false},
	} {
		t.Run(name, func(t *testing.T) {
			beer, backup := c.wells.Beer(c.n, c.mean)
			if beer.Celsius != c.want || beer.Usable() != c.usable || backup != c.backup {
				t.Errorf("%v usable %v, backup %v", beer.Celsius, beer.Usable(), backup)
			}
		})
	}
}

func TestTheOldestOfTheMeanTellsItsAge(t *testing.T) {
	young, old := known(18), known(20)
	young.Age, old.Age = time.Second, 40*time.Second
	if beer, _ := (sense.Wells{young, old}).Beer(2, true); beer.Age != 40*time.Second {
		t.Errorf("the mean is %v old", beer.Age)
	}
}

func TestAnyThermowellWillDo(t *testing.T) {
	w := sense.Wells{failed(18), failed(19), known(20)}
	if w.Usable(2) || !w.Usable(3) {
		t.Error("the third of three can be used, and none of the first two")
	}
}

func TestSpread(t *testing.T) {
	if s, ok := (sense.Wells{known(18), known(21.5), known(20)}).Spread(3); !ok || s != 3.5 {
		t.Errorf("spread %v, %v", s, ok)
	}
	if _, ok := (sense.Wells{known(18), failed(21.5)}).Spread(2); ok {
		t.Error("a single thermowell has no layers")
	}
}

func TestAPressureTransducer(t *testing.T) {
	const stale = time.Minute
	var g sense.Gauge
	if g.Usable() {
		t.Fatal("nothing is known yet")
	}
	g = g.Take(50e3, sense.NoFault, 0).Check(stale)
	if !g.Usable() || g.Gauge != 50e3 {
		t.Fatalf("%+v", g)
	}
	if old := g.Advance(5*time.Second).Take(1e3, sense.NoFault, 30*time.Second); old.Gauge != 50e3 {
		t.Errorf("an older value replaces a newer one: %+v", old)
	}
	for name, bad := range map[string]units.Pascals{"less than nothing": -102e3, "a bomb": 1.1e6, "no number": units.Pascals(math.NaN())} {
		if b := g.Take(bad, sense.NoFault, 0); b.Usable() || b.Fault != sense.OutOfRange {
			t.Errorf("%s: %+v", name, b)
		}
	}
	lost := g.Advance(59*time.Second).Take(0, "bus", 0).Check(stale)
	if !lost.Usable() || lost.Fault != "bus" {
		t.Errorf("a fault within the minute: %+v", lost)
	}
	if lost = lost.Advance(2 * time.Second).Check(stale); lost.Usable() {
		t.Errorf("a value of more than a minute is used: %+v", lost)
	}
	if quiet := g.Advance(2 * time.Minute).Check(stale); quiet.Usable() || quiet.Fault != sense.TimedOut {
		t.Errorf("silence: %+v", quiet)
	}
	if back := lost.Take(48e3, sense.NoFault, 0); !back.Usable() || back.Gauge != 48e3 {
		t.Errorf("it is back: %+v", back)
	}
	if g.Started().Known {
		t.Error("a pressure of before the start is known")
	}
}
