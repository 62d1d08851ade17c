package guard_test

import (
	"testing"
	"time"

	"example.org/restpoint/controller/guard"
)

const minute = time.Minute

// on and off are lines that have been in their position for a while.
func on(d time.Duration) guard.Line { return guard.Line{On: true, For: d, Worked: true, Switches: 1} }

func off(d time.Duration) guard.Line { return guard.Line{For: d, Worked: true, LastRun: 10 * minute} }

// restarted is a line some time after a start of the program.
func restarted(l guard.Line, d time.Duration) guard.Line {
	return guard.State{Heat: l}.Started().Observe(false, false, d).Heat
}

func wants(heat, cool bool) guard.Wish { return guard.Wish{Heat: heat, Cool: cool} }

func TestDecide(t *testing.T) {
	var (
		heater, fridge = guard.Of(guard.Heater), guard.Of(guard.Compressor)
		fresh          = guard.Line{}
		long           = off(10 * time.Hour)
		none           = guard.Relay{}
	)
	for name, c := range map[string]struct {
		heat, cool       guard.Relay
		heatLine, coolIs guard.Line
		wish             guard.Wish
		want             guard.Verdict
	}{
		"nothing is wanted and nothing is on": {heater, fridge, long, long, wants(false, false), guard.Verdict{}},
		"a rested compressor may start":       {heater, fridge, long, long, wants(false, true), guard.Verdict{Cool: true}},
		"a rested heater may start":           {heater, fridge, long, long, wants(true, false), guard.Verdict{Heat: true}},
		"a compressor in its rest stays off": {
			heater, fridge, long, off(5*minute - time.Second), wants(false, true),
			guard.Verdict{CoolBlock: guard.Resting, CoolWait: time.Second},
		},
		"a compressor may start the moment its rest is over": {
			heater, fridge, long, off(5 * minute), wants(false, true), guard.Verdict{Cool: true},
		},
		"a compressor rests after a start of the program, whatever came before": {
			heater, fridge, fresh, fresh, wants(false, true),
			guard.Verdict{CoolBlock: guard.StartUp, CoolWait: 5 * minute},
		},
		"a heater waits its minute after a start of the program": {
			heater, fridge, fresh, fresh, wants(true, false),
			guard.Verdict{HeatBlock: guard.StartUp, HeatWait: minute},
		},
		"a compressor finishes its minimum run though nobody wants it": {
			heater, fridge, long, on(2 * minute), wants(false, false),
			guard.Verdict{Cool: true, CoolBlock: guard.MinimumRun, CoolWait: minute},
		},
		"a compressor whose minimum run is over goes off": {heater, fridge, long, on(3 * minute), wants(false, false), guard.Verdict{}},
		"a compressor that is wanted goes on": {
			heater, fridge, long, on(48 * time.Hour), wants(false, true), guard.Verdict{Cool: true},
		},
		"a heater finishes its minimum run though nobody wants it": {
			heater, fridge, on(20 * time.Second), long, wants(false, false),
			guard.Verdict{Heat: true, HeatBlock: guard.MinimumRun, HeatWait: 40 * time.Second},
		},
		"heat waits until the cold has left the jacket": {
			heater, fridge, long, off(19 * minute), wants(true, false),
			guard.Verdict{HeatBlock: guard.ChangeOver, HeatWait: minute},
		},
		"heat may follow cooling after twenty minutes": {heater, fridge, long, off(20 * minute), wants(true, false), guard.Verdict{Heat: true}},
		"cooling waits until the warmth has left the jacket": {
			heater, fridge, off(minute), long, wants(false, true),
			guard.Verdict{CoolBlock: guard.ChangeOver, CoolWait: 19 * minute},
		},
		"a relay that never worked needs no change-over": {
			heater, fridge, long, guard.Line{For: minute}, wants(true, false), guard.Verdict{Heat: true},
		},
		"a relay that is not fitted needs no change-over": {heater, none, long, off(minute), wants(true, false), guard.Verdict{Heat: true}},
		"both wanted gives neither": {
			heater, fridge, long, long, wants(true, true),
			guard.Verdict{HeatBlock: guard.Interlock, CoolBlock: guard.Interlock},
		},
		"heat does not start while cooling runs": {
			heater, fridge, long, on(time.Hour), wants(true, false),
			guard.Verdict{HeatBlock: guard.Interlock},
		},
		"heat does not start while cooling finishes its run": {
			heater, fridge, long, on(minute), wants(true, false),
			guard.Verdict{Cool: true, CoolBlock: guard.MinimumRun, CoolWait: 2 * minute, HeatBlock: guard.Interlock},
		},
		"cooling does not start while heat is on": {
			heater, fridge, on(time.Hour), long, wants(false, true),
			guard.Verdict{CoolBlock: guard.Interlock},
		},
		"both found on by something outside go off together": {
			heater, fridge, on(10 * time.Second), on(10 * time.Second), wants(false, false),
			guard.Verdict{HeatBlock: guard.Interlock, CoolBlock: guard.Interlock, HeatWait: 50 * time.Second, CoolWait: 170 * time.Second},
		},
		"forbidden heat goes off at once, minimum run or not": {
			heater, fridge, on(time.Second), long,
			guard.Wish{Heat: true, Limits: guard.Limits{ForbidHeat: true}},
			guard.Verdict{HeatBlock: guard.Forbidden},
		},
		"forbidden heat that nobody wants is no block": {
			heater, fridge, on(time.Second), long, guard.Wish{Limits: guard.Limits{ForbidHeat: true}}, guard.Verdict{},
		},
		"forbidden cooling finishes its minimum run": {
			heater, fridge, long, on(minute),
			guard.Wish{Cool: true, Limits: guard.Limits{ForbidCool: true}},
			guard.Verdict{Cool: true, CoolBlock: guard.MinimumRun, CoolWait: 2 * minute},
		},
		"forbidden cooling goes off after its minimum run": {
			heater, fridge, long, on(3 * minute), guard.Wish{Cool: true, Limits: guard.Limits{ForbidCool: true}}, guard.Verdict{},
		},
		"forbidden cooling does not start": {
			heater, fridge, long, long,
			guard.Wish{Cool: true, Limits: guard.Limits{ForbidCool: true}},
			guard.Verdict{CoolBlock: guard.Forbidden},
		},
		"stopped cooling goes off at once, minimum run or not": {
			heater, fridge, long, on(time.Second),
			guard.Wish{Cool: true, Limits: guard.Limits{StopCool: true}},
			guard.Verdict{CoolBlock: guard.Forbidden},
		},
		"cooling may start where only heat is forbidden, both wanted": {
			heater, fridge, long, long,
			guard.Wish{Heat: true, Cool: true, Limits: guard.Limits{ForbidHeat: true}},
			guard.Verdict{Cool: true, HeatBlock: guard.Forbidden},
		},
		"a heater stops after its longest run": {
			heater, fridge, on(4 * time.Hour), long, wants(true, false),
			guard.Verdict{HeatBlock: guard.LongestRun, HeatWait: 30 * minute},
		},
		"a heater goes on just short of its longest run": {
			heater, fridge, on(4*time.Hour - time.Second), long, wants(true, false), guard.Verdict{Heat: true},
		},
		"a heater has its break after the longest run": {
			heater, fridge,
			guard.Line{For: 10 * minute, LastRun: 4 * time.Hour, Worked: true},
			long, wants(true, false),
			guard.Verdict{HeatBlock: guard.LongestRun, HeatWait: 20 * minute},
		},
		"a heater may start again after its break": {
			heater, fridge,
			guard.Line{For: 30 * minute, LastRun: 4 * time.Hour, Worked: true},
			long, wants(true, false),
			guard.Verdict{Heat: true},
		},
		"cooling of a held beer stops after its longest run": {
			heater, fridge, long, on(12 * time.Hour),
			guard.Wish{Cool: true, Limits: guard.Limits{LongestCool: 12 * time.Hour}},
			guard.Verdict{CoolBlock: guard.LongestRun, CoolWait: 30 * minute},
		},
		"cooling of a held beer goes on just short of its longest run": {
			heater, fridge, long, on(12*time.Hour - time.Second),
			guard.Wish{Cool: true, Limits: guard.Limits{LongestCool: 12 * time.Hour}},
			guard.Verdict{Cool: true},
		},
		"a longest run shorter than the least run gives the least run": {
			heater, fridge, long, on(2 * minute),
			guard.Wish{Cool: true, Limits: guard.Limits{LongestCool: minute}},
			guard.Verdict{Cool: true},
		},
		"a coil thaws after the longest run": {
			heater, fridge, long,
			guard.Line{For: 10 * minute, LastRun: 12 * time.Hour, Worked: true},
			guard.Wish{Cool: true, Limits: guard.Limits{LongestCool: 12 * time.Hour}},
			guard.Verdict{CoolBlock: guard.LongestRun, CoolWait: 20 * minute},
		},
		"a beer that is led down needs no break after a long run": {
			heater, fridge, long, guard.Line{For: 10 * minute, LastRun: 12 * time.Hour, Worked: true}, wants(false, true), guard.Verdict{Cool: true},
		},
		"a heater has its break though the program started anew": {
			heater, fridge, restarted(on(4*time.Hour), 5*minute), long, wants(true, false),
			guard.Verdict{HeatBlock: guard.LongestRun, HeatWait: 25 * minute},
		},
		"heat waits until the cold has left the jacket though the program started anew": {
			heater, fridge, long, restarted(on(time.Hour), 19*minute), wants(true, false),
			guard.Verdict{HeatBlock: guard.ChangeOver, HeatWait: minute},
		},
		"a compressor that is led down has no longest run": {heater, fridge, long, on(30 * 24 * time.Hour), wants(false, true), guard.Verdict{Cool: true}},
		"what is not fitted stays off": {
			none, none,
			guard.Line{},
			guard.Line{},
			wants(true, false),
			guard.Verdict{HeatBlock: guard.NotFitted},
		},
		"cooling that is not fitted stays off": {
			heater, none, long,
			guard.Line{},
			wants(false, true),
			guard.Verdict{CoolBlock: guard.NotFitted},
		},
		"what is not fitted and not wanted is no block": {none, none, guard.Line{}, guard.Line{}, wants(false, false), guard.Verdict{}},
		"a wish for cooling that is not fitted does not hold heat back": {
			heater, none, long,
			guard.Line{},
			wants(true, true),
			guard.Verdict{Heat: true, CoolBlock: guard.NotFitted},
		},
	} {
		t.Run(name, func(t *testing.T) {
			s := guard.State{Heat: c.heatLine, Cool: c.coolIs}
			if got := s.Decide(c.heat, c.cool, c.wish); got != c.want {
				t.Errorf("got  %+v\nwant %+v", got, c.want)
			}
		})
	}
}

