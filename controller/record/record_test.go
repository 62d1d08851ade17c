package record_test

import (
	"context"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"go.uber.org/goleak"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// desk is one board: its clocks and its folder.
type desk struct {
	path   string
	wall   time.Time
	mono   time.Duration
	boot   string
	synced bool
}

// memory is a folder in memory where there is such a thing: hundreds of commits wait
// for no disk. What a disk does is not shown by waiting for it.
func memory(t *testing.T) string {
	t.Helper()
	folder, err := os.MkdirTemp("/dev/shm", "record-") //nolint:usetesting // not where temporary files go
	if err != nil {
		return t.TempDir()
	}
	t.Cleanup(func() { _ = os.RemoveAll(folder) })
	return folder
}

func newDesk(t *testing.T) *desk {
	t.Helper()
	return &desk{
		path: filepath.Join(memory(t), "record.db"), boot: "boot-1", mono: time.Minute,
		wall: time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC),
	}
}

func (d *desk) pass(by time.Duration) { d.wall, d.mono = d.wall.Add(by), d.mono+by }

func (d *desk) options() record.Options {
	return record.Options{
		Path: d.path, Flush: 24 * time.Hour, BootID: d.boot, Version: "test",
		Now:          func() time.Time { return d.wall },
		Monotonic:    func() time.Duration { return d.mono },
		Synchronised: func() bool { return d.synced },
	}
}

func (d *desk) open(t *testing.T) (*record.Record, record.Restored) {
	t.Helper()
	r, restored, err := record.Open(t.Context(), d.options())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = r.Close(context.Background()) })
	return r, restored
}

func shut(t *testing.T, r *record.Record) {
	t.Helper()
	if err := r.Close(t.Context()); err != nil {
		t.Fatal(err)
	}
}

func commit(t *testing.T, r *record.Record, entries ...record.Entry) {
	t.Helper()
	if err := r.Commit(t.Context(), entries, controller.PlantState{}); err != nil {
		t.Fatal(err)
	}
}

// fill gives every field of a value something that is not zero, so that a field
// that is forgotten on the way shows.
func fill(v reflect.Value, n *int) {
	*n++
	switch v.Interface().(type) {
	case *controller.Schedule: // of a vessel or an order; a state has none
		v.Set(reflect.New(v.Type().Elem()))
		fill(v.Elem(), n)
		return
	case []controller.Condition: // which may hold conditions again, without end
		v.Set(reflect.ValueOf([]controller.Condition{{Kind: controller.Pitched}}))
		return
	}
	switch v.Kind() {
	case reflect.Struct:
		for _, field := range v.Fields() {
			fill(field, n)
		}
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		fill(v.Index(0), n)
		fill(v.Index(1), n)
	case reflect.Array:
		for i := range v.Len() {
			fill(v.Index(i), n)
		}
	case reflect.String:
		v.SetString("s" + strings.Repeat("x", *n%7))
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		v.SetInt(int64(*n % 100))
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		v.SetUint(uint64(*n % 100))
	case reflect.Float32, reflect.Float64:
		v.SetFloat(float64(*n) / 7)
	default:
		panic("a state holds plain values only, not " + v.Kind().String())
	}
}

func full[T any]() T {
	var v T
	n := 0
	fill(reflect.ValueOf(&v).Elem(), &n)
	return v
}

func running(batch string) controller.State {
	s := full[controller.State]()
	s.Version, s.Mode, s.Batch.ID = controller.StateVersion, controller.InBatch, batch
	return s
}

func ale(batch string) *record.BatchInfo {
	return &record.BatchInfo{
		ID: batch, Vessel: "fv1", Name: "ale", Schedule: "schedule: ale\nabout: \"ünïcode\"\n", Original: 1.052, Final: 1.010,
		FinalSD: 2, Volume: 60, Site: "name: fv1", Who: "anna",
	}
}

