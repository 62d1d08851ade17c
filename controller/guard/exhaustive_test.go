package guard_test

import (
	"testing"
	"time"

	"example.org/restpoint/controller/guard"
)

// The guard's whole state machine, with its timers counted in quanta: every state
// that can be reached from a fresh start by any levels of the two relays, driven or
// found, any elapsed time of the list and any restart; in each of them every wish
// with every limit. What the guard may remember is checked against an observer
// beside it, who counts for himself and is never told.

// seen is what the observer knows of one relay.
type seen struct {
	on    bool
	since time.Duration // in this position; after a restart from nothing
	ever  bool          // it ran, and not longer ago than anybody asks
	long  bool          // its last run was the longest it may have
}

// world is one state to be looked at.
type world struct {
	guard      guard.State
	heat, cool seen
}

// machine is what is explored.
type machine struct {
	heat, cool guard.Relay
	longest    time.Duration // that cooling may run in a held beer
	quantum    time.Duration
	late       time.Duration // a step that came late
}

// lines gives both relays with what their longest run is to the observer.
func (m *machine) lines() (heat, cool guard.Relay) {
	cool = m.cool
	cool.MaxRun = m.longest
	return m.heat, cool
}

// The times that the guard keeps beside those of its relays.
const (
	changeOver = 20 * time.Minute
	longBreak  = 30 * time.Minute
)

// horizon is beyond which nobody asks how long a relay has been where it is.
func horizon(r guard.Relay, on bool) time.Duration {
	switch {
	case !r.Fitted:
		return 0
	case on:
		return max(r.MinOn, r.MaxRun)
	}
	return max(r.MinOff, changeOver, longBreak)
}

// fold makes one of all states that differ only in what nobody asks for: counters,
// and times beyond the horizon. That this changes no verdict is checked.
func (m *machine) fold(w world) world {
	heat, cool := m.lines()
	w.guard.Heat, w.guard.Cool = foldLine(w.guard.Heat, heat), foldLine(w.guard.Cool, cool)
	w.heat, w.cool = w.heat.fold(heat), w.cool.fold(cool)
	return w
}

func (s seen) fold(r guard.Relay) seen {
	s.since = min(s.since, horizon(r, s.on))
	s.ever = s.ever && (s.on || s.since < longBreak)
	s.long = s.long && s.ever && !s.on
	return s
}

func foldLine(l guard.Line, r guard.Relay) guard.Line {
	l.Switches, l.OnFor = 0, 0
	l.For = min(l.For, horizon(r, l.On))
	switch {
	case l.On:
		l.LastRun, l.Before = 0, false // of the run before: the one that goes on replaces it
	case l.For >= longBreak, !r.Fitted:
		l.LastRun, l.Before, l.Worked = 0, false, false
	case r.MaxRun > 0 && l.LastRun >= r.MaxRun:
		l.LastRun = r.MaxRun
	case l.LastRun > 0:
		l.LastRun = 1
	}
	return l
}

func (s seen) see(on bool, elapsed time.Duration, r guard.Relay) seen {
	if on != s.on {
		if s.on {
			s.long = r.MaxRun > 0 && s.since >= r.MaxRun
		}
		s.on, s.since = on, 0
		s.ever = s.ever || on
	}
	s.since += elapsed
	return s
}

// restarted: the relay was switched off on the way out, when nobody knows.
func (s seen) restarted(r guard.Relay) seen {
	if s.on {
		s.long = r.MaxRun > 0 && s.since >= r.MaxRun
	}
	s.on, s.since = false, 0
	return s
}

func (m *machine) after(w world, heat, cool bool, elapsed time.Duration) world {
	h, c := m.lines()
	return world{w.guard.Observe(heat, cool, elapsed), w.heat.see(heat, elapsed, h), w.cool.see(cool, elapsed, c)}
}

func (m *machine) restart(w world) world {
	h, c := m.lines()
	return world{w.guard.Started(), w.heat.restarted(h), w.cool.restarted(c)}
}

