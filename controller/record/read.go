package record

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
)

// Event is a line of the record as it is read back.
type Event struct {
	Run     int64
	Batch   string
	Vessel  string
	At      time.Time
	Synced  bool // the clock of At could be believed
	Counted time.Duration
	Event   controller.Event
}

// Order is an order as it is read back. The schedule that it may have carried is
// not in it: its text is in the batch.
type Order struct {
	Run     int64
	Batch   string
	Vessel  string
	At      time.Time
	Synced  bool
	Counted time.Duration
	Order   controller.Order
	Words   string
	Taken   bool
	Text    string // of the answer
}

// Run is one life of the program as it is read back.
type Run struct {
	ID      int64
	Boot    string // of the board; empty = not known
	At      time.Time
	Synced  bool
	Mono    time.Duration // since the boot, when it began
	Version string        // of the program
}

// questions are what may be asked of a file, by whatever way they reach it.
type questions struct {
	do func(ctx context.Context, question func(*file) error) error
}

// ask runs a question in the goroutine that owns the file.
func (r *Record) ask(ctx context.Context, question func(*file) error) error {
	done := make(chan error, 1)
	ask := func(f *file) {
		if f == nil {
			done <- errors.Join(errors.New("the record is not open"), r.Failing())
			return
		}
		done <- question(f)
	}
	select {
	case r.asks <- ask:
	case <-r.ended:
		return errors.New("read the record: it is closed")
	case <-ctx.Done():
		return fmt.Errorf("read the record: %w", ctx.Err())
	}
	return wrapIf("read the record", <-done)
}

func wrapIf(tried string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("%s: %w", tried, err)
}

// Batches lists every batch, the oldest first.
func (q questions) Batches(ctx context.Context) ([]BatchInfo, error) {
	var list []BatchInfo
	err := q.do(ctx, func(f *file) (err error) {
		list, err = f.batches(false)
		return err
	})
	return list, err
}

// batches lists all, or those that run; the oldest first.
func (f *file) batches(onlyRunning bool) ([]BatchInfo, error) {
	var list []BatchInfo
	err := f.each(`SELECT id, vessel, name, schedule, original, final, final_sd, volume, site, who, started, coalesce(ended, 0)
		FROM batches WHERE ended IS NULL OR NOT ? ORDER BY started, rowid`, []any{onlyRunning}, func(scan scan) error {
		var b BatchInfo
		var original, final, sd, volume float64
		var started, ended int64
		if err := scan(&b.ID, &b.Vessel, &b.Name, &b.Schedule, &original, &final, &sd, &volume, &b.Site, &b.Who, &started, &ended); err != nil {
			return err
		}
		b.Original, b.Final, b.FinalSD, b.Volume = units.Gravity(original), units.Gravity(final), units.Points(sd), units.Litres(volume)
		b.Started = wall(started)
		if ended != 0 {
			b.Ended = wall(ended)
		}
		list = append(list, b)
		return nil
	})
	return list, err
}

// scan reads the columns of one row.
type scan func(to ...any) error

// each runs a question and hands over every row of the answer.
func (f *file) each(query string, args []any, row func(scan) error) (err error) {
	rows, err := f.db.QueryContext(context.Background(), query, args...)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rows.Err(), rows.Close()) }()
	for rows.Next() {
		if err := row(rows.Scan); err != nil {
			return err
		}
	}
	return nil
}

// Events lists what happened in a batch, in order. An empty batch asks for what
// happened while none ran.
func (q questions) Events(ctx context.Context, batch string) ([]Event, error) {
	return q.events(ctx, batch, `SELECT run, vessel, wall, synced, counted, event FROM events WHERE batch IS ? ORDER BY id`)
}

// Forecasts lists what was foreseen in a batch, in order: each is an event whose
// Forecasts can be held against what came.
func (q questions) Forecasts(ctx context.Context, batch string) ([]Event, error) {
	return q.events(ctx, batch, `SELECT run, vessel, wall, synced, counted, event FROM events WHERE batch IS ? AND kind = '`+string(controller.ForecastMade)+`' ORDER BY id`)
}

