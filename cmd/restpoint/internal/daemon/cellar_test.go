package daemon_test

import (
	"context"
	"errors"
	"log/slog"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"go.uber.org/goleak"

	"example.org/restpoint/cmd/restpoint/internal/daemon"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/record"
	"example.org/restpoint/controller/relay"
	"example.org/restpoint/profiles"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// journal is what happened outside of the core, in order.
type journal struct {
	mu    sync.Mutex
	lines []string
}

func (j *journal) add(line string) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.lines = append(j.lines, line)
}

// take gives the lines since the last call.
func (j *journal) take() []string {
	j.mu.Lock()
	defer j.mu.Unlock()
	lines := j.lines
	j.lines = nil
	return lines
}

// hands is the true board with its calls noted down.
type hands struct {
	*relay.Board
	journal *journal
}

func (h hands) Lower(want relay.Levels) error {
	h.journal.add("lower")
	return h.Board.Lower(want)
}

func (h hands) Raise(want relay.Levels) error {
	h.journal.add("raise")
	return h.Board.Raise(want)
}

func (h hands) Off() error {
	h.journal.add("off")
	return h.Board.Off()
}

// disk is a record whose disk can hang or fail, and that keeps what it was given.
type disk struct {
	journal *journal

	mu        sync.Mutex
	hangs     bool
	failing   error
	entries   []record.Entry // of Commit and Keep alike, in order
	telemetry []record.Telemetry
}

func (k *disk) set(hangs bool, failing error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.hangs, k.failing = hangs, failing
}

func (k *disk) Commit(ctx context.Context, entries []record.Entry, _ controller.PlantState) error {
	k.journal.add("commit")
	k.mu.Lock()
	hangs, failing := k.hangs, k.failing
	k.entries = append(k.entries, entries...)
	k.mu.Unlock()
	if hangs {
		<-ctx.Done()
		return ctx.Err()
	}
	return failing
}

func (k *disk) Keep(entries []record.Entry, _ controller.PlantState) {
	k.journal.add("keep")
	k.mu.Lock()
	defer k.mu.Unlock()
	k.entries = append(k.entries, entries...)
}

func (k *disk) Note(t record.Telemetry) {
	k.mu.Lock()
	defer k.mu.Unlock()
	t.Readings = slices.Clone(t.Readings)
	k.telemetry = append(k.telemetry, t)
}

func (k *disk) Failing() error {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.failing
}

// newest is the telemetry of the newest step.
func (k *disk) newest(t *testing.T) record.Telemetry {
	t.Helper()
	k.mu.Lock()
	defer k.mu.Unlock()
	if len(k.telemetry) == 0 {
		t.Fatal("no step was noted")
	}
	return k.telemetry[len(k.telemetry)-1]
}

// cellar is a daemon on one modelled vessel, in a bubble of fake time.
type cellar struct {
	t          *testing.T
	d          *daemon.Daemon
	cfg        daemon.Config
	journal    *journal
	disk       *disk
	heat, cool *relay.Modelled
	ticks      chan daemon.Tick
	readings   chan controller.Reading
	orders     chan daemon.Ask
	cancel     context.CancelFunc
	ended      chan error
	fed        int
}

// pace is the nominal step of the vessel here.
const pace = 5 * time.Second

const (
	beerProbe  = controller.ProbeID("fv1/thermowell")
	hydrometer = controller.ProbeID("fv1/hydrometer")
)

func vessel() *controller.Vessel {
	return &controller.Vessel{
		Name: "fv1", Step: pace, Volume: 60,
		Probes: controller.Probes{Thermowell: beerProbe, Hydrometer: hydrometer},
		Heat:   guard.Of(guard.SSR), Cool: guard.Of(guard.Valve),
		Limits:   controller.Limits{Lowest: -1, Highest: 30},
		SuckBack: controller.CO2Supply,
	}
}

