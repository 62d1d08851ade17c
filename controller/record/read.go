package record

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
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

// Started is what a step began with, as it is read back.
type Started struct {
	Run     int64
	Batch   string // that runs after the step; empty = none
	Name    string // of the vessel
	At      time.Time
	Synced  bool
	Counted time.Duration // at the step
	Begin
	Err error // the state or the wiring is not understood: it is of another program
}

// Run is one life of the program as it is read back.
type Run struct {
	ID      int64
	Boot    string // of the board; empty = not known
	At      time.Time
	Synced  bool
	Mono    time.Duration // since the boot, when it began
	Version string        // of the program
	Ended   time.Time     // zero = it runs, or it was cut
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

// column names one that a file of the first version does not have.
func (f *file) column(name string) string {
	if f.version < 2 {
		return "NULL"
	}
	return name
}

// scan reads the columns of one row.
type scan func(to ...any) error

// each runs a question and hands over every row of the answer.
func (f *file) each(query string, args []any, row func(scan) error) error {
	rows, err := f.db.QueryContext(context.Background(), query, args...)
	if err != nil {
		return err
	}
	return scanned(rows, row)
}

func scanned(rows *sql.Rows, row func(scan) error) (err error) {
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
	return q.events(ctx, `batch IS ?`, orNull(batch))
}

// Forecasts lists what was foreseen in a batch, in order: each is an event whose
// Forecasts can be held against what came.
func (q questions) Forecasts(ctx context.Context, batch string) ([]Event, error) {
	return q.events(ctx, `batch IS ? AND kind = ?`, orNull(batch), string(controller.ForecastMade))
}

func (q questions) events(ctx context.Context, where string, args ...any) ([]Event, error) {
	var list []Event
	query := `SELECT run, coalesce(batch, ''), vessel, wall, synced, counted, event FROM events WHERE ` + where + ` ORDER BY id`
	err := q.do(ctx, func(f *file) error {
		return f.each(query, args, func(scan scan) error {
			var e Event
			var at, counted int64
			var text []byte
			if err := scan(&e.Run, &e.Batch, &e.Vessel, &at, &e.Synced, &counted, &text); err != nil {
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
		return f.each(`SELECT id, boot, wall, mono, synced, version, coalesce(`+f.column("ended")+`, 0) FROM runs ORDER BY id`, nil, func(scan scan) error {
			var r Run
			var at, mono, ended int64
			err := scan(&r.ID, &r.Boot, &at, &mono, &r.Synced, &r.Version, &ended)
			r.At, r.Mono = wall(at), time.Duration(mono)*time.Millisecond
			if ended != 0 {
				r.Ended = wall(ended)
			}
			list = append(list, r)
			return err
		})
	})
	return list, err
}

// Orders lists what people asked of a batch, in order. An empty batch asks for
// the orders while none ran.
func (q questions) Orders(ctx context.Context, batch string) ([]Order, error) {
	return q.orders(ctx, `batch IS ?`, orNull(batch))
}

func (q questions) orders(ctx context.Context, where string, args ...any) ([]Order, error) {
	var list []Order
	err := q.do(ctx, func(f *file) error {
		query := `SELECT run, coalesce(batch, ''), vessel, wall, synced, counted, asked, words, taken, text, ` + f.column("schedule") + ` FROM orders WHERE ` + where + ` ORDER BY id`
		return f.each(query, args, func(scan scan) error {
			var o Order
			var at, counted int64
			var asked, schedule []byte
			if err := scan(&o.Run, &o.Batch, &o.Vessel, &at, &o.Synced, &counted, &asked, &o.Words, &o.Taken, &o.Text, &schedule); err != nil {
				return err
			}
			o.At, o.Counted = wall(at), time.Duration(counted)*time.Millisecond
			err := json.Unmarshal(asked, &o.Order)
			if len(schedule) > 0 {
				err = errors.Join(err, json.Unmarshal(schedule, &o.Order.Do.Schedule))
			}
			list = append(list, o)
			return err
		})
	})
	return list, err
}

func orNull(s string) any {
	if s == "" {
		return nil
	}
	return s
}
