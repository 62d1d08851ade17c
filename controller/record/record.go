package record

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"sync"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
)

// DefaultFlush is the time between two writes when nothing happens. A power cut
// loses at most so much of the readings, and no decision.
const DefaultFlush = 5 * time.Minute

// Options say where the record is and by which clocks it labels.
type Options struct {
	Path         string
	Flush        time.Duration        // 0 = DefaultFlush
	Now          func() time.Time     // wall clock; nil = time.Now
	BootID       string               // of this boot of the board; empty = not known
	Monotonic    func() time.Duration // since the boot, the same for all processes; nil = not known
	Synchronised func() bool          // whether the wall clock can be believed; nil = never
	Log          *slog.Logger         // nil = none
	Version      string               // of the program
}

// BatchInfo is a batch as it was started, and how it ended.
type BatchInfo struct {
	ID       string
	Vessel   string
	Name     string // of the schedule
	Schedule string // its full text
	Original units.Gravity
	Final    units.Gravity // as the brewer expects it
	FinalSD  units.Points
	Volume   units.Litres
	Site     string // the vessel's section of the site file
	Who      string
	Started  time.Time // zero when it is handed over = now
	Ended    time.Time // zero = it runs
}

// Asked is an order with its words and its answer.
type Asked struct {
	Order  controller.Order
	Words  string // as it was asked
	Answer controller.Answer
}

// Entry is what one step of one vessel leaves in the record.
type Entry struct {
	Vessel  string
	State   controller.State
	Counted time.Duration // by this run of the program
	Events  []controller.Event
	Orders  []Asked
	Batch   *BatchInfo // of a batch that starts with this step, or whose schedule changed
	Begin   *Begin     // of the first step of a run, and of one with which a batch starts
	// Decision is what the step believed and decided: one is stored every few minutes,
	// and with everything that happened. nil = none is stored.
	Decision *controller.Decision
}

// Begin is what a step began with. From it, with the inputs of the steps since,
// every decision can be taken again.
type Begin struct {
	State  controller.State  // before the step
	Vessel controller.Vessel // before the step, with its running schedule
	Site   string            // the vessel's section of the site file
}

// Record is the open record.
type Record struct {
	questions

	opt     Options
	release func() error // of the lock
	asks    chan func(*file)
	wake    chan struct{} // holds one
	stop    chan struct{}
	ended   chan struct{}
	closing sync.Once
	closed  error // set before ended is closed

	mu      sync.Mutex
	pending pending
	failing error

	// Of the goroutine alone.
	file    *file
	run     int64 // row of this run; 0 = not written yet
	dated   bool  // the clock could be believed once: what was labelled before is put right
	unread  bool  // what the file holds was not read: it is never written to
	absent  error // there was no folder at the start, and there is none yet
	born    moment
	running map[string]BatchInfo // by vessel
}

// Open opens or begins the record, takes its lock and starts its goroutine. A
// broken file is moved aside and a new one is begun. A disk that cannot be written,
// or not even read, or a folder that is not there (yet), is no error: beer cannot wait
// for a card. Failing then says why, and all is kept in memory. An error is what a
// person must put right first: a file of somebody else, one that is in use, or that
// this user may not touch.
func Open(ctx context.Context, opt Options) (*Record, Restored, error) {
	if opt.Flush <= 0 {
		opt.Flush = DefaultFlush
	}
	if opt.Now == nil {
		opt.Now = time.Now
	}
	if opt.Log == nil {
		opt.Log = slog.New(slog.DiscardHandler)
	}
	if err := ctx.Err(); err != nil {
		return nil, Restored{}, fmt.Errorf("open the record %s: %w", opt.Path, err)
	}
	folder := filepath.Dir(opt.Path)
	var absent error
	switch info, err := os.Stat(folder); {
	case errors.Is(err, os.ErrNotExist):
		absent = fmt.Errorf("open the record %s: its folder: %w", opt.Path, err)
	case err != nil:
		return nil, Restored{}, fmt.Errorf("open the record %s: its folder: %w", opt.Path, err)
	case !info.IsDir():
		return nil, Restored{}, fmt.Errorf("open the record %s: %s is not a folder", opt.Path, folder)
	}
	if info, err := os.Stat(opt.Path); err == nil && !info.Mode().IsRegular() {
		return nil, Restored{}, fmt.Errorf("open the record %s: it is not a file", opt.Path)
	}
	release := func() error { return nil }
	if absent == nil {
		var err error
		if release, err = lock(opt.Path); err != nil {
			return nil, Restored{}, err
		}
	}
	r := &Record{
		opt: opt, release: release, absent: absent, born: opt.moment(),
		asks: make(chan func(*file)), wake: make(chan struct{}, 1),
		stop: make(chan struct{}), ended: make(chan struct{}),
		pending: pending{bounds: bounds{telemetry: mostTelemetry, events: mostEvents}},
	}
	r.questions = questions{do: r.ask}
	type opened struct {
		Restored
		error
	}
	began := make(chan opened, 1)
	go func() {
		defer close(r.ended)
		restored, err := r.begin()
		if err != nil {
			err = errors.Join(err, r.release())
		}
		began <- opened{restored, err}
		if err == nil {
			r.work()
		}
	}()
	select {
	case o := <-began:
		if o.error != nil {
			<-r.ended
			return nil, Restored{}, o.error
		}
		return r, o.Restored, nil
	case <-ctx.Done(): // a disk that hangs: the goroutine ends as soon as it lets it
		close(r.stop)
		return nil, Restored{}, fmt.Errorf("open the record %s: %w", opt.Path, ctx.Err())
	}
}