func TestObserveCountsWhatReallyHappened(t *testing.T) {
	var s guard.State
	for _, c := range []struct {
		name    string
		on      bool
		elapsed time.Duration
		want    guard.Line
	}{
		{"off from the start", false, minute, guard.Line{For: minute}},
		{"switched on", true, 10 * time.Second, guard.Line{On: true, For: 10 * time.Second, OnFor: 10 * time.Second, Switches: 1, Worked: true}},
		{"still on", true, minute, guard.Line{On: true, For: 70 * time.Second, OnFor: 70 * time.Second, Switches: 1, Worked: true}},
		{"switched off", false, 5 * time.Second, guard.Line{For: 5 * time.Second, OnFor: 70 * time.Second, Switches: 1, Worked: true, LastRun: 70 * time.Second}},
		{"on again", true, 0, guard.Line{On: true, OnFor: 70 * time.Second, Switches: 2, Worked: true, LastRun: 70 * time.Second}},
	} {
		s = s.Observe(c.on, false, c.elapsed)
		if s.Heat != c.want {
			t.Fatalf("%s: got %+v, want %+v", c.name, s.Heat, c.want)
		}
	}
	if s.Cool.On || s.Cool.Switches != 0 || s.Cool.For != 135*time.Second {
		t.Errorf("the other relay: %+v", s.Cool)
	}
}

