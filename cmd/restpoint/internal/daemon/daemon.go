// Package daemon is the only owner of time and goroutines: one loop that owns the
// state of every vessel, takes readings, orders and ticks from channels, and does
// what the core decided in a fixed order.
//
//	1 relays that go OFF   2 the record, with its deadline   3 relays that go ON
//	4 publish the snapshot  5 tell what happened  6 feed the watchdog
//
// It decides nothing itself. Outputs are OFF on every way out.
package daemon

import (
	"context"
	"log/slog"
	"sync/atomic"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/gravity"
	"example.org/restpoint/controller/record"
	"example.org/restpoint/controller/relay"
	"example.org/restpoint/profiles"
)

// Board is what the loop needs of the relays.
type Board interface {
	Lower(want relay.Levels) error // switches off what is to be off
	Raise(want relay.Levels) error // switches on what is to be on
	Actual() relay.Levels          // as really driven; what is not known counts as on
	Off() error
}

// Recorder is what the loop needs of the batch record.
type Recorder interface {
	Commit(ctx context.Context, entries []record.Entry, plant controller.PlantState) error
	Keep(entries []record.Entry, plant controller.PlantState)
	Note(t record.Telemetry)
	Failing() error
}

// Contacts is what the loop needs of the contacts that are measured.
type Contacts interface {
	Read() ([]controller.Contacts, error) // a vessel each
}

// Ask is an order on its way to the loop.
type Ask struct {
	Vessel string
	Order  controller.Order
	Words  string
	File   *profiles.File // start and adopt: the schedule as written
	Reply  chan<- Reply   // holds one
}

// Reply is what became of it. Stored is false when the record could not take it
// in time: the order is carried out all the same.
type Reply struct {
	Answer controller.Answer
	Stored bool
}

// Tick asks the loop for a step. Done, where given, is closed after it.
type Tick struct{ Done chan<- struct{} }

// Vessel is one vessel as the loop begins with it.
type Vessel struct {
	*controller.Vessel
	State    controller.State
	Gap      controller.Outage
	Schedule string // the text of the running batch's schedule
	Name     string // of that schedule
	Section  string // of the site file, for the record
	Differs  bool   // the schedule's file has been edited since the batch began
}

// Config is everything that the loop is made of.
type Config struct {
	Site     string
	Build    controller.Build
	Demo     bool
	Vessels  []Vessel
	Shared   *controller.Plant // nil = nothing is shared
	Plant    controller.PlantState
	Board    Board
	Contacts Contacts // nil = none is measured
	Record   Recorder // nil = none, as in a demonstration
	Ticks    <-chan Tick
	Readings <-chan controller.Reading
	Orders   <-chan Ask
	Quiet    Quiet
	Now      func() time.Time // with its monotonic part
	Log      *slog.Logger
	Heard    func(vessel string, events []controller.Event, d controller.Decision) // nil = nobody; must not block
	Fed      func()                                                                // after every finished step; nil = nobody
}

// commitDeadline is how long a stage change or an answer waits for the record;
// then control goes on from memory.
const commitDeadline = 2 * time.Second

// commitAgain is how long after a commit that failed the next one is tried, though
// nothing happened: else a record that works again would look broken until the
// next event, and a beer can do without events for days.
const commitAgain = time.Minute

// keepRecent is how many events a snapshot shows.
const keepRecent = 40

// Daemon is the loop and what it owns.
type Daemon struct {
	cfg     Config
	tanks   []*tank
	plant   controller.PlantState
	last    time.Time     // the newest step began here, less what is below a millisecond
	counted time.Duration // by this run
	steps   int64
	unread  bool          // a contact could not be read, and that was said
	unsaved bool          // the newest commit did not come back in time
	retry   time.Duration // counted: then it is tried again
	latest  atomic.Pointer[controller.Snapshot]
}

// tank is one vessel and its state. Only the loop touches it.
type tank struct {
	Vessel
	out        controller.Outcome
	readings   []arrived
	asks       []Ask
	relayFault bool
	probes     []controller.ProbeView
	verdicts   []controller.VerdictCount
	recent     []controller.Stamped
	wantBatch  *record.BatchInfo
	begin      *record.Begin // of this step, where decisions can be taken again from it
}

// arrived is a reading and when it came.
type arrived struct {
	controller.Reading
	at time.Time
}

// New makes a daemon. Nothing runs before Run.
func New(cfg Config) *Daemon {
	d := &Daemon{cfg: cfg, plant: cfg.Plant.Started()}
	for i := range cfg.Vessels {
		t := &tank{Vessel: cfg.Vessels[i]}
		for _, id := range t.Probes.All() {
			t.probes = append(t.probes, newProbeView(id))
		}
		if t.Probes.Hydrometer != "" {
			for _, v := range gravity.Verdicts() {
				t.verdicts = append(t.verdicts, controller.VerdictCount{Verdict: v})
			}
		}
		d.tanks = append(d.tanks, t)
	}
	return d
}

func newProbeView(id controller.ProbeID) controller.ProbeView {
	p := controller.ProbeView{ID: id}
	for _, f := range controller.Faults() {
		p.Faults = append(p.Faults, controller.FaultCount{Fault: f})
	}
	return p
}

// Snapshot is the newest finished step, or nil before the first.
func (d *Daemon) Snapshot() *controller.Snapshot { return d.latest.Load() }
