package record_test

import (
	"os"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/record"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles"
)

// TestABatchIsSmallAndOpensAtOnce holds the record of a batch of three weeks at a step
// of 10 s, with the usual flush, to 25 MB and to 200 ms until the program has its
// states. A short run plays two days and holds a share.
func TestABatchIsSmallAndOpensAtOnce(t *testing.T) {
	if testing.Short() {
		t.Skip("days of a batch take some seconds")
	}
	const every, batch = 10 * time.Second, 21 * units.Day
	length := 2 * units.Day
	if os.Getenv("RESTPOINT_LONG") != "" {
		length = batch
	}
	file, err := profiles.Load("pale-ale-with-rest")
	if err != nil {
		t.Fatal(err)
	}
	d := newDesk(t)
	synctest.Test(t, func(t *testing.T) {
		opt := d.options()
		opt.Flush, opt.Now = 0, time.Now
		r, _, err := record.Open(t.Context(), opt)
		if err != nil {
			t.Fatal(err)
		}
		sim := bench.Simulate("fv1", bench.Brew{Kind: bench.Conical, Seed: 2, Noise: plant.Typical(), Wort: plant.PaleAle()}, file.Schedule)
		sim.Tank.Vessel.Step = every
		tick := time.NewTicker(every)
		defer tick.Stop()
		for sim.Rig.Elapsed < length {
			<-tick.C
			actual, before, wired := sim.Tank.Driven, sim.Tank.State, *sim.Tank.Vessel
			sim.StepBy(every)
			out := sim.Tank.Out
			in := controller.Input{Elapsed: every, Readings: slices.Clone(sim.Tank.Readings), Actual: actual}
			n := record.Of(&in, &out)
			n.Vessel, n.Batch, n.Counted = "fv1", sim.Tank.State.Batch.ID, sim.Rig.Elapsed
			r.Note(n)
			e := record.Entry{Vessel: "fv1", State: sim.Tank.State, Counted: sim.Rig.Elapsed, Events: slices.Concat(out.Events, out.Notes), Decision: &out.Decision}
			if out.Schedule != nil {
				e.Batch = ale(sim.Tank.State.Batch.ID)
				e.Batch.Schedule = string(file.Source)
				e.Begin = &record.Begin{State: before, Vessel: wired, Site: "name: fv1"}
			}
			r.Keep([]record.Entry{e}, sim.Rig.Plant)
		}
		shut(t, r)
	})
	info, err := os.Stat(d.path)
	if err != nil {
		t.Fatal(err)
	}
	fastest := time.Hour
	for range 3 {
		before := time.Now()
		r, restored := d.open(t)
		fastest = min(fastest, time.Since(before))
		if s := restored.Vessels["fv1"]; s.StateErr != nil || s.Batch == nil {
			t.Errorf("restored %+v", s)
		}
		shut(t, r)
	}
	share := float64(length) / float64(batch)
	t.Logf("%v of a batch: %.2f MB, opened in %v", length, float64(info.Size())/1e6, fastest)
	if float64(info.Size()) > 25e6*share || fastest > 200*time.Millisecond {
		t.Errorf("%d bytes, opened in %v; the bars are %.1f MB and 200 ms", info.Size(), fastest, 25*share)
	}
}
