package record_test

import (
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
	"example.org/restpoint/controller/units"
)

// A board without a clock battery begins in the past. When its clock is first set,
// all that this boot has labelled is dated anew by counted time; what an earlier boot
// labelled is not.
func TestWhatWasLabelledBeforeTheClockWasSetIsDatedAnew(t *testing.T) {
	d := newDesk(t)
	right := d.wall
	d.wall, d.mono = time.Date(1970, 1, 1, 0, 1, 0, 0, time.UTC), time.Minute
	d.boot = "boot-0"
	r, _ := d.open(t)
	commit(t, r, oneStep("fv2", "", controller.ProbeLost))
	shut(t, r)

	d.boot = "boot-1"
	d.wall, d.mono = time.Date(1970, 1, 1, 0, 1, 0, 0, time.UTC), time.Minute
	r, _ = d.open(t) // a minute after the boot
	entry := started("b1")
	entry.Counted = 10 * time.Second
	entry.Begin = &record.Begin{State: controller.Fresh()}
	entry.Orders = []record.Asked{{Order: controller.Order{ID: "o1"}}}
	d.pass(10 * time.Second)
	r.Note(record.Telemetry{Vessel: "fv1", Batch: "b1", Counted: 10 * time.Second})
	commit(t, r, entry)
	d.pass(50 * time.Second)
	ended := oneStep("fv1", "", controller.BatchEnded)
	ended.Counted = time.Minute
	commit(t, r, ended)
	shut(t, r)

	d.pass(time.Hour)
	r, _ = d.open(t) // an hour and two minutes after the boot
	again := oneStep("fv1", "b2", controller.BatchStarted)
	d.pass(time.Second)
	again.Counted = time.Second
	commit(t, r, again)
	d.pass(59 * time.Second)
	d.wall, d.synced = right, true // an hour and three minutes after it
	commit(t, r, record.Entry{Vessel: "fv1", State: running("b2"), Counted: time.Minute, Events: []controller.Event{{Kind: controller.StuckFound}}})

	boot := right.Add(-time.Hour - 3*time.Minute)
	reader := read(t, d.path)
	at := func(what string, got time.Time, synced bool, want time.Time, believed bool) {
		t.Helper()
		if !got.Equal(want) || synced != believed {
			t.Errorf("%s is dated %v (believed %v), want %v (%v)", what, got.UTC(), synced, want.UTC(), believed)
		}
	}
	runs, err := reader.Runs(t.Context())
	if err != nil || len(runs) != 3 {
		t.Fatalf("runs %+v (%v)", runs, err)
	}
	at("the earlier boot", runs[0].At, runs[0].Synced, time.Date(1970, 1, 1, 0, 1, 0, 0, time.UTC), false)
	at("the first run", runs[1].At, runs[1].Synced, boot.Add(time.Minute), true)
	at("the second run", runs[2].At, runs[2].Synced, boot.Add(time.Hour+2*time.Minute), true)
	events, _ := reader.Events(t.Context(), "b1")
	at("the start", events[0].At, events[0].Synced, boot.Add(70*time.Second), true)
	at("the end", events[2].At, events[2].Synced, boot.Add(2*time.Minute), true)
	orders, _ := reader.Orders(t.Context(), "b1")
	at("the order", orders[0].At, orders[0].Synced, boot.Add(70*time.Second), true)
	begins, _ := reader.Begins(t.Context())
	at("the begin", begins[0].At, begins[0].Synced, boot.Add(70*time.Second), true)
	for s := range reader.Telemetry(t.Context(), "b1") {
		at("the step", s.At, true, boot.Add(70*time.Second), true)
	}
	batches, _ := reader.Batches(t.Context())
	at("the batch", batches[0].Started, true, boot.Add(70*time.Second), true)
	at("its end", batches[0].Ended, true, boot.Add(2*time.Minute), true)
	at("the second batch", batches[1].Started, true, boot.Add(time.Hour+2*time.Minute+time.Second), true)
	second, _ := reader.Events(t.Context(), "b2")
	at("what came with the clock", second[1].At, second[1].Synced, right, true)

	// It is done once: a clock that is corrected later moves no label.
	d.wall = d.wall.Add(units.Day)
	commit(t, r, record.Entry{Vessel: "fv1", State: running("b2"), Counted: 2 * time.Minute, Events: []controller.Event{{Kind: controller.StuckFound}}})
	second, _ = reader.Events(t.Context(), "b2")
	at("the same, later", second[1].At, second[1].Synced, right, true)
	shut(t, r)
}
