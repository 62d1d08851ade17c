// Package again takes the decisions of a record again: the inputs that are stored
// go whole into the same Step, from the state that is stored, and what comes out is
// held against what was decided then.
//
// It refuses to guess: where inputs are missing (a flush that a kill prevented,
// readings that were thinned, a disk that was full for too long) it says so and goes
// on at the next place where a state is stored.
package again

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
	"example.org/restpoint/controller/units"
)

// Source is what is needed of a record.
type Source interface {
	Runs(ctx context.Context) ([]record.Run, error)
	Begins(ctx context.Context) ([]record.Started, error)
	Newest(ctx context.Context, vessel string) (controller.State, int64, error)
	EventsOf(ctx context.Context, run int64, vessel string) ([]record.Event, error)
	OrdersOf(ctx context.Context, run int64, vessel string) ([]record.Order, error)
	StepsOf(ctx context.Context, run int64, vessel string, from time.Duration) iter.Seq2[record.Telemetry, error]
}

// Options say what is taken again, and how.
type Options struct {
	Vessel string
	Batch  string // empty = all that the vessel did
	// Own lets differences add up: the state that is found goes on over the starts of
	// the program, instead of the one that was stored there.
	Own bool
	// Schedule takes the place of the batch's own. What people asked of the schedule
	// itself (advance, return, target, adopt) is then left out.
	Schedule *controller.Schedule
}

// Step is one step that was taken again.
type Step struct {
	At     time.Duration // since the first one, with the outages that are known
	Was    record.Telemetry
	Events []controller.Event // as recorded
	State  controller.State   // after it
	Out    controller.Outcome
	Tail   bool // newer than the newest stored state of its run: what came of it may not be stored
}

// Report is what came of it.
type Report struct {
	Steps   int      // taken again
	Runs    int      // of the program
	States  int      // that were held against one that was stored
	Same    int      // of these
	Tail    int      // steps behind the newest stored state of a run
	Cut     []string // where the record does not hold all
	Program []string // versions that wrote it
}

// player is a replay at work.
type player struct {
	source Source
	opt    Options
	tell   func(*Step) error
	report Report
	begun  bool
	state  controller.State
	vessel *controller.Vessel
	at     time.Duration
}

// Play takes a vessel's decisions again and tells of every step.
func Play(ctx context.Context, source Source, opt Options, tell func(*Step) error) (Report, error) {
	p := player{source: source, opt: opt, tell: tell}
	runs, err := source.Runs(ctx)
	if err != nil {
		return Report{}, err
	}
	begins, err := source.Begins(ctx)
	if err != nil {
		return Report{}, err
	}
	list := begins[:0]
	for i := range begins {
		if begins[i].Name == opt.Vessel {
			list = append(list, begins[i])
		}
	}
	for i := range list {
		if opt.Batch != "" && list[i].Batch != opt.Batch {
			continue
		}
		var next *record.Started
		if i+1 < len(list) {
			next = &list[i+1]
		}
		if err := p.stretch(ctx, &list[i], next); err != nil {
			return p.report, err
		}
		p.cutShort(runs, &list[i], next)
	}
	if p.report.Steps == 0 {
		return p.report, fmt.Errorf("nothing of it can be taken again: the record holds no state of %s to begin from", opt.what())
	}
	return p.report, nil
}

func (o *Options) what() string {
	if o.Batch != "" {
		return "batch " + o.Batch
	}
	return "vessel " + o.Vessel
}

// stretch takes again what came between a stored state and the next one.
func (p *player) stretch(ctx context.Context, from, next *record.Started) error {
	if from.Err != nil {
		p.cut(from.Run, from.Counted, "is not understood: "+from.Err.Error())
		return nil
	}
	recorded, err := p.recorded(ctx, from, next)
	if err != nil {
		return err
	}
	if !p.begun || !p.opt.Own {
		p.state, p.vessel = from.State, &from.Vessel
	}
	last := time.Duration(-1)
	for t, err := range p.source.StepsOf(ctx, from.Run, from.Name, from.Counted) {
		switch {
		case errors.Is(err, record.ErrDamaged):
			p.cut(from.Run, last, "lacks a pack of readings that is damaged")
			return nil
		case err != nil:
			return err
		case next != nil && next.Run == from.Run && t.Counted >= next.Counted:
			p.compare(&next.State)
			return nil
		case t.Every != 0:
			p.cut(from.Run, t.Counted, "holds only some of the readings, one every "+units.Rough(t.Every)+": it is too old")
			return nil
		case last < 0 && t.Counted != from.Counted || last >= 0 && t.Counted-last != t.Elapsed:
			p.cut(from.Run, last, "lacks readings, up to "+units.Rough(t.Counted))
			return nil
		}
		last = t.Counted
		if err := p.step(&t, recorded); err != nil {
			return err
		}
		if p.opt.Batch != "" && p.state.Batch.ID != p.opt.Batch {
			return nil // it has ended
		}
	}
	return nil
}

