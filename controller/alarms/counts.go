package alarms

import (
	"slices"
	"time"
)

// Counts are those alarms that tell of a bad alarm and not of a bad beer, after
// ISA-18.2: nobody heeds what always stands or comes and goes.
type Counts struct {
	Standing   int // raised, and their cause stands for more than a day
	Chattering int // raised three times or more within the hour
}

const (
	standsFor    = 24 * time.Hour
	chattersIn   = time.Hour // 3 in a minute is the usual figure, for plants that are faster than beer
	chatterTimes = 3
)

// Rung is how long ago an alarm was raised, the newest first.
type Rung struct {
	ID    ID
	Ago   [chatterTimes]time.Duration
	Times int // of Ago that count
}

// Counts gives them as they are now.
func (s State) Counts() Counts {
	var c Counts
	for i := range s.List {
		if e := &s.List[i]; e.Raised() && !e.Gone && e.For > standsFor {
			c.Standing++
		}
	}
	for i := range s.Rung {
		if s.Rung[i].Times >= chatterTimes {
			c.Chattering++
		}
	}
	return c
}

// ring counts time, forgets what was raised more than an hour ago, and notes what is
// raised now.
func ring(was []Rung, changes []Change, elapsed time.Duration) []Rung {
	if len(was) == 0 && !slices.ContainsFunc(changes, func(c Change) bool { return c.Raised }) {
		return nil
	}
	var list []Rung
	for _, r := range was {
		for i := range r.Times {
			r.Ago[i] += elapsed
		}
		for r.Times > 0 && r.Ago[r.Times-1] > chattersIn {
			r.Times--
			r.Ago[r.Times] = 0
		}
		if r.Times > 0 {
			list = append(list, r)
		}
	}
	for _, c := range changes {
		if !c.Raised {
			continue
		}
		i := slices.IndexFunc(list, func(r Rung) bool { return r.ID == c.ID })
		if i < 0 {
			list = append(list, Rung{ID: c.ID, Times: 1})
			continue
		}
		r := &list[i]
		copy(r.Ago[1:], r.Ago[:])
		r.Ago[0], r.Times = 0, min(r.Times+1, chatterTimes)
	}
	return list
}