// Commit stores the entries, the plant and all that is buffered in one
// transaction. It is durable when nil is returned. Commit waits no longer than
// ctx allows; what was not written by then, or failed, is kept and written
// later, in order.
func (r *Record) Commit(ctx context.Context, entries []Entry, plant controller.PlantState) error {
	done := make(chan error, 1)
	r.keep(entries, plant, done)
	select {
	case r.wake <- struct{}{}:
	default: // it is awake
	}
	select {
	case err := <-done:
		return err
	case <-r.ended:
		select {
		case err := <-done:
			return err
		default:
			return errors.New("store a step: the record is closed")
		}
	case <-ctx.Done():
		return fmt.Errorf("store a step: %w: it will be stored later", ctx.Err())
	}
}

// Keep takes the newest states, with whatever happened, to be written with the
// next flush. It never waits for the disk.
func (r *Record) Keep(entries []Entry, plant controller.PlantState) { r.keep(entries, plant, nil) }

func (r *Record) keep(entries []Entry, plant controller.PlantState, done chan error) {
	at := r.opt.moment()
	r.mu.Lock()
	defer r.mu.Unlock()
	r.pending.keep(at, entries, plant)
	if done != nil {
		r.pending.waiting = append(r.pending.waiting, done)
	}
}

// Note takes the telemetry of one step. It never waits for the disk: when there
// is too much that could not be written, the oldest telemetry is dropped and
// counted, never an event.
func (r *Record) Note(t Telemetry) {
	at := r.opt.moment()
	r.mu.Lock()
	defer r.mu.Unlock()
	r.pending.note(at, &t)
}

// Failing is why the last write failed; nil = the record is written.
func (r *Record) Failing() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.failing
}

// Dropped is what was lost since the program started because it could not be
// written for too long: steps of telemetry, and events and orders.
func (r *Record) Dropped() (steps, events int64) {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.pending.droppedSteps, r.pending.droppedEvents
}

// Close writes what is left, ends the goroutine and lets go of the lock. When ctx
// ends first, the goroutine still does so as soon as the disk lets it.
func (r *Record) Close(ctx context.Context) error {
	r.closing.Do(func() { close(r.stop) })
	select {
	case <-r.ended:
		return r.closed
	case <-ctx.Done():
		return fmt.Errorf("close the record: %w", ctx.Err())
	}
}

// work is the goroutine's life.
func (r *Record) work() {
	tick := time.NewTicker(r.opt.Flush)
	defer tick.Stop()
	for {
		select {
		case <-r.wake:
			_ = r.flush() // Failing says why
			tick.Reset(r.opt.Flush)
		case <-tick.C:
			if r.flush() == nil { // a piece at a time: what waits, waits no longer than it takes
				r.tidy()
			}
		case ask := <-r.asks:
			ask(r.file)
		case <-r.stop:
			r.closed = errors.Join(r.flush(), r.finish(), r.shut(), r.release())
			return
		}
	}
}

// tidy thins a piece of what is old. What goes wrong is told, and tried again.
func (r *Record) tidy() {
	if err := r.thin(); err != nil {
		r.opt.Log.Error("old readings could not be thinned", "path", r.opt.Path, "error", err)
	}
}

func (r *Record) shut() error {
	if r.file == nil {
		return nil
	}
	err := wrap("close the record", r.file.db.Close())
	r.file = nil
	return err
}
