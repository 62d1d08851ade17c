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

// do runs a question in the goroutine that owns the file.
func (r *Record) do(ctx context.Context, question func(*file) error) error {
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
func (r *Record) Batches(ctx context.Context) ([]BatchInfo, error) {
	var list []BatchInfo
	err := r.do(ctx, func(f *file) (err error) {
		list, err = f.batches(`ORDER BY started, id`)
		return err
	})
	return list, err
}

func (f *file) batches(which string) ([]BatchInfo, error) {
	rows, err := f.db.Query(`SELECT id, vessel, name, schedule, original, final, final_sd, volume, site, who, started, coalesce(ended, 0) FROM batches ` + which)
	if err != nil {
		return nil, err
	}
	var list []BatchInfo
	for rows.Next() {
		var b BatchInfo
		var original, final, sd, volume float64
		var started, ended int64
		if err := rows.Scan(&b.ID, &b.Vessel, &b.Name, &b.Schedule, &original, &final, &sd, &volume, &b.Site, &b.Who, &started, &ended); err != nil {
			return nil, errors.Join(err, rows.Close())
		}
		b.Original, b.Final, b.FinalSD, b.Volume = units.Gravity(original), units.Gravity(final), units.Points(sd), units.Litres(volume)
		b.Started = wall(started)
		if ended != 0 {
			b.Ended = wall(ended)
		}
		list = append(list, b)
	}
	return list, errors.Join(rows.Err(), rows.Close())
}

// Events lists what happened in a batch, in order. An empty batch asks for what
// happened while none ran.
func (r *Record) Events(ctx context.Context, batch string) ([]Event, error) {
	var list []Event
	err := r.do(ctx, func(f *file) error {
		rows, err := f.db.Query(`SELECT run, vessel, wall, synced, counted, event FROM events WHERE batch IS ? ORDER BY id`, orNull(batch))
		if err != nil {
			return err
		}
		for rows.Next() {
			e := Event{Batch: batch}
			var at, counted int64
			var text string
			if err := rows.Scan(&e.Run, &e.Vessel, &at, &e.Synced, &counted, &text); err != nil {
				return errors.Join(err, rows.Close())
			}
			if err := json.Unmarshal([]byte(text), &e.Event); err != nil {
				return errors.Join(err, rows.Close())
			}
			e.At, e.Counted = wall(at), time.Duration(counted)*time.Millisecond
			list = append(list, e)
		}
		return errors.Join(rows.Err(), rows.Close())
	})
	return list, err
}

// Orders lists what people asked of a batch, in order. An empty batch asks for
// the orders while none ran.
func (r *Record) Orders(ctx context.Context, batch string) ([]Order, error) {
	var list []Order
	err := r.do(ctx, func(f *file) error {
		rows, err := f.db.Query(`SELECT run, vessel, wall, synced, counted, asked, words, taken, text FROM orders WHERE batch IS ? ORDER BY id`, orNull(batch))
		if err != nil {
			return err
		}
		for rows.Next() {
			o := Order{Batch: batch}
			var at, counted int64
			var asked string
			if err := rows.Scan(&o.Run, &o.Vessel, &at, &o.Synced, &counted, &asked, &o.Words, &o.Taken, &o.Text); err != nil {
				return errors.Join(err, rows.Close())
			}
			if err := json.Unmarshal([]byte(asked), &o.Order); err != nil {
				return errors.Join(err, rows.Close())
			}
			o.At, o.Counted = wall(at), time.Duration(counted)*time.Millisecond
			list = append(list, o)
		}
		return errors.Join(rows.Err(), rows.Close())
	})
	return list, err
}

// packsAtOnce is how many packs are read in one go: commits wait no longer.
const packsAtOnce = 32

// Telemetry reads the steps of a batch in order, as far as they are flushed. It
// unpacks in the caller's goroutine. A pack that is damaged gives its error, and
// the reading goes on behind it.
func (r *Record) Telemetry(ctx context.Context, batch string) iter.Seq2[Telemetry, error] {
	type pack struct {
		id     int64
		vessel string
		at     int64
		bytes  []byte
	}
	return func(yield func(Telemetry, error) bool) {
		for after := int64(0); ; {
			var packs []pack
			err := r.do(ctx, func(f *file) error {
				rows, err := f.db.Query(`SELECT id, vessel, wall, pack FROM telemetry WHERE batch = ? AND id > ? ORDER BY id LIMIT ?`, batch, after, packsAtOnce)
				if err != nil {
					return err
				}
				for rows.Next() {
					var p pack
					if err := rows.Scan(&p.id, &p.vessel, &p.at, &p.bytes); err != nil {
						return errors.Join(err, rows.Close())
					}
					packs = append(packs, p)
				}
				return errors.Join(rows.Err(), rows.Close())
			})
			if err != nil {
				yield(Telemetry{}, err)
				return
			}
			if len(packs) == 0 {
				return
			}
			for _, p := range packs {
				after = p.id
				if !yieldPack(batch, p.vessel, wall(p.at), p.bytes, yield) {
					return
				}
			}
		}
	}
}

func yieldPack(batch, vessel string, first time.Time, pack []byte, yield func(Telemetry, error) bool) bool {
	steps, err := Unpack(pack)
	if err != nil {
		return yield(Telemetry{}, err)
	}
	for i := range steps {
		t := steps[i]
		t.Vessel, t.Batch, t.At = vessel, batch, first.Add(t.Counted-steps[0].Counted)
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
