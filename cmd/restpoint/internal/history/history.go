// Package history reads a batch back from its record and works out what a brewer
// asks of a beer that is made: what it was, what was decided when, how well it was
// held, and what its curve looked like.
//
// It refuses to decide anything anew: what it tells is what was recorded. Taking
// decisions again is the business of a replay.
package history

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"iter"
	"slices"
	"strings"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles"
)

// Source is where a batch is read from.
type Source interface {
	Batches(ctx context.Context) ([]record.BatchInfo, error)
	Events(ctx context.Context, batch string) ([]record.Event, error)
	Orders(ctx context.Context, batch string) ([]record.Order, error)
	Decisions(ctx context.Context, batch string) ([]record.Decided, error)
	Telemetry(ctx context.Context, batch string) iter.Seq2[record.Telemetry, error]
}

// Batch is a batch as it was recorded. Times are since it began: counted while the
// program ran, and the outages between.
type Batch struct {
	record.BatchInfo
	Target    units.Volumes // of carbon dioxide; 0 = the schedule does not say
	Course    []Moment
	Events    []Happening
	Orders    []Asked
	Readings  []Reading // of the hydrometer
	Runs      []Run
	Length    time.Duration
	Damaged   int // pieces of the record that could not be read
	strange   int // readings of the hydrometer that were no gravity
	telemetry timeline
}

// Moment is what was believed and decided at one time.
type Moment struct {
	At time.Duration
	record.Decided
}

// Happening is one event.
type Happening struct {
	At time.Duration
	controller.Event
}

// Asked is one order and its answer.
type Asked struct {
	At time.Duration
	record.Order
}

// Reading is one gravity of the hydrometer.
type Reading struct {
	At       time.Duration
	Gravity  units.Gravity // calibrated and corrected where it could be
	Believed bool
	Why      string // it was not believed
}

// NotFoundError is a batch that the record does not have.
type NotFoundError struct {
	ID    string
	Known []string
}

func (e *NotFoundError) Error() string {
	if len(e.Known) == 0 {
		return fmt.Sprintf("there is no batch %q: the record holds none", e.ID)
	}
	return fmt.Sprintf("there is no batch %q; the record holds %s", e.ID, strings.Join(e.Known, ", "))
}

// Find gives the batch with that id, or the newest where none is named.
func Find(ctx context.Context, from Source, id string) (record.BatchInfo, error) {
	list, err := from.Batches(ctx)
	if err != nil {
		return record.BatchInfo{}, err
	}
	known := make([]string, 0, len(list))
	for i := range list {
		if list[i].ID == id || id == "" && i == len(list)-1 {
			return list[i], nil
		}
		known = append(known, list[i].ID)
	}
	return record.BatchInfo{}, &NotFoundError{id, known}
}

// Gather reads a batch: all but its single steps.
func Gather(ctx context.Context, from Source, info record.BatchInfo) (*Batch, error) {
	b := &Batch{BatchInfo: info}
	events, err := from.Events(ctx, info.ID)
	if err != nil {
		return nil, err
	}
	orders, err := from.Orders(ctx, info.ID)
	if err != nil {
		return nil, err
	}
	decisions, err := from.Decisions(ctx, info.ID)
	if err != nil {
		return nil, err
	}
	marks := make([]mark, 0, len(events)+len(decisions))
	for i := range events {
		marks = append(marks, markOf(&events[i]))
	}
	for i := range decisions {
		d := &decisions[i]
		marks = append(marks, mark{run: d.Run, counted: d.Counted, at: d.At, synced: d.Synced})
	}
	b.telemetry = timelineOf(marks)
	b.Runs = b.telemetry.runs
	if n := len(b.Runs); n > 0 {
		b.Length = b.Runs[n-1].To
	}
	for i := range events {
		b.Events = append(b.Events, Happening{b.telemetry.at(events[i].Run, events[i].Counted), events[i].Event})
	}
	for i := range orders {
		b.Orders = append(b.Orders, Asked{b.telemetry.at(orders[i].Run, orders[i].Counted), orders[i]})
	}
	for i := range decisions {
		b.Course = append(b.Course, Moment{b.telemetry.at(decisions[i].Run, decisions[i].Counted), decisions[i]})
	}
	slices.SortStableFunc(b.Course, func(x, y Moment) int { return cmp.Compare(x.At, y.At) })
	if f, err := profiles.Read(info.Name, []byte(info.Schedule)); err == nil {
		b.Target = f.Schedule.Carbonation
	}
	return b, nil
}

// Step is one recorded step.
type Step struct {
	At time.Duration
	record.Telemetry
}

// Steps reads the single steps. A damaged piece is counted and passed over; any
// other error ends them.
func (b *Batch) Steps(ctx context.Context, from Source) iter.Seq2[Step, error] {
	b.Damaged = 0
	return func(yield func(Step, error) bool) {
		for t, err := range from.Telemetry(ctx, b.ID) {
			switch {
			case ctx.Err() != nil:
				yield(Step{}, fmt.Errorf("read batch %s: %w", b.ID, ctx.Err()))
				return
			case errors.Is(err, record.ErrDamaged):
				b.Damaged++
			case err != nil:
				yield(Step{}, err)
				return
			case !yield(Step{b.telemetry.at(t.Run, t.Counted), t}, nil):
				return
			}
		}
	}
}

// ReadGravities goes through the steps for what the hydrometer said, and every
// sample that a person took.
func (b *Batch) ReadGravities(ctx context.Context, from Source) error {
	for s, err := range b.Steps(ctx, from) {
		if err != nil {
			return err
		}
		for _, v := range s.Verdicts {
			r := Reading{At: s.At, Gravity: v.Used, Believed: v.Verdict.Believed()}
			if !r.Believed {
				r.Why = string(v.Verdict)
			}
			if r.Gravity == 0 {
				b.strange++ // it was no gravity at all
				continue
			}
			b.Readings = append(b.Readings, r)
		}
	}
	return nil
}

// Rejected is how many readings of the hydrometer there were, and how many were not
// believed, by the reason.
func (b *Batch) Rejected() (all int, why map[string]int) {
	why = map[string]int{}
	for _, r := range b.Readings {
		if !r.Believed {
			why[r.Why]++
		}
	}
	return len(b.Readings) + b.strange, why
}

// Samples are the gravities that people read by hand.
func (b *Batch) Samples() []Reading {
	var list []Reading
	for _, o := range b.Orders {
		if o.Order.Order.Do.Kind == controller.Sample && o.Taken {
			list = append(list, Reading{At: o.At, Gravity: o.Order.Order.Do.Value.Gravity, Believed: true})
		}
	}
	return list
}
