// Package sense holds what may be believed of a vessel's probes: one thermometer
// after another, several thermowells together, and a pressure transducer.
//
// It judges readings; it never makes one up. A value that failed stays failed
// until readings agree with one another again, and no restart heals it.
package sense

import (
	"time"

	"example.org/restpoint/controller/units"
)

// Fault says why a reading has no value. The empty fault is none.
type Fault string

// The faults that are found here; the edges report more.
const (
	NoFault    Fault = ""
	TimedOut   Fault = "timeout"      // no answer within the deadline
	Moved      Fault = "moved"        // it goes where no beer can go: it may be out of its well
	OutOfRange Fault = "out-of-range" // beyond what the sensor can measure
	// Contradicted is one of three thermometers that the other two contradict.
	Contradicted Fault = "contradicted"
)

// Place is what a thermometer can say where it is.
type Place struct {
	Lowest, Highest units.Celsius
	Slow            bool          // in more than 20 L of beer: jumps are no readings
	Coarse          bool          // values are held from a coarse record: jumps are no fault
	Handled         bool          // beer is being filled in or moved: it may change fast
	Stale           time.Duration // then the last value must not be used
}

// Engineering judgement, beside the ranges of the places.
const (
	fastest     units.Kelvins = 1 // a minute, for more than 20 L of beer
	jumpMargin  units.Kelvins = 1
	rangeDoubts               = 2 // readings out of range until the probe has failed
	agree                     = 5 // good readings in a row until it is believed again
	agreeWithin units.Kelvins = 3
	longest                   = 365 * units.Day // ages are counted no further
)

// Thermometer is one probe's last word and how far it may be believed.
type Thermometer struct {
	Known   bool // it has given a believable value at least once
	Celsius units.Celsius
	Age     time.Duration // of that value
	Failed  bool          // signal status Failure: the value must not be used
	Doubts  int           // unbelievable readings in a row
	Good    int           // believable ones in a row since a failure
	Jump    units.Celsius // the value that was not believed
	Fault   Fault         // the newest fault
	Motion  Motion        // whether it moves as beer can
	Rough   float64       // mean square of the change from reading to reading, K^2
}

// Usable tells whether control may go by the thermometer.
func (t *Thermometer) Usable() bool { return t.Known && !t.Failed }

// Sound tells whether nothing speaks against the thermometer: it is usable, or it
// has not spoken yet.
func (t *Thermometer) Sound() bool { return !t.Failed }

// Started is a thermometer after any start of the program: nothing is known of it,
// but a failure is not healed by a restart.
func (t Thermometer) Started() Thermometer {
	if !t.Failed {
		return Thermometer{}
	}
	t.Good, t.Motion.Since = 0, longest
	return t
}

// Advance counts time.
func (t Thermometer) Advance(elapsed time.Duration) Thermometer {
	t.Age = min(t.Age+elapsed, longest)
	t.Motion.Since = min(t.Motion.Since+elapsed, longest)
	return t
}

// Take takes a reading in: a value, or the fault that it failed with.
func (t Thermometer) Take(x units.Celsius, fault Fault, age time.Duration, p Place) Thermometer {
	switch {
	case fault != NoFault:
		t.Fault, t.Good = fault, 0
	case !(x >= p.Lowest && x <= p.Highest):
		t.Fault, t.Good = OutOfRange, 0
		t.Doubts++
		if t.Doubts >= rangeDoubts {
			t.Failed = true
		}
	default:
		return t.believe(x, max(0, age), p)
	}
	return t
}

// Check fails a thermometer whose last value is too old.
func (t Thermometer) Check(p Place) Thermometer {
	if t.Age <= p.Stale {
		return t
	}
	if !t.Failed {
		t.Failed, t.Good = true, 0
	}
	if t.Fault == NoFault {
		t.Fault = TimedOut
	}
	return t
}

// believe takes a value that is in range. A jump that beer cannot make is not
// believed until readings agree on it.
func (t Thermometer) believe(x units.Celsius, age time.Duration, p Place) Thermometer {
	if !t.Known {
		if age > p.Stale {
			return t
		}
		return Thermometer{Known: true, Celsius: x, Age: age, Good: 1, Motion: Motion{From: x, Since: age}}
	}
	if age > t.Age {
		return t // older than what is known
	}
	allowed := jumpMargin + units.Kelvins(float64(fastest)*t.Age.Minutes())
	jumps := p.Slow && !p.Coarse && abs(x.Minus(t.Celsius)) > allowed
	if !t.Failed && !jumps {
		t.Rough += float64((square(x.Minus(t.Celsius)) - t.Rough) / roughOver)
		t.Celsius, t.Age, t.Doubts, t.Fault = x, age, 0, NoFault
		t.Good = min(t.Good+1, agree)
		return t.moves(p)
	}
	if t.Motion.Away {
		return t.returns(x, age)
	}
	// In failure, or a jump: readings must agree with one another first.
	if t.Good > 0 && abs(x.Minus(t.Jump)) > agreeWithin {
		t.Good = 0
	}
	if jumps && !t.Failed && t.Doubts == 0 {
		t.Good = 0
	}
	if t.Good == 0 {
		t.Motion.Step = x
	}
	t.Jump = x
	t.Good++
	if !t.Failed {
		t.Doubts++
	}
	need := agree
	if p.Coarse {
		need = 1
	}
	if t.Good < need {
		return t
	}
	if jumps && abs(x.Minus(t.Motion.Step)) > homeWithin && !p.Coarse && !p.Handled {
		return t.away(t.Celsius, x, age) // readings agree, and go on moving
	}
	return Thermometer{Known: true, Celsius: x, Age: age, Good: agree, Motion: Motion{From: x}}
}

func abs(d units.Kelvins) units.Kelvins {
	if d < 0 {
		return -d
	}
	return d
}
