package controller_test

import (
	"encoding/json"
	"reflect"
	"testing"
	"time"

	"pgregory.net/rapid"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/guard"
)

type outs = []controller.Outputs

var (
	cold = controller.Outputs{Cool: true}
	hold = controller.Outputs{}
	heat = controller.Outputs{Heat: true}
)

// cellar is n vessels on one chiller that rests.
func cellar(n, atOnce int) *controller.Plant {
	p := &controller.Plant{Chiller: guard.Of(guard.Compressor), AtOnce: atOnce}
	for range n {
		p.Serves = append(p.Serves, true)
	}
	return p
}

// share runs the cellar with the same wishes for a while.
func share(p *controller.Plant, s controller.PlantState, d time.Duration, wants outs) (controller.PlantState, outs) {
	var got outs
	for range max(1, int(d/time.Minute)) {
		s, got = controller.Share(p, s, time.Minute, wants)
	}
	return s, got
}

func TestShare(t *testing.T) {
	all := func(*controller.Plant) {}
	for name, c := range map[string]struct {
		plant  func(*controller.Plant)
		atOnce int
		wants  outs
		after  time.Duration
		want   outs
		on     bool
	}{
		"nobody wants anything, the chiller stays off":      {all, 0, outs{hold, hold, hold}, time.Hour, outs{hold, hold, hold}, false},
		"within the compressor's rest nobody is served":     {all, 0, outs{cold, hold, hold}, 3 * time.Minute, outs{hold, hold, hold}, false},
		"after it all who want are":                         {all, 0, outs{cold, hold, cold}, 10 * time.Minute, outs{cold, hold, cold}, true},
		"one at a time":                                     {all, 1, outs{cold, cold, cold}, 10 * time.Minute, outs{cold, hold, hold}, true},
		"two at a time":                                     {all, 2, outs{cold, cold, cold}, 10 * time.Minute, outs{cold, cold, hold}, true},
		"heat is nothing to a chiller":                      {all, 1, outs{heat, cold, heat}, 10 * time.Minute, outs{heat, cold, heat}, true},
		"heat passes within the compressor's rest":          {all, 1, outs{heat, cold, heat}, time.Minute, outs{heat, hold, heat}, false},
		"who is not served has its own cooling":             {func(p *controller.Plant) { p.Serves[2] = false }, 1, outs{cold, cold, cold}, time.Minute, outs{hold, hold, cold}, false},
		"who is not listed has its own cooling":             {func(p *controller.Plant) { p.Serves = p.Serves[:1] }, 1, outs{cold, cold, cold}, 10 * time.Minute, outs{cold, cold, cold}, true},
		"a chiller that runs by itself needs no rest of us": {func(p *controller.Plant) { p.Chiller = guard.Relay{} }, 0, outs{cold, cold, hold}, 0, outs{cold, cold, hold}, false},
	} {
		t.Run(name, func(t *testing.T) {
			p := cellar(3, c.atOnce)
			c.plant(p)
			s, got := share(p, controller.PlantState{}, c.after, c.wants)
			if !reflect.DeepEqual(got, c.want) || s.ChillerOn != c.on {
				t.Errorf("got %+v, chiller %v; want %+v, %v", got, s.ChillerOn, c.want, c.on)
			}
		})
	}
}

func TestTheOneWhoWaitedLongestIsNext(t *testing.T) {
	p := cellar(3, 1)
	s, _ := share(p, controller.PlantState{}, 10*time.Minute, outs{cold, hold, hold})
	s, _ = share(p, s, 2*time.Minute, outs{cold, hold, cold})
	s, _ = share(p, s, 2*time.Minute, outs{cold, cold, cold})
	s, got := share(p, s, time.Minute, outs{hold, cold, cold})
	if !reflect.DeepEqual(got, outs{hold, hold, cold}) {
		t.Errorf("%+v", got)
	}
	if _, got = share(p, s, 19*time.Minute, outs{cold, cold, cold}); !reflect.DeepEqual(got, outs{hold, hold, cold}) {
		t.Errorf("a turn ends before its twenty minutes: %+v", got)
	}
	if _, got = share(p, s, 21*time.Minute, outs{cold, cold, cold}); !reflect.DeepEqual(got, outs{hold, cold, hold}) {
		t.Errorf("a turn does not end after its twenty minutes: %+v", got)
	}
}

func TestAStartOfTheProgramBeginsTheRestAnew(t *testing.T) {
	p := cellar(2, 0)
	s, _ := share(p, controller.PlantState{}, time.Hour, outs{cold, cold})
	if !s.ChillerOn {
		t.Fatal("the chiller does not run")
	}
	switches := s.Chiller.Switches
	s = s.Started()
	if s.ChillerOn || s.Chiller.Switches != switches || s.Chiller.For != 0 {
		t.Errorf("%+v", s)
	}
	for n := range 4 {
		var got outs
		if s, got = share(p, s, time.Minute, outs{cold, cold}); s.ChillerOn || got[0].Cool {
			t.Fatalf("runs %d min after the start", n+1)
		}
	}
	if s, _ = share(p, s, 2*time.Minute, outs{cold, cold}); !s.ChillerOn {
		t.Error("does not run after its rest")
	}
}

