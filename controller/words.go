package controller

import (
	"strconv"
	"strings"
	"time"

	"example.org/restpoint/controller/units"
)

// The codes of all reasons. Their words are in sentence, below.
const (
	CodeLate             Code = "late"
	CodeResumed          Code = "resumed"
	CodeResumedBlind     Code = "resumed-blind"
	CodeProbeLost        Code = "probe-lost"
	CodeProbeBack        Code = "probe-back"
	CodeTerminal         Code = "terminal"
	CodeStuck            Code = "stuck"
	CodeNotStarted       Code = "not-started"
	CodeGravityLost      Code = "gravity-lost"
	CodeGravityBack      Code = "gravity-back"
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
	CodeIdle             Code = "idle"
	CodeCleaningLock     Code = "cleaning-lock"
	CodeNoBeer           Code = "no-beer"
	CodeBeerLost         Code = "beer-lost"
	CodeNoTarget         Code = "no-target"
	CodeHeatHeld         Code = "heat-held"
	CodeCoolHeld         Code = "cool-held"
	CodeCoolRuns         Code = "cool-runs"
	CodeHeatRuns         Code = "heat-runs"
	CodeInBand           Code = "in-band"
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
)

// sentence is the one table of what reasons say. {name} stands for the reason's
// name, any other word in braces for its number of that name.
func sentence(c Code) string {
	switch c {
	case CodeLate:
		return "the step came {elapsed} after the last one, {allowed} are allowed: heat is off for this step"
	case CodeResumed:
		return "the program is back after an outage of {outage}"
	case CodeResumedBlind:
		return "the program is back after an outage of unknown length"
	case CodeProbeLost:
		return "no believable beer temperature for {age} ({name})"
	case CodeProbeBack:
		return "the beer temperature is believed again: {beer}"
	case CodeTerminal:
		return "gravity {gravity} has stopped where it should, judged over {window}"
	case CodeStuck:
		return "gravity stopped at {gravity}, above the expected {expected}"
	case CodeNotStarted:
		return "{since} after pitching the gravity has fallen by {fallen} only"
	case CodeGravityLost:
		return "no accepted gravity for {silent}"
	case CodeGravityBack:
		return "gravity is read again: {gravity}"
	case CodeAlarm:
		return "{name}"
	case CodeMet:
		return "the stage's condition holds"
	case CodePointsLeft:
		return "{left} left, {limit} or fewer were asked for, so for {held}"
	case CodeAttenuation:
		return "apparent attenuation {attenuation}, {limit} were asked for"
	case CodeGravityAtMost:
		return "gravity {gravity}, at most {limit} was asked for"
	case CodeTerminalMet:
		return "terminal at {gravity}: it fell by {fall} in {window}, {limit} are allowed"
	case CodeDwell:
		return "held for {held}, {limit} were asked for"
	case CodeBeerAt:
		return "beer at {beer}, {limit} was asked for"
	case CodePitched:
		return "the yeast is in"
	case CodeConfirmed:
		return "confirmed: {name}"
	case CodeLongest:
		return "the stage's limit of {longest} is reached and the schedule says advance"
	case CodeStuckRest:
		return "stuck {above} above the expected end, within {limit}: the rest begins, late warmth costs more than early"
	case CodeBlindRest:
		return "no gravity for {silent} and the late forecast of {late} has passed: the rest begins"
	case CodeStarted:
		return "batch {name} is started"
	case CodeEndedOff:
		return "batch {name} is ended, both relays off"
	case CodeEndedCold:
		return "batch {name} is ended, {target} is kept"
	case CodeAdvanced:
		return "advanced by {name}"
	case CodeReturned:
		return "returned to {name}: terminal, confirmations and arming are to be earned again"
	case CodeMarked:
		return "marked: {name}; judging starts again"
	case CodeArmed:
		return "armed: the tank may be cooled"
	case CodePaused:
		return "paused: the stage does not advance, the temperature is held"
	case CodeGoesOn:
		return "the schedule goes on"
	case CodeTarget:
		return "target {target} to the end of the stage"
	case CodeMode:
		return "mode {name}"
	case CodeAdopted:
		return "schedule {name} is adopted"
	case CodeAnswered:
		return "alarm answered: {name}"
	case CodeSample:
		return "sample {gravity} {name}"
	case CodeSampleDoubted:
		return "sample {gravity} is kept but not believed yet: it {name}; a second one decides"
	}
	return sentenceOfRefusal(c)
}

