package alarms_test

import (
	"reflect"
	"testing"
	"time"

	"pgregory.net/rapid"

	"example.org/restpoint/controller/alarms"
)

const minute = time.Minute

// life is an alarm's history in steps of time: "cause 10 min", "gone 5 min",
// "ack", "shelve".
type life struct {
	s       alarms.State
	changes []alarms.Change
}

func (l *life) run(cause bool, id alarms.ID, d time.Duration) {
	var causes []alarms.Cause
	if cause {
		causes = []alarms.Cause{{ID: id}}
	}
	l.with(causes, d, false)
}

// with lets the causes stand for a while.
func (l *life) with(causes []alarms.Cause, d time.Duration, quiet bool) {
	const step = 10 * time.Second
	for range int(d / step) {
		var c []alarms.Change
		l.s, c = l.s.Step(causes, step, quiet)
		l.changes = append(l.changes, c...)
	}
}

// of makes causes of alarms.
func of(ids ...alarms.ID) (list []alarms.Cause) {
	for _, id := range ids {
		list = append(list, alarms.Cause{ID: id})
	}
	return list
}

func (l *life) phase(id alarms.ID) alarms.Phase {
	for _, e := range l.s.List {
		if e.ID == id {
			return e.Phase
		}
	}
	return ""
}

func TestLifeOfAnAlarm(t *testing.T) {
	const (
		delayed = alarms.BeerTooWarm // 30 min to come, 10 min to go
		sudden  = alarms.ProbeLost   // at once, 1 min to go
		instant = alarms.GravityLost // at once both ways
	)
	type does func(*life)
	cause := func(id alarms.ID, d time.Duration) does { return func(l *life) { l.run(true, id, d) } }
	gone := func(id alarms.ID, d time.Duration) does { return func(l *life) { l.run(false, id, d) } }
	ack := func(id alarms.ID) does { return func(l *life) { l.s, _ = l.s.Acknowledge(id) } }
	up := func(id alarms.ID) alarms.Change { return alarms.Change{ID: id, Raised: true} }
	over := func(id alarms.ID) alarms.Change { return alarms.Change{ID: id} }
	for name, c := range map[string]struct {
		id      alarms.ID
		do      []does
		phase   alarms.Phase
		changes []alarms.Change
	}{
		"a cause within its on-delay is pending":              {delayed, []does{cause(delayed, 30*minute)}, alarms.Pending, nil},
		"a cause that stands through its on-delay is raised":  {delayed, []does{cause(delayed, 31*minute)}, alarms.Unanswered, []alarms.Change{up(delayed)}},
		"a pending cause that goes leaves nothing":            {delayed, []does{cause(delayed, 20*minute), gone(delayed, minute)}, "", nil},
		"two short causes do not add up":                      {delayed, []does{cause(delayed, 20*minute), gone(delayed, minute), cause(delayed, 20*minute)}, alarms.Pending, nil},
		"an alarm without delay is raised at once":            {sudden, []does{cause(sudden, 10*time.Second)}, alarms.Unanswered, []alarms.Change{up(sudden)}},
		"an alarm stays raised within its off-delay":          {sudden, []does{cause(sudden, minute), gone(sudden, minute)}, alarms.Unanswered, []alarms.Change{up(sudden)}},
		"an alarm that flickers is raised once":               {sudden, []does{cause(sudden, minute), gone(sudden, 30*time.Second), cause(sudden, minute)}, alarms.Unanswered, []alarms.Change{up(sudden)}},
		"an alarm that is gone unseen has returned":           {sudden, []does{cause(sudden, minute), gone(sudden, 2*minute)}, alarms.Returned, []alarms.Change{up(sudden), over(sudden)}},
		"an acknowledged alarm that is gone leaves the list":  {sudden, []does{cause(sudden, minute), ack(sudden), gone(sudden, 2*minute)}, "", []alarms.Change{up(sudden), over(sudden)}},
		"an acknowledged alarm stays while its cause stands":  {sudden, []does{cause(sudden, minute), ack(sudden), cause(sudden, 48*time.Hour)}, alarms.Acknowledged, []alarms.Change{up(sudden)}},
		"a returned alarm waits for a person":                 {sudden, []does{cause(sudden, minute), gone(sudden, 72*time.Hour)}, alarms.Returned, []alarms.Change{up(sudden), over(sudden)}},
		"a returned alarm that is acknowledged leaves":        {sudden, []does{cause(sudden, minute), gone(sudden, 2*minute), ack(sudden)}, "", []alarms.Change{up(sudden), over(sudden)}},
		"a returned alarm is raised again by its cause":       {sudden, []does{cause(sudden, minute), gone(sudden, 2*minute), cause(sudden, minute)}, alarms.Unanswered, []alarms.Change{up(sudden), over(sudden), up(sudden)}},
		"a returned alarm with a delay waits for it again":    {delayed, []does{cause(delayed, 31*minute), gone(delayed, 11*minute), cause(delayed, 20*minute)}, alarms.Returned, []alarms.Change{up(delayed), over(delayed)}},
		"an alarm without off-delay is over at once":          {instant, []does{cause(instant, minute), gone(instant, 10*time.Second)}, alarms.Returned, []alarms.Change{up(instant), over(instant)}},
		"acknowledging nothing in particular answers for all": {sudden, []does{cause(sudden, minute), ack("")}, alarms.Acknowledged, []alarms.Change{up(sudden)}},
		"acknowledging another alarm changes nothing":         {sudden, []does{cause(sudden, minute), ack(delayed)}, alarms.Unanswered, []alarms.Change{up(sudden)}},
		"a cause is raised on the moment":                     {delayed, []does{cause(delayed, 30*minute), cause(delayed, 10*time.Second)}, alarms.Unanswered, []alarms.Change{up(delayed)}},
		"acknowledging a pending cause changes nothing":       {delayed, []does{cause(delayed, minute), ack("")}, alarms.Pending, nil},
	} {
		t.Run(name, func(t *testing.T) {
			var l life
			for _, do := range c.do {
				do(&l)
			}
			if got := l.phase(c.id); got != c.phase {
				t.Errorf("phase %q, want %q", got, c.phase)
			}
			if !reflect.DeepEqual(l.changes, c.changes) {
				t.Errorf("changes %v, want %v", l.changes, c.changes)
			}
			if raised := c.phase == alarms.Unanswered || c.phase == alarms.Acknowledged; l.s.Raised(c.id) != raised {
				t.Errorf("raised %v, want %v", l.s.Raised(c.id), raised)
			}
			if c.phase == "" && l.s.List != nil {
				t.Errorf("the normal state is %+v, not the empty one", l.s)
			}
		})
	}
}