func ale(t *testing.T) *profiles.File {
	t.Helper()
	f, err := profiles.Load("pale-ale-with-rest")
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// open starts a daemon. It must be called in a bubble of synctest; change may
// alter the configuration.
func open(t *testing.T, change func(*daemon.Config)) *cellar {
	t.Helper()
	j := &journal{}
	c := &cellar{
		t: t, journal: j, disk: &disk{journal: j}, heat: &relay.Modelled{}, cool: &relay.Modelled{},
		ticks: make(chan daemon.Tick), readings: make(chan controller.Reading), orders: make(chan daemon.Ask, 32),
		ended: make(chan error, 1),
	}
	c.cfg = daemon.Config{
		Site: "test cellar", Build: controller.Build{Version: "v0"},
		Vessels: []daemon.Vessel{{Vessel: vessel(), State: controller.Fresh()}},
		Board:   hands{relay.NewBoard([]relay.Channel{{Vessel: "fv1", Heat: c.heat, Cool: c.cool}}, nil), j},
		Record:  c.disk, Ticks: c.ticks, Readings: c.readings, Orders: c.orders,
		Now: time.Now, Log: slog.New(slog.DiscardHandler), Fed: func() { c.fed++ },
	}
	if change != nil {
		change(&c.cfg)
	}
	c.d = daemon.New(c.cfg)
	ctx, cancel := context.WithCancel(t.Context())
	c.cancel = cancel
	go func() { c.ended <- c.d.Run(ctx) }()
	synctest.Wait()
	return c
}

// close ends the daemon and holds that every relay is off.
func (c *cellar) close() {
	c.t.Helper()
	c.cancel()
	if err := <-c.ended; err != nil {
		c.t.Errorf("the daemon ended with %v", err)
	}
	if c.heat.On() || c.cool.On() {
		c.t.Error("a relay is on after the end")
	}
}

// pass lets fake time pass.
func pass(d time.Duration) { <-time.After(d) }

// tick has the daemon take one step now.
func (c *cellar) tick() *controller.Snapshot {
	done := make(chan struct{})
	c.ticks <- daemon.Tick{Done: done}
	<-done
	return c.d.Snapshot()
}

// step lets a time pass and has a step taken on a fresh reading of the beer.
func (c *cellar) step(dt time.Duration, beer float64) *controller.Snapshot {
	pass(dt)
	c.reading(beer)
	return c.tick()
}

func (c *cellar) reading(beer float64) {
	c.readings <- controller.Reading{Probe: beerProbe, Value: controller.OfTemperature(celsius(beer))}
}

// steps takes n steps of the nominal length and gives the last snapshot.
func (c *cellar) steps(n int, beer float64) (s *controller.Snapshot) {
	for range n {
		s = c.step(pace, beer)
	}
	return s
}

// ask puts an order on its way.
func (c *cellar) ask(id, vessel string, do controller.Verb) chan daemon.Reply {
	reply := make(chan daemon.Reply, 1)
	a := daemon.Ask{Vessel: vessel, Order: controller.Order{ID: id, Who: "brewer", Do: do}, Words: string(do.Kind), Reply: reply}
	if do.Kind == controller.Start {
		a.File = ale(c.t)
		a.Order.Do.Schedule = a.File.Schedule
	}
	c.orders <- a
	return reply
}

// begin starts a batch with its yeast in, and steps until the start-up rest of
// both relays is over.
func (c *cellar) begin(beer float64) {
	c.t.Helper()
	c.step(pace, beer)
	started := c.ask("start", "fv1", controller.Verb{Kind: controller.Start, Batch: "b1"})
	c.step(pace, beer)
	pitched := c.ask("pitched", "fv1", controller.Verb{Kind: controller.PitchedNow})
	s := c.step(pace, beer)
	for _, r := range []chan daemon.Reply{started, pitched} {
		if a := <-r; !a.Answer.Taken || !a.Stored {
			c.t.Fatalf("the batch did not begin: %+v", a)
		}
	}
	if got := s.Vessels[0].Decision.Stage; got != "primary" {
		c.t.Fatalf("the stage is %q", got)
	}
	c.journal.take()
}

// raised tells whether an alarm is raised in the newest snapshot.
func raised(s *controller.Snapshot, id string) bool {
	for _, a := range s.Vessels[0].Decision.Alarms {
		if string(a.ID) == id {
			return a.Raised()
		}
	}
	return false
}

var errBroken = errors.New("the card is worn out")
