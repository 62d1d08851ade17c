package alarms

import (
	"slices"
	"time"
)

// Phase is where an alarm is in its life, after ISA-18.2.
type Phase string

// The phases. An alarm in its normal state is not in the list.
const (
	Pending      Phase = "pending"      // the cause stands, the delay runs
	Unanswered   Phase = "unanswered"   // raised, nobody has acknowledged it
	Acknowledged Phase = "acknowledged" // raised, a person knows
	Returned     Phase = "returned"     // gone before anybody acknowledged it
)

// Entry is one alarm that is not in its normal state.
type Entry struct {
	ID      ID
	Phase   Phase
	For     time.Duration // how long the cause stands, or has been gone
	Gone    bool          // the cause does not stand now
	Shelved time.Duration // silent for so long yet; still watched and counted
}

// Raised tells whether the alarm is active.
func (e Entry) Raised() bool { return e.Phase == Unanswered || e.Phase == Acknowledged }

// State lists the alarms that are not normal in the order in which they came:
// the first is the likely cause of those after it.
type State struct{ List []Entry }

// Change is an alarm that was raised, or that is over.
type Change struct {
	ID     ID
	Raised bool
}

// Step takes the causes that stand now and moves every alarm on. In quiet hours an
// alarm that wakes nobody stays pending; it is raised after them, if its cause
// stands then.
func (s State) Step(causes []ID, elapsed time.Duration, quiet bool) (State, []Change) {
	if len(s.List) == 0 && len(causes) == 0 {
		return s, nil
	}
	list := make([]Entry, 0, len(s.List)+len(causes))
	var changes []Change
	for _, e := range s.List {
		row, known := Find(e.ID)
		if !known {
			continue // of a version that knew it; nothing can raise it now
		}
		e, change, keep := e.step(row, has(causes, e.ID), elapsed, quiet)
		changes = append(changes, change...)
		if keep {
			list = append(list, e)
		}
	}
	for _, id := range causes {
		if s.index(id) >= 0 {
			continue
		}
		row, known := Find(id)
		if !known {
			continue
		}
		e := Entry{ID: id, Phase: Pending}
		if row.OnDelay == 0 && !row.waits(quiet) {
			e.Phase = Unanswered
			changes = append(changes, Change{id, true})
		}
		list = append(list, e)
	}
	if len(list) == 0 {
		list = nil
	}
	return State{list}, changes
}

func (r Row) waits(quiet bool) bool { return quiet && !r.Wakes }

func (e Entry) step(row Row, cause bool, elapsed time.Duration, quiet bool) (Entry, []Change, bool) {
	e.Shelved = max(0, e.Shelved-elapsed)
	if cause == e.Gone {
		e.Gone, e.For = !cause, 0
	} else {
		e.For += elapsed
	}
	switch {
	case cause && !e.Raised() && e.For >= row.OnDelay && !row.waits(quiet):
		e.Phase = Unanswered
		return e, []Change{{e.ID, true}}, true
	case cause:
		return e, nil, true
	case e.Phase == Pending:
		return e, nil, false
	case e.Raised() && e.For >= row.OffDelay:
		answered := e.Phase == Acknowledged
		e.Phase = Returned
		return e, []Change{{e.ID, false}}, !answered
	}
	return e, nil, true
}

// Acknowledge notes that a person knows of an alarm, or of all with an empty id.
// It tells whether there was anything to acknowledge.
func (s State) Acknowledge(id ID) (State, bool) {
	list := make([]Entry, 0, len(s.List))
	done := false
	for _, e := range s.List {
		if id == "" || e.ID == id {
			switch e.Phase {
			case Unanswered:
				e.Phase, done = Acknowledged, true
			case Returned:
				done = true
				if e.Gone {
					continue
				}
				e.Phase = Pending // it has come back, and its delay runs
			case Acknowledged, Pending:
			}
		}
		list = append(list, e)
	}
	if len(list) == 0 {
		list = nil
	}
	return State{list}, done
}

// Shelve silences a raised alarm for a time.
func (s State) Shelve(id ID, d time.Duration) (State, bool) {
	i := s.index(id)
	if i < 0 || !s.List[i].Raised() {
		return s, false
	}
	list := append([]Entry(nil), s.List...)
	list[i].Shelved = d
	return State{list}, true
}

// Raised tells whether that alarm is active.
func (s State) Raised(id ID) bool {
	i := s.index(id)
	return i >= 0 && s.List[i].Raised()
}

func (s State) index(id ID) int {
	for i := range s.List {
		if s.List[i].ID == id {
			return i
		}
	}
	return -1
}

func has(list []ID, id ID) bool {
	return slices.Contains(list, id)
}