func started(batch string) record.Entry {
	return record.Entry{
		Vessel: "fv1", State: running(batch), Counted: 5 * time.Second, Batch: ale(batch),
		Events: []controller.Event{{Kind: controller.BatchStarted, Stage: "fill"}, {Kind: controller.StageEntered, Stage: "fill"}},
	}
}

func TestAStateWithEveryFieldSetComesBackUnchanged(t *testing.T) {
	d := newDesk(t)
	r, restored := d.open(t)
	if len(restored.Vessels) != 0 || restored.MovedAside != "" {
		t.Fatalf("a new file holds %+v", restored)
	}
	plant := full[controller.PlantState]()
	plant.Version = controller.StateVersion
	if err := r.Commit(t.Context(), []record.Entry{started("b1")}, plant); err != nil {
		t.Fatal(err)
	}
	shut(t, r)
	_, restored = d.open(t)
	saved := restored.Vessels["fv1"]
	if saved.StateErr != nil || !reflect.DeepEqual(saved.State, running("b1")) {
		t.Errorf("state came back as\n%+v (%v)\nwant\n%+v", saved.State, saved.StateErr, running("b1"))
	}
	if restored.PlantErr != nil || !reflect.DeepEqual(restored.Plant, plant) {
		t.Errorf("plant came back as %+v (%v), want %+v", restored.Plant, restored.PlantErr, plant)
	}
	want := ale("b1")
	want.Started = d.wall.Local()
	if !reflect.DeepEqual(saved.Batch, want) {
		t.Errorf("batch came back as %+v, want %+v", saved.Batch, want)
	}
}

func TestOutageIsKnownWithinABootOrBySynchronisedClocks(t *testing.T) {
	const hour = time.Hour
	for _, c := range []struct {
		name string
		turn func(*desk)
		sync bool // at the first run
		want controller.Outage
	}{
		{"the same boot knows it by the monotonic clock", func(d *desk) { d.pass(hour) }, false, controller.Outage{Length: hour, Known: true}},
		{"a wall clock that jumped back does not matter within a boot", func(d *desk) { d.pass(hour); d.wall = d.wall.AddDate(-3, 0, 0) }, true, controller.Outage{Length: hour, Known: true}},
		{"another boot with both clocks synchronised knows it", func(d *desk) { d.pass(hour); d.boot, d.synced = "boot-2", true }, true, controller.Outage{Length: hour, Known: true}},
		{"another boot with the newer clock free does not know", func(d *desk) { d.pass(hour); d.boot, d.synced = "boot-2", false }, true, controller.Outage{}},
		{"another boot with the older clock free does not know", func(d *desk) { d.pass(hour); d.boot, d.synced = "boot-2", true }, false, controller.Outage{}},
		{"a clock that went back does not know", func(d *desk) { d.boot, d.synced, d.wall = "boot-2", true, d.wall.Add(-hour) }, true, controller.Outage{}},
		{"boots without an id are not the same boot", func(d *desk) { d.pass(hour); d.boot = "" }, false, controller.Outage{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := newDesk(t)
			d.synced = c.sync
			r, _ := d.open(t)
			commit(t, r, started("b1"))
			shut(t, r)
			c.turn(d)
			_, restored := d.open(t)
			if got := restored.Vessels["fv1"].Outage; got != c.want {
				t.Errorf("outage %+v, want %+v", got, c.want)
			}
		})
	}
}

func TestWhatIsNotUnderstoodIsAnErrorOfItsVesselOnly(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func(*record.Entry)
		want  string
	}{
		{"a state of another version", func(e *record.Entry) { e.State.Version = 99 }, "version 99"},
		{"a state of another batch than the one that runs", func(e *record.Entry) { e.State.Batch.ID = "b7" }, `batch "b7"`},
		{"a vessel that idles while its batch runs", func(e *record.Entry) { e.State = controller.Fresh() }, `batch "b1" runs`},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := newDesk(t)
			r, _ := d.open(t)
			e := started("b1")
			c.spoil(&e)
			other := record.Entry{Vessel: "fv2", State: controller.Fresh()}
			commit(t, r, e, other)
			shut(t, r)
			_, restored := d.open(t)
			saved := restored.Vessels["fv1"]
			if saved.StateErr == nil || !strings.Contains(saved.StateErr.Error(), c.want) {
				t.Errorf("error %v, want one that tells of %s", saved.StateErr, c.want)
			}
			if saved.Batch == nil || saved.Batch.Schedule == "" || !reflect.DeepEqual(saved.State, controller.State{}) {
				t.Errorf("got %+v", saved)
			}
			if s := restored.Vessels["fv2"]; s.StateErr != nil || !reflect.DeepEqual(s.State, controller.Fresh()) {
				t.Errorf("the other vessel came back as %+v", s)
			}
		})
	}
}

