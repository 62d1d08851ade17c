package watch

import (
	"time"

	"example.org/restpoint/controller/units"
)

// Trace looks, hour by hour, for a contact that is welded: one that is commanded
// off while the beer goes on as if it were on. Without a measured current there is
// no other sign. It is seen only of a relay that ran for an hour or more after some
// hours of rest; it is a hint to a person and cures nothing.
type Trace struct {
	From  units.Celsius // beer when the hour began
	Ran   time.Duration // of the hour
	On    time.Duration // of it on
	Other bool          // the other relay was on in it
	Rest  int           // whole hours off, up to settledRest
	Free  units.KelvinsPerHour
	Known bool // Free is what the beer does without the relay
	Mark  units.KelvinsPerHour
	Weld  bool
}

const (
	traceOver time.Duration = time.Hour
	mostOn    float64       = 0.8 // of an hour: a compressor's rests belong to its run
	// settledRest is after how many whole hours off the run before is over; the
	// slowest vessel coasts for one.
	settledRest int = 2
	// marked is the least that a relay must add for its absence to be seen: yeast and
	// room change by less within hours.
	marked   units.KelvinsPerHour = 0.4
	asIfOn   float64              = 0.5 // of the mark, off: welded; the nearer the beer is to the glycol, the less
	offAgain float64              = 0.3 // below: it has opened
)

func (t Trace) void() Trace {
	t.Ran, t.On, t.Other, t.Rest, t.Known, t.Mark = 0, 0, false, 0, false, 0
	return t
}

func (t Trace) step(beer units.Celsius, toward units.KelvinsPerHour, on, other bool, elapsed time.Duration) Trace {
	if t.Ran == 0 {
		t.From = beer
	}
	t.Ran += elapsed
	if on {
		t.On += elapsed
	}
	t.Other = t.Other || other
	if t.Ran < traceOver {
		return t
	}
	rate := float64(beer.Minus(t.From)) / t.Ran.Hours()
	pace := units.KelvinsPerHour(float64(rate * float64(toward)))
	full, none, mixed := t.On.Seconds() >= t.Ran.Seconds()*mostOn, t.On == 0, t.Other
	t.Ran, t.On, t.Other = 0, 0, false
	switch {
	case mixed:
		t.Rest, t.Known, t.Mark = 0, false, 0
	case full:
		t.Rest, t.Mark = 0, 0
		if t.Known {
			t.Mark = pace - t.Free
		}
	case none:
		t = t.rested(pace)
	default:
		t.Rest = 0
	}
	return t
}

// rested is a whole hour off.
func (t Trace) rested(pace units.KelvinsPerHour) Trace {
	if t.Rest = min(t.Rest+1, settledRest); t.Rest < settledRest {
		return t
	}
	if t.Known && t.Mark >= marked {
		added := float64(pace - t.Free)
		switch {
		case added >= float64(t.Mark)*asIfOn:
			t.Weld = true
			return t
		case t.Weld && added >= float64(t.Mark)*offAgain:
			return t
		}
	}
	t.Weld, t.Mark = false, 0
	t.Free, t.Known = pace, true
	return t
}
