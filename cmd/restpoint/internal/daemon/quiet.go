package daemon

import "time"

// Quiet is the part of the day in which nobody wants to be woken, counted from
// midnight of the wall clock. It may go over midnight; without length there is
// none. Only what may wait hangs on it, so a clock that is wrong costs hours of
// sleep and no beer.
type Quiet struct{ From, To time.Duration }

// At tells whether a time lies in the quiet hours.
func (q Quiet) At(t time.Time) bool {
	now := time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute
	if q.From <= q.To {
		return now >= q.From && now < q.To
	}
	return now >= q.From || now < q.To
}