// wishes lists every wish with every limit.
func (m *machine) wishes() (all []guard.Wish) {
	for i := range 64 {
		w := guard.Wish{Heat: i&1 != 0, Cool: i&2 != 0, Limits: guard.Limits{ForbidHeat: i&4 != 0, ForbidCool: i&8 != 0, StopCool: i&16 != 0}}
		if i&32 != 0 {
			w.LongestCool = m.longest
		}
		if m.longest > 0 || i&32 == 0 {
			all = append(all, w)
		}
	}
	return all
}

// explore looks at every state once.
func (m *machine) explore(t *testing.T) (states int) {
	t.Helper()
	start := m.fold(world{})
	known := map[world]bool{start: true}
	for todo := []world{start}; len(todo) > 0; {
		w := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		m.look(t, w)
		if t.Failed() {
			t.Fatalf("in the state %+v", w)
		}
		for _, next := range m.successors(w) {
			folded := m.fold(next)
			if !known[folded] {
				for _, wish := range m.wishes() {
					if levels(next.guard.Decide(m.heat, m.cool, wish)) != levels(folded.guard.Decide(m.heat, m.cool, wish)) {
						t.Fatalf("states that are taken for one decide otherwise on %+v: %+v and %+v", wish, next.guard, folded.guard)
					}
				}
				known[folded] = true
				todo = append(todo, folded)
			}
		}
	}
	return len(known)
}

func levels(v guard.Verdict) [2]bool { return [2]bool{v.Heat, v.Cool} }

func (m *machine) successors(w world) []world {
	list := []world{m.restart(w)}
	for i := range 4 {
		heat, cool := i&1 != 0, i&2 != 0
		if heat && !m.heat.Fitted || cool && !m.cool.Fitted {
			continue
		}
		for _, elapsed := range []time.Duration{0, m.quantum, m.late} {
			list = append(list, m.after(w, heat, cool, elapsed))
		}
	}
	return list
}

// look checks the laws for every wish in one state.
func (m *machine) look(t *testing.T, w world) {
	t.Helper()
	for _, wish := range m.wishes() {
		v := w.guard.Decide(m.heat, m.cool, wish)
		if v.Heat && v.Cool {
			t.Errorf("%+v: heat and cool together", wish)
		}
		if v.Heat && (wish.ForbidHeat || !m.heat.Fitted) || v.Cool && (wish.StopCool || !m.cool.Fitted) {
			t.Errorf("%+v: on though it is forbidden or not there", wish)
		}
		stopsHeat := wish.ForbidHeat || v.HeatBlock == guard.LongestRun || w.heat.on && w.cool.on
		stopsCool := wish.StopCool || v.CoolBlock == guard.LongestRun || w.heat.on && w.cool.on
		cool := m.cool
		cool.MaxRun = wish.LongestCool
		m.line(t, "heat", m.heat, w.heat, w.cool, v.Heat, wish.Heat, stopsHeat)
		m.line(t, "cool", cool, w.cool, w.heat, v.Cool, wish.Cool && !wish.ForbidCool, stopsCool || cool.MaxRun > 0 && w.cool.since >= cool.MaxRun)
		if wish.Heat && !v.Heat && v.HeatBlock == guard.Free || wish.Cool && !v.Cool && v.CoolBlock == guard.Free && !wish.ForbidCool {
			t.Errorf("%+v: held back without a reason", wish)
		}
		if v.HeatWait < 0 || v.CoolWait < 0 {
			t.Errorf("%+v: waits below nothing", wish)
		}
		more := wish
		more.ForbidHeat, more.StopCool = true, true
		if none := w.guard.Decide(m.heat, m.cool, more); none.Heat || none.Cool {
			t.Errorf("%+v: an OFF waits", wish)
		}
	}
	m.granted(t, w)
}

