package again_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"testing"
	"time"

	"go.uber.org/goleak"

	"example.org/restpoint/cmd/restpoint/internal/daemon"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/record"
	"example.org/restpoint/controller/relay"
	"example.org/restpoint/profiles"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

const pace = time.Minute

// cellar is the true loop with the true record, on a modelled vessel, in a bubble of
// fake time. It outlives the program: beer and card stay when a run ends.
type cellar struct {
	t          *testing.T
	folder     string
	path       string
	boot       string
	booted     time.Time
	synced     bool
	tank       *bench.Tank
	heat, cool *relay.Modelled
	cards      int
	orders     int

	record   *record.Record
	d        *daemon.Daemon
	ticks    chan daemon.Tick
	readings chan controller.Reading
	asks     chan daemon.Ask
	cancel   context.CancelFunc
	ended    chan error
}

// memory is a folder in memory where there is such a thing: a thousand flushes wait
// for no disk.
func memory(t *testing.T) string {
	t.Helper()
	folder, err := os.MkdirTemp("/dev/shm", "record-") //nolint:usetesting // not where temporary files go
	if err != nil {
		return t.TempDir()
	}
	t.Cleanup(func() { _ = os.RemoveAll(folder) })
	return folder
}

func newCellar(t *testing.T, folder string, seed uint64) *cellar {
	t.Helper()
	c := &cellar{
		t: t, folder: folder, path: filepath.Join(folder, "record.db"), boot: "boot-1", booted: time.Now().Add(-time.Minute),
		tank: bench.NewTank("fv1", bench.Brew{Kind: bench.Conical, Wort: plant.PaleAle(), Noise: plant.Nasty(), Seed: seed, Start: 17, Ambient: plant.Ambient{Mean: 19, Swing: 3}}),
		heat: &relay.Modelled{}, cool: &relay.Modelled{},
	}
	c.tank.Vessel.Step = pace
	return c
}

// run starts the program.
func (c *cellar) run() {
	c.t.Helper()
	rec, restored, err := record.Open(c.t.Context(), record.Options{
		Path: c.path, BootID: c.boot, Monotonic: func() time.Duration { return time.Since(c.booted) },
		Synchronised: func() bool { return c.synced }, Version: "v1",
	})
	if err != nil {
		c.t.Fatal(err)
	}
	begin := daemon.Vessel{Vessel: c.tank.Vessel, State: controller.Fresh(), Section: "name: fv1"}
	if saved, known := restored.Vessels["fv1"]; known {
		if begin, err = daemon.Resume(c.tank.Vessel, "name: fv1", saved); err != nil {
			c.t.Fatal(err)
		}
	}
	c.record = rec
	c.ticks, c.readings, c.asks, c.ended = make(chan daemon.Tick), make(chan controller.Reading), make(chan daemon.Ask, 32), make(chan error, 1)
	c.d = daemon.New(daemon.Config{
		Site: "again", Vessels: []daemon.Vessel{begin}, Plant: restored.Plant,
		Board:  relay.NewBoard([]relay.Channel{{Vessel: "fv1", Heat: c.heat, Cool: c.cool}}, nil),
		Record: rec, Ticks: c.ticks, Readings: c.readings, Orders: c.asks, Quiet: daemon.Quiet{From: 22 * time.Hour, To: 7 * time.Hour},
		Now: time.Now, Log: slog.New(slog.DiscardHandler),
	})
	ctx, cancel := context.WithCancel(c.t.Context())
	c.cancel = cancel
	go func() { c.ended <- c.d.Run(ctx) }()
}

// steps lets time pass.
func (c *cellar) steps(n int) {
	for range n {
		<-time.After(pace - 7*time.Microsecond) // no loop keeps its time to the nanosecond
		c.tank.Driven = controller.Outputs{Heat: c.heat.On(), Cool: c.cool.On()}
		c.tank.Beer.Advance(pace, plant.Outputs(c.tank.Driven))
		for _, r := range c.tank.Sense(pace) {
			r.Age = 1234567 * time.Nanosecond
			c.readings <- r
		}
		done := make(chan struct{})
		c.ticks <- daemon.Tick{Done: done}
		<-done
	}
}

