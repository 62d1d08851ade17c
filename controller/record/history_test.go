package record_test

import (
	"fmt"
	"reflect"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
)

// The clocks of a board between two runs, to the millisecond.
func TestTheLengthOfAnOutageIsToldToTheMillisecondOrNotAtAll(t *testing.T) {
	for _, c := range []struct {
		name  string
		first func(*desk)
		then  func(*desk)
		want  controller.Outage
	}{
		{"no time at all within a boot", nil, nil, controller.Outage{Known: true}},
		{"a millisecond within a boot", nil, func(d *desk) { d.pass(time.Millisecond) }, controller.Outage{Length: time.Millisecond, Known: true}},
		{"within a boot the wall clock does not count, though both are synchronised", func(d *desk) { d.synced = true }, func(d *desk) { d.pass(time.Hour); d.wall = d.wall.Add(time.Minute) }, controller.Outage{Length: time.Hour, Known: true}},
		{"a year within a boot", nil, func(d *desk) { d.pass(8760 * time.Hour) }, controller.Outage{Length: 8760 * time.Hour, Known: true}},
		{"a monotonic clock that went back within a boot is believed in nothing", nil, func(d *desk) { d.mono -= time.Second }, controller.Outage{}},
		{"a monotonic clock that went back leaves synchronised clocks to tell", func(d *desk) { d.synced = true }, func(d *desk) { d.mono -= time.Second; d.wall = d.wall.Add(time.Hour) }, controller.Outage{Length: time.Hour, Known: true}},
		{"a boot without a monotonic clock is no boot to count in", func(d *desk) { d.mono = 0 }, func(d *desk) { d.wall = d.wall.Add(time.Hour) }, controller.Outage{}},
		{"another boot, both synchronised", func(d *desk) { d.synced = true }, func(d *desk) { d.boot, d.mono, d.wall = "boot-2", time.Second, d.wall.Add(90*time.Second) }, controller.Outage{Length: 90 * time.Second, Known: true}},
		{"another boot at the same instant", func(d *desk) { d.synced = true }, func(d *desk) { d.boot = "boot-2" }, controller.Outage{Known: true}},
		{"another boot, a millisecond back", func(d *desk) { d.synced = true }, func(d *desk) { d.boot, d.wall = "boot-2", d.wall.Add(-time.Millisecond) }, controller.Outage{}},
		{"another boot, synchronised only before", func(d *desk) { d.synced = true }, func(d *desk) { d.boot, d.synced, d.wall = "boot-2", false, d.wall.Add(time.Hour) }, controller.Outage{}},
		{"another boot, synchronised only after", nil, func(d *desk) { d.boot, d.synced, d.wall = "boot-2", true, d.wall.Add(time.Hour) }, controller.Outage{}},
		{"neither boot has a name, both synchronised", func(d *desk) { d.boot, d.synced = "", true }, func(d *desk) { d.wall = d.wall.Add(time.Hour) }, controller.Outage{Length: time.Hour, Known: true}},
		{"neither boot has a name nor is synchronised", func(d *desk) { d.boot = "" }, func(d *desk) { d.pass(time.Hour) }, controller.Outage{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := newDesk(t)
			if c.first != nil {
				c.first(d)
			}
			r, _ := d.open(t)
			commit(t, r, started("b1"), record.Entry{Vessel: "fv2", State: controller.Fresh()})
			shut(t, r)
			if c.then != nil {
				c.then(d)
			}
			_, restored := d.open(t)
			for _, vessel := range []string{"fv1", "fv2"} {
				if got := restored.Vessels[vessel].Outage; got != c.want {
					t.Errorf("%s: outage %+v, want %+v", vessel, got, c.want)
				}
			}
		})
	}
}

// An outage is counted from the last state of each vessel that was stored, not
// from the start or end of the program.
func TestAnOutageBeginsWithTheVesselsOwnLastState(t *testing.T) {
	d := newDesk(t)
	r, _ := d.open(t)
	commit(t, r, started("b1"))
	d.pass(time.Hour)
	commit(t, r, record.Entry{Vessel: "fv2", State: controller.Fresh()})
	d.pass(time.Hour)
	shut(t, r)
	d.pass(time.Hour)
	_, restored := d.open(t)
	for vessel, want := range map[string]time.Duration{"fv1": 3 * time.Hour, "fv2": 2 * time.Hour} {
		if got := restored.Vessels[vessel].Outage; got != (controller.Outage{Length: want, Known: true}) {
			t.Errorf("%s: outage %+v, want %s", vessel, got, want)
		}
	}
}

