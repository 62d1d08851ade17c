package record

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"slices"
	"time"

	"example.org/restpoint/controller"
)

// ErrDamaged is a pack of steps that cannot be read; those behind it can.
var ErrDamaged = errors.New("a pack of readings is damaged")

// packsAtOnce is how many packs are read in one go: commits wait no longer.
const packsAtOnce = 32

// pack is one row of telemetry.
type pack struct {
	id, run       int64
	vessel, batch string
	first         time.Time
	every         time.Duration
	sum, bytes    []byte
}

// Telemetry reads the steps of a batch in order, as far as they are flushed. It
// unpacks in the caller's goroutine. A pack that is damaged gives its error, and
// the reading goes on behind it.
func (q questions) Telemetry(ctx context.Context, batch string) iter.Seq2[Telemetry, error] {
	return q.steps(ctx, `batch = ?`, batch)
}

// StepsOf reads the steps of a vessel in one run of the program, from a count on.
func (q questions) StepsOf(ctx context.Context, run int64, vessel string, from time.Duration) iter.Seq2[Telemetry, error] {
	return func(yield func(Telemetry, error) bool) {
		for t, err := range q.steps(ctx, `run = ? AND vessel = ? AND counted_to >= ?`, run, vessel, from.Milliseconds()) {
			if (err != nil || t.Counted >= from) && !yield(t, err) {
				return
			}
		}
	}
}

// EventsOf lists what happened in a vessel in one run of the program, in order.
func (q questions) EventsOf(ctx context.Context, run int64, vessel string) ([]Event, error) {
	return q.events(ctx, `run = ? AND vessel = ?`, run, vessel)
}

// OrdersOf lists what people asked of a vessel in one run of the program, in order.
func (q questions) OrdersOf(ctx context.Context, run int64, vessel string) ([]Order, error) {
	return q.orders(ctx, `run = ? AND vessel = ?`, run, vessel)
}

// Begins lists where decisions can be taken again from, in order. A record of the
// first version of the file has none.
func (q questions) Begins(ctx context.Context) ([]Started, error) {
	var list []Started
	sites := map[string]string{}
	err := q.do(ctx, func(f *file) error {
		if f.version < 2 {
			return nil
		}
		return f.each(`SELECT run, batch, vessel, wall, synced, counted, state, wired, site FROM begins ORDER BY id`, nil, func(scan scan) error {
			var s Started
			var at, counted int64
			var state, wired string
			var site *string
			if err := scan(&s.Run, &s.Batch, &s.Name, &at, &s.Synced, &counted, &state, &wired, &site); err != nil {
				return err
			}
			s.At, s.Counted = wall(at), time.Duration(counted)*time.Millisecond
			if site != nil {
				sites[s.Name] = *site
			}
			s.Site = sites[s.Name]
			s.Err = errors.Join(wrapIf("the state", strictly(state, &s.State)), wrapIf("the wiring", strictly(wired, &s.Vessel)))
			list = append(list, s)
			return nil
		})
	})
	return list, err
}

// Newest is the newest state of a vessel that is stored, and the run that stored it;
// 0 = none is, or a program did that knew no runs of states.
func (q questions) Newest(ctx context.Context, vessel string) (s controller.State, run int64, err error) {
	err = q.do(ctx, func(f *file) error {
		return f.each(`SELECT state, coalesce(`+f.column("run")+`, 0) FROM states WHERE vessel = ?`, []any{vessel}, func(scan scan) error {
			var text string
			if err := scan(&text, &run); err != nil {
				return err
			}
			return wrapIf("the state", strictly(text, &s))
		})
	})
	return s, run, err
}

// steps reads the packs of a question, some at a time.
func (q questions) steps(ctx context.Context, where string, args ...any) iter.Seq2[Telemetry, error] {
	return func(yield func(Telemetry, error) bool) {
		for after := int64(0); ; {
			packs, err := q.packs(ctx, where, append(slices.Clip(args), after, packsAtOnce)...)
			if err != nil {
				yield(Telemetry{}, err)
				return
			}
			if len(packs) == 0 {
				return
			}
			for i := range packs {
				after = packs[i].id
				if !packs[i].steps(yield) {
					return
				}
			}
		}
	}
}

func (q questions) packs(ctx context.Context, where string, args ...any) ([]pack, error) {
	var packs []pack
	err := q.do(ctx, func(f *file) error {
		query := `SELECT id, run, vessel, batch, wall, pack, coalesce(` + f.column("every") + `, 0), ` + f.column("state_sum") +
			` FROM telemetry WHERE ` + where + ` AND id > ? ORDER BY id LIMIT ?`
		return f.each(query, args, func(scan scan) error {
			var p pack
			var at, every int64
			if err := scan(&p.id, &p.run, &p.vessel, &p.batch, &at, &p.bytes, &every, &p.sum); err != nil {
				return err
			}
			p.first, p.every = wall(at), time.Duration(every)*time.Millisecond
			packs = append(packs, p)
			return nil
		})
	})
	return packs, err
}

func (p *pack) steps(yield func(Telemetry, error) bool) bool {
	steps, err := Unpack(p.bytes)
	if err != nil {
		return yield(Telemetry{Run: p.run, Vessel: p.vessel, Batch: p.batch}, fmt.Errorf("%w: %w", ErrDamaged, err))
	}
	for i := range steps {
		t := steps[i]
		t.Run, t.Vessel, t.Batch, t.Every = p.run, p.vessel, p.batch, p.every
		t.At = p.first.Add(t.Counted - steps[0].Counted)
		if i == len(steps)-1 {
			t.Sum = p.sum
		}
		if !yield(t, nil) {
			return false
		}
	}
	return true
}
