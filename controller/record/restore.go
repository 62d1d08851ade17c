package record

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"example.org/restpoint/controller"
)

// Restored is what the last run left behind.
type Restored struct {
	Vessels    map[string]Saved // each vessel of which there is a state or a running batch
	Plant      controller.PlantState
	PlantErr   error  // the plant's state was not understood: Plant is empty
	MovedAside string // where a broken file was moved to; empty = it was not
	Unread     error  // why nothing could be read: whether batches ran is not known
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
// written. Only what a person must put right first is an error.
func (r *Record) begin() (Restored, error) {
	restored, err := r.read()
	switch {
	case errors.Is(err, errNewer):
		return r.blind(err), nil
	case errors.Is(err, errBroken):
		why := err
		aside, err := moveAside(r.opt.Path, r.born.wall)
		if err != nil {
			return r.blind(errors.Join(why, err)), nil
		}
		r.opt.Log.Error("the record is broken: it was moved aside and a new one is begun", "aside", aside, "error", why)
		if restored, err = r.read(); err != nil {
			restored = r.blind(err)
		}
		restored.MovedAside = aside
	case errors.Is(err, errRefused), errors.Is(err, os.ErrPermission):
		return Restored{}, err
	case err != nil:
		return r.blind(err), nil
	}
	if r.file == nil { // it can be read, and not be written, or neither
		r.tell(nil, r.failing)
		return restored, nil
	}
	if err := r.file.prepare(r.opt.Path); err != nil {
		r.failing = errors.Join(fmt.Errorf("open the record %s: %w", r.opt.Path, err), r.shut())
		r.tell(nil, r.failing)
	}
	return restored, nil
}

// blind begins without what the file may hold. Should it be readable later, it is
// moved aside like a broken one: what it knows of its vessels must not be written
// over by a program that knew nothing of it.
func (r *Record) blind(why error) Restored {
	r.failing, r.unread = why, true
	r.running = map[string]BatchInfo{}
	r.tell(nil, why)
	return Restored{Unread: why}
}

// read reads what the last run left. Where the file cannot be written it is read all
// the same, and left closed; where there is none yet, and none can be made, there is
// nothing to read.
func (r *Record) read() (Restored, error) {
	if r.absent != nil {
		return Restored{}, r.absent
	}
	f, err := openFile(r.opt.Path, true)
	if err != nil && noIndex(err) {
		r.failing = err
		switch readErr := readable(r.opt.Path); {
		case errors.Is(readErr, os.ErrNotExist):
			f, err = nil, nil
		case readErr != nil:
			return Restored{}, errors.Join(err, readErr)
		default:
			f, err = openReader(r.opt.Path, true)
		}
	}
	if err != nil {
		return Restored{}, err
	}
	restored := Restored{Vessels: map[string]Saved{}}
	if f != nil && f.version > 0 {
		if err = f.restore(&restored, r.born); err != nil {
			err = wrap("read the record", err)
			if e, ok := errors.AsType[*sqlite.Error](err); ok && e.Code()&0xff == sqlite3.SQLITE_ERROR {
				err = fmt.Errorf("%w: its tables are not as they were made: %w", errBroken, err)
			}
			return Restored{}, errors.Join(err, f.db.Close())
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

func readable(path string) error {
	in, err := os.Open(path)
	if err != nil {
		return err
	}
	return in.Close()
}

func (f *file) restore(to *Restored, now moment) error {
	batches, err := f.batches(true)
	if err != nil {
		return err
	}
	for i := range batches {
		to.Vessels[batches[i].Vessel] = Saved{Batch: &batches[i], StateErr: errMissing}
	}
	damaged, err := f.damaged(batches)
	if err != nil {
		return err
	}
	err = f.each(`SELECT vessel, state, boot, wall, mono, synced, `+f.column("sum")+` FROM states`, nil, func(scan scan) error {
		var vessel, state string
		var from moment
		var at, mono int64
		var sum []byte
		if err := scan(&vessel, &state, &from.boot, &at, &mono, &from.synced, &sum); err != nil {
			return err
		}
		from.wall, from.mono = wall(at), time.Duration(mono)*time.Millisecond
		s := to.Vessels[vessel]
		switch is := sumOf([]byte(state)); {
		case len(sum) > 0 && !bytes.Equal(sum, is[:]):
			s.State, s.StateErr = controller.State{}, errors.New("the state is damaged: it is not as it was stored")
		case damaged[vessel]:
			s.State, s.StateErr = controller.State{}, errors.New("what the batch was started with is damaged: it is not as it was stored")
		default:
			s.State, s.StateErr = understand(state, s.Batch)
		}
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

// damaged tells in which vessels a batch runs that is not as it was stored. A card
// that forgets a bit must not turn 18 C into 28 C.
func (f *file) damaged(running []BatchInfo) (map[string]bool, error) {
	found := map[string]bool{}
	err := f.each(`SELECT id, `+f.column("sum")+` FROM batches WHERE ended IS NULL`, nil, func(scan scan) error {
		var id string
		var sum []byte
		if err := scan(&id, &sum); err != nil {
			return err
		}
		for i := range running {
			is := running[i].sum()
			if b := &running[i]; b.ID == id && len(sum) > 0 && !bytes.Equal(sum, is[:]) {
				found[b.Vessel] = true
			}
		}
		return nil
	})
	return found, err
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
