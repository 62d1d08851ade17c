package record

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"example.org/restpoint/controller"
)

// Restored is what the last run left behind.
type Restored struct {
	Vessels    map[string]Saved // each vessel of which there is a state or a running batch
	Plant      controller.PlantState
	PlantErr   error  // the plant's state was not understood: Plant is empty
	MovedAside string // where a broken file was moved to; empty = it was not
}

// Saved is one vessel as the last run left it.
type Saved struct {
	State    controller.State
	StateErr error      // it is missing or not understood: State is empty
	Batch    *BatchInfo // the running one, with its schedule; nil = none
	Outage   controller.Outage
}

// errMissing is a running batch without a state.
var errMissing = errors.New("the state is missing")

// begin opens the file, reads what the last run left, and makes it ready to be
// written. Only what keeps it from being read is an error.
func (r *Record) begin() (Restored, error) {
	restored, err := r.read()
	if errors.Is(err, errBroken) {
		why := err
		aside, err := moveAside(r.opt.Path, r.born.wall)
		if err != nil {
			return Restored{}, errors.Join(why, err)
		}
		r.opt.Log.Error("the record is broken: it was moved aside and a new one is begun", "aside", aside, "error", why)
		restored, err = r.read()
		restored.MovedAside = aside
		if err != nil {
			return Restored{}, err
		}
	} else if err != nil {
		return Restored{}, err
	}
	if r.file == nil { // it can be read, and not be written
		r.tell(nil, r.failing)
		return restored, nil
	}
	if err := r.file.prepare(r.opt.Path); err != nil {
		r.failing = errors.Join(fmt.Errorf("open the record %s: %w", r.opt.Path, err), r.shut())
		r.tell(nil, r.failing)
		return restored, nil
	}
	return restored, nil
}

func (r *Record) read() (Restored, error) {
	f, err := openFile(r.opt.Path, true)
	if err != nil && noIndex(err) {
		r.failing = err
		f, err = openReader(r.opt.Path, true)
	}
	if err != nil {
		return Restored{}, err
	}
	restored := Restored{Vessels: map[string]Saved{}}
	if f.version > 0 {
		if err = f.restore(&restored, r.born); err != nil {
			return Restored{}, errors.Join(wrap("read the record", err), f.db.Close())
		}
	}
	if r.file = f; r.failing != nil {
		if err := r.shut(); err != nil {
			return Restored{}, err
		}
	}
	r.running = map[string]BatchInfo{}
	for vessel, s := range restored.Vessels {
		if s.Batch != nil {
			r.running[vessel] = *s.Batch
		}
	}
	return restored, nil
}

func (f *file) restore(to *Restored, now moment) error {
	batches, err := f.batches(true)
	if err != nil {
		return err
	}
	for i := range batches {
		to.Vessels[batches[i].Vessel] = Saved{Batch: &batches[i], StateErr: errMissing}
	}
	err = f.each(`SELECT vessel, state, boot, wall, mono, synced FROM states`, nil, func(scan scan) error {
		var vessel, state string
		var from moment
		var at, mono int64
		if err := scan(&vessel, &state, &from.boot, &at, &mono, &from.synced); err != nil {
			return err
		}
		from.wall, from.mono = wall(at), time.Duration(mono)*time.Millisecond
		s := to.Vessels[vessel]
		s.State, s.StateErr = understand(state, s.Batch)
		s.Outage = outage(from, now)
		to.Vessels[vessel] = s
		return nil
	})
	if err != nil {
		return err
	}
	to.Plant, to.PlantErr, err = f.plant()
	return err
}

// understand reads a state to the letter: an unknown field is of another program,
// and a state of another batch than the one that runs is no state of it.
func understand(text string, batch *BatchInfo) (controller.State, error) {
	var s controller.State
	if err := strictly(text, &s); err != nil {
		return controller.State{}, fmt.Errorf("the state is not understood: %w", err)
	}
	if s.Version != controller.StateVersion {
		return controller.State{}, fmt.Errorf("the state has version %d, this program knows %d", s.Version, controller.StateVersion)
	}
	if batch != nil && (s.Mode != controller.InBatch || s.Batch.ID != batch.ID) {
		return controller.State{}, fmt.Errorf("the state is of mode %s and batch %q, but batch %q runs", s.Mode, s.Batch.ID, batch.ID)
	}
	return s, nil
}

func (f *file) plant() (controller.PlantState, error, error) {
	var text string
	err := f.db.QueryRowContext(context.Background(), `SELECT state FROM plant`).Scan(&text)
	if errors.Is(err, sql.ErrNoRows) {
		return controller.PlantState{}, nil, nil
	}
	if err != nil {
		return controller.PlantState{}, nil, err
	}
	var s controller.PlantState
	if err := strictly(text, &s); err != nil {
		return controller.PlantState{}, fmt.Errorf("the state of the shared plant is not understood: %w", err), nil
	}
	if s.Version != 0 && s.Version != controller.StateVersion { // 0: nothing is shared
		return controller.PlantState{}, fmt.Errorf("the state of the shared plant has version %d, this program knows %d", s.Version, controller.StateVersion), nil
	}
	return s, nil, nil
}

func strictly(text string, to any) error {
	d := json.NewDecoder(bytes.NewReader([]byte(text)))
	d.DisallowUnknownFields()
	if err := d.Decode(to); err != nil {
		return err
	}
	if d.More() {
		return errors.New("more than one value")
	}
	return nil
}
