package record_test

import (
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/record"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles"
)

// A batch's forecasts are read back from its record and held against what came:
// by that alone, without the program that made them.
func TestForecastsAreJudgedFromTheRecord(t *testing.T) {
	file, err := profiles.Load("pale-ale-with-rest")
	if err != nil {
		t.Fatal(err)
	}
	d := newDesk(t)
	r, _ := d.open(t)
	sim := bench.Simulate("fv1", bench.Brew{Kind: bench.Conical, Seed: 2, Noise: plant.Typical(), Wort: plant.PaleAle()}, file.Schedule)
	for sim.Rig.Elapsed < 15*units.Day && sim.Tank.Out.Decision.Kind != controller.Hold {
		sim.Step()
		d.pass(bench.Step)
		out := sim.Tank.Out
		if len(out.Events)+len(out.Notes) == 0 {
			continue
		}
		e := record.Entry{Vessel: "fv1", State: sim.Tank.State, Counted: sim.Rig.Elapsed, Events: append(out.Events, out.Notes...)}
		if out.Schedule != nil {
			e.Batch = ale(sim.Tank.State.Batch.ID)
		}
		r.Keep([]record.Entry{e}, controller.PlantState{})
	}
	shut(t, r)
	r, _ = d.open(t)
	events, err := r.Events(t.Context(), "simulated")
	if err != nil {
		t.Fatal(err)
	}
	came := map[controller.Milestone]time.Duration{}
	said := 0
	for _, e := range events {
		switch {
		case e.Event.Kind == controller.TerminalReached:
			came[controller.TerminalMet] = e.Counted
		case e.Event.Kind == controller.StageEntered && e.Event.StageKind == controller.Rest:
			came[controller.RestBegins] = e.Counted
		case e.Event.Kind == controller.StageEntered && e.Event.StageKind == controller.Hold:
			came[controller.Crashed], came[controller.Ready] = e.Counted, e.Counted
		case e.Event.Kind == controller.ForecastMade:
			said++
		}
	}
	for _, m := range controller.Milestones() {
		in, all := 0, 0
		for _, e := range events {
			for _, f := range e.Event.Forecasts {
				if f.Event != m {
					continue
				}
				all++
				if wait := came[m] - e.Counted; wait >= f.Early && wait <= f.Late {
					in++
				}
			}
		}
		t.Logf("%-8s came after %v, %d of %d forecasts had it inside", m, came[m], in, all)
		if came[m] == 0 || all < 24 || in*2 < all {
			t.Errorf("%s: came after %v, %d of %d inside", m, came[m], in, all)
		}
	}
	if hours := int(came[controller.Ready].Hours()); said < hours/2 || said > hours+20 {
		t.Errorf("%d forecasts in %d hours", said, hours)
	}
}
