package record_test

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
)

// atWork is a record at work that holds something of everything.
func atWork(t *testing.T) (*desk, *record.Record) {
	t.Helper()
	d := newDesk(t)
	r, _ := d.open(t)
	commit(t, r, started("b1"))
	for n := range 5 {
		r.Note(record.Telemetry{Vessel: "fv1", Batch: "b1", Counted: time.Duration(n) * step, Elapsed: step})
	}
	commit(t, r, record.Entry{
		Vessel: "fv1", State: running("b1"), Counted: 5 * step,
		Events: []controller.Event{{Kind: controller.ForecastMade, Forecasts: []controller.Forecast{{Event: controller.Ready, Early: time.Hour, Late: 3 * time.Hour}}}},
		Orders: []record.Asked{{Order: controller.Order{ID: "o1", Who: "anna"}, Words: "fv1 pause", Answer: controller.Answer{ID: "o1", Taken: true}}},
	})
	return d, r
}

func read(t *testing.T, path string) *record.Reader {
	t.Helper()
	r, err := record.Read(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = r.Close() })
	return r
}

// whole holds a reader to finding what atWork wrote.
func whole(t *testing.T, r *record.Reader) {
	t.Helper()
	ctx := t.Context()
	batches, err := r.Batches(ctx)
	if err != nil || len(batches) != 1 || batches[0].ID != "b1" || batches[0].Schedule != ale("b1").Schedule {
		t.Errorf("batches %+v (%v)", batches, err)
	}
	runs, err := r.Runs(ctx)
	if err != nil || len(runs) != 1 || runs[0].Boot != "boot-1" || runs[0].Version != "test" || runs[0].Mono != time.Minute || runs[0].Synced {
		t.Errorf("runs %+v (%v)", runs, err)
	}
	events, err := r.Events(ctx, "b1")
	if err != nil || len(events) != 3 || events[0].Event.Kind != controller.BatchStarted {
		t.Errorf("events %+v (%v)", events, err)
	}
	foreseen, err := r.Forecasts(ctx, "b1")
	if err != nil || len(foreseen) != 1 || foreseen[0].Event.Forecasts[0].Late != 3*time.Hour || foreseen[0].Counted != 5*step {
		t.Errorf("forecasts %+v (%v)", foreseen, err)
	}
	orders, err := r.Orders(ctx, "b1")
	if err != nil || len(orders) != 1 || orders[0].Words != "fv1 pause" || !orders[0].Taken {
		t.Errorf("orders %+v (%v)", orders, err)
	}
	n := 0
	for s, err := range r.Telemetry(ctx, "b1") {
		if err != nil || s.Counted != time.Duration(n)*step {
			t.Errorf("step %d: %+v (%v)", n, s, err)
		}
		n++
	}
	if n != 5 {
		t.Errorf("%d steps, want 5", n)
	}
}

func TestARecordIsReadWhileItIsWritten(t *testing.T) {
	d, r := atWork(t)
	whole(t, read(t, d.path))
	again := read(t, d.path)
	commit(t, r, record.Entry{Vessel: "fv1", State: running("b1"), Events: []controller.Event{{Kind: controller.StuckFound}}})
	if events, err := again.Events(t.Context(), "b1"); err != nil || len(events) != 4 {
		t.Errorf("%d events (%v), want the new one too", len(events), err)
	}
	shut(t, r)
	if events, err := again.Events(t.Context(), "b1"); err != nil || len(events) != 4 {
		t.Errorf("%d events (%v) after the writer went", len(events), err)
	}
}

// TestAnotherProcessReadsWhatThisOneWrites runs this test's program again as the
// reader: locks and the journal's index work across processes.
func TestAnotherProcessReadsWhatThisOneWrites(t *testing.T) {
	if path := os.Getenv("RECORD_TO_READ"); path != "" {
		whole(t, read(t, path))
		return
	}
	d, r := atWork(t)
	cmd := exec.CommandContext(t.Context(), os.Args[0], "-test.run", "^TestAnotherProcessReadsWhatThisOneWrites$", "-test.v")
	cmd.Env = append(os.Environ(), "RECORD_TO_READ="+d.path)
	if out, err := cmd.CombinedOutput(); err != nil || !strings.Contains(string(out), "--- PASS") {
		t.Errorf("the other process: %v\n%s", err, out)
	}
	commit(t, r, record.Entry{Vessel: "fv1", State: running("b1")}) // its locks were let go of
}

func TestACopyIsReadAsTheRecordItself(t *testing.T) {
	d, r := atWork(t)
	withJournal := newDesk(t).path
	copyAll(t, d.path, withJournal, "", "-wal")
	whole(t, read(t, withJournal))
	shut(t, r)
	alone := newDesk(t).path
	copyAll(t, d.path, alone, "")
	whole(t, read(t, alone))
}