// past is what is recorded of one run beside the readings.
type past struct {
	orders map[time.Duration][]controller.Order
	events map[time.Duration][]controller.Event
	end    *controller.State // the newest stored one; nil = not known
}

func (p *player) recorded(ctx context.Context, from, next *record.Started) (past, error) {
	of := past{orders: map[time.Duration][]controller.Order{}, events: map[time.Duration][]controller.Event{}}
	orders, err := p.source.OrdersOf(ctx, from.Run, from.Name)
	if err != nil {
		return of, err
	}
	for i := range orders {
		if o := p.order(orders[i].Order); o.Do.Kind != "" {
			of.orders[orders[i].Counted] = append(of.orders[orders[i].Counted], o)
		}
	}
	events, err := p.source.EventsOf(ctx, from.Run, from.Name)
	if err != nil {
		return of, err
	}
	for i := range events {
		if events[i].Event.Kind != controller.ScheduleDiffers { // of a file, found by the program around the step
			of.events[events[i].Counted] = append(of.events[events[i].Counted], events[i].Event)
		}
	}
	if next == nil {
		s, run, err := p.source.Newest(ctx, from.Name)
		if err == nil && run == from.Run {
			of.end = &s
		}
		return of, err
	}
	if next.Run != from.Run && next.Err == nil && !next.State.Lost {
		of.end = &next.State
	}
	return of, nil
}

// order gives an order as it goes into this replay; one without a kind does not.
func (p *player) order(o controller.Order) controller.Order {
	if p.opt.Schedule == nil {
		return o
	}
	switch o.Do.Kind {
	case controller.Start:
		o.Do.Schedule = p.opt.Schedule
	case controller.Adopt, controller.AdvanceNow, controller.Return, controller.SetTarget:
		return controller.Order{}
	default:
	}
	return o
}

func (p *player) step(t *record.Telemetry, of past) error {
	in := t.Input()
	in.Orders = of.orders[t.Counted]
	var out controller.Outcome
	p.state, out = controller.Step(p.vessel, p.state, in)
	if out.Schedule != nil {
		p.vessel = p.vessel.With(out.Schedule)
	}
	if p.begun {
		p.at += t.Elapsed + t.Gap.Length
	}
	if t.Elapsed == 0 || !p.begun {
		p.report.Runs++
	}
	p.begun = true
	p.report.Steps++
	tail := of.end != nil && t.Counted > of.end.Up
	if tail {
		p.report.Tail++
	}
	if !p.opt.Own {
		switch {
		case len(t.Sum) > 0:
			p.hold(t.Sum)
		case of.end != nil && t.Counted == of.end.Up:
			p.compare(of.end)
		}
	}
	return p.tell(&Step{At: p.at, Was: *t, Events: of.events[t.Counted], State: p.state, Out: out, Tail: tail})
}

// hold compares the state with the sum of the one that was stored at a flush.
func (p *player) hold(want []byte) {
	sum, err := record.Sum(&p.state)
	p.report.States++
	if err == nil && bytes.Equal(sum[:], want) {
		p.report.Same++
	}
}

// compare compares the state with one that was stored, to the letter.
func (p *player) compare(want *controller.State) {
	if p.opt.Own {
		return
	}
	a, errA := json.Marshal(p.state)
	b, errB := json.Marshal(want)
	p.report.States++
	if errA == nil && errB == nil && bytes.Equal(a, b) {
		p.report.Same++
	}
}

func (p *player) cut(run int64, counted time.Duration, what string) {
	p.report.Cut = append(p.report.Cut, fmt.Sprintf("run %d, after %s: the record %s", run, units.Rough(max(0, counted)), what))
}

// cutShort tells of a run that did not end well: what came after its last flush is
// in no record.
func (p *player) cutShort(runs []record.Run, from, next *record.Started) {
	if next != nil && next.Run == from.Run {
		return
	}
	for i := range runs {
		if runs[i].ID != from.Run {
			continue
		}
		if v := runs[i].Version; len(p.report.Program) == 0 || p.report.Program[len(p.report.Program)-1] != v {
			p.report.Program = append(p.report.Program, v)
		}
		if runs[i].Ended.IsZero() && i+1 < len(runs) {
			p.cut(from.Run, p.state.Up, "lacks the end: the program was cut, and what came after its last flush was never written")
		}
	}
}