// oneStep is a step of a vessel with the given events.
func oneStep(vessel, batch string, kinds ...controller.EventKind) record.Entry {
	e := record.Entry{Vessel: vessel, State: controller.Fresh()}
	if batch != "" {
		e.State = running(batch)
	}
	for _, k := range kinds {
		e.Events = append(e.Events, controller.Event{Kind: k})
		if k == controller.BatchStarted {
			e.Batch = ale(batch)
			e.Batch.Vessel = vessel
		}
	}
	return e
}

// What the batches of two vessels are at the end, however their steps mingle and
// whether the program ends between them or not.
func TestBatchesOfTwoVesselsAreKeptApart(t *testing.T) {
	start, end, other := controller.BatchStarted, controller.BatchEnded, controller.StuckFound
	for _, c := range []struct {
		name   string
		steps  []record.Entry
		events map[string]int
		runs   []string // batches that run at the end
	}{
		{
			"both run",
			[]record.Entry{oneStep("fv1", "a", start), oneStep("fv2", "b", start), oneStep("fv1", "a", other)},
			map[string]int{"a": 2, "b": 1, "": 0},
			[]string{"a", "b"},
		},
		{
			"one ends and the other does not",
			[]record.Entry{oneStep("fv1", "a", start), oneStep("fv2", "b", start), oneStep("fv1", "", other, end), oneStep("fv2", "b", other)},
			map[string]int{"a": 3, "b": 2, "": 0},
			[]string{"b"},
		},
		{
			"what comes after the end belongs to none",
			[]record.Entry{oneStep("fv1", "a", start), oneStep("fv1", "", end, other), oneStep("fv1", "", other)},
			map[string]int{"a": 2, "": 2},
			nil,
		},
		{
			"what comes before the start belongs to none",
			[]record.Entry{oneStep("fv1", "a", other, start, other)},
			map[string]int{"a": 2, "": 1},
			[]string{"a"},
		},
		{
			"one begins in the step in which another ends",
			[]record.Entry{oneStep("fv1", "a", start), oneStep("fv1", "b", end, start, other)},
			map[string]int{"a": 2, "b": 2, "": 0},
			[]string{"b"},
		},
		{
			"a batch that begins without the end of the last ends it",
			[]record.Entry{oneStep("fv1", "a", start), oneStep("fv1", "b", start, other)},
			map[string]int{"a": 1, "b": 2, "": 0},
			[]string{"b"},
		},
		{
			"a batch of the other vessel ends nothing here",
			[]record.Entry{oneStep("fv1", "a", start), oneStep("fv2", "", end), oneStep("fv1", "a", other)},
			map[string]int{"a": 2, "": 1},
			[]string{"a"},
		},
	} {
		for _, reopen := range []bool{false, true} {
			t.Run(fmt.Sprintf("%s, opened anew: %v", c.name, reopen), func(t *testing.T) {
				d := newDesk(t)
				r, _ := d.open(t)
				for _, e := range c.steps {
					commit(t, r, e)
					d.pass(time.Minute)
					if reopen {
						shut(t, r)
						r, _ = d.open(t)
					}
				}
				for batch, want := range c.events {
					if list, err := r.Events(t.Context(), batch); err != nil || len(list) != want {
						t.Errorf("batch %q has %d events (%v), want %d", batch, len(list), err, want)
					}
				}
				list, err := r.Batches(t.Context())
				if err != nil {
					t.Fatal(err)
				}
				var runs []string
				for _, b := range list {
					if b.Ended.IsZero() {
						runs = append(runs, b.ID)
					} else if !b.Ended.After(b.Started) {
						t.Errorf("batch %s began %s and ended %s", b.ID, b.Started, b.Ended)
					}
				}
				if !reflect.DeepEqual(runs, c.runs) {
					t.Errorf("batches %v run, want %v", runs, c.runs)
				}
			})
		}
	}
}

// An adopted schedule changes what the batch is told with, and neither when it
// began nor who began it.
func TestAnAdoptedScheduleKeepsTheBatch(t *testing.T) {
	d := newDesk(t)
	r, _ := d.open(t)
	commit(t, r, started("b1"))
	began := d.wall
	for i, text := range []string{"schedule: second\n", "schedule: third\n"} {
		d.pass(time.Hour)
		e := record.Entry{Vessel: "fv1", State: running("b1"), Batch: ale("b1")}
		e.Batch.Schedule, e.Batch.Who, e.Batch.Original = text, "bert", 1.060
		commit(t, r, e)
		shut(t, r)
		var restored record.Restored
		r, restored = d.open(t)
		got := restored.Vessels["fv1"].Batch
		want := ale("b1")
		want.Schedule, want.Original, want.Started = text, 1.060, began.Local()
		if !reflect.DeepEqual(got, want) {
			t.Errorf("after change %d:\n got %+v\nwant %+v", i+1, got, want)
		}
	}
	if list, err := r.Batches(t.Context()); err != nil || len(list) != 1 {
		t.Errorf("batches %+v (%v)", list, err)
	}
}
