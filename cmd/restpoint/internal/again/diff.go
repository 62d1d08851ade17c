package again

import (
	"bytes"
	"encoding/json"
	"slices"
	"strings"
	"time"

	"example.org/restpoint/controller"
)

// Difference is one decision that was taken otherwise.
type Difference struct {
	At    time.Duration
	Stage string // now
	What  string // kind of the event; "heat", "cool" for the first time that a relay was wanted otherwise; "reading"
	Was   string // as recorded; empty = nothing
	Now   string // and as it is decided now; empty = nothing
	Why   string // what is decided now gives as its reasons
}

// Differ holds the steps of a replay against the record.
type Differ struct {
	// Loose leaves out what only counts where the rules are the same: notes of what is
	// foreseen, and figures within a sentence that is given at the same step.
	Loose bool
	// For how long heat and cool were wanted, as recorded and now.
	Was, Now [2]time.Duration

	relays [2]bool // spoken of
}

// Look gives what is otherwise in one step.
func (d *Differ) Look(s *Step) []Difference {
	if s.Tail {
		return nil
	}
	why := reasons(s.Out.Decision.Reasons)
	var list []Difference
	add := func(what, was, now string) {
		list = append(list, Difference{At: s.At, Stage: s.Out.Decision.Stage, What: what, Was: was, Now: now, Why: why})
	}
	d.relay(s, add)
	now := s.Out.Events
	was := s.Events
	if d.Loose {
		was = slices.DeleteFunc(slices.Clone(was), isNote)
	} else {
		now = slices.Concat(now, s.Out.Notes)
		if !slices.Equal(s.Was.Verdicts, s.Out.Verdicts) {
			add("reading", verdicts(s.Was.Verdicts), verdicts(s.Out.Verdicts))
		}
	}
	d.events(was, now, add)
	return list
}

func isNote(e controller.Event) bool { return e.Kind == controller.ForecastMade }

// relay counts what was wanted, and tells of the first time that it was otherwise.
func (d *Differ) relay(s *Step, add func(what, was, now string)) {
	was, now := s.Was.Outputs, s.Out.Outputs
	for i, r := range [2]struct {
		name     string
		was, now bool
	}{{"heat", was.Heat, now.Heat}, {"cool", was.Cool, now.Cool}} {
		if r.was {
			d.Was[i] += s.Was.Elapsed
		}
		if r.now {
			d.Now[i] += s.Was.Elapsed
		}
		if r.was != r.now && (!d.Loose || !d.relays[i]) {
			d.relays[i] = true
			add(r.name, level(r.was), level(r.now))
		}
	}
}

func level(on bool) string {
	if on {
		return "on"
	}
	return "off"
}

func verdicts(list []controller.ReadingVerdict) string {
	var words []string
	for _, v := range list {
		words = append(words, v.Verdict.Word())
	}
	return strings.Join(words, ", ")
}

// events pairs what happened then with what happens now.
func (d *Differ) events(was, now []controller.Event, add func(what, was, now string)) {
	if !d.Loose && len(was) == len(now) && same(was, now) {
		return
	}
	left := slices.Clone(now)
	for _, w := range was {
		i := slices.IndexFunc(left, func(n controller.Event) bool { return alike(&w, &n) })
		switch {
		case i < 0:
			add(string(w.Kind), w.String(), "")
			continue
		case w.String() != left[i].String() && !d.Loose, w.Reason.Code != left[i].Reason.Code:
			add(string(w.Kind), w.String(), left[i].String())
		}
		left = slices.Delete(left, i, i+1)
	}
	for _, n := range left {
		add(string(n.Kind), "", n.String())
	}
}

// alike tells whether two events are the same thing happening, whatever the reason.
func alike(a, b *controller.Event) bool {
	return a.Kind == b.Kind && a.Stage == b.Stage && a.Alarm == b.Alarm && a.Verb == b.Verb && a.Order == b.Order && a.Probe == b.Probe && a.Job == b.Job
}

// same compares to the last bit, as both are stored.
func same(a, b []controller.Event) bool {
	for i := range a {
		x, errX := json.Marshal(a[i])
		y, errY := json.Marshal(b[i])
		if errX != nil || errY != nil || !bytes.Equal(x, y) {
			return false
		}
	}
	return true
}

func reasons(list []controller.Reason) string {
	var said []string
	for _, r := range list {
		said = append(said, r.String())
	}
	return strings.Join(said, "; ")
}
