package controller

import (
	"time"

	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/gravity"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/sense"
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/controller/watch"
)

// StateVersion is the version of the stored state. A state of another version
// is not understood: the vessel then idles and asks.
const StateVersion = 1

// Outputs are levels, not edges: setting the same again is harmless.
type Outputs struct{ Heat, Cool bool }

// Outage is the time between two runs of the program. It is known within one
// boot of the board, or when both ends were clock-synchronised.
type Outage struct {
	Length time.Duration
	Known  bool
}

// Input is all that one step may know.
type Input struct {
	Elapsed  time.Duration // monotonic, whole milliseconds, since the last finished step; 0 on the first of a process
	Gap      Outage        // first step after a start only
	Readings []Reading
	Orders   []Order
	Actual   Outputs // levels really driven since the last step
	// Faults of the edges since the last step. Faults of hardware are data.
	RelayFault bool // a relay could not be set
	// Contacts are what a current sensor or an auxiliary contact tells of the relays.
	Contacts    Contacts
	RecordFault bool // the record cannot be written
	// Quiet is set in the hours in which nobody wants to be woken: what can wait
	// for the morning waits.
	Quiet bool
	// Hurried is set where many vessels share a processor and it is the turn of another
	// one: what takes long, the fit of the gravity, waits for a later step.
	Hurried bool
}

// Contact is what is measured of a relay's contact.
type Contact string

// What may be measured.
const (
	Unmeasured Contact = ""
	Closed     Contact = "closed"
	Open       Contact = "open"
)

// Contacts are those of a vessel.
type Contacts struct{ Heat, Cool Contact }

// State is all that survives a step: a plain value without pointers, maps or
// clock times, whose slices are never written in place. It goes through JSON
// and back unchanged.
type State struct {
	Version int
	Mode    Mode
	Age     time.Duration // counted by all runs of the program together
	Up      time.Duration // counted by this run
	Batch   Batch
	Stage   StageState
	Sense   Sense
	Gravity gravity.State
	Thermal thermal.State
	Balance thermal.Balance // of the vessel's heat
	Heat    thermal.Heat    // what it came to, some minutes ago
	Guard   guard.State
	Alarms  alarms.State
	Answers []Answer // to the newest orders, so that the same ID twice gets the same answer
	Hold    HoldState
	Lost    bool // a running batch was not understood; a person must decide
	Full    bool // somebody said that there is something in the tank: heat may be used
	Zones   thermal.Zones
	Around  thermal.Around // what is beside the beer, against its bounds
	Runaway Runaway
	Back    Back
	Watch   watch.State
	Outlook Outlook
	Pace    thermal.Pace // of the vessel's cooling
	// Calibration is that by which the hydrometer was read last.
	Calibration sense.Calibration
}

// Runaway is what was found against the relays and the probe, and stays until a
// person answers or the beer proves otherwise.
type Runaway struct {
	HeatFrom, CoolFrom units.Celsius // beer when the run began
	HeatLocked         bool          // heat stays off until a person acknowledges
	CoolLocked         bool          // and so does cooling: it warmed the beer
	HeatTripped        bool          // heat ran beyond the highest temperature: off until a person answers
	CoolTripped        bool          // cooling ran below the lowest: likewise
	CoolWeak           bool
	CoolLong           bool             // cooling ran for as long as it may in a held beer
	HeatStuck          bool             // the reading stood still through a long heat: off until it moves
	CoolStuck          bool             // likewise
	StuckAt            units.Celsius    // where it stands
	Frost              bool             // heat keeps the beer from freezing
	Blind              time.Duration    // a fermenting beer is without a probe for so long
	Credit             time.Duration    // of cooling, by its share of the last day
	Closed             [2]time.Duration // heat and cool: the contact is seen closed, and commanded off
}

// Back is what is asked of the beer when the program comes back to a running batch.
type Back struct {
	Look    bool          // at the first temperature that is believed
	Seen    bool          // the temperature before is known
	Was     units.Celsius // and this
	Strayed bool          // it was out of its band: until a person answers
}

// Batch is the running batch.
type Batch struct {
	ID      string
	Age     time.Duration // since the start order, without outages
	Pitched bool
	Since   time.Duration // since pitching, with known outages
	Paused  bool
	Armed   bool // a person said that the tank may be cooled
	Told    Told
	Tally   sense.Tally  // of the hydrometer's readings
	Filled  Filled       // the turns of wort that were measured
	Added   units.Points // sugar that went in later
	Jobs    []Job        // reminders that are due and not answered
	LastJob int
	Opinion Opinion
	// Diacetyl is an estimate, for advice only.
	Diacetyl gravity.Diacetyl
	// Residual is the carbon dioxide that the beer still holds for sure.
	Residual units.Volumes
	// Low is since when of the gravity's time so little has been left that terminal
	// is foreseen: soon, as likely as not, surely; 0 = not yet.
	Low [3]time.Duration
	// Cold is how long ago the beer was let into its crash; Topped says that the gas
	// above it was spoken of.
	Cold   time.Duration
	Topped bool
}

// Told remembers what was said once and need not be said again.
type Told struct {
	Terminal, Stuck, NotStarted, GravityLost bool
	StuckAt                                  float64 // points, where it was found stuck
	Rejected                                 int     // readings of the hydrometer in a row that were not believed
}