func TestAKilledProgramLosesNothingThatWasCommitted(t *testing.T) {
	d := newDesk(t)
	r, _ := d.open(t)
	commit(t, r, started("b1"))
	r.Note(record.Telemetry{Vessel: "fv1", Batch: "b1", Counted: 10 * time.Second})
	e := record.Entry{Vessel: "fv1", State: running("b1"), Counted: 10 * time.Second, Events: []controller.Event{{Kind: controller.StageEntered, Stage: "primary"}}}
	e.State.Stage.Name = "primary"
	commit(t, r, e)
	later := running("b1")
	later.Stage.Name = "never stored"
	r.Keep([]record.Entry{{Vessel: "fv1", State: later}}, controller.PlantState{})

	// What a kill leaves is what the files hold now: a copy of them is opened
	// while the first record still runs.
	killed := newDesk(t)
	for _, end := range []string{"", "-wal"} {
		b, err := os.ReadFile(d.path + end)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(killed.path+end, b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	again, restored := killed.open(t)
	saved := restored.Vessels["fv1"]
	if saved.StateErr != nil || saved.State.Stage.Name != "primary" || saved.Batch == nil {
		t.Errorf("restored %q, %v, batch %v", saved.State.Stage.Name, saved.StateErr, saved.Batch)
	}
	events, err := again.Events(t.Context(), "b1")
	if err != nil || len(events) != 3 || events[2].Event.Stage != "primary" {
		t.Errorf("events %+v (%v), want three, the last one of primary", events, err)
	}
	if steps := telemetry(t, again, "b1"); len(steps) != 1 {
		t.Errorf("%d steps of telemetry, want the one before the commit", len(steps))
	}
}

func telemetry(t *testing.T, r *record.Record, batch string) []record.Telemetry {
	t.Helper()
	var list []record.Telemetry
	for step, err := range r.Telemetry(t.Context(), batch) {
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, step)
	}
	return list
}

func TestCloseFlushesAndALaterCommitSaysSo(t *testing.T) {
	d := newDesk(t)
	r, _ := d.open(t)
	commit(t, r, started("b1"))
	kept := running("b1")
	kept.Stage.Name = "kept"
	r.Keep([]record.Entry{{Vessel: "fv1", State: kept}}, controller.PlantState{})
	r.Note(record.Telemetry{Vessel: "fv1", Batch: "b1", Counted: 20 * time.Second, Elapsed: 5 * time.Second})
	shut(t, r)
	if err := r.Commit(t.Context(), nil, controller.PlantState{}); err == nil || !strings.Contains(err.Error(), "closed") {
		t.Errorf("a commit after the close gives %v", err)
	}
	if _, err := r.Batches(t.Context()); err == nil {
		t.Error("a closed record can be read")
	}
	again, restored := d.open(t)
	if got := restored.Vessels["fv1"].State.Stage.Name; got != "kept" {
		t.Errorf("stage %q, want the one that was kept", got)
	}
	if steps := telemetry(t, again, "b1"); len(steps) != 1 || steps[0].Elapsed != 5*time.Second {
		t.Errorf("telemetry %+v", steps)
	}
}

func TestTheFlushComesByItself(t *testing.T) {
	d := newDesk(t)
	synctest.Test(t, func(t *testing.T) {
		opt := d.options()
		opt.Flush = time.Minute
		r, _, err := record.Open(t.Context(), opt)
		if err != nil {
			t.Fatal(err)
		}
		r.Keep([]record.Entry{started("b1")}, controller.PlantState{})
		if list, err := r.Batches(t.Context()); err != nil || len(list) != 0 {
			t.Errorf("before the flush: %v (%v)", list, err)
		}
		<-time.After(61 * time.Second) // of the bubble's own time
		if list, err := r.Batches(t.Context()); err != nil || len(list) != 1 {
			t.Errorf("after the flush: %v (%v)", list, err)
		}
		shut(t, r)
	})
}

func TestEventsAndOrdersBelongToTheBatchThatRan(t *testing.T) {
	d := newDesk(t)
	r, _ := d.open(t)
	before := record.Entry{Vessel: "fv1", State: controller.Fresh(), Events: []controller.Event{{Kind: controller.ProbeLost}}}
	first := started("b1")
	first.Orders = []record.Asked{{
		Order:  controller.Order{ID: "o1", Who: "anna", Why: "brew day", Do: controller.Verb{Kind: controller.Start, Batch: "b1", Schedule: &controller.Schedule{Name: "ale"}}},
		Words:  "start b1",
		Answer: controller.Answer{ID: "o1", Taken: true, Reason: controller.Reason{Code: controller.CodeStarted, Name: "b1"}},
	}}
	commit(t, r, before)
	commit(t, r, first)
	d.pass(time.Hour)
	// One step in which a batch ends and the next begins.
	turn := started("b2")
	turn.Events = append([]controller.Event{{Kind: controller.BatchEnded, Who: "bert"}}, turn.Events...)
	commit(t, r, turn)
	d.pass(time.Hour)
	adopt := record.Entry{Vessel: "fv1", State: running("b2"), Batch: ale("b2")}
	adopt.Batch.Schedule = "schedule: edited"
	commit(t, r, adopt)

	batches, err := r.Batches(t.Context())
	if err != nil || len(batches) != 2 || batches[0].ID != "b1" || !batches[0].Ended.Equal(d.wall.Add(-time.Hour)) || !batches[1].Ended.IsZero() {
		t.Fatalf("batches %+v (%v)", batches, err)
	}
	if b := batches[1]; b.Schedule != "schedule: edited" || !b.Started.Equal(d.wall.Add(-time.Hour)) {
		t.Errorf("adopted batch %+v", b)
	}
	for batch, want := range map[string][]controller.EventKind{
		"":   {controller.ProbeLost},
		"b1": {controller.BatchStarted, controller.StageEntered, controller.BatchEnded},
		"b2": {controller.BatchStarted, controller.StageEntered},
	} {
		events, err := r.Events(t.Context(), batch)
		var got []controller.EventKind
		for _, e := range events {
			got = append(got, e.Event.Kind)
		}
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("batch %q has %v (%v), want %v", batch, got, err, want)
		}
	}
	orders, err := r.Orders(t.Context(), "b1")
	if err != nil || len(orders) != 1 {
		t.Fatalf("orders %+v (%v)", orders, err)
	}
	asked := first.Orders[0].Order
	if o := orders[0]; !reflect.DeepEqual(o.Order, asked) || o.Words != "start b1" || !o.Taken || o.Text != first.Orders[0].Answer.Reason.String() {
		t.Errorf("order %+v", o)
	}
}

func TestALockThatIsHeldSaysByWhom(t *testing.T) {
	d := newDesk(t)
	d.open(t)
	_, _, err := record.Open(t.Context(), d.options())
	if err == nil || !strings.Contains(err.Error(), "in use by process") {
		t.Fatalf("a second opening gives %v", err)
	}
	if pid := pidOf(t, d.path); !strings.Contains(err.Error(), pid) {
		t.Errorf("%v does not name process %s", err, pid)
	}
}

func pidOf(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path + ".lock")
	if err != nil {
		t.Fatal(err)
	}
	return strings.TrimSpace(string(b))
}
