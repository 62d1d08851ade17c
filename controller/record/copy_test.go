package record_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
)

func TestABackupIsMadeWhileTheRecordIsWritten(t *testing.T) {
	d, r := atWork(t)
	to := filepath.Join(t.TempDir(), "b?ckup #1.db")
	if err := record.Backup(t.Context(), d.path, to); err != nil {
		t.Fatal(err)
	}
	commit(t, r, record.Entry{Vessel: "fv1", State: running("b1"), Events: []controller.Event{{Kind: controller.StuckFound}}})
	whole(t, read(t, to)) // of the moment in which it was made
	if left, err := filepath.Glob(filepath.Join(filepath.Dir(to), "*")); err != nil || len(left) != 1 {
		t.Errorf("beside the copy there is %v (%v)", left, err)
	}
	if err := record.Backup(t.Context(), d.path, to); err == nil || !strings.Contains(err.Error(), "there already") {
		t.Errorf("a second backup: %v", err)
	}
	shut(t, r)

	// It goes on as the record itself would.
	copyOf := newDesk(t)
	copyOf.path = to
	again, restored := copyOf.open(t)
	if s := restored.Vessels["fv1"]; s.StateErr != nil || s.Batch == nil || s.Batch.ID != "b1" {
		t.Errorf("restored from the backup: %+v", s)
	}
	shut(t, again)
}

func TestABatchIsArchivedAsARecordOfItsOwn(t *testing.T) {
	d := newDesk(t)
	r, _ := d.open(t)
	first := oneStep("fv1", "b0", controller.BatchStarted)
	first.Begin = &record.Begin{State: controller.Fresh(), Site: "name: fv1"}
	commit(t, r, first)
	r.Note(record.Telemetry{Vessel: "fv1", Batch: "b0", Counted: step})
	commit(t, r, record.Entry{Vessel: "fv1", State: running("b0"), Counted: 4 * step, Events: []controller.Event{{Kind: controller.StuckFound}}})
	shut(t, r)
	d.pass(time.Hour)
	r, _ = d.open(t)
	second := started("b1") // in the step in which the other one ends, and by an order
	second.Events = append([]controller.Event{{Kind: controller.BatchEnded}, {Kind: controller.OrderTaken}}, second.Events...)
	second.Begin = &record.Begin{State: controller.Fresh(), Site: "name: fv1"}
	commit(t, r, second)
	for n := range 5 {
		r.Note(record.Telemetry{Vessel: "fv1", Batch: "b1", Counted: time.Duration(n) * step, Elapsed: step})
	}
	commit(t, r, record.Entry{Vessel: "fv1", State: running("b1"), Orders: []record.Asked{{Order: controller.Order{ID: "o1"}, Words: "pause"}}})
	to := filepath.Join(t.TempDir(), "b1.db")
	if err := record.Archive(t.Context(), d.path, "b1", to); err != nil {
		t.Fatal(err)
	}
	shut(t, r)
	if b, err := os.ReadFile(to); err != nil || b[18] != 1 { // the file's form: 2 is with a journal beside it
		t.Errorf("the archive is no file of its own (%v)", err)
	}
	a := read(t, to)
	batches, errB := a.Batches(t.Context())
	runs, errR := a.Runs(t.Context())
	events, errE := a.Events(t.Context(), "b1")
	orders, errO := a.Orders(t.Context(), "b1")
	begins, errG := a.Begins(t.Context())
	for _, err := range []error{errB, errR, errE, errO, errG} {
		if err != nil {
			t.Error(err)
		}
	}
	around, err := a.EventsOf(t.Context(), 2, "fv1")
	if err != nil || len(around) != 4 || around[0].Batch != "" || around[1].Event.Kind != controller.OrderTaken || around[2].Batch != "b1" {
		t.Errorf("of the step in which the batch began there is %+v (%v)", around, err)
	}
	steps := 0
	for _, err := range a.Telemetry(t.Context(), "b1") {
		if err != nil {
			t.Error(err)
		}
		steps++
	}
	if len(batches) != 1 || batches[0].ID != "b1" || len(runs) != 1 || runs[0].ID != 2 || len(events) != 2 || len(orders) != 1 || steps != 5 {
		t.Errorf("%+v, %+v, %d events, %d orders, %d steps", batches, runs, len(events), len(orders), steps)
	}
	if len(begins) != 1 || begins[0].Site != "name: fv1" {
		t.Errorf("begins %+v: the site file is not written out", begins)
	}
}

func TestACopyThatCannotBeMadeLeavesNothing(t *testing.T) {
	d, r := atWork(t)
	shut(t, r)
	old := newDesk(t)
	edit(t, old.path, record.FirstVersion())
	folder := t.TempDir()
	for _, c := range []struct {
		name, from, batch, to, want string
	}{
		{"a batch that is not there", d.path, "b7", filepath.Join(folder, "x.db"), `no batch "b7"`},
		{"a folder that is not there", d.path, "b1", filepath.Join(folder, "none", "x.db"), "no such file"},
		{"a record that is not there", d.path + "x", "b1", filepath.Join(folder, "x.db"), "no such file"},
		{"a record of the first version", old.path, "b1", filepath.Join(folder, "x.db"), "version 1"},
		{"a place that is taken", d.path, "b1", d.path, "there already"},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := record.Archive(t.Context(), c.from, c.batch, c.to)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want %q", err, c.want)
			}
			if left, err := os.ReadDir(folder); err != nil || len(left) != 0 {
				t.Errorf("left behind: %v (%v)", left, err)
			}
		})
	}
}