// For any wishes: nothing is switched on that was not wanted, never more than
// AtOnce, an OFF is never held back, the compressor has its rest and its run,
// whoever waits is served in time, and the same question has the same answer.
func TestSharingIsFair(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5).Draw(t, "vessels")
		p := cellar(n, rapid.IntRange(0, 3).Draw(t, "at once"))
		for i := range n {
			p.Serves[i] = rapid.IntRange(0, 5).Draw(t, "served") > 0
		}
		if rapid.IntRange(0, 3).Draw(t, "own control") == 0 {
			p.Chiller = guard.Relay{}
		}
		var s controller.PlantState
		var got outs
		wants := make(outs, n)
		waiting := make([]time.Duration, n)
		var chiller watch
		for range rapid.IntRange(1, 300).Draw(t, "steps") {
			dt := time.Duration(rapid.IntRange(1, 90).Draw(t, "seconds")) * time.Second
			for i := range wants {
				if rapid.IntRange(0, 9).Draw(t, "changes") == 0 {
					wants[i] = rapid.SampledFrom(outs{cold, cold, hold, heat}).Draw(t, "wants")
				}
			}
			chiller.count(s.ChillerOn, dt)
			before, old := s, append([]controller.Turn(nil), s.Vessels...)
			s, got = controller.Share(p, s, dt, wants)
			again, got2 := controller.Share(p, before, dt, wants)
			if !reflect.DeepEqual(s, again) || !reflect.DeepEqual(got, got2) {
				t.Fatal("the same question got another answer")
			}
			if !reflect.DeepEqual(before.Vessels, old) {
				t.Fatal("the old state was written")
			}
			served, called := checkShared(t, p, wants, got)
			if p.AtOnce > 0 && served > p.AtOnce {
				t.Fatalf("%d served, %d may be", served, p.AtOnce)
			}
			chiller.next(t, p.Chiller, s.ChillerOn, called)
			for i := range wants {
				if waiting[i] += dt; !p.Serves[i] || !wants[i].Cool || got[i].Cool {
					waiting[i] = 0
				}
				// n-1 turns of twenty minutes and a half, a rest, a step of each.
				if bound := time.Duration(n)*22*time.Minute + 10*time.Minute; waiting[i] > bound {
					t.Fatalf("vessel %d waits for %v, bound %v", i, waiting[i], bound)
				}
			}
		}
	})
}

// watch is what an observer beside the compressor sees.
type watch struct {
	on    bool
	since time.Duration
}

func (w *watch) count(on bool, dt time.Duration) {
	if on != w.on {
		w.on, w.since = on, 0
	}
	w.since += dt
}

func (w *watch) next(t *rapid.T, r guard.Relay, on, called bool) {
	switch {
	case on && !w.on && w.since < r.MinOff:
		t.Fatalf("the compressor starts after a rest of %v", w.since)
	case !on && w.on && w.since < r.MinOn:
		t.Fatalf("the compressor stops after a run of %v", w.since)
	case on && !r.Fitted, on && !w.on && !called:
		t.Fatal("a chiller runs that nobody called or that is not ours")
	case called && !on && r.Fitted:
		t.Fatal("a vessel is cooled by a chiller that is off")
	}
}

func checkShared(t *rapid.T, p *controller.Plant, wants, got outs) (served int, called bool) {
	for i := range wants {
		if got[i].Cool && !wants[i].Cool || got[i].Heat != wants[i].Heat {
			t.Fatalf("vessel %d wants %+v and gets %+v", i, wants[i], got[i])
		}
		if !p.Serves[i] && got[i] != wants[i] {
			t.Fatalf("vessel %d is not served and held back", i)
		}
		if p.Serves[i] && got[i].Cool {
			served++
			called = true
		}
	}
	return served, called
}

// Vessels that want a little each, one after another, do not start the compressor
// more than six times an hour, and a pump may start as its own times allow.
func TestASharedCompressorIsNotStartedTooOften(t *testing.T) {
	for name, c := range map[string]struct {
		chiller     guard.Relay
		least, most int
	}{
		"a compressor": {guard.Of(guard.Compressor), 4, 6},
		"a pump":       {guard.Of(guard.Pump), 7, 60},
	} {
		t.Run(name, func(t *testing.T) {
			p := cellar(3, 0)
			p.Chiller = c.chiller
			s, _ := share(p, controller.PlantState{}, 10*time.Minute, outs{hold, hold, hold})
			before := s.Chiller.Switches
			for i := range 360 { // an hour; each for 20 s in turn, with a pause after
				wants := outs{hold, hold, hold}
				if i%4 < 2 {
					wants[i/4%3] = cold
				}
				s, _ = controller.Share(p, s, 10*time.Second, wants)
			}
			if n := int(s.Chiller.Switches - before); n < c.least || n > c.most {
				t.Errorf("%d starts in an hour, want %d to %d", n, c.least, c.most)
			}
		})
	}
}

