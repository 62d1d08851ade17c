package guard_test

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"example.org/restpoint/controller/guard"
)

// history is what an observer beside the relay sees, counted by itself.
type history struct {
	on    bool
	since time.Duration // in this position, as far as the observer can know
	runs  int
}

func (h *history) see(on bool, elapsed time.Duration) {
	if on != h.on {
		h.on, h.since = on, 0
		if on {
			h.runs++
		}
	}
	h.since += elapsed
}

func relays(t *rapid.T) (heat, cool guard.Relay) {
	heat = guard.Of(rapid.SampledFrom([]guard.Profile{guard.Heater, guard.SSR}).Draw(t, "heat"))
	cool = guard.Of(rapid.SampledFrom([]guard.Profile{guard.Compressor, guard.Valve, guard.Pump}).Draw(t, "cool"))
	heat.Fitted = rapid.IntRange(0, 9).Draw(t, "heat fitted") > 0
	cool.Fitted = rapid.IntRange(0, 9).Draw(t, "cool fitted") > 0
	return heat, cool
}

func wish(t *rapid.T) guard.Wish {
	return guard.Wish{
		Heat: rapid.Bool().Draw(t, "heat"), Cool: rapid.Bool().Draw(t, "cool"),
		Limits: guard.Limits{
			ForbidHeat: rapid.IntRange(0, 7).Draw(t, "forbid heat") == 0,
			ForbidCool: rapid.IntRange(0, 7).Draw(t, "forbid cool") == 0,
			StopCool:   rapid.IntRange(0, 15).Draw(t, "stop cool") == 0,
		},
	}
}

// Whatever is wished, at whatever pace, and however often the program starts
// anew: never both, no rest is shortened, a minimum run is kept unless it is
// forbidden or stopped, and no heater runs beyond its longest run.
func TestNoWishBreaksTheGuard(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		heat, cool := relays(t)
		var s guard.State
		var h, c history
		var v guard.Verdict
		for range rapid.IntRange(1, 120).Draw(t, "steps") {
			elapsed := time.Duration(rapid.IntRange(0, 400).Draw(t, "seconds")) * time.Second
			restart := rapid.IntRange(0, 19).Draw(t, "restart") == 0
			if restart {
				// Outputs are off while the program is away; how long nobody may assume.
				v = guard.Verdict{}
				s, elapsed = s.Started(), 0
				h.on, h.since, c.on, c.since = false, 0, false, 0
			}
			s = s.Observe(v.Heat, v.Cool, elapsed)
			h.see(v.Heat, elapsed)
			c.see(v.Cool, elapsed)
			w := wish(t)
			v = s.Decide(heat, cool, w)
			checkVerdict(t, v, w, heat, cool)
			checkLine(t, "heat", heat, h, v.Heat, w.ForbidHeat || v.HeatBlock == guard.LongestRun)
			checkLine(t, "cool", cool, c, v.Cool, w.StopCool)
			if v.Heat && h.on && h.since >= heat.MaxRun {
				t.Fatalf("heat for %v, longest %v", h.since, heat.MaxRun)
			}
			if s.Heat.Switches != int64(h.runs) || s.Cool.Switches != int64(c.runs) {
				t.Fatalf("counted %d and %d switchings, saw %d and %d", s.Heat.Switches, s.Cool.Switches, h.runs, c.runs)
			}
		}
	})
}

func checkVerdict(t *rapid.T, v guard.Verdict, w guard.Wish, heat, cool guard.Relay) {
	switch {
	case v.Heat && v.Cool:
		t.Fatal("heat and cool together")
	case v.Heat && (w.ForbidHeat || !heat.Fitted):
		t.Fatal("heat though it is forbidden or not fitted")
	case v.Cool && (w.StopCool || !cool.Fitted):
		t.Fatal("cool though it is stopped or not fitted")
	case w.Heat && !v.Heat && v.HeatBlock == guard.Free, w.Cool && !v.Cool && v.CoolBlock == guard.Free && !w.ForbidCool:
		t.Fatalf("a wish is held back without a reason: %+v", v)
	case v.HeatWait < 0 || v.CoolWait < 0:
		t.Fatalf("a wait below nothing: %+v", v)
	}
}

func checkLine(t *rapid.T, name string, r guard.Relay, h history, next, mayCut bool) {
	if next && !h.on && h.since < r.MinOff {
		t.Fatalf("%s: on after a rest of %v, %v are needed", name, h.since, r.MinOff)
	}
	if !next && h.on && h.since < r.MinOn && !mayCut {
		t.Fatalf("%s: off after a run of %v, %v are needed", name, h.since, r.MinOn)
	}
}

// A heater with a wish that never ends works four hours and rests half an hour.
func TestAHeaterThatIsAlwaysWantedHasItsBreaks(t *testing.T) {
	heat, cool := guard.Of(guard.Heater), guard.Relay{}
	var s guard.State
	var v guard.Verdict
	var h history
	var longest, shortest time.Duration = 0, time.Hour
	for range 3 * 24 * 60 {
		s = s.Observe(v.Heat, false, time.Minute)
		h.see(v.Heat, time.Minute)
		v = s.Decide(heat, cool, guard.Wish{Heat: true})
		if h.on {
			longest = max(longest, h.since)
		}
		if v.Heat && !h.on && h.runs > 0 {
			shortest = min(shortest, h.since)
		}
	}
	if longest != 4*time.Hour || shortest != 30*time.Minute {
		t.Errorf("longest run %v, shortest break %v", longest, shortest)
	}
}
