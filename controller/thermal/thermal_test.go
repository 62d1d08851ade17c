package thermal_test

import (
	"testing"
	"time"

	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

func at(c units.Celsius) thermal.Aim {
	return thermal.Aim{CoolTo: c, HeatTo: c, MayCool: true, MayHeat: true, Both: true}
}

// still is a thermostat that has seen the beer stand where it is for two hours.
func still(beer units.Celsius) thermal.State {
	var s thermal.State
	for range 120 {
		s.Step(&thermal.Aim{CoolTo: beer, HeatTo: beer}, beer, false, false, time.Minute)
	}
	return s
}

func TestDemand(t *testing.T) {
	rise := thermal.Aim{CoolTo: 21, HeatTo: 18, MayCool: true, MayHeat: true, Over: 0.1, Both: true}
	alone := thermal.Aim{CoolTo: 19, HeatTo: 19, MayCool: true}
	for name, c := range map[string]struct {
		demand thermal.Demand
		aim    thermal.Aim
		beer   units.Celsius
		want   thermal.Demand
	}{
		"at its target nothing is wanted":                        {thermal.Nothing, at(19), 19, thermal.Nothing},
		"inside its swing nothing is wanted":                     {thermal.Nothing, alone, 19.05, thermal.Nothing},
		"above its swing cooling is wanted":                      {thermal.Nothing, alone, 19.125, thermal.Cooling},
		"with a heater, what stands still is left alone":         {thermal.Nothing, at(19), 19.25, thermal.Nothing},
		"but not far off":                                        {thermal.Nothing, at(19), 19.5, thermal.Cooling},
		"nor far below":                                          {thermal.Nothing, at(19), 18.5, thermal.Heating},
		"a running cooler goes on inside the swing":              {thermal.Cooling, at(19), 19, thermal.Cooling},
		"and stops below it":                                     {thermal.Cooling, at(19), 18.875, thermal.Nothing},
		"a running heater goes on inside the swing":              {thermal.Heating, at(19), 19, thermal.Heating},
		"and stops above it":                                     {thermal.Heating, at(19), 19.125, thermal.Nothing},
		"between floor and cap of a free rise nothing is wanted": {thermal.Nothing, rise, 20.5, thermal.Nothing},
		"above the cap of a free rise cooling is wanted":         {thermal.Nothing, rise, 21.5, thermal.Cooling},
		"below the floor of a free rise heat is wanted":          {thermal.Nothing, rise, 17.5, thermal.Heating},
		"heat that may not be is not wanted":                     {thermal.Heating, alone, 15, thermal.Nothing},
		"cooling that may not be is not wanted":                  {thermal.Cooling, thermal.Aim{CoolTo: 10, HeatTo: 10}, 15, thermal.Nothing},
		"a cooler that has gone too far gives way to heat":       {thermal.Cooling, at(19), 18, thermal.Heating},
		"what is cold is brought no further below than it may": {
			thermal.Cooling, thermal.Aim{CoolTo: 1, HeatTo: 0, MayCool: true, Under: 0.1, Sparing: true}, 0.875, thermal.Nothing,
		},
		"in that a compressor may wait until it is warmer": {
			thermal.Nothing, thermal.Aim{CoolTo: 1, HeatTo: 0, MayCool: true, Under: 0.1, Sparing: true}, 1.25, thermal.Nothing,
		},
	} {
		t.Run(name, func(t *testing.T) {
			s := still(c.beer)
			s.Demand = c.demand
			s.Step(&c.aim, c.beer, c.demand == thermal.Cooling, c.demand == thermal.Heating, 10*time.Second)
			if s.Demand != c.want {
				t.Errorf("got %q, want %q", s.Demand, c.want)
			}
		})
	}
}

// jacket is a vessel whose actuators work through a lagging jacket.
type jacket struct {
	beer       units.Celsius
	cool, heat units.KelvinsPerHour // of the actuators, on the beer
	drift      units.KelvinsPerHour
	lag        time.Duration
	seen       float64 // K by which the wall is colder than the beer
}

func (j *jacket) step(cool, heat bool, dt time.Duration) {
	on := 0.0
	if cool {
		on = float64(j.cool)
	}
	if heat {
		on += float64(j.heat)
	}
	j.seen += (on - j.seen) * (dt.Hours() / (dt.Hours() + j.lag.Hours()))
	j.beer = j.beer.Plus(units.Kelvins((j.seen + float64(j.drift)) * dt.Hours()))
}

// raster is what a probe of 0.0625 K reads.
func raster(c units.Celsius) units.Celsius { return units.Celsius(float64(int(c*16)) / 16) }

// ran is what came of some days.
type ran struct {
	off            units.Kelvins // furthest from the target, of the last day
	cools, heats   int           // starts on the last day
	cooled, heated time.Duration
}

func run(s thermal.State, a thermal.Aim, j *jacket, days int) (thermal.State, ran) {
	const dt = 10 * time.Second
	var r ran
	var cool, heat bool
	for i := range days * 8640 {
		j.step(cool, heat, dt)
		s.Step(&a, raster(j.beer), cool, heat, dt)
		wasCool, wasHeat := cool, heat
		cool, heat = s.Demand == thermal.Cooling, s.Demand == thermal.Heating
		if i < (days-1)*8640 {
			continue
		}
		r.off = max(r.off, j.beer.Minus(a.CoolTo), a.CoolTo.Minus(j.beer))
		if cool {
			r.cooled += dt
		}
		if heat {
			r.heated += dt
		}
		if cool && !wasCool {
			r.cools++
		}
		if heat && !wasHeat {
			r.heats++
		}
	}
	return s, r
}

func TestWhatIsLearntHoldsTheBeer(t *testing.T) {
	for name, c := range map[string]struct {
		j    jacket
		off  units.Kelvins
		heat bool // it is a beer that must be heated
	}{
		"cooling through a quick jacket": {jacket{cool: -4, heat: 1, drift: 0.4, lag: 5 * time.Minute}, 0.2, false},
		"cooling through slow air":       {jacket{cool: -3, heat: 1, drift: 0.3, lag: 40 * time.Minute}, 0.25, false},
		"heating through a belt":         {jacket{cool: -4, heat: 1.5, drift: -0.3, lag: 10 * time.Minute}, 0.25, true},
		"a big tank":                     {jacket{cool: -0.6, heat: 0.3, drift: 0.05, lag: 10 * time.Minute}, 0.2, false},
	} {
		t.Run(name, func(t *testing.T) {
			c.j.beer = 18
			_, r := run(thermal.State{}, at(18), &c.j, 3)
			t.Logf("%v off at most, %d starts of cooling, %d of heat", r.off.Fixed(2), r.cools, r.heats)
			if r.off > c.off {
				t.Errorf("%v off, want %v", r.off, c.off)
			}
			if c.heat && r.cooled > 0 || !c.heat && r.heated > 0 {
				t.Errorf("cooled for %v and heated for %v", r.cooled, r.heated)
			}
		})
	}
}

func TestACompressorStartsMoreRarely(t *testing.T) {
	j := jacket{beer: 12, cool: -3, drift: 0.4, lag: 20 * time.Minute}
	a := thermal.Aim{CoolTo: 12, HeatTo: 12, MayCool: true, MayHeat: true}
	k := j
	_, valve := run(thermal.State{}, a, &j, 3)
	a.Sparing, a.CoolRun = true, 3*time.Minute
	s, compressor := run(thermal.State{}, a, &k, 3)
	if compressor.cools*2 > valve.cools || compressor.cools == 0 {
		t.Errorf("a compressor starts %d times a day, a valve %d times", compressor.cools, valve.cools)
	}
	if s.Spare < 0.5 || s.Spare > 3 {
		t.Errorf("it may swing by %v K", s.Spare)
	}
}

func TestAMovingAimIsLedByTheLag(t *testing.T) {
	j := jacket{beer: 20, cool: -4, drift: 0.2, lag: 20 * time.Minute}
	const dt = 10 * time.Second
	var s thermal.State
	a := thermal.Aim{CoolTo: 20, HeatTo: -2, MayCool: true, Rate: -1, End: 2, Regime: thermal.Ramping, Under: 0.1}
	cool, low := false, units.Celsius(20)
	for i := range 30 * 360 {
		j.step(cool, false, dt)
		a.CoolTo = max(2, units.Celsius(20-float64(i)/360))
		if a.CoolTo == a.End {
			a.Rate = 0
		}
		s.Step(&a, raster(j.beer), cool, false, dt)
		cool = s.Demand == thermal.Cooling
		low = min(low, j.beer)
		if trails := j.beer.Minus(a.CoolTo); i > 2*360 && trails > 0.3 {
			t.Fatalf("after %d h the beer trails its ramp by %v K", i/360, trails)
		}
	}
	if low < 1.8 {
		t.Errorf("%v, which is an undershoot", low)
	}
}

func TestBlindWantsNothing(t *testing.T) {
	eighteen := at(18)
	j := jacket{beer: 18, cool: -4, heat: 1, drift: 0.4, lag: 5 * time.Minute}
	learnt, _ := run(thermal.State{}, at(18), &j, 2)
	for _, d := range []thermal.Demand{thermal.Nothing, thermal.Heating, thermal.Cooling} {
		learnt.Demand = d
		s := learnt.Blind()
		if s.Demand != thermal.Nothing || s.Response.Rates().Known {
			t.Errorf("blind while %q: %q, %+v", d, s.Demand, s.Response.Rates())
		}
		s.Step(&eighteen, 18, false, false, time.Minute)
		was, now := learnt.Response.Rates(), s.Response.Rates()
		if now.Cool != was.Cool || now.CoolLag != was.CoolLag || now.CoolLearnt != was.CoolLearnt {
			t.Errorf("what was learnt is gone: %+v, then %+v", was, now)
		}
	}
}

func TestAfterAStartNothingCoasts(t *testing.T) {
	eighteen := at(18)
	j := jacket{beer: 18, cool: -4, heat: 1, drift: 0.4, lag: 5 * time.Minute}
	s, _ := run(thermal.State{}, at(18), &j, 2)
	s.Demand = thermal.Cooling
	s = s.Started()
	if s.Demand != thermal.Nothing {
		t.Errorf("wants %q", s.Demand)
	}
	if s.Step(&eighteen, 19, false, false, time.Minute); s.Demand != thermal.Cooling {
		t.Errorf("wants %q after a start, the beer 1 K too warm", s.Demand)
	}
}
