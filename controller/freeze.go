package controller

import (
	"time"

	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

// iceNear is how far below its floor a beer must be before it is an alarm: half of
// the margin that the floor keeps above ice, and more than an undershoot.
const iceNear units.Kelvins = 0.5

// coldest is the lowest temperature to which what is in the vessel may be led: the
// vessel's own limit, or the warmest at which it can begin to freeze, with a margin.
// The alcohol counts at its lowest plausible; without yeast, without a batch, or
// with the gravity lost it counts as wort. A beer that was ended cold keeps what was
// known of it.
func (r *run) coldest() units.Celsius {
	if r.s.Mode == PreChill && r.s.Hold.Beer {
		return max(r.s.Hold.Floor, r.v.Limits.Lowest)
	}
	floor := units.FreezeFloor(0, 0, false)
	if r.s.Mode == InBatch && r.sch != nil && r.s.Batch.Pitched && r.s.Gravity.Est.Known && !r.gravityLost() {
		floor = units.FreezeFloor(r.wort().Original, units.Gravity(gravityOf(r.s.Gravity.True())), true)
	}
	return max(floor, r.v.Limits.Lowest)
}

// freezing tells whether ice is near in a vessel that is looked after. An idle one
// may be empty; its limit is watched all the same.
func (r *run) freezing() bool {
	beer := r.s.Sense.Beer
	return (r.s.Mode == InBatch || r.s.Mode == PreChill) && beer.Usable() && beer.Celsius < r.floor.Plus(-iceNear)
}

// bound keeps what is beside the beer within its bounds, where a probe measures it. A
// minimum run is finished. With that probe lost the beer alone bounds its cooling, as
// in a vessel without one: no cooling is lost.
func (r *run) bound(beer Thermometer) {
	around := r.s.Sense.Surround
	if !beer.Usable() || !around.Usable() {
		r.s.Around = thermal.Around{}
		return
	}
	r.s.Around = r.s.Around.Step(around.Celsius, beer.Celsius, r.floor, r.v.Limits.Highest, r.v.InAir)
	r.wish.ForbidCool = r.wish.ForbidCool || r.s.Around.Cold
	r.wish.ForbidHeat = r.wish.ForbidHeat || r.s.Around.Hot
}

// explainBound says that a bound beside the beer holds a relay, or that nothing
// measures it any more.
func (r *run) explainBound() {
	around, beside := r.s.Sense.Surround, "jacket"
	if r.v.InAir {
		beside = "air"
	}
	switch {
	case r.s.Mode != InBatch && r.s.Mode != PreChill:
	case around.Failed:
		r.reasons = append(r.reasons, Reason{Code: CodeAroundLost, Name: beside, Numbers: []Number{num("age", around.Age.Seconds(), InTime)}})
	case r.s.Around.Cold && r.wish.Cool:
		r.reasons = append(r.reasons, Reason{Code: CodeAroundCold, Name: beside, Numbers: []Number{num("around", float64(around.Celsius), InCelsius)}})
	case r.s.Around.Hot && r.wish.Heat:
		r.reasons = append(r.reasons, Reason{Code: CodeAroundHot, Name: beside, Numbers: []Number{num("around", float64(around.Celsius), InCelsius)}})
	}
}

// Frost: a beer in a cold room is warmed before ice forms, whatever its stage says of
// heat. Not against an undershoot of its own cooling, and not where the target is as
// cold as that.
const (
	frostOn  units.Celsius = 0
	frostOff units.Celsius = 0.5
	// frostAfter is how long cooling has been off before the cold is the room's: the
	// slowest vessel coasts for less.
	frostAfter = 2 * time.Hour
)

// frost wants heat for a beer that the room would freeze.
func (r *run) frost(beer Thermometer) {
	w, cool := &r.s.Runaway, r.s.Guard.Cool
	coasts := cool.On || (cool.Worked || cool.Before) && cool.For < frostAfter
	switch {
	case !r.aimed || !beer.Usable() || coasts || r.aim.CoolTo < frostOff || beer.Celsius >= frostOff:
		w.Frost = false
	case beer.Celsius <= frostOn:
		w.Frost = true
	}
	if w.Frost {
		r.wish.Heat, r.wish.Cool = true, false
	}
}
