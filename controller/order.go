package controller

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
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
	Forget      VerbKind = "forget"      // the vessel has changed: what was learnt of it counts no more
)

// VerbKinds lists every order.
func VerbKinds() []VerbKind {
	return []VerbKind{
		Start, PitchedNow, Sample, Confirm, Arm, AdvanceNow, Return, Pause, Resume, SetTarget, Mark,
		Acknowledge, Shelve, EndCold, EndOff, SetMode, Adopt, Done, Skip, Unlock, Forget,
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
	Points   units.Points  // mark addition, done: what it adds to the whole; 0 = not known
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

// OrderError says what is wrong with the words of an order.
type OrderError struct{ Text string }

func (e *OrderError) Error() string { return e.Text }

func badOrder(format string, args ...any) error {
	return &OrderError{fmt.Sprintf(format, args...)}
}

// ParseVerb reads an order as a person writes it: "target 20 C", "sample 1.018
// at 20 C", "mark dry-hop". A start names its schedule in Say and its batch in
// Batch ("start SCHEDULE as BATCH"); whoever carries it out adds the Schedule.
func ParseVerb(words []string) (Verb, error) {
	words = strings.Fields(strings.Join(words, " "))
	if len(words) == 0 {
		return Verb{}, badOrder("an order is missing; orders are %s", orderList())
	}
	kind, rest := VerbKind(words[0]), strings.Join(words[1:], " ")
	v := Verb{Kind: kind}
	switch kind {
	case PitchedNow, Arm, AdvanceNow, Pause, Resume, EndCold, EndOff, Unlock, Forget:
		if rest != "" {
			return v, badOrder("%s takes nothing more, not %q", kind, rest)
		}
		return v, nil
	case Start, Adopt:
		return parseStart(v, rest)
	case Sample:
		return parseSample(v, rest)
	case Confirm:
		v.Say = strings.Trim(rest, `" `)
		return v, nil
	case Return:
		if v.Stage = strings.Trim(rest, `" `); v.Stage == "" {
			return v, badOrder("return needs the name of a stage")
		}
		return v, nil
	case SetTarget:
		t, err := units.ParseCelsius(rest)
		v.Celsius = t
		return v, wrap(kind, err)
	case Mark:
		return parseMark(v, rest)
	case Done, Skip:
		return parseJob(v, rest)
	case Acknowledge:
		v.Alarm = rest
		return v, nil
	case Shelve:
		return parseShelve(v, rest)
	case SetMode:
		return parseMode(v, rest)
	}
	return v, badOrder("there is no order %q; orders are %s", words[0], orderList())
}

// String is the order in the words in which it is given: ParseVerb reads them.
func (v Verb) String() string {
	text := string(v.Kind)
	add := func(before, word string) {
		if word != "" {
			text += before + word
		}
	}
	switch v.Kind {
	case Start, Adopt:
		add(" ", v.Say)
		add(" as ", v.Batch)
	case Sample:
		add(" ", v.Value.Gravity.String())
		if v.Value.HasCelsius {
			add(" at ", v.Value.Celsius.String())
		}
	case Confirm:
		add(" ", v.Say)
	case Return:
		add(" ", v.Stage)
	case SetTarget:
		add(" ", v.Celsius.String())
	case Mark:
		add(" ", string(v.Mark))
		if v.Volume != 0 {
			text += " " + v.Volume.String() + " at " + v.Gravity.String()
		}
		if v.Points != 0 {
			add(" ", v.Points.String())
		}
	case Done, Skip:
		if v.Job != 0 {
			add(" ", strconv.Itoa(v.Job))
		}
		if v.Points != 0 {
			add(" with ", v.Points.String())
		}
	case Acknowledge:
		add(" ", v.Alarm)
	case Shelve:
		text += " " + v.Alarm + " for " + units.Duration(v.For)
	case SetMode:
		add(" ", string(v.Mode))
		switch {
		case v.Mode == PreChill:
			add(" ", v.Celsius.String())
		case v.For != 0:
			add(" for ", units.Duration(v.For))
		}
	case PitchedNow, Arm, AdvanceNow, Pause, Resume, EndCold, EndOff, Unlock, Forget:
	}
	return text
}

func parseStart(v Verb, rest string) (Verb, error) {
	name, batch, named := strings.Cut(rest+" ", " as ")
	v.Say, v.Batch = strings.TrimSpace(name), strings.TrimSpace(batch)
	if v.Say == "" || named && v.Batch == "" || v.Kind == Adopt && named {
		return v, badOrder(`%s needs a schedule: "start pale-ale-with-rest as batch-12"`, v.Kind)
	}
	return v, nil
}

func parseSample(v Verb, rest string) (Verb, error) {
	text, at, hasTemperature := strings.Cut(rest, " at ")
	g, err := units.ParseGravity(strings.TrimSpace(text))
	if err != nil {
		return v, wrap(v.Kind, err)
	}
	v.Value = OfGravity(g)
	if hasTemperature {
		t, err := units.ParseCelsius(at)
		if err != nil {
			return v, wrap(v.Kind, err)
		}
		if t < 0 || t > 60 {
			return v, badOrder("sample: %v is not the temperature of a sample; 0 C to 60 C are", t)
		}
		v.Value = OfSample(g, t)
	}
	return v, nil
}

// parseMark reads "dump", "fill", "fill 25 L at 1.051", "addition 8 points".
func parseMark(v Verb, rest string) (Verb, error) {
	name, more, _ := strings.Cut(rest, " ")
	v.Mark = MarkKind(name)
	if !slices.Contains(MarkKinds(), v.Mark) {
		return v, badOrder("there is no mark %q; marks are %s", name, list(MarkKinds()))
	}
	var err error
	switch {
	case more == "":
	case v.Mark == Refill:
		volume, of, ok := strings.Cut(more, " at ")
		if !ok {
			return v, badOrder(`a turn of wort is "mark fill 25 L at 1.051", not %q`, rest)
		}
		if v.Volume, err = units.ParseLitres(volume); err == nil {
			v.Gravity, err = units.ParseGravity(strings.TrimSpace(of))
		}
	case v.Mark == Addition:
		if v.Points, err = units.ParsePoints(more); err == nil && !(v.Points > 0 && v.Points <= mostAdded) {
			return v, badOrder("an addition is worth more than 0 and at most %v, not %v", mostAdded, v.Points)
		}
	default:
		return v, badOrder("mark %s takes nothing more, not %q", name, more)
	}
	return v, wrap(v.Kind, err)
}

// parseJob reads "done", "done 2", "done 2 with 10 points".
func parseJob(v Verb, rest string) (Verb, error) {
	number, points, with := strings.Cut(rest, " with ")
	if number != "" {
		n, err := strconv.Atoi(number)
		if err != nil || n < 1 {
			return v, badOrder("%s takes the number of a reminder, not %q", v.Kind, rest)
		}
		v.Job = n
	}
	if !with {
		return v, nil
	}
	if v.Kind == Skip {
		return v, badOrder("what is skipped adds nothing: %q", rest)
	}
	p, err := units.ParsePoints(points)
	v.Points = p
	return v, wrap(v.Kind, err)
}

func parseShelve(v Verb, rest string) (Verb, error) {
	alarm, d, ok := strings.Cut(rest, " for ")
	if !ok {
		return v, badOrder(`shelve needs an alarm and a time: "shelve gravity-lost for 2 h"`)
	}
	t, err := units.ParseDuration(d)
	if err == nil && (t <= 0 || t > longestShelve) {
		return v, badOrder("an alarm can be shelved for at most %s", units.Duration(longestShelve))
	}
	v.Alarm, v.For = strings.TrimSpace(alarm), t
	return v, wrap(v.Kind, err)
}

func parseMode(v Verb, rest string) (Verb, error) {
	name, more, _ := strings.Cut(rest, " ")
	v.Mode = Mode(name)
	switch v.Mode {
	case Idle:
		if more == "" {
			return v, nil
		}
	case PreChill:
		t, err := units.ParseCelsius(more)
		v.Celsius = t
		return v, wrap(v.Kind, err)
	case Cleaning:
		if more == "" {
			return v, nil
		}
		t, err := units.ParseDuration(strings.TrimPrefix(more, "for "))
		v.For = t
		return v, wrap(v.Kind, err)
	case InBatch:
	}
	return v, badOrder(`mode is "idle", "pre-chill 12 C" or "cleaning for 2 h", not %q`, rest)
}

func wrap(k VerbKind, err error) error {
	if err == nil {
		return nil
	}
	return badOrder("%s: %v", k, err)
}

func orderList() string { return list(VerbKinds()) }

func list[T ~string](all []T) string {
	words := make([]string, len(all))
	for i, w := range all {
		words[i] = string(w)
	}
	return strings.Join(words, ", ")
}
