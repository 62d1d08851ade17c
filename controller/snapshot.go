package controller

import (
	"time"

	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/units"
)

// Snapshot is what everyone outside may see of one finished step of all vessels.
// It never changes once it is published.
type Snapshot struct {
	Site          string
	Build         Build
	At            time.Time     // wall clock, a label only
	Counted       time.Duration // by this run of the program
	StepTook      time.Duration
	RecordFailing bool // the record cannot be written: control goes on from memory
	Demo          bool // the vessels are modelled
	Vessels       []View
}

// Build says which program this is.
type Build struct{ Version, Revision, Go string }

// View is one vessel in a snapshot.
type View struct {
	Name        string
	Schedule    string
	Carbonation units.Volumes
	Final       units.Gravity // as the brewer expects it
	Stages      []StageName   // of the running schedule, in order
	Decision    Decision
	Heat, Cool  RelayView
	Probes      []ProbeView
	Recent      []Stamped // newest events, the last one newest
}

// StageName is one stage of the running schedule.
type StageName struct {
	Name string
	Kind Kind
}

// RelayView is one relay as it is really driven.
type RelayView struct {
	Fitted bool
	guard.Line
}

// ProbeView is what has come from one probe.
type ProbeView struct {
	ID     ProbeID
	Last   time.Time // wall clock of the newest good reading; zero = never
	Faults []FaultCount
}

// FaultCount counts one kind of fault since the program started.
type FaultCount struct {
	Fault Fault
	Count int64
}

// Stamped is an event with the wall clock's label.
type Stamped struct {
	At time.Time
	Event
}
