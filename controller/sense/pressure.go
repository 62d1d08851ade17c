package sense

import (
	"time"

	"example.org/restpoint/controller/units"
)

// What a pressure transducer on a fermenter can say, above the air's pressure: no
// vacuum is deeper than the air is heavy, and no fermenter is rated for 10 bar.
const (
	deepest  units.Pascals = -101325
	strained units.Pascals = 10 * units.PascalsPerBar
)

// Gauge is a pressure transducer's last word. It is only read: nothing but alarms
// and the end of cooling in a vacuum follows from it.
type Gauge struct {
	Known  bool
	Gauge  units.Pascals
	Age    time.Duration
	Failed bool
	Fault  Fault
}

// Usable tells whether the pressure may be gone by.
func (g Gauge) Usable() bool { return g.Known && !g.Failed }

// Started is a transducer after any start of the program: its pressure of before
// is no longer known.
func (g Gauge) Started() Gauge { return Gauge{} }

// Advance counts time.
func (g Gauge) Advance(elapsed time.Duration) Gauge {
	g.Age = min(g.Age+elapsed, longest)
	return g
}

// Take takes a reading in. One that a fermenter cannot have is a failure at once.
func (g Gauge) Take(p units.Pascals, fault Fault, age time.Duration) Gauge {
	age = max(0, age)
	switch {
	case fault != NoFault:
		g.Fault = fault
	case !(p >= deepest && p <= strained):
		g.Fault, g.Failed = OutOfRange, true
	case !g.Known || age <= g.Age:
		return Gauge{Known: true, Gauge: p, Age: age}
	}
	return g
}

// Check fails a transducer whose last value is too old.
func (g Gauge) Check(stale time.Duration) Gauge {
	if g.Age <= stale {
		return g
	}
	g.Failed = true
	if g.Fault == NoFault {
		g.Fault = TimedOut
	}
	return g
}
