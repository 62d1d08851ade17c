package site

import (
	"time"

	"example.org/restpoint/profiles/strict"
)

// Quiet is the part of the day in which nobody is woken for what can wait, counted
// from midnight. Without length there is none.
type Quiet struct{ From, To time.Duration }

// quiet reads {from: "22:00", to: "07:00"}.
func quiet(m *strict.Map) Quiet {
	from, to := m.Need("from"), m.Need("to")
	q := Quiet{clock(from), clock(to)}
	m.Done()
	if from.Good() && to.Good() && q.From == q.To {
		to.Fail(QuietForm, "the quiet hours end when they begin; leave them out if there are none")
	}
	return q
}

// clock reads a time of day.
func clock(v *strict.Value) time.Duration {
	text := v.Line(nameLength)
	t, err := time.Parse("15:04", text)
	if v.Good() && err != nil {
		v.Fail(QuietForm, `%q is no time of day such as "22:00"`, text)
	}
	return time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute
}
