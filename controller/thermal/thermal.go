// Package thermal holds what the vessel does: how it answers its relays, where a
// ramp stands, how high the yeast alone can lift the beer.
//
// It wants; it never allows. What a relay may do is the guard's, and the two do
// not know each other. It has no clock: time comes as elapsed duration.
package thermal

import (
	"time"

	"example.org/restpoint/controller/units"
)

// Band is how far the beer may leave its target before that is worth a word.
const (
	CoolBand units.Kelvins = 0.25
	HeatBand units.Kelvins = 0.25
)

// How far the beer is let swing. A swing of 0.16 K has an error of 0.05 K, no more
// than what a probe of 0.0625 K leaves in doubt; a finer one wears contacts and gains
// nothing.
const (
	fineSwing = 0.16
	heatSwing = 0.15
	// Between two runs of cooling the yeast's heat is seen, so a quiet hour is worth
	// a wider swing.
	quiet        = 1.25 // h
	quietSwing   = 0.24
	sparingSwing = 0.5 // of a compressor whose vessel is not known yet
	plainSwing   = 0.5 // of a thermostat that switches a quarter of a kelvin above and below
	// Between cooling and heating: neither may call the other.
	apart = 0.1
	// Against the drift, which would do it by itself, a relay is used only so far off;
	// against what the other one has left only so far.
	aside  = 0.3
	astray = 0.45
	// A drift that the room may turn about within the day.
	balanced units.KelvinsPerHour = 0.1
	// What a probe says counts, whatever was learnt: so far beyond a relay goes off.
	enough = 0.25
	// A drift is known too badly to be looked ahead further.
	mostAhead = 1.5
)

// Regime is what the target is doing.
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
	Demand   Demand
	Response Response
	Spare    float32       // K that a compressor lets the beer swing
	SpareAge time.Duration // since that was found
}

// Aim is where the beer shall be. Cooling and heating may have different aims: in
// a free rise the one is the cap and the other the floor.
type Aim struct {
	CoolTo, HeatTo units.Celsius
	MayCool        bool
	MayHeat        bool
	Regime         Regime
	Rate           units.KelvinsPerHour // at which the aim moves, downward negative
	End            units.Celsius        // where that ends
	Over, Under    units.Kelvins        // how far the beer may go above CoolTo, and cooling may bring it below; 0 = half its swing
	// What the relays are.
	CoolRun, HeatRun time.Duration // the shortest run of each
	Sparing          bool          // every start of cooling costs: a compressor
	Both             bool          // there is a heater and a cooler
}

// Step takes the beer's temperature and the relays as they were driven, and
// finds the demand.
func (s *State) Step(a *Aim, beer units.Celsius, cool, heat bool, elapsed time.Duration) {
	s.Response.step(beer, cool, heat, elapsed)
	s.spare(a, elapsed)
	s.Demand = s.demand(a, beer, cool, heat)
}

// Blind is the state when there is no temperature to go by: nothing is wanted,
// and what is under way is not followed.
func (s State) Blind() State {
	s.Demand = Nothing
	s.Response.lose()
	return s
}

// Started is the state after any start of the program: what was on or coasting
// before is long over, or not known to be so. What was learnt goes on.
func (s State) Started() State { return s.Blind() }

// demand goes on with what runs until it is done. What the guard has held back begins
// only if it is still wanted: the aim may be another one by now.
func (s *State) demand(a *Aim, beer units.Celsius, cools, heats bool) Demand {
	r := s.Response.Rates()
	if !r.Known {
		return Nothing
	}
	cool, heat := r.cooling(a, beer, float64(s.Spare)), r.heating(a, beer, float64(s.Spare))
	switch {
	case s.Demand == Cooling && cools && a.MayCool && cool != stop, s.Demand != Heating && a.MayCool && cool == start:
		return Cooling
	case s.Demand == Heating && heats && a.MayHeat && heat != stop, a.MayHeat && heat == start:
		return Heating
	case a.MayCool && cool == start:
		return Cooling
	}
	return Nothing
}

// say is what there is to say about one relay.
type say int

const (
	stay say = iota
	start
	stop
)

// ahead is where the beer will be once what is under way has arrived.
func (r *Rates) ahead(lag time.Duration) float64 {
	return float64(r.Rest) + min(mostAhead, max(-mostAhead, float64(float64(r.Drift)*lag.Hours())))
}

// aim leads a moving aim by the lag.
func (a *Aim) lead(to units.Celsius, lag time.Duration) float64 {
	if a.Rate == 0 {
		return float64(to)
	}
	at := float64(to) + float64(float64(a.Rate)*lag.Hours())
	if a.Rate < 0 {
		return max(at, float64(a.End))
	}
	return min(at, float64(a.End))
}

// cooling looks at the beer as it will be. Between two runs it rises by a swing,
// half of it above the aim.
func (r *Rates) cooling(a *Aim, beer units.Celsius, spare float64) say {
	swing := min(quietSwing, max(fineSwing, float64(float64(r.Drift)*quiet)))
	if a.Sparing {
		swing = spare
	}
	swing = max(swing, -float64(float64(r.Cool+r.Drift)*a.CoolRun.Hours()))
	high := float64(swing / 2)
	if a.Regime == Ramping {
		high = min(high, plainSwing/2) // on its way down starts are spared less
	}
	if a.Over > 0 {
		high = min(high, float64(a.Over))
	}
	low := high - swing
	if a.Both && a.Sparing && r.HeatLately && r.Drift < balanced {
		low = max(low, 0) // the room may do the rest, as it did before
	}
	if a.Under > 0 && low < -float64(a.Under) {
		low = -float64(a.Under)
		if a.Regime != Ramping {
			high = low + swing
		}
	}
	to := a.lead(a.CoolTo, r.CoolLag)
	off, now := r.ahead(r.CoolLag)-to, float64(beer)-to
	switch {
	case off <= low || now <= min(low, -enough):
		return stop
	case off >= high && (!a.Both || r.HeatOver && (r.Drift > 0 || off >= aside) || now >= astray && off >= astray):
		return start
	}
	return stay
}

// heating is the same the other way about.
func (r *Rates) heating(a *Aim, beer units.Celsius, spare float64) say {
	swing := max(heatSwing, float64(float64(r.Heat+r.Drift)*a.HeatRun.Hours()))
	low := -float64(swing / 2)
	aside, astray := aside, astray
	if a.Sparing {
		// Where a compressor lets the beer swing far, heat does not come in between.
		aside, astray = max(aside, spare), max(astray, spare)
	}
	high := low + swing
	if a.Both {
		low -= apart
		if a.Sparing && r.CoolLately && r.Drift > -balanced {
			high = min(high, 0)
		}
	}
	to := a.lead(a.HeatTo, r.HeatLag)
	off, now := r.ahead(r.HeatLag)-to, float64(beer)-to
	switch {
	case off >= high || now >= max(high, enough):
		return stop
	case off <= low && (!a.Both || r.CoolOver && (r.Drift < 0 || off <= -aside) || now <= -astray && off <= -astray):
		return start
	}
	return stay
}
