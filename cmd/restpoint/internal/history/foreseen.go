package history

import (
	"slices"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
)

// Foreseen holds the forecasts of one milestone against what came.
type Foreseen struct {
	Milestone controller.Milestone
	Came      time.Duration
	Made      int // forecasts, one an hour
	Inside    int // of them, spans that held the moment
	Ahead     []Ahead
}

// Ahead is how far off the forecast was so long before the milestone.
type Ahead struct {
	By  time.Duration
	Off time.Duration // above zero: it was expected too late
}

// aheads are how long before a milestone people ask.
func aheads() []time.Duration { return []time.Duration{units.Day, 2 * units.Day, 4 * units.Day} }

// Foreseen judges the forecasts of every milestone that was reached.
func (b *Batch) Foreseen() []Foreseen {
	var list []Foreseen
	for _, m := range controller.Milestones() {
		if came, ok := b.came(m); ok {
			if f := b.judge(m, came); f.Made > 0 {
				list = append(list, f)
			}
		}
	}
	return list
}

func (b *Batch) judge(m controller.Milestone, came time.Duration) Foreseen {
	f := Foreseen{Milestone: m, Came: came}
	list := aheads()
	nearest := make([]*Ahead, len(list)) // the newest forecast that was so early
	for _, e := range b.Events {
		i := slices.IndexFunc(e.Forecasts, func(x controller.Forecast) bool { return x.Event == m })
		if i < 0 || e.At >= came {
			continue
		}
		x := e.Forecasts[i]
		f.Made++
		if wait := came - e.At; wait >= x.Early && wait <= x.Late {
			f.Inside++
		}
		for k, by := range list {
			if e.At <= came-by {
				nearest[k] = &Ahead{by, e.At + x.Middle - came}
			}
		}
	}
	for _, a := range nearest {
		if a != nil {
			f.Ahead = append(f.Ahead, *a)
		}
	}
	return f
}

// came is when a milestone was reached.
func (b *Batch) came(m controller.Milestone) (time.Duration, bool) {
	at, ok := time.Duration(0), false
	crash := false
	for _, e := range b.Events {
		is := false
		switch m {
		case controller.TerminalMet:
			is = e.Kind == controller.TerminalReached
		case controller.RestBegins:
			is = e.Kind == controller.StageEntered && e.StageKind == controller.Rest && !ok
		case controller.Crashed:
			is = e.Kind == controller.StageEntered && crash
		case controller.Ready:
			is = e.Kind == controller.StageEntered && e.StageKind == controller.Hold
		}
		if e.Kind == controller.StageEntered {
			crash = e.StageKind == controller.Crash
		}
		if is {
			at, ok = e.At, true
		}
	}
	return at, ok
}
