package controller

import (
	"time"

	"example.org/restpoint/controller/units"
)

// VerbKind is what a person asks.
type VerbKind string

// The orders.
const (
	Start       VerbKind = "start"       // begin a batch with a schedule
	PitchedNow  VerbKind = "pitched"     // the yeast is in
	Sample      VerbKind = "sample"      // a gravity read by hand
	Confirm     VerbKind = "confirm"     // what the stage waits to have confirmed
	Arm         VerbKind = "arm"         // the tank may be crashed: gas or breaker is in place
	AdvanceNow  VerbKind = "advance"     // on to the next stage
	Return      VerbKind = "return"      // back to a named stage
	Pause       VerbKind = "pause"       // stop advancing; regulation goes on
	Resume      VerbKind = "resume"      // advance again
	SetTarget   VerbKind = "target"      // another temperature, to the end of the stage
	Mark        VerbKind = "mark"        // something was done to the beer
	Acknowledge VerbKind = "acknowledge" // an alarm is seen
	Shelve      VerbKind = "shelve"      // an alarm is silenced for a time
	EndCold     VerbKind = "end-cold"    // the batch ends, the temperature is kept
	EndOff      VerbKind = "end-off"     // the batch ends, both relays off
	SetMode     VerbKind = "mode"        // the vessel without a batch
	Adopt       VerbKind = "adopt"       // the running batch takes an edited schedule
	Done        VerbKind = "done"        // the job of a reminder is done
	Skip        VerbKind = "skip"        // and this one will not be
	Unlock      VerbKind = "unlock"      // the tank is full: heat may be used
)

// VerbKinds lists every order.
func VerbKinds() []VerbKind {
	return []VerbKind{
		Start, PitchedNow, Sample, Confirm, Arm, AdvanceNow, Return, Pause, Resume, SetTarget, Mark,
		Acknowledge, Shelve, EndCold, EndOff, SetMode, Adopt, Done, Skip, Unlock,
	}
}

// Verb is what an order wants done. Which fields count follows from the Kind.
type Verb struct {
	Kind     VerbKind
	Batch    string        // start: the batch's id
	Schedule *Schedule     // start, adopt
	Value    Value         // sample
	Stage    string        // return
	Celsius  units.Celsius // target, mode pre-chill
	Mark     MarkKind      // mark
	Volume   units.Litres  // mark fill: of the turn; 0 = not measured
	Gravity  units.Gravity // mark fill: of the turn; 0 = not measured
	Points   units.Points  // mark addition: what it adds to the whole; 0 = not known
	Job      int           // done, skip: the reminder's number; 0 = the only one
	Mode     Mode          // mode
	Alarm    string        // acknowledge, shelve; empty = all (acknowledge only)
	For      time.Duration // shelve, mode cleaning
	Say      string        // confirm; empty = whatever the stage waits for
}

// Order is what a person asks. The same ID twice gets the same answer and is
// carried out once.
type Order struct {
	ID  string
	Who string
	Why string
	Age time.Duration
	Do  Verb
}

// Answer is what became of an order.
type Answer struct {
	ID     string
	Taken  bool
	Reason Reason // why it was refused, or what it did
}