func TestAnswersSayWhetherThereWasAnything(t *testing.T) {
	var l life
	if _, done := l.s.Acknowledge(""); done {
		t.Error("acknowledged an empty list")
	}
	if _, done := l.s.Shelve(alarms.ProbeLost, time.Hour); done {
		t.Error("shelved what is not there")
	}
	l.run(true, alarms.BeerTooCold, minute)
	if _, done := l.s.Shelve(alarms.BeerTooCold, time.Hour); done {
		t.Error("shelved what is pending")
	}
	l.run(true, alarms.BeerTooCold, time.Hour)
	before := append([]alarms.Entry(nil), l.s.List...)
	shelved, done := l.s.Shelve(alarms.BeerTooCold, time.Hour)
	if !done || shelved.List[0].Shelved != time.Hour {
		t.Errorf("not shelved: %+v", shelved)
	}
	if !reflect.DeepEqual(l.s.List, before) {
		t.Error("shelving wrote into the old state")
	}
	l.s = shelved
	l.run(true, alarms.BeerTooCold, 59*minute)
	if left := l.s.List[0].Shelved; left != minute || !l.s.Raised(alarms.BeerTooCold) {
		t.Errorf("silent for %v yet, raised %v", left, l.s.Raised(alarms.BeerTooCold))
	}
	l.run(true, alarms.BeerTooCold, 5*minute)
	if left := l.s.List[0].Shelved; left != 0 {
		t.Errorf("silent for %v after its time", left)
	}
}

func TestTheFirstCauseStaysFirst(t *testing.T) {
	s, _ := alarms.State{}.Step(of(alarms.RelayFault), minute, false)
	s, _ = s.Step(of(alarms.HighLimit, alarms.RelayFault, alarms.ProbeLost), minute, false)
	s, _ = s.Step(of(alarms.ProbeLost, alarms.HighLimit, alarms.RelayFault), minute, false)
	want := []alarms.ID{alarms.RelayFault, alarms.HighLimit, alarms.ProbeLost}
	for i, e := range s.List {
		if e.ID != want[i] {
			t.Fatalf("place %d is %s, want %s", i, e.ID, want[i])
		}
	}
}

