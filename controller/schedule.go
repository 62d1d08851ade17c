package controller

import (
	"slices"
	"time"

	"example.org/restpoint/controller/units"
)

// Kind is what a stage is for.
type Kind string

// The kinds of stage, in the order in which a batch meets them.
const (
	Fill    Kind = "fill"    // wort in the tank, waiting for yeast
	Primary Kind = "primary" // the yeast makes the beer
	Rest    Kind = "rest"    // warm, while the yeast cleans up its diacetyl
	Crash   Kind = "crash"   // on the way to the cold
	Hold    Kind = "hold"    // kept until a person ends the batch
)

// Kinds lists every kind of stage.
func Kinds() []Kind { return []Kind{Fill, Primary, Rest, Crash, Hold} }

// Schedule is what a batch goes through. It never changes once it is checked.
type Schedule struct {
	Name        string
	About       string
	Wort        Wort
	Carbonation units.Volumes // for the bright tank's pressure that is shown; 0 = not given
	Stages      []Stage       // at least one; the last holds until a person ends the batch
}

// Wort is what the brewer expects of this beer.
type Wort struct {
	Original units.Gravity
	Final    units.Gravity
	FinalSD  units.Points // how far the real end may lie from Final, one standard deviation
}

// Stage is one part of a schedule.
type Stage struct {
	Name    string
	Kind    Kind
	Target  Target
	Until   Condition // Kind Never only in the last stage
	Longest Longest
	Stuck   Then // primary and rest: what happens when the beer is stuck; empty = as is usual for its kind
	ByClock bool // the brewer accepts that the clock alone ends this stage
	Remind  []Reminder
}

// TargetKind is how a stage leads the temperature.
type TargetKind string

// The kinds of target.
const (
	At       TargetKind = "at"        // hold one temperature
	Ramp     TargetKind = "ramp"      // move at a rate from where the beer is
	FreeRise TargetKind = "free-rise" // let the yeast warm the beer up to a cap
)

// Target is where the temperature shall be.
type Target struct {
	Kind      TargetKind
	To        units.Celsius        // the temperature held, the end of the ramp, the cap of the rise
	Rate      units.KelvinsPerHour // ramp only; positive, the direction follows from To
	HeatAfter time.Duration        // free rise only: heat helps after this; 0 = only when the yeast cannot do it
}

// ConditionKind is what a condition looks at.
type ConditionKind string

// The conditions that may end a stage.
const (
	Never               ConditionKind = ""
	PointsLeft          ConditionKind = "points-left"
	ApparentAttenuation ConditionKind = "apparent-attenuation"
	GravityAtMost       ConditionKind = "gravity-at-most"
	Terminal            ConditionKind = "terminal"
	Dwell               ConditionKind = "for"
	BeerAt              ConditionKind = "beer-at"
	Pitched             ConditionKind = "pitched"
	Confirmed           ConditionKind = "confirmed"
	All                 ConditionKind = "all"
	Any                 ConditionKind = "any"
)

// Condition is what must be so for a stage to end. Which fields count follows
// from the Kind.
type Condition struct {
	Kind         ConditionKind
	Points       units.Points  // points-left: this many or fewer; terminal: net change allowed
	Over         time.Duration // terminal: the window
	Attenuation  float64       // apparent-attenuation, 0 to 1, by points
	Gravity      units.Gravity // gravity-at-most
	AtLeast      time.Duration // for
	Beer         units.Celsius // beer-at; for ... beer-above
	HasBeerAbove bool          // for: only time with the beer above Beer counts
	Say          string        // confirmed: what a person confirms
	Of           []Condition   // all, any
}

// Then is what happens when a limit is reached.
type Then string

// What may happen at a limit.
const (
	Ask     Then = "ask"     // an alarm; a person decides
	Advance Then = "advance" // an alarm, and the next stage begins
)

// Longest limits the time in a stage. Reaching it is always an alarm.
type Longest struct {
	For  time.Duration // 0 only in the last stage
	Then Then
}

// ReminderKind says what a reminder waits for.
type ReminderKind string

// When a person may be reminded of a job.
const (
	RemindBefore ReminderKind = "before"      // some time before a stage can begin at the earliest
	RemindAfter  ReminderKind = "after"       // some time after the stage began
	RemindPoints ReminderKind = "points-left" // so many points left, or fewer
	// RemindHeat is for a vessel without hydrometer: so many points may be left, or
	// fewer, as the heat of the beer since pitching tells.
	RemindHeat ReminderKind = "heat-points-left"
)

// Reminder is a job for a person.
type Reminder struct {
	When   ReminderKind
	Stage  string        // before: the stage it precedes
	By     time.Duration // before, after
	Points units.Points  // points-left, heat-points-left
	Say    string
	Mark   MarkKind // what doing it does to the beer; empty = nothing
}

// DefaultLongest is the limit of a stage whose schedule gives none: common
// practice with a wide margin, and always a question, never a move.
func DefaultLongest(k Kind) Longest {
	switch k {
	case Fill:
		return Longest{24 * time.Hour, Ask} // wort without yeast spoils
	case Primary:
		return Longest{14 * units.Day, Ask}
	case Rest:
		return Longest{10 * units.Day, Ask}
	case Crash:
		return Longest{5 * units.Day, Ask}
	case Hold:
		return Longest{60 * units.Day, Ask}
	}
	return Longest{14 * units.Day, Ask}
}

// Find gives the index of the stage with that name, or -1.
func (s *Schedule) Find(name string) int {
	for i := range s.Stages {
		if s.Stages[i].Name == name {
			return i
		}
	}
	return -1
}

// Leaves lists the conditions that are not made of others, in the order written.
func (c *Condition) Leaves() []*Condition {
	if c.Kind == Never {
		return nil
	}
	return c.leaves(make([]*Condition, 0, max(1, len(c.Of))))
}

func (c *Condition) leaves(out []*Condition) []*Condition {
	if c.Kind != All && c.Kind != Any {
		return append(out, c)
	}
	for i := range c.Of {
		out = c.Of[i].leaves(out)
	}
	return out
}

// Asks tells whether any leaf of the condition is of that kind.
func (c *Condition) Asks(k ConditionKind) bool {
	for _, leaf := range c.Leaves() {
		if leaf.Kind == k {
			return true
		}
	}
	return false
}

// MustBe tells whether the condition cannot hold unless a leaf of one of the
// given kinds holds: every branch of an any must have it, one branch of an all.
func (c *Condition) MustBe(kinds ...ConditionKind) bool {
	switch c.Kind {
	case All:
		for i := range c.Of {
			if c.Of[i].MustBe(kinds...) {
				return true
			}
		}
		return false
	case Any:
		for i := range c.Of {
			if !c.Of[i].MustBe(kinds...) {
				return false
			}
		}
		return len(c.Of) > 0
	default:
		return slices.Contains(kinds, c.Kind)
	}
}
