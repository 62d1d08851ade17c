package controller

import "strconv"

// Code names a reason; its words are in one table beside it.
type Code string

// Number is one figure of a reason, with its unit.
type Number struct {
	Name  string
	Value float64
	Unit  Unit
}

// Unit is how a number is shown.
type Unit string

// The units in which reasons speak.
const (
	InCelsius Unit = "C"
	InKelvins Unit = "K"
	InPoints  Unit = "points"
	InGravity Unit = "SG"
	InTime    Unit = "s"
	InPercent Unit = "%"
	InLitres  Unit = "L"
	InVolumes Unit = "volumes"
	InKilo    Unit = "kPa"
	Bare      Unit = "1"
)

// Reason is why something was decided: a code and its numbers, and a name where
// one is needed (a probe, a stage, what was confirmed).
type Reason struct {
	Code    Code
	Name    string
	Numbers []Number
}

// EventKind is what happened.
type EventKind string

// The events.
const (
	BatchStarted    EventKind = "batch-started"
	BatchEnded      EventKind = "batch-ended"
	StageEntered    EventKind = "stage-entered"
	StageWaits      EventKind = "stage-waits" // the stage is over but something only a person can give is missing
	TerminalReached EventKind = "terminal"
	StuckFound      EventKind = "stuck"
	NotStarted      EventKind = "not-started"
	GravityLost     EventKind = "gravity-lost"
	GravityBack     EventKind = "gravity-back"
	ProbeLost       EventKind = "probe-lost"
	ProbeBack       EventKind = "probe-back"
	BackupUsed      EventKind = "backup-used" // another probe stands in
	AlarmRaised     EventKind = "alarm"
	AlarmOver       EventKind = "alarm-over"
	AlarmAnswered   EventKind = "alarm-answered" // acknowledged or shelved
	OrderTaken      EventKind = "order-taken"
	OrderRefused    EventKind = "order-refused"
	ReminderDue     EventKind = "reminder"
	Resumed         EventKind = "resumed" // the program came back
	LateLoop        EventKind = "late-loop"
	ModeChanged     EventKind = "mode-changed"
	ZoneChanged     EventKind = "zone-changed" // cooling goes by other zones
	ScheduleDiffers EventKind = "schedule-differs"
)

// Event is a line in the record.
type Event struct {
	Kind      EventKind
	Stage     string
	StageKind Kind
	Reason    Reason
	Verb      VerbKind // orders
	Order     string   // the order's id
	Who       string
	Why       string
	Alarm     string // alarms
	Priority  string
	Probe     ProbeID
	Say       string // reminders: the job
	Job       int    // and its number
}

// String is the event as one line of the record.
func (e Event) String() string {
	text := string(e.Kind)
	switch e.Kind {
	case StageEntered:
		text += " " + e.Stage
	case OrderTaken, OrderRefused:
		text += " " + string(e.Verb)
		if e.Who != "" {
			text += " by " + e.Who
		}
	case AlarmRaised, AlarmOver:
		text += " " + e.Alarm
		if e.Kind == AlarmRaised {
			text += " (" + e.Priority + ")"
		}
	case ReminderDue:
		return text + " " + strconv.Itoa(e.Job) + ": " + e.Say
	default:
	}
	if e.Kind == AlarmOver {
		return text
	}
	if said := e.Reason.String(); said != "" {
		text += ": " + said
	}
	return text
}