// Three vessels on a fuse that lets two cool, two of them and another one on a
// chiller: who the fuse refuses starts no compressor, and everybody has a turn.
func TestAFuseAndAChiller(t *testing.T) {
	p := cellar(4, 0)
	p.Serves = []bool{true, true, false, true}
	p.Before = []controller.Plant{{Serves: []bool{true, true, true, false}, AtOnce: 2}}
	s, got := share(p, controller.PlantState{}, 10*time.Minute, outs{hold, cold, cold, hold})
	if want := (outs{hold, cold, cold, hold}); !reflect.DeepEqual(got, want) || !s.ChillerOn {
		t.Errorf("%v, want %v; chiller %v", got, want, s.ChillerOn)
	}
	cooled, both := make([]time.Duration, 4), 0
	for range 10 * 60 {
		was := s
		s, got = controller.Share(p, s, time.Minute, outs{cold, cold, cold, cold})
		on := 0
		for i, o := range got {
			if o.Cool {
				cooled[i] += time.Minute
			}
			if o.Cool && i < 3 {
				on++
			}
		}
		if on > 2 {
			t.Fatalf("%d on a fuse for two: %v", on, got)
		}
		if on == 2 {
			both++
		}
		if len(was.Before) != 1 || len(was.Before[0]) != 4 {
			t.Fatalf("the fuse's turns: %+v", was.Before)
		}
	}
	for i, d := range cooled {
		if least := []time.Duration{6, 6, 6, 10}[i] * time.Hour; d < least-time.Hour/2 {
			t.Errorf("vessel %d was cooled for %v of 10 h: %v", i+1, d, cooled)
		}
	}
	if both < 9*60 {
		t.Errorf("the fuse was used for %d min of 600", both)
	}
	// A start of the program forgets the turns, of the fuse too, and rests the compressor.
	again := s.Started()
	if len(again.Before) != 1 || again.Before[0][1] != (controller.Turn{}) || !s.Before[0][1].On {
		t.Errorf("%+v from %+v", again.Before, s.Before)
	}
	if _, got = controller.Share(p, again, time.Minute, outs{cold, hold, cold, hold}); got[0].Cool || !got[2].Cool {
		t.Errorf("after a start %v", got)
	}
	// The compressor does not start for one whom the fuse refuses.
	p.Before[0].AtOnce = 1
	s, _ = share(p, controller.PlantState{}, 10*time.Minute, outs{hold, hold, cold, hold})
	if s, got = controller.Share(p, s, time.Minute, outs{cold, hold, cold, hold}); s.ChillerOn || got[0].Cool {
		t.Errorf("%v, chiller %v", got, s.ChillerOn)
	}
}

// Whatever is wanted: no more than the fuse and the chiller allow, the compressor's
// times are kept, and nobody waits for ever.
func TestNoWishesBreakAFuseBeforeAChiller(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 5).Draw(t, "vessels")
		p := cellar(n, rapid.IntRange(0, 3).Draw(t, "at once"))
		p.Before = []controller.Plant{{Serves: cellar(n, 0).Serves, AtOnce: rapid.IntRange(1, 3).Draw(t, "on the fuse")}}
		for i := range n {
			p.Before[0].Serves[i] = rapid.IntRange(0, 3).Draw(t, "on the fuse too") > 0
		}
		var s controller.PlantState
		var got outs
		wants := make(outs, n)
		waiting := make([]time.Duration, n)
		var chiller watch
		for range rapid.IntRange(1, 300).Draw(t, "steps") {
			dt := time.Duration(rapid.IntRange(1, 90).Draw(t, "seconds")) * time.Second
			for i := range wants {
				if rapid.IntRange(0, 9).Draw(t, "changes") == 0 {
					wants[i] = rapid.SampledFrom(outs{cold, cold, hold, heat}).Draw(t, "wants")
				}
			}
			chiller.count(s.ChillerOn, dt)
			before := s
			old, err := json.Marshal(s)
			if err != nil {
				t.Fatal(err)
			}
			s, got = controller.Share(p, s, dt, wants)
			if again, got2 := controller.Share(p, before, dt, wants); !reflect.DeepEqual(s, again) || !reflect.DeepEqual(got, got2) {
				t.Fatal("the same question got another answer")
			}
			if now, _ := json.Marshal(before); string(now) != string(old) {
				t.Fatal("the old state was written")
			}
			served, called := checkShared(t, p, wants, got)
			fused := 0
			for i := range got {
				if got[i].Cool && p.Before[0].Serves[i] {
					fused++
				}
			}
			if p.AtOnce > 0 && served > p.AtOnce || fused > p.Before[0].AtOnce {
				t.Fatalf("%d served, %d on the fuse: %+v", served, fused, p)
			}
			chiller.next(t, p.Chiller, s.ChillerOn, called)
			for i := range wants {
				if waiting[i] += dt; !wants[i].Cool || got[i].Cool {
					waiting[i] = 0
				}
				// In each of the two queues n-1 turns of twenty minutes and a half, a rest.
				if bound := 2 * (time.Duration(n)*22*time.Minute + 10*time.Minute); waiting[i] > bound {
					t.Fatalf("vessel %d waits for %v, bound %v", i, waiting[i], bound)
				}
			}
		}
	})
}
