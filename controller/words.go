package controller

import (
	"strconv"
	"strings"
	"time"

	"example.org/restpoint/controller/units"
)

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
	// InMilligrams is milligrams a litre.
	InMilligrams Unit = "mg/L"
	Bare         Unit = "1"
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
	GravityRejected EventKind = "gravity-rejected" // a run of the hydrometer's readings is not believed
	GravityBelieved EventKind = "gravity-believed" // and now they are again
	DeviceStepped   EventKind = "hydrometer-stepped"
	Recalibrated    EventKind = "recalibrated" // the hydrometer was given another calibration
	ForecastMade    EventKind = "forecast"     // a note, each hour
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
	Say       string     // reminders: the job
	Job       int        // and its number
	Forecasts []Forecast `json:",omitempty"`
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
	case ForecastMade:
		for i, f := range e.Forecasts {
			text += [2]string{": ", "; "}[min(i, 1)] + f.String()
		}
		return text
	case ReminderDue:
		text += " " + strconv.Itoa(e.Job) + ": " + e.Say
		if e.Reason.Code == CodeHeatLeft {
			text += " (" + e.Reason.String() + ")"
		}
		return text
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

// The codes of all reasons. Their words are in sentence, below.
const (
	CodeLate             Code = "late"
	CodeResumed          Code = "resumed"
	CodeResumedBlind     Code = "resumed-blind"
	CodeProbeLost        Code = "probe-lost"
	CodeProbeBack        Code = "probe-back"
	CodeBackup           Code = "backup"
	CodeOdd              Code = "contradicted"
	CodeOddBack          Code = "agrees-again"
	CodeFilled           Code = "filled"
	CodeFillUnclear      Code = "fill-unclear"
	CodeOverfull         Code = "overfull"
	CodeAddedTooMuch     Code = "added-too-much"
	CodeUnlocked         Code = "unlocked"
	CodeForgotten        Code = "forgotten"
	CodeDry              Code = "dry"
	CodeNoSuchJob        Code = "no-such-job"
	CodeJobDone          Code = "job-done"
	CodeJobMarked        Code = "job-marked"
	CodeJobSkipped       Code = "job-skipped"
	CodeZone             Code = "zone"
	CodeFreezeFloor      Code = "freeze-floor"
	CodeAroundCold       Code = "around-cold"
	CodeAroundHot        Code = "around-hot"
	CodeAroundLost       Code = "around-lost"
	CodeTerminal         Code = "terminal"
	CodeStuck            Code = "stuck"
	CodeNotStarted       Code = "not-started"
	CodeGravityLost      Code = "gravity-lost"
	CodeGravityBack      Code = "gravity-back"
	CodeDeviceStill      Code = "device-still"
	CodeDeviceFalls      Code = "device-falls"
	CodeHeatLeft         Code = "heat-left"
	CodeAlarm            Code = "alarm"
	CodeMet              Code = "met"
	CodePointsLeft       Code = "points-left"
	CodeAttenuation      Code = "apparent-attenuation"
	CodeGravityAtMost    Code = "gravity-at-most"
	CodeTerminalMet      Code = "terminal-met"
	CodeDwell            Code = "for"
	CodeBeerAt           Code = "beer-at"
	CodePitched          Code = "pitched"
	CodeConfirmed        Code = "confirmed"
	CodeLongest          Code = "longest"
	CodeStuckRest        Code = "stuck-rest"
	CodeStuckAdvance     Code = "stuck-advance"
	CodeBlindRest        Code = "blind-rest"
	CodeStarted          Code = "started"
	CodeEndedOff         Code = "ended-off"
	CodeEndedCold        Code = "ended-cold"
	CodeAdvanced         Code = "advanced"
	CodeReturned         Code = "returned"
	CodeMarked           Code = "marked"
	CodeArmed            Code = "armed"
	CodePaused           Code = "paused"
	CodeGoesOn           Code = "goes-on"
	CodeTarget           Code = "target"
	CodeMode             Code = "mode"
	CodeAdopted          Code = "adopted"
	CodeAnswered         Code = "answered"
	CodeSample           Code = "sample"
	CodeSampleDoubted    Code = "sample-doubted"
	CodeNoBatch          Code = "no-batch"
	CodeBatchRuns        Code = "batch-runs"
	CodeCleaning         Code = "cleaning"
	CodeNoSchedule       Code = "no-schedule"
	CodeNoBatchID        Code = "no-batch-id"
	CodeOutside          Code = "outside-limits"
	CodeOutsideMode      Code = "outside-limits-mode"
	CodePitchedBefore    Code = "pitched-before"
	CodeNoGravity        Code = "no-gravity"
	CodeNothingToConfirm Code = "nothing-to-confirm"
	CodeLastStage        Code = "last-stage"
	CodeNobody           Code = "nobody"
	CodeNeedsArming      Code = "needs-arming"
	CodeNoSuchStage      Code = "no-such-stage"
	CodeNoSuchMark       Code = "no-such-mark"
	CodeNoSuchMode       Code = "no-such-mode"
	CodeNoSuchAlarm      Code = "no-such-alarm"
	CodeStartInstead     Code = "start-instead"
	CodeStageGone        Code = "stage-gone"
	CodeUnknownOrder     Code = "unknown-order"
	CodeNoVessel         Code = "no-vessel"
	CodeStopping         Code = "stopping"
	CodeScheduleDiffers  Code = "schedule-differs"
	CodeIdle             Code = "idle"
	CodeCleaningLock     Code = "cleaning-lock"
	CodeNoBeer           Code = "no-beer"
	CodeBeerLost         Code = "beer-lost"
	CodeBlind            Code = "blind"
	CodeFrost            Code = "frost"
	CodeNoTarget         Code = "no-target"
	CodeHeatHeld         Code = "heat-held"
	CodeCoolHeld         Code = "cool-held"
	CodeCoolRuns         Code = "cool-runs"
	CodeHeatRuns         Code = "heat-runs"
	CodeInBand           Code = "in-band"
	CodeLetBe            Code = "let-be"
	CodeHeats            Code = "heats"
	CodeCools            Code = "cools"
	CodeStagePaused      Code = "stage-paused"
	CodeStageBlind       Code = "stage-blind"
	CodeHolds            Code = "holds"
	CodeWaitsGravity     Code = "waits-gravity"
	CodeWaitsPoints      Code = "waits-points"
	CodeWaitsAttenuation Code = "waits-attenuation"
	CodeWaitsBelow       Code = "waits-below"
	CodeWaitsTerminal    Code = "waits-terminal"
	CodeWaitsWindow      Code = "waits-window"
	CodeWaitsTime        Code = "waits-time"
	CodeWaitsBeer        Code = "waits-beer"
	CodeWaitsPitched     Code = "waits-pitched"
	CodeWaitsConfirm     Code = "waits-confirm"
	CodeRecalibrated     Code = "recalibrated"
	CodeDiacetyl         Code = "diacetyl"
	CodeDiacetylUnknown  Code = "diacetyl-unknown"
	CodeGravityRejected  Code = "gravity-rejected"
	CodeGravityBelieved  Code = "gravity-believed"
	CodeDeviceStepped    Code = "hydrometer-stepped"
)

