package controller

import (
	"time"

	"example.org/restpoint/controller/gravity"
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/controller/watch"
)

// Mode is what a vessel is doing.
type Mode string

// The modes of a vessel.
const (
	Idle     Mode = "idle"      // nothing to look after: both relays off
	InBatch  Mode = "batch"     // a schedule runs
	PreChill Mode = "pre-chill" // a temperature is held without a batch
	Cleaning Mode = "cleaning"  // both relays locked out
)

// Modes lists every mode.
func Modes() []Mode { return []Mode{Idle, InBatch, PreChill, Cleaning} }

const (
	cleaningLimit  = 4 * time.Hour // then it is asked whether the vessel is forgotten
	longestCleaned = 7 * units.Day
)

// setMode changes what a vessel without a batch does. Only a named person ends
// cleaning: whoever stands in front of the tank knows whether hands are in it.
func (r *run) setMode(o *Order) (Reason, bool) {
	if r.s.Mode == InBatch {
		return Reason{Code: CodeBatchRuns, Name: r.s.Batch.ID}, false
	}
	if r.s.Mode == Cleaning && o.Who == "" {
		return refused(CodeNobody)
	}
	switch o.Do.Mode {
	case PreChill:
		t := o.Do.Celsius
		if !(t >= r.v.Limits.Lowest && t <= r.v.Limits.Highest) {
			return refused(CodeOutsideMode)
		}
		r.s.Hold = HoldState{Target: t}
	case Cleaning:
		limit := o.Do.For
		if limit <= 0 || limit > longestCleaned {
			limit = cleaningLimit
		}
		r.s.Hold = HoldState{Left: limit}
		r.s.Full = false
	case Idle:
		r.s.Hold = HoldState{}
	case InBatch:
		return refused(CodeStartInstead)
	default:
		return Reason{Code: CodeNoSuchMode, Name: string(o.Do.Mode)}, false
	}
	r.s.Mode = o.Do.Mode
	because := Reason{Code: CodeMode, Name: string(o.Do.Mode)}
	r.event(Event{Kind: ModeChanged, Who: o.Who, Reason: because})
	return because, true
}

// A heater in an empty tank burns. Heat is locked after cleaning, after a batch
// has left the tank, and before anything was ever said of the tank, until there
// is a word that something is in it: wort that was filled in, yeast that was
// pitched, or a named person who says so.

// unlock ends the lock of the heater.
func (r *run) unlock(who string) (Reason, bool) {
	switch {
	case who == "":
		return refused(CodeNobody)
	case r.s.Mode == Cleaning:
		return refused(CodeCleaning)
	}
	r.s.Full = true
	return taken(CodeUnlocked)
}

// forget begins to learn the vessel anew: another tank, pump, heater or fridge.
func (r *run) forget(who string) (Reason, bool) {
	if who == "" {
		return refused(CodeNobody)
	}
	r.s.Thermal, r.s.Balance, r.s.Pace = thermal.State{}, thermal.Balance{}, thermal.Pace{}
	r.s.Watch.Lift = watch.Lift{}
	if r.s.Batch.Pitched { // what the yeast was worth so far is lost with it
		r.s.Balance = r.s.Balance.Gap(unknownGap, r.vat())
	}
	return taken(CodeForgotten)
}

// dry tells whether the tank may be empty.
func (r *run) dry() bool { return !r.s.Full && !r.s.Batch.Pitched }

// end ends the batch: with the temperature kept, or with both relays off.
func (r *run) end(k VerbKind) (Reason, bool) {
	id, target := r.s.Batch.ID, r.stage().Target.To
	if r.s.Stage.Override {
		target = r.s.Stage.Target
	}
	floor := r.coldest()
	because := Reason{Code: CodeEndedOff, Name: id}
	mode := Idle
	if k == EndCold {
		because, mode = Reason{Code: CodeEndedCold, Name: id, Numbers: []Number{num("target", float64(target), InCelsius)}}, PreChill
	}
	r.event(Event{Kind: BatchEnded, Reason: because})
	r.s.Batch, r.s.Stage, r.s.Gravity = Batch{}, StageState{}, gravity.State{}
	r.s.Hold = HoldState{Target: target, Beer: k == EndCold, Floor: floor}
	r.s.Mode = mode
	r.s.Full = r.s.Full && k == EndCold
	return because, true
}
