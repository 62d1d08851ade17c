package record_test

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
	"example.org/restpoint/controller/units"
)

// hang holds the record's goroutine until the returned function is called.
func hang(t *testing.T, r *record.Record) (let func()) {
	t.Helper()
	busy, free, over := make(chan struct{}), make(chan struct{}), make(chan error, 1)
	go func() { over <- r.Hold(busy, free) }()
	<-busy
	return func() {
		close(free)
		if err := <-over; err != nil {
			t.Error(err)
		}
	}
}

func TestTooMuchTelemetryDropsTheOldestAndCountsIt(t *testing.T) {
	d := newDesk(t)
	r, _ := d.open(t)
	commit(t, r, started("b1"))
	r.Bound(100_000, 100)
	let := hang(t, r)
	const steps = 20_000
	for i := range steps {
		r.Note(record.Telemetry{
			Vessel: "fv1", Batch: "b1", Counted: time.Duration(i) * 5 * time.Second, Elapsed: 5 * time.Second,
			Readings: []controller.Reading{{Probe: "fv1/thermowell", Value: controller.OfTemperature(19)}},
		})
	}
	r.Keep([]record.Entry{{Vessel: "fv1", State: running("b1"), Events: []controller.Event{{Kind: controller.StuckFound}}}}, controller.PlantState{})
	let()
	commit(t, r, record.Entry{Vessel: "fv1", State: running("b1")})
	dropped, events := r.Dropped()
	kept := telemetry(t, r, "b1")
	if dropped == 0 || events != 0 || int64(len(kept))+dropped != steps {
		t.Fatalf("%d kept, %d dropped of %d; %d events dropped", len(kept), dropped, steps, events)
	}
	if last := kept[len(kept)-1].Counted; last != (steps-1)*5*time.Second {
		t.Errorf("the newest step kept is of %s", last)
	}
	if list, err := r.Events(t.Context(), "b1"); err != nil || len(list) != 3 {
		t.Errorf("%d events (%v)", len(list), err)
	}
}

func TestEventsAreDroppedOnlyBeyondTheirOwnBound(t *testing.T) {
	d := newDesk(t)
	r, _ := d.open(t)
	const most = 300
	r.Bound(100_000, most)
	let := hang(t, r)
	r.Keep([]record.Entry{started("b1")}, controller.PlantState{})
	const more = 7
	for range most + more {
		r.Keep([]record.Entry{{Vessel: "fv1", State: running("b1"), Events: []controller.Event{{Kind: controller.ProbeLost}}}}, controller.PlantState{})
	}
	let()
	commit(t, r, record.Entry{Vessel: "fv1", State: running("b1")})
	_, dropped := r.Dropped()
	if dropped != more+2 { // the start of the batch, with its two events, stays
		t.Errorf("%d events dropped, want %d", dropped, more+2)
	}
	if list, err := r.Events(t.Context(), "b1"); err != nil || len(list) != most || list[0].Event.Kind != controller.BatchStarted {
		t.Errorf("%d events (%v)", len(list), err)
	}
}

func TestTelemetryOfTwoVesselsAndOfNoBatchIsKeptApart(t *testing.T) {
	d := newDesk(t)
	r, _ := d.open(t)
	for i := range 10 {
		for _, v := range []string{"fv1", "fv2"} {
			batch := ""
			if i >= 5 {
				batch = "of " + v
			}
			r.Note(record.Telemetry{Vessel: v, Batch: batch, Counted: time.Duration(i) * time.Second})
		}
		d.pass(time.Second)
	}
	commit(t, r)
	if got := telemetry(t, r, ""); len(got) != 10 {
		t.Errorf("%d steps of no batch, want 10", len(got))
	}
	got := telemetry(t, r, "of fv2")
	if len(got) != 5 || got[0].Counted != 5*time.Second || got[0].Vessel != "fv2" {
		t.Fatalf("fv2 has %+v", got)
	}
	if want := d.wall.Add(-time.Second); !got[4].At.Equal(want) {
		t.Errorf("the last step is labelled %s, want %s", got[4].At, want)
	}
}

func TestAStateThatCannotBeSaidInJSONDoesNotBlockTheRest(t *testing.T) {
	d := newDesk(t)
	r, _ := d.open(t)
	commit(t, r, started("b1"))
	bad := running("b1")
	bad.Stage.Entry = units.Celsius(math.NaN())
	e := record.Entry{Vessel: "fv1", State: bad, Events: []controller.Event{{Kind: controller.StuckFound}}}
	if err := r.Commit(t.Context(), []record.Entry{e}, controller.PlantState{}); err == nil || r.Failing() == nil {
		t.Error("a state without a number was stored")
	}
	commit(t, r, record.Entry{Vessel: "fv2", State: controller.Fresh()})
	if list, err := r.Events(t.Context(), "b1"); err != nil || len(list) != 3 || r.Failing() != nil {
		t.Errorf("%d events (%v), failing %v", len(list), err, r.Failing())
	}
	shut(t, r)
	_, restored := d.open(t)
	if s := restored.Vessels["fv1"]; s.StateErr != nil || s.State.Stage.Entry != running("b1").Stage.Entry {
		t.Errorf("the last good state is lost: %v", s.StateErr)
	}
}

func TestABatchThatNoFileTakesDoesNotBlockTheRest(t *testing.T) {
	d := newDesk(t)
	r, _ := d.open(t)
	e := started("b1")
	e.Batch.Final = units.Gravity(math.NaN()) // stored as NULL, which the table refuses
	if err := r.Commit(t.Context(), []record.Entry{e}, controller.PlantState{}); err == nil {
		t.Error("a batch without a number was stored")
	}
	commit(t, r, started("b2"))
	if list, err := r.Batches(t.Context()); err != nil || len(list) != 1 || list[0].ID != "b2" {
		t.Errorf("batches %+v (%v)", list, err)
	}
}

func TestOpeningForNobodyTouchesNothing(t *testing.T) {
	d := newDesk(t)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, _, err := record.Open(ctx, d.options()); !errors.Is(err, context.Canceled) {
		t.Errorf("opened with %v", err)
	}
	if list, err := os.ReadDir(filepath.Dir(d.path)); err != nil || len(list) != 0 {
		t.Errorf("left %v (%v)", list, err)
	}
}