// sentences is the one table of what reasons say. {name} stands for the reason's
// name, any other word in braces for its number of that name.
func sentences() map[Code]string {
	return map[Code]string{
		CodeLate:             "the step came {elapsed} after the last one, {allowed} are allowed: heat is off for this step",
		CodeResumed:          "the program is back after an outage of {outage}",
		CodeResumedBlind:     "the program is back after an outage of unknown length",
		CodeProbeLost:        "no believable beer temperature for {age} ({name})",
		CodeFilled:           "filled: {volume} of {gravity}, {all} of {original} in all; judging starts again",
		CodeFillUnclear:      "a turn of wort needs its volume and its gravity, or neither",
		CodeOverfull:         "{volume} in all is more than the vessel of {limit} can hold",
		CodeAddedTooMuch:     "additions are worth 0 to {limit} in all",
		CodeUnlocked:         "the tank is full: heat may be used",
		CodeForgotten:        "what was learnt of the vessel is forgotten; it is learnt anew",
		CodeDry:              "heat is wanted and locked: the tank may be empty; say pitched, mark fill or unlock",
		CodeNoSuchJob:        "there is no such reminder; {open} are open, give the number of one",
		CodeJobDone:          "done: {name}",
		CodeJobMarked:        "done, and marked: {name}; judging starts again",
		CodeJobSkipped:       "skipped: {name}",
		CodeFreezeFloor:      "{target} is colder than this may be led to without ice; {floor} is held",
		CodeAroundCold:       "the {name} beside the beer has {around}: no colder, for ice at the wall",
		CodeAroundHot:        "the {name} beside the beer has {around}: no warmer, for the yeast at the wall",
		CodeAroundLost:       "nothing believable of the {name} beside the beer for {age}: the beer alone bounds its cooling and heating",
		CodeZone:             "cooling goes by {name}: beer {beer}",
		CodeBackup:           "the {name} stands in for the lost probe: beer {beer}, kept in a wider band",
		CodeOdd:              "{name} says {beer}, and the two others agree on another temperature: it is left out",
		CodeOddBack:          "{name} agrees with the two others again: {beer}",
		CodeProbeBack:        "the beer temperature is believed again: {beer}",
		CodeTerminal:         "gravity {gravity} has stopped where it should, judged over {window}",
		CodeStuck:            "gravity stopped at {gravity}, above the expected {expected}",
		CodeNotStarted:       "{since} after pitching the gravity has fallen by {fallen} only",
		CodeGravityLost:      "no accepted gravity for {silent}",
		CodeGravityBack:      "gravity is read again: {gravity}",
		CodeDeviceStill:      "the hydrometer fell by {fallen} in {window}, and the heat of the beer is that of {rate} an hour (likely {low} to {high})",
		CodeDeviceFalls:      "the hydrometer fell by {fallen} in {window}, and the heat of the beer is that of no more than {high} an hour",
		CodeHeatLeft:         "by its heat the beer has {left} left (likely {low} to {high}): taste or measure, then advance",
		CodeAlarm:            "{name}",
		CodeMet:              "the stage's condition holds",
		CodePointsLeft:       "{left} left, {limit} or fewer were asked for, so for {held}",
		CodeAttenuation:      "apparent attenuation {attenuation}, {limit} were asked for",
		CodeGravityAtMost:    "gravity {gravity}, at most {limit} was asked for",
		CodeTerminalMet:      "terminal at {gravity}: it changed by {change} in {window}, {limit} are allowed",
		CodeDwell:            "held for {held}, {limit} were asked for",
		CodeBeerAt:           "beer at {beer}, {limit} was asked for",
		CodePitched:          "the yeast is in",
		CodeConfirmed:        "confirmed: {name}",
		CodeLongest:          "the stage's limit of {longest} is reached and the schedule says advance",
		CodeStuckRest:        "stuck {above} above the expected end, within {limit}: the rest begins, late warmth costs more than early",
		CodeStuckAdvance:     "stuck {above} above the expected end, and the schedule says advance",
		CodeBlindRest:        "no gravity for {silent} and the late forecast of {late} has passed: the rest begins",
		CodeStarted:          "batch {name} is started",
		CodeEndedOff:         "batch {name} is ended, both relays off",
		CodeEndedCold:        "batch {name} is ended, {target} is kept",
		CodeAdvanced:         "advanced by {name}",
		CodeReturned:         "returned to {name}: terminal, confirmations and arming are to be earned again",
		CodeMarked:           "marked: {name}; judging starts again",
		CodeArmed:            "armed: the tank may be cooled",
		CodePaused:           "paused: the stage does not advance, the temperature is held",
		CodeGoesOn:           "the schedule goes on",
		CodeTarget:           "target {target} to the end of the stage",
		CodeMode:             "mode {name}",
		CodeAdopted:          "schedule {name} is adopted",
		CodeAnswered:         "alarm answered: {name}",
		CodeSample:           "sample {gravity} {name}",
		CodeSampleDoubted:    "sample {gravity} is kept but not believed yet: it {name}; a second one decides",
		CodeNoBatch:          "no batch is running",
		CodeBatchRuns:        "batch {name} is running; end it first",
		CodeCleaning:         "the vessel is being cleaned; set its mode to idle first",
		CodeNoSchedule:       "there is no usable schedule with the order",
		CodeNoBatchID:        "the batch needs an id",
		CodeOutside:          "{name}: {target} is outside the vessel's limits {lowest} to {highest}",
		CodeOutsideMode:      "the temperature is outside the vessel's limits",
		CodePitchedBefore:    "the yeast is in already",
		CodeNoGravity:        "the sample is not a gravity that a fermenter can hold",
		CodeNothingToConfirm: "this stage waits for no such confirmation",
		CodeLastStage:        "this is the last stage; end the batch instead",
		CodeNobody:           "only a named person may say so",
		CodeNeedsArming:      "{name}: the crash waits to be armed; put gas or a vacuum breaker on the tank first",
		CodeNoSuchStage:      "there is no stage {name} at or before the present one",
		CodeNoSuchMark:       "there is no mark {name}",
		CodeNoSuchMode:       "there is no mode {name}",
		CodeNoSuchAlarm:      "no such alarm is active: {name}",
		CodeStartInstead:     "a batch begins with a start order",
		CodeStageGone:        "the schedule has no stage {name}, in which the batch is",
		CodeUnknownOrder:     "there is no order {name}",
		CodeScheduleDiffers:  "the file of schedule {name} has been edited; the batch goes on as it was started, adopt takes the new one",
		CodeNoVessel:         "there is no vessel {name}",
		CodeStopping:         "the program is stopping",
		CodeIdle:             "idle: both relays off",
		CodeCleaningLock:     "cleaning: both relays locked out, {left} left",
		CodeNoBeer:           "no beer temperature yet: both relays off",
		CodeBeerLost:         "the beer temperature is lost ({name}, {age} old): both relays off",
		CodeBlind:            "the beer temperature is lost: cooling goes on at half its share of the last day for {left} more, heat is off",
		CodeFrost:            "heats against frost: beer {beer}",
		CodeNoTarget:         "no target yet: both relays off",
		CodeHeatHeld:         "heat is wanted and held back: {name} ({wait})",
		CodeCoolHeld:         "cooling is wanted and held back: {name} ({wait})",
		CodeCoolRuns:         "cooling finishes its {name} ({wait})",
		CodeHeatRuns:         "heat finishes its {name} ({wait})",
		CodeInBand:           "beer {beer} is where it should be ({target})",
		CodeLetBe:            "neither heat nor cooling for now: beer {beer}, {target} wanted",
		CodeHeats:            "heats: beer {beer}, {target} wanted",
		CodeCools:            "cools: beer {beer}, {target} wanted",
		CodeStagePaused:      "paused by a person",
		CodeStageBlind:       "the stage does not advance while the beer temperature is lost",
		CodeHolds:            "holds until a person ends the batch",
		CodeWaitsGravity:     "waits for a gravity",
		CodeWaitsPoints:      "waits for {limit} left, {left} now",
		CodeWaitsAttenuation: "waits for an apparent attenuation of {limit}, {attenuation} now",
		CodeWaitsBelow:       "waits for a gravity of at most {limit}",
		CodeWaitsTerminal:    "waits for terminal gravity: it changed by {change} in {window}, {limit} are allowed",
		CodeWaitsWindow:      "waits for terminal gravity: not yet judged over {window}",
		CodeWaitsTime:        "waits: {held} of {limit}",
		CodeWaitsBeer:        "waits for the beer at {limit}, {beer} now",
		CodeWaitsPitched:     "waits for the yeast: say pitched",
		CodeWaitsConfirm:     "waits for a person to confirm: {name}",
		CodeGravityRejected:  "readings of the hydrometer are not believed, the newest is {raw}: it {name}",
		CodeGravityBelieved:  "readings of the hydrometer are believed again: {gravity}",
		CodeDeviceStepped:    "the hydrometer has stepped, by {shift} in all: rejected readings of {gravity} agree for too long to be wrong, and the beer cannot have moved so",
		CodeDiacetyl:         "advice only: {estimate} of diacetyl by a model of one lager yeast whose rates know no temperature; trust the forced test",
		CodeDiacetylUnknown:  "diacetyl unknown: the beer was not followed all the way from pitching; trust the forced test",
		CodeRecalibrated:     "the hydrometer has another calibration; judging starts again",
	}
}