func copyAll(t *testing.T, from, to string, ends ...string) {
	t.Helper()
	for _, end := range ends {
		b, err := os.ReadFile(from + end)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(to+end, b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

func TestAReaderNeverWrites(t *testing.T) {
	d, r := atWork(t)
	shut(t, r)
	before, err := os.ReadFile(d.path)
	if err != nil {
		t.Fatal(err)
	}
	reader := read(t, d.path)
	whole(t, reader)
	if err := reader.Close(); err != nil {
		t.Fatal(err)
	}
	if after, err := os.ReadFile(d.path); err != nil || string(after) != string(before) {
		t.Errorf("the file was changed (%v)", err)
	}
}

func TestWhatIsNoRecordIsRefusedToAReader(t *testing.T) {
	folder := t.TempDir()
	text, empty := filepath.Join(folder, "text"), filepath.Join(folder, "empty")
	if err := errors.Join(os.WriteFile(text, []byte(strings.Repeat("no database ", 500)), 0o600), os.WriteFile(empty, nil, 0o600)); err != nil {
		t.Fatal(err)
	}
	newer := grown(t)
	edit(t, newer.path, "PRAGMA user_version = 99")
	for _, c := range []struct{ name, path, want string }{
		{"a file that is not there", filepath.Join(folder, "none"), "no such file"},
		{"a folder", folder, "not a file"},
		{"a text", text, "it is no SQLite database"},
		{"an empty file", empty, "empty"},
		{"a record of a newer program", newer.path, "version 99"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if _, err := record.Read(t.Context(), c.path); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want %q", err, c.want)
			}
		})
	}
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := record.Read(gone, newer.path); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
}

// grown is a record of some size, closed.
func grown(t *testing.T) *desk {
	t.Helper()
	d := newDesk(t)
	r, _ := d.open(t)
	commit(t, r, started("b1"))
	var events []controller.Event
	for range 200 {
		events = append(events, controller.Event{Kind: controller.AlarmRaised, Say: strings.Repeat("x", 200)})
	}
	commit(t, r, record.Entry{Vessel: "fv1", State: running("b1"), Events: events})
	shut(t, r)
	return d
}

func openSQL(t *testing.T, path string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	return db
}

func edit(t *testing.T, path, statement string) {
	t.Helper()
	db := openSQL(t, path)
	_, err := db.ExecContext(t.Context(), statement)
	if err := errors.Join(err, db.Close()); err != nil {
		t.Fatal(err)
	}
}

// Readers come and go while the record is written and its journal begins anew: none
// meets an error or goes back in time, and no commit waits for one.
func TestReadersAndTheWriterDoNotGetInEachOthersWay(t *testing.T) {
	d, r := atWork(t)
	stop, ended := make(chan struct{}), make(chan error, 2)
	for range cap(ended) {
		go func() { ended <- look(t.Context(), d.path, stop) }()
	}
	slowest := time.Duration(0)
	for n := range 400 {
		r.Note(record.Telemetry{Vessel: "fv1", Batch: "b1", Counted: time.Duration(6+n) * step, Elapsed: step})
		before := time.Now()
		commit(t, r, record.Entry{Vessel: "fv1", State: running("b1"), Events: []controller.Event{{Kind: controller.StuckFound}}})
		slowest = max(slowest, time.Since(before))
	}
	close(stop)
	if err := errors.Join(<-ended, <-ended); err != nil {
		t.Error(err)
	}
	t.Logf("the slowest of 400 commits took %v", slowest)
	if slowest > 2*time.Second { // what an answer waits for at the most
		t.Errorf("a commit took %v", slowest)
	}
	shut(t, r)
}

// look opens and reads the record until it is stopped.
func look(ctx context.Context, path string, stop <-chan struct{}) error {
	for seen := 0; ; {
		select {
		case <-stop:
			return nil
		default:
		}
		r, err := record.Read(ctx, path)
		if err != nil {
			return err
		}
		events, err := r.Events(ctx, "b1")
		steps := 0
		for _, stepErr := range r.Telemetry(ctx, "b1") {
			err = errors.Join(err, stepErr)
			steps++
		}
		if err = errors.Join(err, r.Close()); err != nil {
			return err
		}
		// Each commit brings an event and a step, after three events and five steps.
		if len(events) < seen || steps < len(events)+2 {
			return fmt.Errorf("%d events after %d, and %d steps", len(events), seen, steps)
		}
		seen = len(events)
	}
}
