package sense

import (
	"math"
	"time"

	"example.org/restpoint/controller/units"
)

// Status is how good a signal is, after NAMUR NE 107.
type Status string

// The states of a signal.
const (
	Good        Status = ""
	Failure     Status = "failure"              // the value must not be used
	Check       Status = "function-check"       // it has not spoken yet
	OutOfSpec   Status = "out-of-specification" // used, and uncertain: a doubtful reading, or a late one
	Maintenance Status = "maintenance-required" // used; it becomes worse
)

const (
	// lateShare of the time after which a value is stale: its reading is late.
	lateShare float64 = 0.5
	// noisy is the spread of readings that no probe in beer has (engineering
	// judgement: five steps of the usual probe).
	noisy units.Kelvins = 0.3
	// roughOver is the readings over which the spread is looked at.
	roughOver = 30
)

// Status tells how good the signal is where it is.
func (t *Thermometer) Status(p Place) Status {
	switch {
	case t.Failed:
		return Failure
	case !t.Known:
		return Check
	case t.Doubts > 0, t.Fault != NoFault, t.Age.Seconds() > p.Stale.Seconds()*lateShare:
		return OutOfSpec
	case t.Noise() > noisy:
		return Maintenance
	}
	return Good
}

// Noise is the spread of the readings: two that follow one another differ by its
// root of two.
func (t *Thermometer) Noise() units.Kelvins { return units.Kelvins(math.Sqrt(t.Rough / 2)) }

func square(d units.Kelvins) float64 { return float64(d * d) }

// Motion follows how far a thermometer went within minutes. Twenty litres of beer
// cannot go far; a probe that was pulled out of its well can, and then the heater or
// the chiller would work on the air. A step between two readings is no motion: no
// probe warms at once; whether it is believed is asked elsewhere.
type Motion struct {
	From  units.Celsius // where the window began
	Since time.Duration
	Step  units.Celsius // the first reading after a jump
	Seen  int           // readings in the window
	Away  bool          // it went further than beer can
	Home  units.Celsius // where it was before
}

// Engineering judgement: a strong heater and the yeast together warm 20 L by 0.5 K in
// five minutes; beside a cold jacket a well may move twice as far.
const (
	motionOver               = 5 * time.Minute
	motionMost units.Kelvins = 2.5
	motionSeen               = 5 // readings that show a motion and not a step
	homeWithin units.Kelvins = 1
)

// moves looks at the newest value.
func (t Thermometer) moves(p Place) Thermometer {
	m := &t.Motion
	if !p.Slow || p.Coarse || p.Handled {
		*m = Motion{From: t.Celsius}
		return t
	}
	m.Seen = min(m.Seen+1, motionSeen)
	if m.Since <= motionOver && m.Seen >= motionSeen && abs(t.Celsius.Minus(m.From)) > motionMost {
		return t.away(m.From, t.Celsius, t.Age)
	}
	if m.Since >= motionOver {
		m.From, m.Since, m.Seen = t.Celsius, 0, 0
	}
	return t
}

// away fails a thermometer that went further than beer can.
func (t Thermometer) away(home, x units.Celsius, age time.Duration) Thermometer {
	t.Motion.Away, t.Motion.Home = true, home
	t.Celsius, t.Age, t.Failed, t.Good, t.Fault = x, age, true, 0, Moved
	return t
}

// returns is a reading of a thermometer that went away: it is believed again where
// it was before, when readings agree on that.
func (t Thermometer) returns(x units.Celsius, age time.Duration) Thermometer {
	t.Celsius, t.Age, t.Fault = x, age, Moved
	if abs(x.Minus(t.Motion.Home)) > homeWithin {
		t.Good = 0
		return t
	}
	if t.Good++; t.Good < agree {
		return t
	}
	return Thermometer{Known: true, Celsius: x, Age: age, Good: agree, Motion: Motion{From: x}}
}

// Settle is a person's word that the thermometer is where it belongs.
func (t Thermometer) Settle() Thermometer {
	if !t.Motion.Away {
		return t
	}
	return Thermometer{Known: true, Celsius: t.Celsius, Age: t.Age, Good: agree, Motion: Motion{From: t.Celsius}}
}