func TestAnOffThatLastsYearsDoesNotOverflow(t *testing.T) {
	var s guard.State
	for range 300 {
		s = s.Observe(false, false, 366*24*time.Hour)
	}
	if want := 366 * 24 * time.Hour; s.Cool.For != want {
		t.Errorf("off for %v, want it held at %v", s.Cool.For, want)
	}
}

func TestAStartOfTheProgramKeepsCountersAndWhatIsNotOver(t *testing.T) {
	for name, c := range map[string]struct{ was, want guard.Line }{
		"a relay that never ran is as it was": {guard.Line{For: time.Hour}, guard.Line{}},
		"one that was on counts as just stopped": {
			guard.Line{On: true, For: time.Hour, Switches: 7, OnFor: 90 * time.Hour, LastRun: minute, Worked: true},
			guard.Line{Switches: 7, OnFor: 90 * time.Hour, LastRun: time.Hour, Before: true},
		},
		"a run that is long over is forgotten": {
			guard.Line{For: 30 * minute, Switches: 11, OnFor: 50 * time.Hour, LastRun: minute, Worked: true},
			guard.Line{Switches: 11, OnFor: 50 * time.Hour},
		},
		"a break that is not over begins anew": {
			guard.Line{For: 30*minute - time.Second, LastRun: 4 * time.Hour, Worked: true},
			guard.Line{LastRun: 4 * time.Hour, Before: true},
		},
		"and so it does after a second start": {
			guard.Line{For: 10 * minute, LastRun: 4 * time.Hour, Before: true},
			guard.Line{LastRun: 4 * time.Hour, Before: true},
		},
	} {
		t.Run(name, func(t *testing.T) {
			if got := (guard.State{Heat: c.was}).Started(); got.Heat != c.want || got.Cool != (guard.Line{}) {
				t.Errorf("got %+v, want %+v", got.Heat, c.want)
			}
			if got := (guard.State{Cool: c.was}).Started(); got.Cool != c.want || got.Heat != (guard.Line{}) {
				t.Errorf("got %+v, want %+v", got.Cool, c.want)
			}
		})
	}
}

// Times of the profiles: 5 min of rest and 3 min of run for a compressor are
// common air-conditioning practice; a heater is on a contact that must not be
// worn out by its own thermostat.
func TestProfiles(t *testing.T) {
	want := map[guard.Profile][3]time.Duration{
		guard.Compressor: {3 * minute, 5 * minute, 0},
		guard.Valve:      {15 * time.Second, 30 * time.Second, 0},
		guard.Pump:       {15 * time.Second, 30 * time.Second, 0},
		guard.Heater:     {minute, minute, 4 * time.Hour},
		guard.SSR:        {5 * time.Second, 5 * time.Second, 4 * time.Hour},
	}
	if len(guard.Profiles()) != len(want) {
		t.Errorf("%d profiles, want %d", len(guard.Profiles()), len(want))
	}
	for _, p := range guard.Profiles() {
		r := guard.Of(p)
		if !r.Fitted || r.Profile != p {
			t.Errorf("%s: %+v", p, r)
		}
		if got := [3]time.Duration{r.MinOn, r.MinOff, r.MaxRun}; got != want[p] {
			t.Errorf("%s: least on, least off, longest run %v, want %v", p, got, want[p])
		}
	}
}
