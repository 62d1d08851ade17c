// Package thermal holds what the vessel does: how far it coasts after a relay
// goes off, where a ramp stands, how high the yeast alone can lift the beer.
//
// It wants; it never allows. What a relay may do is the guard's, and the two do
// not know each other. It has no clock: time comes as elapsed duration.
package thermal

import (
	"time"

	"example.org/restpoint/controller/units"
)

// Band is how far the beer may leave its target before a relay is wanted. Below
// four steps of the usual probe (0.0625 K) a narrower band buys nothing but
// starts: with a lagging jacket the swing is rate times lag, whatever the band.
const (
	CoolBand units.Kelvins = 0.25
	// HeatBand is wider, so that the dead band is never crossed by the coast of
	// cooling alone.
	HeatBand units.Kelvins = 0.4
)

const (
	maxCoast   units.Kelvins = 1.5
	learnShare               = 0.3              // weight of the newest coast
	turned     units.Kelvins = 0.125            // two probe steps back: the coast is over
	settled                  = 20 * time.Minute // no new extreme for so long: the coast is over
	forgotten                = 90 * time.Minute // after this the beer moves for other reasons, such as the room
	hurry      units.Kelvins = 0.6              // this far off nobody waits for a coast to end
)

// Regime is what the target is doing; a vessel coasts differently in a ramp.
type Regime int

// The regimes.
const (
	Holding Regime = iota
	Ramping
)

// Demand is what the thermostat wants.
type Demand string

// The demands.
const (
	Nothing Demand = ""
	Heating Demand = "heat"
	Cooling Demand = "cool"
)

// State is what the thermostat remembers.
type State struct {
	Demand Demand
	Cool   Coast
	Heat   Coast
}

// Coast is what is known of one actuator's after-effect.
type Coast struct {
	Learned  [2]units.Kelvins // by regime
	Watching bool             // it went off and the extreme is not passed yet
	Clean    bool             // nothing happened meanwhile that would spoil the lesson
	Regime   Regime
	OffAt    units.Celsius // beer when the relay went off
	Extreme  units.Celsius // furthest since
	Since    time.Duration // since the extreme
	Off      time.Duration // since the relay went off
	WasOn    bool
	Lessons  int
}

// Aim is where the beer shall be. Cooling and heating may have different aims: in
// a free rise the one is the cap and the other the floor.
type Aim struct {
	CoolTo, HeatTo units.Celsius
	MayCool        bool
	MayHeat        bool
	Regime         Regime
}

// Step takes the beer's temperature and the relays as they were driven, and
// gives the demand.
func (s State) Step(a Aim, beer units.Celsius, cool, heat bool, elapsed time.Duration) State {
	s.Cool = s.Cool.watch(beer, cool, -1, a.Regime, elapsed)
	s.Heat = s.Heat.watch(beer, heat, +1, a.Regime, elapsed)
	s.Demand = s.demand(a, beer)
	return s
}

// Blind is the state when there is no temperature to go by: nothing is wanted,
// and what is being watched is no lesson.
func (s State) Blind() State {
	s.Demand = Nothing
	s.Cool.Clean, s.Heat.Clean = false, false
	return s
}

// Started is the state after any start of the program: what was on or coasting
// before is long over, or not known to be so. What was learnt goes on.
func (s State) Started() State {
	s = s.Blind()
	s.Cool.WasOn, s.Cool.Watching = false, false
	s.Heat.WasOn, s.Heat.Watching = false, false
	return s
}

func (s State) demand(a Aim, beer units.Celsius) Demand {
	switch s.Demand {
	case Cooling:
		if a.MayCool && beer > a.CoolTo.Plus(s.Cool.early(a.Regime)) {
			return Cooling
		}
	case Heating:
		if a.MayHeat && beer < a.HeatTo.Plus(-s.Heat.early(a.Regime)) {
			return Heating
		}
	case Nothing:
	}
	switch {
	case a.MayCool && beer >= a.CoolTo.Plus(CoolBand) && (!s.Cool.coasting(beer, -1) || beer >= a.CoolTo.Plus(hurry)):
		return Cooling
	case a.MayHeat && beer <= a.HeatTo.Plus(-HeatBand) && (!s.Heat.coasting(beer, +1) || beer <= a.HeatTo.Plus(-hurry)):
		return Heating
	}
	return Nothing
}

// early is how far before the target the relay goes off.
func (c Coast) early(r Regime) units.Kelvins { return c.Learned[r] }

// coasting tells whether the last run still works on the beer. toward is the
// direction in which the actuator moves it.
func (c Coast) coasting(beer units.Celsius, toward units.Kelvins) bool {
	if !c.Watching {
		return false
	}
	back := beer.Minus(c.Extreme) * -toward
	return back < turned && c.Since < settled && c.Off < forgotten
}

// watch follows the beer after the relay went off, and learns how far it coasted.
func (c Coast) watch(beer units.Celsius, on bool, toward units.Kelvins, r Regime, elapsed time.Duration) Coast {
	if on {
		c.WasOn, c.Watching = true, false
		return c
	}
	if c.WasOn {
		c.WasOn, c.Watching, c.Clean = false, true, true
		c.Regime, c.OffAt, c.Extreme = r, beer, beer
		c.Since, c.Off = 0, 0
		return c
	}
	if !c.Watching {
		return c
	}
	c.Since += elapsed
	c.Off += elapsed
	if r != c.Regime {
		c.Clean = false
	}
	if beer.Minus(c.Extreme)*toward > 0 {
		c.Extreme, c.Since = beer, 0
	}
	if !c.coasting(beer, toward) {
		return c.learn(toward)
	}
	return c
}

// learn takes the finished coast into the mean, unless something spoilt it.
func (c Coast) learn(toward units.Kelvins) Coast {
	c.Watching = false
	if !c.Clean || c.Off >= forgotten {
		return c
	}
	seen := units.Kelvins(c.Extreme.Minus(c.OffAt) * toward)
	mean := c.Learned[c.Regime]
	c.Learned[c.Regime] = min(maxCoast, max(0, mean+units.Kelvins(float64(learnShare*float64(seen-mean)))))
	c.Lessons++
	return c
}
