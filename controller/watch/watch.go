// Package watch looks at what the relays do to the beer: whether a relay that is on
// moves it the right way, whether one that is off still moves it, how often each
// starts, how much cooling the last day took.
//
// It refuses to decide: it says what it sees, and what follows from it is decided
// elsewhere. It knows neither targets nor schedules, and time comes as elapsed
// duration. Whoever touches the beer has to say so (Void): what follows then is no
// sign of a fault.
package watch

import (
	"time"

	"example.org/restpoint/controller/units"
)

// State is what is remembered of both relays.
type State struct {
	Heat, Cool Run
	HeatTrace  Trace
	CoolTrace  Trace
	Lift       Lift // of the newest run of heat
	Duty       Duty
	HeatStarts Starts
	CoolStarts Starts
	Quiet      time.Duration // nothing is judged for so long yet: somebody touched the beer
}

// touched is how long the beer may move for other reasons after somebody put
// something into it, or took something out (engineering judgement).
const touched = 2 * time.Hour

// Void forgets what is going on: the beer was touched, or is seen by another probe.
func (s State) Void() State {
	s.Heat, s.Cool = Run{}, Run{}
	s.HeatTrace, s.CoolTrace = s.HeatTrace.void(), s.CoolTrace.void()
	s.Lift.On = false
	s.Quiet = touched
	return s
}

// Input is one step.
type Input struct {
	Beer       units.Celsius
	Known      bool // the beer's temperature may be believed
	Heat, Cool bool // as they were driven
	Elapsed    time.Duration
	Age        time.Duration // counted by all runs of the program
	// How often each relay was switched on in its life.
	HeatSwitches, CoolSwitches int64
	Learnt                     Learnt // where heat has just begun
}

// Step takes one step.
func (s *State) Step(in *Input) {
	s.Quiet = max(0, s.Quiet-in.Elapsed)
	s.Duty.Step(in.Age, in.Cool, in.Elapsed)
	s.HeatStarts.Step(in.Age, in.HeatSwitches)
	s.CoolStarts.Step(in.Age, in.CoolSwitches)
	if !in.Known || s.Quiet > 0 {
		s.Heat, s.Cool = Run{}, Run{}
		s.HeatTrace, s.CoolTrace = s.HeatTrace.void(), s.CoolTrace.void()
		s.Lift.On = false
		return
	}
	s.Heat = s.Heat.step(in.Beer, in.Heat, in.Elapsed)
	s.Cool = s.Cool.step(in.Beer, in.Cool, in.Elapsed)
	s.Lift = s.Lift.step(in)
	s.HeatTrace = s.HeatTrace.step(in.Beer, +1, in.Heat, in.Cool, in.Elapsed)
	s.CoolTrace = s.CoolTrace.step(in.Beer, -1, in.Cool, in.Heat, in.Elapsed)
}

// Figures of a run (engineering judgement): no yeast and no room moves 20 L of beer
// by half a kelvin in 20 minutes against a relay that works; and a heater or chiller
// that does anything moves a probe of 0.0625 K steps within two hours.
const (
	wrongOver               = 20 * time.Minute
	wrongBy   units.Kelvins = 0.5
	flatOver                = 2 * time.Hour
	// fallOver is over which the fall of a long run of cooling is looked at.
	fallOver = time.Hour
)

// Run is one relay that is on, without a break.
type Run struct {
	On     bool
	From   units.Celsius // beer when the window began
	Window time.Duration
	Last   units.Celsius // the newest reading
	Flat   time.Duration // it has not changed for so long
	Hour   units.Celsius // beer when the hour began
	Into   time.Duration // of the hour
	Fall   units.KelvinsPerHour
	Fallen bool // Fall is known: a whole hour was seen
}

func (r Run) step(beer units.Celsius, on bool, elapsed time.Duration) Run {
	if !on {
		return Run{}
	}
	if !r.On {
		return Run{On: true, From: beer, Last: beer, Hour: beer}
	}
	if r.Window >= wrongOver {
		r.From, r.Window = r.Last, 0
	}
	r.Window += elapsed
	r.Flat += elapsed
	if beer != r.Last {
		r.Last, r.Flat = beer, 0
	}
	if r.Into += elapsed; r.Into >= fallOver {
		r.Fall, r.Fallen = units.KelvinsPerHour(float64(r.Hour.Minus(beer))/r.Into.Hours()), true
		r.Hour, r.Into = beer, 0
	}
	return r
}

// Wrong tells whether a relay that is on moves the beer the other way, and fast.
// Toward is +1 for heat and -1 for cooling.
func (r Run) Wrong(toward units.Kelvins) bool {
	return r.On && r.Last.Minus(r.From)*toward < -wrongBy
}

// Stuck tells whether the reading has not changed by one step through a long run.
func (r Run) Stuck() bool { return r.On && r.Flat >= flatOver }

// Falls tells whether the beer fell, in the newest whole hour of the run, by at
// least a share of the pace that is known of it.
func (r Run) Falls(pace units.KelvinsPerHour, share float64) bool {
	return r.On && r.Fallen && pace > 0 && float64(r.Fall) >= float64(pace)*share
}