func (m *machine) line(t *testing.T, name string, r guard.Relay, me, other seen, next, wanted, mayCut bool) {
	t.Helper()
	switch {
	case next && !me.on && me.since < r.MinOff:
		t.Errorf("%s: on after %v of rest, %v are needed", name, me.since, r.MinOff)
	case next && !me.on && !wanted:
		t.Errorf("%s: on though nobody wants it", name)
	case next && !me.on && other.on:
		t.Errorf("%s: on while the other one is", name)
	case next && !me.on && m.heat.Fitted && m.cool.Fitted && other.ever && other.since < changeOver:
		t.Errorf("%s: on %v after the other one", name, other.since)
	case next && me.on && r.MaxRun > 0 && me.since >= r.MaxRun:
		t.Errorf("%s: on for %v, %v at the most", name, me.since, r.MaxRun)
	case next && !me.on && r.MaxRun > 0 && me.long && me.since < longBreak:
		t.Errorf("%s: on %v after its longest run", name, me.since)
	case !next && me.on && me.since < r.MinOn && !mayCut:
		t.Errorf("%s: off after a run of %v, %v are needed", name, me.since, r.MinOn)
	}
}

// granted: a lasting wish for one of the two is granted, and no later than the
// guard's own times add up to: there is no state from which a relay stays dead.
func (m *machine) granted(t *testing.T, w world) {
	t.Helper()
	for _, heat := range []bool{true, false} {
		if heat && !m.heat.Fitted || !heat && !m.cool.Fitted {
			continue
		}
		wish := wants(heat, !heat)
		wish.LongestCool = m.longest
		most := max(m.heat.MinOn, m.cool.MinOn) + max(m.heat.MinOff, m.cool.MinOff, changeOver, longBreak) + 2*m.quantum
		s, waited := w.guard, time.Duration(0)
		for v := s.Decide(m.heat, m.cool, wish); v.Heat != heat || v.Cool == heat; v = s.Decide(m.heat, m.cool, wish) {
			if waited += m.quantum; waited > most {
				t.Errorf("%+v is not granted within %v: %+v", wish, most, v)
				return
			}
			s = s.Observe(v.Heat, v.Cool, m.quantum)
		}
	}
}

// Every reachable state, every input. What a relay is does not matter here, only
// its times; so these pairs stand for all: whole minutes with a heater's real
// longest run, the finer times of valve and solid state, and one relay alone. The
// longest runs that are shortened stay longer than every other time, as the real
// ones are.
func TestEveryStateOfTheGuard(t *testing.T) {
	heater, fridge, valve, solid := guard.Of(guard.Heater), guard.Of(guard.Compressor), guard.Of(guard.Valve), guard.Of(guard.SSR)
	const short = longBreak + 4*time.Minute
	brief := func(r guard.Relay) guard.Relay {
		r.MaxRun = short
		return r
	}
	total := 0
	for _, c := range []struct {
		name string
		m    machine
	}{
		{"a heater and a compressor", machine{heater, fridge, 0, time.Minute, 25 * time.Minute}},
		{"a heater and a compressor of a held beer", machine{brief(heater), fridge, short, time.Minute, 3 * time.Minute}},
		{"a solid-state relay and a valve", machine{brief(solid), valve, 0, 30 * time.Second, 2 * time.Minute}},
		{"a heater alone", machine{heater, guard.Relay{}, 0, 30 * time.Second, 7 * time.Minute}},
		{"a compressor alone", machine{guard.Relay{}, fridge, 12 * time.Hour, 30 * time.Second, 7 * time.Minute}},
		{"a valve alone", machine{guard.Relay{}, valve, short, 5 * time.Second, time.Minute}},
		{"a solid-state relay alone", machine{brief(solid), guard.Relay{}, 0, 5 * time.Second, time.Minute}},
	} {
		t.Run(c.name, func(t *testing.T) {
			n := c.m.explore(t)
			total += n
			t.Logf("%d states, %d wishes in each", n, len(c.m.wishes()))
			if n < 300 {
				t.Error("that is not the whole machine")
			}
		})
	}
	t.Logf("%d states in all", total)
}
