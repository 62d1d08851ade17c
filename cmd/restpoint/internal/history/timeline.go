package history

import (
	"cmp"
	"slices"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
)

// Run is one life of the program within a batch.
type Run struct {
	From, To time.Duration // since the batch began
	// Outage is the time without the program before it; Known says that it was measured.
	Outage time.Duration
	Known  bool
}

// timeline puts the counted time of several runs of the program on one line, which
// begins with the batch. Labels of the wall clock serve only where nothing else
// tells how long the program was away.
type timeline struct {
	bases map[int64]time.Duration // by run: to be added to what it counted
	runs  []Run
}

// mark is anything that the record has a time of.
type mark struct {
	run     int64
	counted time.Duration
	at      time.Time
	synced  bool
	outage  time.Duration // of the event that says so
	resumed bool
}

// timelineOf reads it from whatever was recorded, in any order.
func timelineOf(marks []mark) timeline {
	slices.SortStableFunc(marks, func(a, b mark) int {
		return cmp.Or(cmp.Compare(a.run, b.run), cmp.Compare(a.counted, b.counted))
	})
	t := timeline{bases: map[int64]time.Duration{}}
	for i := 0; i < len(marks); {
		end := i
		for end < len(marks) && marks[end].run == marks[i].run {
			end++
		}
		of := marks[i:end]
		var r Run
		if len(t.runs) == 0 {
			t.bases[of[0].run] = -of[0].counted
		} else {
			r.Outage, r.Known = away(marks[i-1], of)
			r.From = t.runs[len(t.runs)-1].To + r.Outage
			t.bases[of[0].run] = r.From
		}
		r.To = t.bases[of[0].run] + of[len(of)-1].counted
		t.runs = append(t.runs, r)
		i = end
	}
	return t
}

// away is the time between the last that was stored of one run and the start of the
// next one.
func away(last mark, next []mark) (time.Duration, bool) {
	for _, m := range next {
		if m.resumed && m.outage > 0 {
			return m.outage, true
		}
	}
	if by := next[0].at.Sub(last.at) - next[0].counted; last.synced && next[0].synced && by > 0 {
		return by, false
	}
	return 0, false
}

// at is when something was, since the batch began. What a run counted before the
// batch began is below zero.
func (t *timeline) at(run int64, counted time.Duration) time.Duration { return t.bases[run] + counted }

func markOf(e *record.Event) mark {
	m := mark{run: e.Run, counted: e.Counted, at: e.At, synced: e.Synced}
	if e.Event.Kind != controller.Resumed {
		return m
	}
	m.resumed = true
	for _, n := range e.Event.Reason.Numbers {
		if n.Unit == controller.InTime {
			m.outage = time.Duration(n.Value * float64(time.Second))
		}
	}
	return m
}