func TestAnAlarmOfAnotherVersionIsForgotten(t *testing.T) {
	s, changes := alarms.State{}.Step(of("sour-milk", alarms.ProbeLost), minute, false)
	if len(s.List) != 1 || len(changes) != 1 {
		t.Errorf("an unknown cause was taken: %+v", s)
	}
	s.List = append(s.List, alarms.Entry{ID: "sour-milk", Phase: alarms.Unanswered})
	if s, _ = s.Step(nil, 0, false); len(s.List) != 1 {
		t.Errorf("an unknown entry was kept: %+v", s)
	}
}

// For any causes and answers: raised and over alternate for each alarm, nothing is
// lost that stands, nothing stands twice, and the argument is never written.
func TestRaisedAndOverAlternate(t *testing.T) {
	table := alarms.Table()
	rapid.Check(t, func(t *rapid.T) {
		var s alarms.State
		raised := map[alarms.ID]bool{}
		for range rapid.IntRange(1, 80).Draw(t, "steps") {
			var causes []alarms.Cause
			for _, i := range rapid.SliceOfNDistinct(rapid.IntRange(0, len(table)-1), 0, 5, rapid.ID[int]).Draw(t, "causes") {
				causes = append(causes, alarms.Cause{ID: table[i].ID, Latched: rapid.IntRange(0, 3).Draw(t, "latched") == 0, Suppressed: rapid.IntRange(0, 3).Draw(t, "suppressed") == 0})
			}
			before := append([]alarms.Entry(nil), s.List...)
			next, changes := s.Step(causes, time.Duration(rapid.IntRange(0, 900).Draw(t, "s"))*time.Second, rapid.IntRange(0, 3).Draw(t, "night") == 0)
			for i := range before {
				if s.List[i] != before[i] {
					t.Fatal("the argument was written")
				}
			}
			for _, c := range changes {
				if raised[c.ID] == c.Raised {
					t.Fatalf("%s: raised %v twice", c.ID, c.Raised)
				}
				raised[c.ID] = c.Raised
			}
			s = next
			if rapid.IntRange(0, 5).Draw(t, "answer") == 0 {
				s, _ = s.Acknowledge(table[rapid.IntRange(0, len(table)-1).Draw(t, "alarm")].ID)
			}
			seen := map[alarms.ID]bool{}
			for _, e := range s.List {
				if seen[e.ID] {
					t.Fatalf("%s stands twice", e.ID)
				}
				seen[e.ID] = true
				if e.Raised() != raised[e.ID] {
					t.Fatalf("%s: raised %v, told %v", e.ID, e.Raised(), raised[e.ID])
				}
			}
			for _, c := range causes {
				if !seen[c.ID] {
					t.Fatalf("%s stands and is not in the list", c.ID)
				}
				if c.Suppressed && raised[c.ID] {
					t.Fatalf("%s is raised though it is suppressed", c.ID)
				}
			}
			firsts := 0
			for _, e := range s.List {
				if e.First {
					firsts++
				}
			}
			if firsts > 1 {
				t.Fatalf("%d alarms came first: %+v", firsts, s.List)
			}
		}
	})
}

func TestALatchedAlarmWaitsForAPersonTwice(t *testing.T) {
	const id = alarms.HighLimit
	hot, latched := []alarms.Cause{{ID: id}}, []alarms.Cause{{ID: id, Latched: true}}
	var l life
	l.with(hot, minute, false)
	l.with(latched, 48*time.Hour, false)
	if l.phase(id) != alarms.Unanswered {
		t.Fatalf("gone and never seen: %q", l.phase(id))
	}
	l.s, _ = l.s.Acknowledge(id)
	l.with(nil, 20*minute, false) // the person's word undid the latch
	if l.phase(id) != "" {
		t.Errorf("answered and undone: %q", l.phase(id))
	}

	l = life{}
	l.with(hot, minute, false)
	l.s, _ = l.s.Acknowledge(id)
	if l.with(hot, minute, false); l.phase(id) != alarms.Acknowledged {
		t.Fatalf("known: %q", l.phase(id))
	}
	if l.with(latched, minute, false); l.phase(id) != alarms.Latched || !l.s.Raised(id) {
		t.Errorf("known and over: %q", l.phase(id))
	}
	if l.with(hot, minute, false); l.phase(id) != alarms.Unanswered {
		t.Errorf("it came back: %q", l.phase(id))
	}
	l.s, _ = l.s.Acknowledge(id)
	l.with(latched, minute, false)
	s, done := l.s.Acknowledge(id)
	if l.s = s; !done || l.phase(id) != alarms.Acknowledged {
		t.Errorf("answered once more: %v, %q", done, l.phase(id))
	}
	if len(l.changes) != 1 {
		t.Errorf("told %v", l.changes)
	}
}