func (q questions) events(ctx context.Context, batch, query string) ([]Event, error) {
	var list []Event
	err := q.do(ctx, func(f *file) error {
		return f.each(query, []any{orNull(batch)}, func(scan scan) error {
			e := Event{Batch: batch}
			var at, counted int64
			var text []byte
			if err := scan(&e.Run, &e.Vessel, &at, &e.Synced, &counted, &text); err != nil {
				return err
			}
			e.At, e.Counted = wall(at), time.Duration(counted)*time.Millisecond
			err := json.Unmarshal(text, &e.Event)
			list = append(list, e)
			return err
		})
	})
	return list, err
}

// Runs lists every life of the program, the oldest first.
func (q questions) Runs(ctx context.Context) ([]Run, error) {
	var list []Run
	err := q.do(ctx, func(f *file) error {
		return f.each(`SELECT id, boot, wall, mono, synced, version FROM runs ORDER BY id`, nil, func(scan scan) error {
			var r Run
			var at, mono int64
			err := scan(&r.ID, &r.Boot, &at, &mono, &r.Synced, &r.Version)
			r.At, r.Mono = wall(at), time.Duration(mono)*time.Millisecond
			list = append(list, r)
			return err
		})
	})
	return list, err
}

// Orders lists what people asked of a batch, in order. An empty batch asks for
// the orders while none ran.
func (q questions) Orders(ctx context.Context, batch string) ([]Order, error) {
	var list []Order
	const query = `SELECT run, vessel, wall, synced, counted, asked, words, taken, text FROM orders WHERE batch IS ? ORDER BY id`
	err := q.do(ctx, func(f *file) error {
		return f.each(query, []any{orNull(batch)}, func(scan scan) error {
			o := Order{Batch: batch}
			var at, counted int64
			var asked []byte
			if err := scan(&o.Run, &o.Vessel, &at, &o.Synced, &counted, &asked, &o.Words, &o.Taken, &o.Text); err != nil {
				return err
			}
			o.At, o.Counted = wall(at), time.Duration(counted)*time.Millisecond
			err := json.Unmarshal(asked, &o.Order)
			list = append(list, o)
			return err
		})
	})
	return list, err
}

// packsAtOnce is how many packs are read in one go: commits wait no longer.
const packsAtOnce = 32

// pack is one row of telemetry.
type pack struct {
	id     int64
	vessel string
	run    int64
	first  time.Time
	bytes  []byte
}

// Telemetry reads the steps of a batch in order, as far as they are flushed. It
// unpacks in the caller's goroutine. A pack that is damaged gives its error, and
// the reading goes on behind it.
func (q questions) Telemetry(ctx context.Context, batch string) iter.Seq2[Telemetry, error] {
	return func(yield func(Telemetry, error) bool) {
		for after := int64(0); ; {
			packs, err := q.packs(ctx, batch, after)
			if err != nil {
				yield(Telemetry{}, err)
				return
			}
			if len(packs) == 0 {
				return
			}
			for _, p := range packs {
				after = p.id
				if !p.steps(batch, yield) {
					return
				}
			}
		}
	}
}

func (q questions) packs(ctx context.Context, batch string, after int64) ([]pack, error) {
	var packs []pack
	const query = `SELECT id, run, vessel, wall, pack FROM telemetry WHERE batch = ? AND id > ? ORDER BY id LIMIT ?`
	err := q.do(ctx, func(f *file) error {
		return f.each(query, []any{batch, after, packsAtOnce}, func(scan scan) error {
			var p pack
			var at int64
			if err := scan(&p.id, &p.run, &p.vessel, &at, &p.bytes); err != nil {
				return err
			}
			p.first = wall(at)
			packs = append(packs, p)
			return nil
		})
	})
	return packs, err
}

func (p *pack) steps(batch string, yield func(Telemetry, error) bool) bool {
	steps, err := Unpack(p.bytes)
	if err != nil {
		return yield(Telemetry{Run: p.run, Vessel: p.vessel, Batch: batch, At: p.first}, err)
	}
	for i := range steps {
		t := steps[i]
		t.Run, t.Vessel, t.Batch, t.At = p.run, p.vessel, batch, p.first.Add(t.Counted-steps[0].Counted)
		if !yield(t, nil) {
			return false
		}
	}
	return true
}

func orNull(s string) any {
	if s == "" {
		return nil
	}
	return s
}
