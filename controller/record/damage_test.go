package record_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"example.org/restpoint/controller/record"
)

// damaged opens what a dying card left, and holds that the record comes up sane: with
// a state that was stored once, or with one that it says is lost, or with the file
// moved aside. It tells which.
func damaged(t *testing.T, what string, file, journal []byte) string {
	t.Helper()
	d := newDesk(t)
	if err := os.WriteFile(d.path, file, 0o600); err != nil {
		t.Fatal(err)
	}
	if journal != nil {
		if err := os.WriteFile(d.path+"-wal", journal, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	r, restored, err := record.Open(t.Context(), d.options())
	if err != nil {
		return "refused: " + err.Error()
	}
	outcome := "nothing known"
	for vessel, s := range restored.Vessels {
		switch {
		case s.StateErr != nil:
			outcome = "lost and said"
		case reflect.DeepEqual(s.State, running("b1")):
			outcome = "whole"
		default:
			t.Errorf("%s: vessel %q came back otherwise than it ever was", what, vessel)
		}
		if s.StateErr == nil && (s.Batch == nil || s.Batch.Schedule != ale("b1").Schedule || s.Batch.Original != ale("b1").Original) {
			t.Errorf("%s: its batch is %+v", what, s.Batch)
		}
	}
	if restored.MovedAside != "" {
		outcome = "moved aside"
		if aside, err := os.ReadFile(restored.MovedAside); err != nil || string(aside) != string(file) {
			t.Errorf("%s: what was moved aside is not what was there (%v)", what, err)
		}
	}
	if restored.Unread != nil {
		t.Errorf("%s: %v", what, restored.Unread)
	}
	for _, err := range r.Telemetry(t.Context(), "b1") {
		_ = err // a damaged pack is said
	}
	_ = r.Close(t.Context()) // damage elsewhere in the file may be found now
	return outcome
}

// left is what a record holds after a good end, and file and journal after a kill.
func left(t *testing.T) (ended, file, journal []byte) {
	t.Helper()
	d, r := atWork(t)
	file, errFile := os.ReadFile(d.path)
	journal, errJournal := os.ReadFile(d.path + "-wal")
	shut(t, r)
	ended, errEnded := os.ReadFile(d.path)
	for _, err := range []error{errFile, errJournal, errEnded} {
		if err != nil {
			t.Fatal(err)
		}
	}
	return ended, file, journal
}

const page = 4096

func TestAFileThatIsCutAtAnyPageComesUpSane(t *testing.T) {
	ended, file, journal := left(t)
	outcomes := map[string]int{}
	for cut := 0; cut <= len(ended); cut += page {
		outcomes["file: "+damaged(t, fmt.Sprintf("cut at %d", cut), ended[:cut], nil)]++
	}
	const frame = page + 24
	for cut := 32; cut <= len(journal); cut += frame {
		outcomes["journal: "+damaged(t, fmt.Sprintf("journal cut at %d", cut), file, journal[:cut])]++
		outcomes["journal: "+damaged(t, fmt.Sprintf("journal cut at %d", cut-17), file, journal[:cut-17])]++
	}
	t.Logf("%d pages, %d of the journal: %v", len(ended)/page, len(journal)/frame, outcomes)
	if outcomes["file: whole"] != 1 || outcomes["file: moved aside"] == 0 || outcomes["journal: whole"] == 0 {
		t.Errorf("not every kind of damage was met: %v", outcomes)
	}
}

func TestAFileWithBitsThatFlippedComesUpSane(t *testing.T) {
	ended, file, journal := left(t)
	outcomes := map[string]int{}
	r := rand.New(rand.NewPCG(3, 5))
	n := 150
	if os.Getenv("RESTPOINT_LONG") != "" {
		n = 3000
	}
	for i := range n {
		if i%3 == 0 {
			bad := append([]byte(nil), journal...)
			bad[r.IntN(len(bad))] ^= 1 << r.IntN(8)
			outcomes["journal: "+damaged(t, fmt.Sprintf("flip %d of the journal", i), file, bad)]++
			continue
		}
		bad := append([]byte(nil), ended...)
		for range 1 + i%4 {
			bad[r.IntN(len(bad))] ^= 1 << r.IntN(8)
		}
		outcomes["file: "+damaged(t, fmt.Sprintf("flip %d", i), bad, nil)]++
	}
	t.Log(outcomes)
	if outcomes["file: whole"] == 0 || outcomes["file: moved aside"] == 0 || outcomes["journal: nothing known"]+outcomes["journal: whole"] == 0 {
		t.Errorf("not every kind of damage was met: %v", outcomes)
	}
}

// Each bit of the running batch and of the state counts: one that flips is found,
// where SQLite itself sees nothing.
func TestAFlippedBitInAStateIsFound(t *testing.T) {
	for _, c := range []struct{ name, change, want string }{
		{"in the state", `UPDATE states SET state = replace(state, '"Mode":"batch"', '"Mode":"idle" ')`, "lost and said"},
		{"in a number of the state", `UPDATE states SET state = replace(state, '1', '2')`, "lost and said"},
		{"in the schedule", `UPDATE batches SET schedule = replace(schedule, 'ale', 'alf')`, "lost and said"},
		{"in the gravity", `UPDATE batches SET original = 1.062`, "lost and said"},
		{"where it does not matter", `UPDATE batches SET who = 'hanna'`, "whole"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, r := atWork(t)
			shut(t, r)
			edit(t, d.path, c.change)
			b, err := os.ReadFile(filepath.Clean(d.path))
			if err != nil {
				t.Fatal(err)
			}
			if got := damaged(t, c.name, b, nil); got != c.want {
				t.Errorf("%s, want %s", got, c.want)
			}
		})
	}
}