func TestASuppressedAlarmIsWatchedAndCallsNobody(t *testing.T) {
	const id = alarms.BeerTooWarm
	warm, meant := []alarms.Cause{{ID: id}}, []alarms.Cause{{ID: id, Suppressed: true}}
	var l life
	l.with(meant, 5*time.Hour, false)
	if l.phase(id) != alarms.Suppressed || len(l.changes) != 0 {
		t.Fatalf("%q, told %v", l.phase(id), l.changes)
	}
	if _, done := l.s.Acknowledge(id); done {
		t.Error("there was something to acknowledge")
	}
	l.with(warm, 20*minute, false)
	if l.phase(id) != alarms.Pending {
		t.Errorf("its delay did not begin: %q", l.phase(id))
	}
	if l.with(warm, 11*minute, false); l.phase(id) != alarms.Unanswered {
		t.Errorf("after its delay: %q", l.phase(id))
	}
	l.with(meant, minute, false)
	if want := []alarms.Change{{ID: id, Raised: true}, {ID: id}}; l.phase(id) != alarms.Suppressed || !reflect.DeepEqual(l.changes, want) {
		t.Errorf("%q, told %v", l.phase(id), l.changes)
	}
	if l.with(nil, minute, false); l.s.List != nil {
		t.Errorf("gone: %+v", l.s)
	}
}

func TestWhatCameFirst(t *testing.T) {
	first := func(s alarms.State) (list []alarms.ID) {
		for _, e := range s.List {
			if e.First {
				list = append(list, e.ID)
			}
		}
		return list
	}
	s, _ := alarms.State{}.Step(of(alarms.BeerTooWarm), minute, false) // pending is not raised
	s, _ = s.Step(of(alarms.BeerTooWarm, alarms.ProbeLost, alarms.RelayFault), minute, false)
	if got := first(s); !reflect.DeepEqual(got, []alarms.ID{alarms.ProbeLost}) {
		t.Fatalf("first %v", got)
	}
	s, _ = s.Step(of(alarms.BeerTooWarm, alarms.ProbeLost, alarms.RelayFault), time.Hour, false)
	if got := first(s); !reflect.DeepEqual(got, []alarms.ID{alarms.ProbeLost}) {
		t.Errorf("a later one came first: %v", got)
	}
	s, _ = s.Step(of(alarms.RelayFault), time.Hour, false) // begins to be gone
	s, _ = s.Step(of(alarms.RelayFault), time.Hour, false)
	if got := first(s); len(got) != 0 {
		t.Errorf("what came first is over, and still first: %v", got)
	}
	s, _ = s.Step(nil, time.Hour, false)
	s, _ = s.Step(nil, time.Hour, false)
	s, _ = s.Step(of(alarms.LateLoop), minute, false)
	if got := first(s); !reflect.DeepEqual(got, []alarms.ID{alarms.LateLoop}) {
		t.Errorf("first of the next burst %v", got)
	}
}

func TestInQuietHoursOnlyWhatWakesIsRaised(t *testing.T) {
	for name, c := range map[string]struct {
		id    alarms.ID
		night bool
	}{"a lost probe wakes": {alarms.ProbeLost, true}, "a silent hydrometer waits for the morning": {alarms.GravityLost, false}} {
		t.Run(name, func(t *testing.T) {
			var l life
			if l.with(of(c.id), time.Hour, true); l.s.Raised(c.id) != c.night {
				t.Errorf("raised at night: %v", l.s.Raised(c.id))
			}
			if l.with(of(c.id), minute, false); !l.s.Raised(c.id) {
				t.Error("not raised in the morning")
			}
		})
	}
}