func (c *cellar) hours(h float64) { c.steps(int(h * float64(time.Hour) / float64(pace))) }

// tell gives an order in words and holds that it is taken.
func (c *cellar) tell(words string) {
	c.t.Helper()
	do, err := controller.ParseVerb([]string{words})
	if err != nil {
		c.t.Fatal(err)
	}
	c.orders++
	reply := make(chan daemon.Reply, 1)
	a := daemon.Ask{Vessel: "fv1", Words: words, Reply: reply, Order: controller.Order{ID: fmt.Sprint(c.orders), Who: "anna", Why: "test", Do: do}}
	if do.Kind == controller.Start || do.Kind == controller.Adopt {
		if a.File, err = profiles.Load(do.Say); err != nil {
			c.t.Fatal(err)
		}
		s := *a.File.Schedule
		s.Wort.Original = 1.0521
		a.Order.Do.Schedule = &s
		a.File.Schedule = &s
	}
	c.asks <- a
	c.steps(1)
	if r := <-reply; !r.Answer.Taken || !r.Stored {
		c.t.Fatalf("%s: %+v", words, r)
	}
	if do.Kind == controller.PitchedNow {
		c.tank.Beer.Pitch()
	}
}

// stop ends the program well.
func (c *cellar) stop() {
	c.t.Helper()
	c.cancel()
	if err := errors.Join(<-c.ended, c.record.Close(c.t.Context())); err != nil {
		c.t.Fatal(err)
	}
}

// kill ends the program as a power cut does: the next one finds what the card held.
func (c *cellar) kill() {
	c.t.Helper()
	c.cards++
	card := filepath.Join(c.folder, fmt.Sprintf("card-%d.db", c.cards))
	for _, end := range []string{"", "-wal"} {
		b, err := os.ReadFile(c.path + end)
		if err != nil {
			c.t.Fatal(err)
		}
		if err := os.WriteFile(card+end, b, 0o600); err != nil {
			c.t.Fatal(err)
		}
	}
	c.stop()
	c.path = card
}

// reboot lets the board start anew after a time without power.
func (c *cellar) reboot(off time.Duration, boot string) {
	<-time.After(off)
	c.boot, c.booted = boot, time.Now().Add(-time.Minute)
}

// life is what a cellar goes through in some days: batches, orders, faults, kills.
func life(c *cellar) {
	c.run()
	c.hours(1)
	c.tell("start pale-ale-with-rest as b1")
	c.hours(0.5)
	c.tell("pitched")
	c.hours(20)
	c.tell("sample 1.047 at 19 C")
	c.hours(3)
	c.stop()
	<-time.After(90 * time.Second) // within one boot: known
	c.run()
	c.hours(11.03)
	c.tank.ProbeOff = true
	c.hours(0.3)
	c.tank.ProbeOff = false
	c.tell("mark dump")
	c.heat.Fail(errors.New("the relay does not answer"))
	c.hours(0.1)
	c.heat.Fail(nil)
	c.hours(5)
	c.kill()
	c.reboot(3*time.Hour, "boot-2") // the clock is free: not known for how long
	c.run()
	c.hours(6)
	c.tell("target 22 C")
	c.tell("pause")
	c.hours(9)
	c.tell("resume")
	c.synced = true
	c.hours(20)
	c.kill()
	c.reboot(time.Hour, "boot-3") // both ends know the time
	c.run()
	c.hours(24)
	c.tell("advance")
	c.hours(12)
	c.tell("end-cold")
	c.hours(1)
	c.tell("start cool-lager as b2")
	c.hours(4)
	c.stop()
}