func sentenceOfRefusal(c Code) string {
	switch c {
	case CodeNoBatch:
		return "no batch is running"
	case CodeBatchRuns:
		return "batch {name} is running; end it first"
	case CodeCleaning:
		return "the vessel is being cleaned; set its mode to idle first"
	case CodeNoSchedule:
		return "there is no usable schedule with the order"
	case CodeNoBatchID:
		return "the batch needs an id"
	case CodeOutside:
		return "{name}: {target} is outside the vessel's limits {lowest} to {highest}"
	case CodeOutsideMode:
		return "the temperature is outside the vessel's limits"
	case CodePitchedBefore:
		return "the yeast is in already"
	case CodeNoGravity:
		return "the sample is not a gravity that a fermenter can hold"
	case CodeNothingToConfirm:
		return "this stage waits for no such confirmation"
	case CodeLastStage:
		return "this is the last stage; end the batch instead"
	case CodeNobody:
		return "only a named person lets a beer into a crash"
	case CodeNeedsArming:
		return "{name}: the crash waits to be armed; put gas or a vacuum breaker on the tank first"
	case CodeNoSuchStage:
		return "there is no stage {name} at or before the present one"
	case CodeNoSuchMark:
		return "there is no mark {name}"
	case CodeNoSuchMode:
		return "there is no mode {name}"
	case CodeNoSuchAlarm:
		return "no such alarm is active: {name}"
	case CodeStartInstead:
		return "a batch begins with a start order"
	case CodeStageGone:
		return "the schedule has no stage {name}, in which the batch is"
	case CodeUnknownOrder:
		return "there is no order {name}"
	case CodeNoVessel:
		return "there is no vessel {name}"
	case CodeStopping:
		return "the program is stopping"
	}
	return sentenceOfRelays(c)
}

func sentenceOfRelays(c Code) string {
	switch c {
	case CodeIdle:
		return "idle: both relays off"
	case CodeCleaningLock:
		return "cleaning: both relays locked out, {left} left"
	case CodeNoBeer:
		return "no beer temperature yet: both relays off"
	case CodeBeerLost:
		return "the beer temperature is lost ({name}, {age} old): both relays off"
	case CodeNoTarget:
		return "no target yet: both relays off"
	case CodeHeatHeld:
		return "heat is wanted and held back: {name} ({wait})"
	case CodeCoolHeld:
		return "cooling is wanted and held back: {name} ({wait})"
	case CodeCoolRuns:
		return "cooling finishes its {name} ({wait})"
	case CodeHeatRuns:
		return "heat finishes its {name} ({wait})"
	case CodeInBand:
		return "beer {beer} is where it should be ({target})"
	case CodeHeats:
		return "heats: beer {beer}, {target} wanted"
	case CodeCools:
		return "cools: beer {beer}, {target} wanted"
	}
	return sentenceOfWaiting(c)
}

func sentenceOfWaiting(c Code) string {
	switch c {
	case CodeStagePaused:
		return "paused by a person"
	case CodeStageBlind:
		return "the stage does not advance while the beer temperature is lost"
	case CodeHolds:
		return "holds until a person ends the batch"
	case CodeWaitsGravity:
		return "waits for a gravity"
	case CodeWaitsPoints:
		return "waits for {limit} left, {left} now"
	case CodeWaitsAttenuation:
		return "waits for an apparent attenuation of {limit}, {attenuation} now"
	case CodeWaitsBelow:
		return "waits for a gravity of at most {limit}"
	case CodeWaitsTerminal:
		return "waits for terminal gravity: it fell by {fall} in {window}, {limit} are allowed"
	case CodeWaitsWindow:
		return "waits for terminal gravity: not yet judged over {window}"
	case CodeWaitsTime:
		return "waits: {held} of {limit}"
	case CodeWaitsBeer:
		return "waits for the beer at {limit}, {beer} now"
	case CodeWaitsPitched:
		return "waits for the yeast: say pitched"
	case CodeWaitsConfirm:
		return "waits for a person to confirm: {name}"
	}
	return string(c)
}

// String is the reason in words with its numbers and their units.
func (r Reason) String() string {
	if r.Code == "" {
		return ""
	}
	s := strings.ReplaceAll(sentence(r.Code), "{name}", r.Name)
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
	case InPercent:
		return strconv.FormatFloat(n.Value, 'f', 0, 64) + " %"
	}
	return strconv.FormatFloat(n.Value, 'f', 2, 64)
}
