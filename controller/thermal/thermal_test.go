package thermal_test

import (
	"testing"
	"time"

	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

func at(c units.Celsius) thermal.Aim {
	return thermal.Aim{CoolTo: c, HeatTo: c, MayCool: true, MayHeat: true}
}

func TestDemand(t *testing.T) {
	rise := thermal.Aim{CoolTo: 21, HeatTo: 18, MayCool: true, MayHeat: true}
	crash := thermal.Aim{CoolTo: 10, HeatTo: 10, MayCool: true, Regime: thermal.Ramping}
	learnt := thermal.State{Cool: thermal.Coast{Learned: [2]units.Kelvins{0.2, 0.1}}, Heat: thermal.Coast{Learned: [2]units.Kelvins{0.3, 0}}}
	cooling, heating := learnt, learnt
	cooling.Demand, heating.Demand = thermal.Cooling, thermal.Heating
	farCooling := cooling
	farCooling.Cool.Learned[thermal.Holding] = 0.9
	for name, c := range map[string]struct {
		s    thermal.State
		aim  thermal.Aim
		beer units.Celsius
		want thermal.Demand
	}{
		"at its target nothing is wanted":                           {thermal.State{}, at(19), 19, thermal.Nothing},
		"inside the band nothing is wanted":                         {thermal.State{}, at(19), 19.24, thermal.Nothing},
		"above the band cooling is wanted":                          {thermal.State{}, at(19), 19.25, thermal.Cooling},
		"the band of heat is wider":                                 {thermal.State{}, at(19), 18.61, thermal.Nothing},
		"below the band heat is wanted":                             {thermal.State{}, at(19), 18.59, thermal.Heating},
		"a running cooler goes on into the band":                    {thermal.State{Demand: thermal.Cooling}, at(19), 19.1, thermal.Cooling},
		"a running cooler stops at the target":                      {thermal.State{Demand: thermal.Cooling}, at(19), 19, thermal.Nothing},
		"a learnt coast stops the cooler early":                     {cooling, at(19), 19.2, thermal.Nothing},
		"before its coast the cooler goes on":                       {cooling, at(19), 19.21, thermal.Cooling},
		"in a ramp its own coast counts":                            {cooling, crash, 10.11, thermal.Cooling},
		"in a ramp the cooler stops by its own coast":               {cooling, crash, 10.1, thermal.Nothing},
		"a coast longer than the band still cools down to the band": {farCooling, at(19), 19.25, thermal.Cooling},
		"a coast longer than the band stops at the band":            {farCooling, at(19), 19.24, thermal.Nothing},
		"a learnt coast stops the heater early":                     {heating, at(19), 18.7, thermal.Nothing},
		"before its coast the heater goes on":                       {heating, at(19), 18.69, thermal.Heating},
		"between floor and cap of a free rise nothing is wanted":    {thermal.State{}, rise, 20.5, thermal.Nothing},
		"above the cap of a free rise cooling is wanted":            {thermal.State{}, rise, 21.3, thermal.Cooling},
		"below the floor of a free rise heat is wanted":             {thermal.State{}, rise, 17.5, thermal.Heating},
		"heat that may not be is not wanted":                        {thermal.State{Demand: thermal.Heating}, crash, 5, thermal.Nothing},
		"cooling that may not be is not wanted":                     {thermal.State{Demand: thermal.Cooling}, thermal.Aim{CoolTo: 10, HeatTo: 10}, 15, thermal.Nothing},
	} {
		t.Run(name, func(t *testing.T) {
			if got := c.s.Step(c.aim, c.beer, false, false, 10*time.Second).Demand; got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}

// jacket is a vessel whose actuator works through a lagging jacket, so that the
// beer coasts after the relay went off.
type jacket struct {
	beer, wall units.Celsius
	power      units.Kelvins // an hour, of the actuator on the wall
	drift      units.Kelvins // an hour, on the beer
}

func (j *jacket) step(on bool, dt time.Duration) {
	const lag = 0.4 // h, between wall and beer
	flow := float64(j.wall.Minus(j.beer)) * dt.Hours() / lag
	j.beer = j.beer.Plus(units.Kelvins(flow*0.2) + units.Kelvins(float64(j.drift)*dt.Hours()))
	j.wall = j.wall.Plus(units.Kelvins(-flow))
	if on {
		j.wall = j.wall.Plus(units.Kelvins(float64(j.power) * dt.Hours()))
	}
}

// cycle runs until the relay has gone off and the beer has turned, and gives how
// far the beer went beyond its target.
func cycle(t *testing.T, s thermal.State, j *jacket, want thermal.Demand, toward units.Kelvins) (thermal.State, units.Kelvins) {
	t.Helper()
	const dt, target = 10 * time.Second, units.Celsius(18)
	beyond, ran := units.Kelvins(-9), false
	for range 24 * 360 {
		on := s.Demand == want
		if on && ran && beyond > -9 {
			return s, beyond
		}
		ran = ran || on
		j.step(on, dt)
		s = s.Step(at(target), j.beer, on && want == thermal.Cooling, on && want == thermal.Heating, dt)
		if ran && !on {
			beyond = max(beyond, units.Kelvins(float64(j.beer.Minus(target))*float64(toward)))
		}
	}
	t.Fatal("no second run within a day")
	return s, 0
}

func TestACoastIsLearntAndTheOvershootShrinks(t *testing.T) {
	for name, c := range map[string]struct {
		j      jacket
		want   thermal.Demand
		toward units.Kelvins
	}{
		"cooling through a jacket": {jacket{beer: 19, wall: 19, power: -40, drift: 0.4}, thermal.Cooling, -1},
		"heating through a belt":   {jacket{beer: 17, wall: 17, power: 40, drift: -0.4}, thermal.Heating, +1},
	} {
		t.Run(name, func(t *testing.T) {
			s := thermal.State{}
			s, first := cycle(t, s, &c.j, c.want, c.toward)
			var last units.Kelvins
			for range 8 {
				s, last = cycle(t, s, &c.j, c.want, c.toward)
			}
			t.Logf("overshoot %v at first, %v after eight lessons", first.Fixed(2), last.Fixed(2))
			if first < 0.3 {
				t.Fatalf("the model overshoots by %v only; there is nothing to learn", first)
			}
			if last > first/2 {
				t.Errorf("overshoot %v at first, still %v after eight more runs", first, last)
			}
			coast := s.Cool
			if c.toward > 0 {
				coast = s.Heat
			}
			if coast.Lessons < 8 || coast.Learned[thermal.Holding] <= 0 || coast.Learned[thermal.Ramping] != 0 {
				t.Errorf("learnt %+v", coast)
			}
		})
	}
}

// lesson shows the thermostat one run of cooling and a coast to a low.
func lesson(s thermal.State, coast units.Kelvins, between func(thermal.State) thermal.State) thermal.State {
	const dt = time.Minute
	s = s.Step(at(18), 18, true, false, dt)
	s = s.Step(at(18), 18, false, false, dt)
	s = s.Step(at(18), units.Celsius(18).Plus(-coast), false, false, dt)
	if between != nil {
		s = between(s)
	}
	for range 30 {
		s = s.Step(at(18), units.Celsius(18).Plus(-coast), false, false, dt)
	}
	return s
}

func TestLessons(t *testing.T) {
	for name, c := range map[string]struct {
		coast   units.Kelvins
		between func(thermal.State) thermal.State
		want    units.Kelvins
		lessons int
	}{
		"the first coast counts for three tenths": {0.5, nil, 0.15, 1},
		"a coast of a broken probe is bounded":    {40, nil, 1.5, 1},
		"a coast without a temperature is no lesson": {0.5, func(s thermal.State) thermal.State {
			return s.Blind()
		}, 0, 0},
		"a coast into another regime is no lesson": {0.5, func(s thermal.State) thermal.State {
			a := at(18)
			a.Regime = thermal.Ramping
			return s.Step(a, 17.5, false, false, time.Minute)
		}, 0, 0},
		"a coast that ends in another run is no lesson": {0.5, func(s thermal.State) thermal.State {
			return s.Step(at(18), 17.5, true, false, time.Minute)
		}, 0, 1}, // the second run gives its own: none
	} {
		t.Run(name, func(t *testing.T) {
			s := lesson(thermal.State{}, c.coast, c.between)
			if got := s.Cool.Learned[thermal.Holding]; got < c.want-1e-9 || got > c.want+1e-9 || s.Cool.Lessons != c.lessons {
				t.Errorf("learnt %v in %d lessons, want %v in %d", got, s.Cool.Lessons, c.want, c.lessons)
			}
		})
	}
}

func TestACoastThatGoesOnForHoursIsNoLesson(t *testing.T) {
	s := thermal.State{}
	s = s.Step(at(18), 18, true, false, time.Minute)
	s = s.Step(at(18), 18, false, false, time.Minute)
	beer := units.Celsius(18)
	for range 5 * 60 { // a cold night, not the jacket
		beer = beer.Plus(-0.01)
		s = s.Step(at(18), beer, false, false, time.Minute)
	}
	for range 30 {
		s = s.Step(at(18), beer, false, false, time.Minute)
	}
	if s.Cool.Lessons != 0 || s.Cool.Watching {
		t.Errorf("learnt %+v", s.Cool)
	}
}

func TestWhileItCoastsNoRelayIsWanted(t *testing.T) {
	s := thermal.State{}
	s = s.Step(at(18), 18.1, true, false, time.Minute)
	s = s.Step(at(18), 18.1, false, false, time.Minute)
	// Somebody lowers the target: the old run still works on the beer.
	s = s.Step(at(17.6), 18, false, false, time.Minute)
	if s.Demand != thermal.Nothing {
		t.Errorf("wants %q while the last run still cools", s.Demand)
	}
	for range 20 {
		s = s.Step(at(17), 18, false, false, time.Minute)
	}
	if s.Demand != thermal.Cooling {
		t.Errorf("wants %q after the coast, the beer 1 K too warm", s.Demand)
	}
}

func TestBlindWantsNothing(t *testing.T) {
	for _, d := range []thermal.Demand{thermal.Nothing, thermal.Heating, thermal.Cooling} {
		s := thermal.State{Demand: d, Cool: thermal.Coast{Clean: true, Learned: [2]units.Kelvins{0.4, 0}}}.Blind()
		if s.Demand != thermal.Nothing || s.Cool.Clean || s.Heat.Clean {
			t.Errorf("blind while %q: %+v", d, s)
		}
		if s.Cool.Learned[0] != 0.4 {
			t.Errorf("what was learnt is gone: %+v", s.Cool)
		}
	}
}

func TestAfterAStartNothingCoasts(t *testing.T) {
	s := thermal.State{Demand: thermal.Cooling, Cool: thermal.Coast{WasOn: true, Learned: [2]units.Kelvins{0.2, 0}, Lessons: 3}}.Started()
	if s.Demand != thermal.Nothing || s.Cool.Lessons != 3 || s.Cool.Learned[thermal.Holding] != 0.2 {
		t.Errorf("%+v", s)
	}
	if s = s.Step(at(18), 19, false, false, time.Minute); s.Demand != thermal.Cooling {
		t.Errorf("wants %q after a start, the beer 1 K too warm", s.Demand)
	}
}
