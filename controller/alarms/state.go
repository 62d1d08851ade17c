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
	Latched      Phase = "latched"      // raised and known, its cause is gone; a person must answer once more
	Returned     Phase = "returned"     // gone before anybody acknowledged it
	Suppressed   Phase = "suppressed"   // the cause stands, and by design it is no alarm now
)

// Cause is a condition that stands now.
type Cause struct {
	ID ID
	// Latched: it is over, and what followed from it stays until a person answers.
	Latched bool
	// Suppressed: it belongs to what is being done, such as the distance to the
	// target of a ramp. It is watched and listed, and nobody is called.
	Suppressed bool
}

// Entry is one alarm that is not in its normal state.
type Entry struct {
	ID      ID
	Phase   Phase
	For     time.Duration // how long the cause stands, or has been gone
	Gone    bool          // the cause does not stand now
	First   bool          // raised while no other alarm was: the likely cause of those after it
	Shelved time.Duration // silent for so long yet; still watched and counted
}

// Raised tells whether the alarm is active.
func (e Entry) Raised() bool {
	return e.Phase == Unanswered || e.Phase == Acknowledged || e.Phase == Latched
}

// State lists the alarms that are not normal in the order in which they came, and
// what was raised within the hour.
type State struct {
	List []Entry
	Rung []Rung
}

// Change is an alarm that was raised, or that is over.
type Change struct {
	ID     ID
	Raised bool
}

// Step takes the causes that stand now and moves every alarm on. In quiet hours an
// alarm that wakes nobody stays pending; it is raised after them, if its cause
// stands then.
func (s State) Step(causes []Cause, elapsed time.Duration, quiet bool) (State, []Change) {
	if len(s.List) == 0 && len(causes) == 0 && len(s.Rung) == 0 {
		return s, nil
	}
	list := make([]Entry, 0, len(s.List)+len(causes))
	var changes []Change
	for _, e := range s.List {
		row, known := Find(e.ID)
		if !known {
			continue // of a version that knew it; nothing can raise it now
		}
		cause, stands := find(causes, e.ID)
		e, change, keep := e.step(&row, cause, stands, elapsed, quiet)
		changes = append(changes, change...)
		if keep {
			list = append(list, e)
		}
	}
	for _, c := range causes {
		row, known := Find(c.ID)
		if !known || s.index(c.ID) >= 0 {
			continue
		}
		e, change, _ := Entry{ID: c.ID, Phase: Pending}.step(&row, c, true, 0, quiet)
		changes = append(changes, change...)
		list = append(list, e)
	}
	if len(list) == 0 {
		list = nil
	}
	return State{List: firstOut(s.List, list), Rung: ring(s.Rung, changes, elapsed)}, changes
}

// firstOut marks the alarm that was raised while no other was: what comes after it
// most often follows from it.
func firstOut(before, now []Entry) []Entry {
	alone := true
	for _, e := range before {
		alone = alone && !e.Raised()
	}
	for i := range now {
		if !now[i].Raised() {
			now[i].First = false
		} else if alone {
			now[i].First, alone = true, false
		}
	}
	return now
}

func (r *Row) waits(quiet bool) bool { return quiet && !r.Wakes }

func (e Entry) step(row *Row, cause Cause, stands bool, elapsed time.Duration, quiet bool) (Entry, []Change, bool) {
	e.Shelved = max(0, e.Shelved-elapsed)
	if stands == e.Gone {
		e.Gone, e.For = !stands, 0
	} else {
		e.For += elapsed
	}
	if !stands {
		return e.gone(row)
	}
	raised := e.Raised()
	switch {
	case cause.Suppressed:
		e.Phase, e.For = Suppressed, 0 // its delay begins when it is one again
		if raised {
			return e, []Change{{e.ID, false}}, true
		}
	case e.Phase == Suppressed:
		e.Phase = Pending
	}
	switch {
	case e.Phase == Suppressed:
	case raised && cause.Latched && e.Phase == Acknowledged:
		e.Phase = Latched
	case raised && !cause.Latched && e.Phase == Latched:
		e.Phase = Unanswered // it is back
	case !raised && e.For >= row.OnDelay && !row.waits(quiet):
		e.Phase = Unanswered
		return e, []Change{{e.ID, true}}, true
	}
	return e, nil, true
}

// gone is an alarm whose cause does not stand.
func (e Entry) gone(row *Row) (Entry, []Change, bool) {
	switch {
	case e.Phase == Pending, e.Phase == Suppressed:
		return e, nil, false
	case e.Raised() && e.For >= row.OffDelay:
		answered := e.Phase != Unanswered
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
			case Unanswered, Latched:
				e.Phase, done = Acknowledged, true
			case Returned:
				done = true
				if e.Gone {
					continue
				}
				e.Phase = Pending // it has come back, and its delay runs
			case Acknowledged, Pending, Suppressed:
			}
		}
		list = append(list, e)
	}
	if len(list) == 0 {
		list = nil
	}
	return State{List: list, Rung: s.Rung}, done
}

// Shelve silences a raised alarm for a time.
func (s State) Shelve(id ID, d time.Duration) (State, bool) {
	i := s.index(id)
	if i < 0 || !s.List[i].Raised() {
		return s, false
	}
	list := append([]Entry(nil), s.List...)
	list[i].Shelved = d
	return State{List: list, Rung: s.Rung}, true
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

func find(causes []Cause, id ID) (Cause, bool) {
	i := slices.IndexFunc(causes, func(c Cause) bool { return c.ID == id })
	if i < 0 {
		return Cause{}, false
	}
	return causes[i], true
}