// String is the reason in words with its numbers and their units.
func (r Reason) String() string {
	if r.Code == "" {
		return ""
	}
	s, known := sentences()[r.Code]
	if !known {
		return string(r.Code)
	}
	s = strings.ReplaceAll(s, "{name}", r.Name)
	for _, n := range r.Numbers {
		s = strings.ReplaceAll(s, "{"+n.Name+"}", n.String())
	}
	return s
}

// String is the number with its unit.
func (n Number) String() string {
	switch n.Unit {
	case InCelsius:
		return units.Celsius(n.Value).Fixed(1)
	case InKelvins:
		return units.Kelvins(n.Value).Fixed(2)
	case InPoints:
		return units.Points(n.Value).Fixed(1)
	case InGravity:
		return units.Gravity(n.Value).Fixed(4)
	case InTime:
		return units.Rough(time.Duration(n.Value * float64(time.Second)).Round(time.Second))
	case InLitres:
		return strconv.FormatFloat(n.Value, 'f', -1, 64) + " L"
	case InVolumes:
		return strconv.FormatFloat(n.Value, 'f', 2, 64) + " volumes"
	case InKilo:
		return strconv.FormatFloat(n.Value, 'f', 1, 64) + " kPa"
	case InMilligrams:
		if n.Value < 0.005 {
			return "under 0.01 mg/L"
		}
		return strconv.FormatFloat(n.Value, 'f', 2, 64) + " mg/L"
	case Bare:
		return strconv.FormatFloat(n.Value, 'f', -1, 64)
	case InPercent:
		return strconv.FormatFloat(n.Value, 'f', 0, 64) + " %"
	}
	return strconv.FormatFloat(n.Value, 'f', 2, 64)
}
