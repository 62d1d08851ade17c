package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/again"
	"example.org/restpoint/cmd/restpoint/internal/web"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/bench"
)

// line is one event of a batch as a script reads it: hours are counted from the
// first row of a record, or the start of a simulation.
type line struct {
	Hours        float64            `json:"hours"`
	Event        string             `json:"event"`
	Stage        string             `json:"stage,omitempty"`
	Kind         string             `json:"kind,omitempty"`
	Alarm        string             `json:"alarm,omitempty"`
	Priority     string             `json:"priority,omitempty"`
	Say          string             `json:"say,omitempty"`
	Order        string             `json:"order,omitempty"`
	Who          string             `json:"who,omitempty"`
	Reason       string             `json:"reason"`
	PointsLeft   *float64           `json:"points_left,omitempty"`
	Low          *float64           `json:"points_left_low,omitempty"`  // 10 %
	High         *float64           `json:"points_left_high,omitempty"` // 90 %
	FinalGravity *float64           `json:"final_gravity,omitempty"`
	Gravity      *float64           `json:"gravity,omitempty"`
	Beer         *float64           `json:"beer_celsius,omitempty"`
	Forecast     []web.ForecastJSON `json:"forecast,omitempty"`
	Raw          *float64           `json:"raw,omitempty"`     // of a reading that was not believed, as it was read
	Used         *float64           `json:"used_sg,omitempty"` // and what was made of it
	Verdict      string             `json:"verdict,omitempty"` // and why in a word
	What         string             `json:"what,omitempty"`    // what differs: the kind of event, a relay
	Was          string             `json:"was,omitempty"`     // as recorded
	Now          string             `json:"now,omitempty"`     // by today's rules
}

// estimateEvent is the kind of the lines that only tell what is believed.
const estimateEvent = "estimate"

// newLine puts an event beside what was believed when it happened.
func newLine(at time.Duration, e controller.Event, d controller.Decision) line {
	l := line{
		Hours: round(at.Hours(), 4), Event: string(e.Kind), Stage: e.Stage, Kind: string(e.StageKind),
		Alarm: e.Alarm, Priority: e.Priority, Say: e.Say, Order: string(e.Verb), Who: e.Who, Reason: e.Reason.String(),
	}
	return l.with(d)
}

func newEstimate(at time.Duration, d controller.Decision) line {
	l := line{Hours: round(at.Hours(), 4), Event: estimateEvent, Stage: d.Stage, Kind: string(d.Kind)}
	if n := len(d.Reasons); n > 0 {
		l.Reason = d.Reasons[n-1].String()
	}
	return l.with(d)
}

// rejectedEvent is the kind of the lines that tell of a single reading of the
// hydrometer that was not believed.
const rejectedEvent = "reading-rejected"

func newRejection(at time.Duration, v controller.ReadingVerdict, d controller.Decision) line {
	l := line{
		Hours: round(at.Hours(), 4), Event: rejectedEvent, Stage: d.Stage, Kind: string(d.Kind),
		Verdict: v.Verdict.Word(), Reason: string(v.Verdict), Raw: number(v.Raw, 6),
	}
	if v.Used != 0 {
		l.Used = number(float64(v.Used), 5)
	}
	return l.with(d)
}

func (l line) with(d controller.Decision) line {
	if g := d.Gravity; g.Known {
		l.PointsLeft, l.Low, l.High = number(float64(g.Left), 2), number(float64(g.Low), 2), number(float64(g.High), 2)
		l.FinalGravity, l.Gravity = number(float64(g.Final), 5), number(float64(g.Now), 5)
	}
	l.Forecast = web.Forecasts(d.Forecast)
	if d.Beer.Usable() {
		l.Beer = number(float64(d.Beer.Celsius), 4)
	}
	return l
}

// differsEvent is the kind of the lines that tell of a decision that is not the one
// of the record.
const differsEvent = "differs"

// newDifference tells what was decided otherwise, with both sentences.
func newDifference(d again.Difference, now controller.Decision) line {
	l := line{Hours: round(d.At.Hours(), 4), Event: differsEvent, Stage: d.Stage, Kind: string(now.Kind), What: d.What, Was: d.Was, Now: d.Now, Reason: d.Why}
	return l.with(now)
}

func number(v float64, decimals int) *float64 {
	r := round(v, decimals)
	return &r
}

func round(v float64, decimals int) float64 {
	p := math.Pow10(decimals)
	return math.Round(v*p) / p
}

// writeJSON writes a line as JSON.
func (l line) writeJSON(w io.Writer) error { return json.NewEncoder(w).Encode(l) }

// tableHead heads the timeline.
const tableHead = "when        beer     gravity  left    what happened\n"

// writeText writes a line for people, at most 80 columns wide where the words allow.
func (l line) writeText(w io.Writer) error {
	beer, gravity, left := "", "", ""
	if l.Beer != nil {
		beer = fmt.Sprintf("%.1f C", *l.Beer)
	}
	if l.Gravity != nil {
		gravity, left = fmt.Sprintf("%.4f", *l.Gravity), fmt.Sprintf("%.1f", *l.PointsLeft)
	}
	what, text := l.Event, l.Reason
	switch controller.EventKind(l.Event) {
	case controller.StageEntered:
		what = "-> " + l.Stage
	case controller.AlarmRaised:
		what += " " + l.Alarm
	case controller.OrderTaken, controller.OrderRefused:
		what = l.Who + ": " + l.Order
	case controller.AlarmOver:
		what, text = what+" "+l.Alarm, ""
	case controller.ReminderDue:
		text = l.Say
	default:
		if l.Event == differsEvent {
			what, text = "differs: "+l.What, fmt.Sprintf("recorded: %s; now: %s; because: %s", orNothing(l.Was), orNothing(l.Now), l.Reason)
		}
	}
	// Hours are rounded to a third of a second, steps are whole seconds.
	at := time.Duration(l.Hours * float64(time.Hour)).Round(time.Second)
	head := fmt.Sprintf("%s  %7s  %7s  %5s   ", bench.Stamp(at), beer, gravity, left)
	if _, err := fmt.Fprintf(w, "%s%s\n", head, what); err != nil {
		return err
	}
	return wrapText(w, text, len(head)+2, 80)
}

func orNothing(s string) string {
	if s == "" {
		return "nothing"
	}
	return s
}

// wrapText writes words indented and at most width columns wide.
func wrapText(w io.Writer, text string, indent, width int) error {
	for len(text) > 0 {
		cut := len(text)
		if room := width - indent; cut > room {
			cut = room
			for cut > 0 && text[cut] != ' ' {
				cut--
			}
			if cut == 0 {
				cut = room
			}
		}
		if _, err := fmt.Fprintf(w, "%*s%s\n", indent, "", text[:cut]); err != nil {
			return err
		}
		text = text[cut:]
		for len(text) > 0 && text[0] == ' ' {
			text = text[1:]
		}
	}
	return nil
}