// StageState is where the batch is in its stage.
type StageState struct {
	Index     int
	Name      string
	In        time.Duration // dwell: counted time, never an outage
	Entered   bool          // the beer at entry is known
	Entry     units.Celsius // beer when the stage began
	RampAt    units.Celsius // set point of a running ramp
	Ramping   bool
	Override  bool // a person set another target for this stage
	Target    units.Celsius
	Leaves    []Leaf // one a condition, in the order written
	Confirmed []string
	Reminded  []bool // one a reminder
	TooLong   bool   // the limit was reached and said
	Waits     bool   // over, but something only a person can give is missing
}

// Leaf is how far one condition of the stage has come.
type Leaf struct {
	Held time.Duration // it has been so for this long
	Met  bool
	At   float64 // terminal: the gravity where it was met, in points
	Seen bool    // terminal: the whole window is seen
	Fall float64 // terminal: the net fall over it, in points, when it was looked at last
}

// HoldState is what a vessel without a batch does.
type HoldState struct {
	Target units.Celsius // pre-chill
	Beer   bool          // a batch was ended cold: there is beer in it
	Floor  units.Celsius // and no colder, for its ice
	Left   time.Duration // cleaning: until it is too long
}

// Sense is what is known of the vessel's probes.
type Sense struct {
	Beer     Thermometer // what control goes by: a thermowell, the mean of several, or what stands in
	Backup   Backup      // what stands in for the thermowell that control goes by
	Wells    sense.Wells
	Odd      sense.Odd // of three thermowells the one that the others contradict
	Surround Thermometer
	Ambient  Thermometer
	Float    Thermometer // the hydrometer's own
	Gauge    Gauge       // of the gas above the beer
}

// started is what is known after any start of the program.
func (s Sense) started() Sense {
	s.Beer, s.Surround, s.Ambient, s.Float = s.Beer.Started(), s.Surround.Started(), s.Ambient.Started(), s.Float.Started()
	s.Gauge, s.Backup = s.Gauge.Started(), NoBackup
	for i, t := range s.Wells {
		s.Wells[i] = t.Started()
	}
	return s
}

// Decision explains one step: where the batch is, what was wanted, what was
// allowed, and why.
type Decision struct {
	Mode      Mode
	Batch     string
	Stage     string
	Kind      Kind
	Index     int
	In        time.Duration
	Pitched   bool
	Since     time.Duration // since pitching
	Paused    bool
	HasTarget bool
	Target    units.Celsius
	Want      Outputs
	Allowed   Outputs
	Wait      time.Duration // until the wish is granted, where that is known
	Beer      Thermometer
	Signal    sense.Status // of the beer's temperature, after NE 107
	Surround  Thermometer
	Ambient   Thermometer
	Gravity   Gravity
	Heat      thermal.Heat  // the yeast's, as the balance sees it; Off says why it means nothing
	Response  thermal.Rates // how the vessel answers its relays, as it was learnt
	Alarms    []alarms.Entry
	Counts    alarms.Counts // of those that tell of a bad alarm
	Reasons   []Reason
	NeedsWhat string      // what only a person can give, in words; empty = nothing
	Jobs      []Due       // reminders that are not answered
	Backup    Backup      // what stands in for the lost probe
	Wells     []Well      // the thermowells, where there are several
	Float     Thermometer // the hydrometer's own
	Gauge     Gauge
	Residual  units.Volumes // carbon dioxide in the beer, at least; 0 = not known
	Dry       bool          // heat is locked: the tank may be empty
	Rejected  Rejected
	Diacetyl  gravity.Diacetyl // advice only; nothing outside of a rest
	Forecast  Outlook
}

// Rejected is what was not believed of the hydrometer in the last day.
type Rejected struct {
	Count int
	Of    int    // readings
	Why   string // of the newest one
}

// Well is one of several thermowells.
type Well struct {
	Probe ProbeID
	Thermometer
}

// Gravity is the picture of the beer's gravity, in true gravities.
type Gravity struct {
	Known     bool
	Ready     bool
	Original  units.Gravity // of the wort, with all that was added
	Now       units.Gravity
	Left      units.Points
	Low, High units.Points // 10 % and 90 %
	Final     units.Gravity
	PerDay    units.Points
}

// Outcome is what a step decided. Outputs are to be driven; Commit says that the
// state must be stored before anything is switched on.
type Outcome struct {
	Decision Decision
	Outputs  Outputs
	Zones    thermal.Zones // the cooling zones that follow Outputs.Cool
	Events   []Event
	Notes    []Event  // for the record alone: nobody is told
	Answers  []Answer // to the orders of this step
	Verdicts []ReadingVerdict
	Schedule *Schedule // not nil: from now on this is the batch's schedule
	Commit   bool
}

// ReadingVerdict is what became of one reading of the hydrometer.
type ReadingVerdict struct {
	Reading int // its place among the readings of the step
	Probe   ProbeID
	Raw     float64       // as the device gave it
	Used    units.Gravity // calibrated, and corrected for temperature then; 0 = there is none
	Verdict gravity.Verdict
}

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
	Verdicts    []VerdictCount // on readings of the hydrometer; empty where it has none
	Recent      []Stamped      // newest events, the last one newest
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

// VerdictCount counts one verdict on readings since the program started.
type VerdictCount struct {
	Verdict gravity.Verdict
	Count   int64
}

// Stamped is an event with the wall clock's label.
type Stamped struct {
	At time.Time
	Event
}
