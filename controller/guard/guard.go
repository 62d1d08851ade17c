// Package guard holds what a relay may do, whatever anybody wants: minimum
// times on and off, change-over, start-up lock-out, maximum run of a heater, and
// that heat and cool are never on together.
//
// It refuses to shorten a compressor's rest, for no order and no restart. It
// knows nothing of beer, only of relays and counted time. Doubt means OFF.
package guard

import "time"

// State is what the guard remembers of both relays.
type State struct {
	Heat, Cool Line
}

// Line is one relay as it was really driven.
type Line struct {
	On       bool
	For      time.Duration // in this position
	Switches int64         // how often it was switched on, for the life of the contact
	OnFor    time.Duration // sum of all time on
	LastRun  time.Duration // how long the last run was
	Worked   bool          // it has been on since the program started
	Before   bool          // and it was on shortly before: what it warmed or cooled may still be so
}

// Block says why a relay that is wanted stays off, or one that is not wanted stays on.
type Block string

// The reasons for which the guard decides against the wish.
const (
	Free       Block = ""
	NotFitted  Block = "not fitted"
	Forbidden  Block = "forbidden"   // by the caller: doubt about a reading, a mode, a limit
	Resting    Block = "rest"        // minimum time off
	StartUp    Block = "start-up"    // the same rest, counted from the start of the program
	MinimumRun Block = "minimum run" // still on, though not wanted
	ChangeOver Block = "change-over" // the other relay was on a moment ago
	Interlock  Block = "interlock"   // both wanted, or the other is on
	LongestRun Block = "longest run" // it ran too long without a break
)

const (
	longBreak = 30 * time.Minute // after a longest run: an element cools, a coil thaws (engineering judgement)
	saturated = 366 * 24 * time.Hour
)

// Limits of one request.
type Limits struct {
	ForbidHeat bool // heat goes off at once
	ForbidCool bool // cool goes off when its minimum run is over
	StopCool   bool // cool goes off at once: too cold, or nobody may run it
	// LongestCool is how long cooling may run without a break; 0 = as long as it is
	// wanted, for a beer that is led down.
	LongestCool time.Duration
}

// Wish is what the thermostat wants and what is forbidden.
type Wish struct {
	Heat, Cool bool
	Limits
}

// Verdict is what the relays shall do, and why not what was wished.
type Verdict struct {
	Heat, Cool           bool
	HeatBlock, CoolBlock Block
	HeatWait, CoolWait   time.Duration // until the block ends, where that is known
}

// Started is the state after any start of the program: every relay counts as just
// switched off, whatever it did before, and a break or a change-over that was not
// over begins anew. Counters go on.
func (s State) Started() State {
	s.Heat, s.Cool = s.Heat.started(), s.Cool.started()
	return s
}

func (l Line) started() Line {
	next := Line{Switches: l.Switches, OnFor: l.OnFor}
	switch {
	case l.On:
		next.Before, next.LastRun = true, l.For
	case (l.Worked || l.Before) && l.For < longBreak: // the longest of what an off relay is asked for
		next.Before, next.LastRun = true, l.LastRun
	}
	return next
}

// Observe counts the time that the relays really spent since the last step.
func (s State) Observe(heat, cool bool, elapsed time.Duration) State {
	s.Heat = s.Heat.observe(heat, elapsed)
	s.Cool = s.Cool.observe(cool, elapsed)
	return s
}

func (l Line) observe(on bool, elapsed time.Duration) Line {
	if on != l.On {
		if !on {
			l.LastRun = l.For
		}
		l.On, l.For = on, 0
		if on {
			l.Switches++
			l.Worked = true
		}
	}
	l.For = min(l.For+elapsed, saturated)
	if on {
		l.OnFor += elapsed
	}
	return l
}

// Decide turns a wish into levels.
func (s State) Decide(heat, cool Relay, w Wish) Verdict {
	var v Verdict
	v.Heat, v.HeatBlock, v.HeatWait = s.heat(heat, cool, w)
	v.Cool, v.CoolBlock, v.CoolWait = s.cool(heat, cool, w)
	if v.Heat && v.Cool {
		// Only possible if both were found on: something outside drives them.
		v.Heat, v.Cool = false, false
		v.HeatBlock, v.CoolBlock = Interlock, Interlock
	}
	return v
}

func (s State) heat(r, other Relay, w Wish) (bool, Block, time.Duration) {
	switch {
	case !r.Fitted:
		return false, blocked(w.Heat, NotFitted), 0
	case w.ForbidHeat:
		return false, blocked(w.Heat, Forbidden), 0
	case s.Heat.On:
		if r.MaxRun > 0 && s.Heat.For >= r.MaxRun {
			return false, LongestRun, longBreak
		}
		return s.keep(s.Heat, r, w.Heat)
	case !w.Heat:
		return false, Free, 0
	}
	if w.Cool && other.Fitted {
		return false, Interlock, 0
	}
	return s.start(s.Heat, r, s.Cool, other)
}

func (s State) cool(other, r Relay, w Wish) (bool, Block, time.Duration) {
	r.MaxRun = w.LongestCool
	switch {
	case !r.Fitted:
		return false, blocked(w.Cool, NotFitted), 0
	case w.StopCool:
		return false, blocked(w.Cool, Forbidden), 0
	case s.Cool.On:
		if r.MaxRun > 0 && s.Cool.For >= max(r.MaxRun, r.MinOn) {
			return false, blocked(w.Cool, LongestRun), longBreak
		}
		return s.keep(s.Cool, r, w.Cool && !w.ForbidCool)
	case w.ForbidCool:
		return false, blocked(w.Cool, Forbidden), 0
	case !w.Cool:
		return false, Free, 0
	}
	if w.Heat && other.Fitted && !w.ForbidHeat {
		return false, Interlock, 0
	}
	return s.start(s.Cool, r, s.Heat, other)
}

// keep decides on a relay that is on.
func (s State) keep(l Line, r Relay, want bool) (bool, Block, time.Duration) {
	if !want && l.For < r.MinOn {
		return true, MinimumRun, r.MinOn - l.For
	}
	return want, Free, 0
}

// start decides on a relay that is off and wanted on.
func (s State) start(l Line, r Relay, other Line, otherRelay Relay) (bool, Block, time.Duration) {
	if l.For < r.MinOff {
		if !l.Worked {
			return false, StartUp, r.MinOff - l.For
		}
		return false, Resting, r.MinOff - l.For
	}
	if r.MaxRun > 0 && l.LastRun >= r.MaxRun && l.For < longBreak {
		return false, LongestRun, longBreak - l.For
	}
	if other.On {
		return false, Interlock, 0
	}
	if otherRelay.Fitted && (other.Worked || other.Before) && other.For < changeOver {
		return false, ChangeOver, changeOver - other.For
	}
	return true, Free, 0
}

func blocked(wanted bool, b Block) Block {
	if wanted {
		return b
	}
	return Free
}
