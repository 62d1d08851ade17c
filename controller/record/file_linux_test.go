package record_test

import (
	"context"
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
)

func TestABrokenFileIsMovedAsideAndANewOneIsBegun(t *testing.T) {
	noise := make([]byte, 64<<10)
	random := rand.New(rand.NewPCG(1, 2))
	for i := range noise {
		noise[i] = byte(random.Uint32() & 0xff)
	}
	for _, c := range []struct {
		name  string
		spoil func(whole []byte) []byte
	}{
		{"a file that was cut in the middle of a page", func(b []byte) []byte { return b[:len(b)/2+100] }},
		{"a file that was cut at a page", func(b []byte) []byte { return b[:len(b)/2/4096*4096] }},
		{"a file of random bytes", func([]byte) []byte { return noise }},
		{"a file with a good beginning and random bytes behind it", func(b []byte) []byte { return append(b[:4096:4096], noise...) }},
		{"a file of zeros", func(b []byte) []byte { return make([]byte, len(b)) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := grown(t)
			whole, err := os.ReadFile(d.path)
			if err != nil {
				t.Fatal(err)
			}
			beginAnew(t, d, c.spoil(whole))
		})
	}
}

// beginAnew puts bad bytes in the record's place and opens it.
func beginAnew(t *testing.T, d *desk, bad []byte) {
	t.Helper()
	if err := os.WriteFile(d.path, bad, 0o600); err != nil {
		t.Fatal(err)
	}
	r, restored := d.open(t)
	if want := d.path + ".broken-20260301T120000Z"; restored.MovedAside != want {
		t.Fatalf("moved aside to %q, want %q", restored.MovedAside, want)
	}
	aside, err := os.ReadFile(restored.MovedAside)
	if err != nil || string(aside) != string(bad) {
		t.Errorf("what was moved aside is not what was there (%v)", err)
	}
	if len(restored.Vessels) != 0 {
		t.Errorf("restored %+v", restored.Vessels)
	}
	commit(t, r, started("b2"))
	shut(t, r)
	if _, restored = d.open(t); restored.MovedAside != "" || restored.Vessels["fv1"].Batch.ID != "b2" {
		t.Errorf("the new file does not work: %+v", restored)
	}
}

func TestTwoBrokenFilesOfOneSecondAreBothKept(t *testing.T) {
	d := newDesk(t)
	for n, want := range []string{".broken-20260301T120000Z", ".broken-20260301T120000Z-2"} {
		if err := os.WriteFile(d.path, []byte(strings.Repeat("no database ", 500+n)), 0o600); err != nil {
			t.Fatal(err)
		}
		r, restored := d.open(t)
		shut(t, r)
		if restored.MovedAside != d.path+want {
			t.Errorf("moved to %q, want the ending %q", restored.MovedAside, want)
		}
	}
}

// TestACutAnywhereNeverFailsToOpen cuts file and journal as a dying card might:
// the record opens always, with what was stored or with the file moved aside.
func TestACutAnywhereNeverFailsToOpen(t *testing.T) {
	d := newDesk(t)
	r, _ := d.open(t)
	commit(t, r, started("b1"))
	commit(t, r, record.Entry{Vessel: "fv1", State: running("b1"), Events: []controller.Event{{Kind: controller.StuckFound}}})
	base, err := os.ReadFile(d.path)
	if err != nil {
		t.Fatal(err)
	}
	journal, err := os.ReadFile(d.path + "-wal")
	if err != nil {
		t.Fatal(err)
	}
	states := 0
	for cut := 0; cut <= len(journal); cut += 977 {
		k := newDesk(t)
		if err := errors.Join(os.WriteFile(k.path, base, 0o600), os.WriteFile(k.path+"-wal", journal[:cut], 0o600)); err != nil {
			t.Fatal(err)
		}
		again, restored := k.open(t)
		if s, found := restored.Vessels["fv1"]; found && s.StateErr == nil {
			states++
		} else if found {
			t.Errorf("cut at %d: a state that is half there: %v", cut, s.StateErr)
		}
		commit(t, again, started("b2"))
		shut(t, again)
	}
	if states == 0 {
		t.Error("no cut left the state of the first commit")
	}
}

func TestAFileThatIsNotOursToWriteIsRefusedAndLeftAlone(t *testing.T) {
	for _, c := range []struct{ name, do, want string }{
		{"a database of another program", "PRAGMA application_id = 7", "another program"},
		{"a database of another program without a version", "PRAGMA application_id = 0; PRAGMA user_version = 0", "another program"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := grown(t)
			edit(t, d.path, c.do)
			before, err := os.ReadFile(d.path)
			if err != nil {
				t.Fatal(err)
			}
			_, _, err = record.Open(t.Context(), d.options())
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Fatalf("opened with %v, want an error that tells of %q", err, c.want)
			}
			after, err := os.ReadFile(d.path)
			if err != nil || string(after) != string(before) {
				t.Errorf("the file was changed (%v)", err)
			}
			release(t, d)
		})
	}
}

// release holds Open to letting go of its lock when it fails.
func release(t *testing.T, d *desk) {
	t.Helper()
	f, err := os.OpenFile(d.path+".lock", os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB), f.Close()); err != nil {
		t.Errorf("the lock is still held: %v", err)
	}
}

func TestOpeningWhereThereIsNoPlaceForAFile(t *testing.T) {
	d := newDesk(t)
	folder := filepath.Dir(d.path)
	for _, c := range []struct{ name, path, want string }{
		{"a file where the folder should be", filepath.Join(folder, "plain", "record.db"), "not a"},
		{"a folder where the file should be", folder, "not a file"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if err := os.WriteFile(filepath.Join(folder, "plain"), nil, 0o600); err != nil {
				t.Fatal(err)
			}
			opt := d.options()
			opt.Path = c.path
			_, _, err := record.Open(t.Context(), opt)
			if err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), c.path) {
				t.Errorf("got %v, want %q and the path in it", err, c.want)
			}
		})
	}
}

// A newer program's file is no reason not to start, and is left as it is.
func TestAFileOfANewerProgramIsLeftAlone(t *testing.T) {
	d := grown(t)
	edit(t, d.path, "PRAGMA user_version = 99")
	before, err := os.ReadFile(d.path)
	if err != nil {
		t.Fatal(err)
	}
	r, restored := d.open(t)
	if restored.Unread == nil || r.Failing() == nil || !strings.Contains(r.Failing().Error(), "version 99") {
		t.Errorf("unread %v, failing with %v", restored.Unread, r.Failing())
	}
	if err := r.Commit(t.Context(), []record.Entry{started("b9")}, controller.PlantState{}); err == nil || !strings.Contains(err.Error(), "version 99") {
		t.Errorf("it was written to: %v", err)
	}
	_ = r.Close(t.Context()) // it says once more what it could not write
	if after, err := os.ReadFile(d.path); err != nil || string(after) != string(before) {
		t.Errorf("the file was changed (%v)", err)
	}
}

// A folder that is missing at the start is that of a card which is mounted late, or
// never: control goes on from memory, and what is kept is written when the folder
// comes, unless a record is in it.
func TestAFolderThatIsMissingAtTheStart(t *testing.T) {
	for _, c := range []struct {
		name string
		come func(t *testing.T, path string) // what comes later
		want string                          // why it is still not written; empty = it is
	}{
		{"it never comes", func(*testing.T, string) {}, "no such file"},
		{"it comes empty", func(t *testing.T, path string) {
			t.Helper()
			if err := os.MkdirAll(filepath.Dir(path), 0o750); err != nil {
				t.Fatal(err)
			}
		}, ""},
		{"it comes with a record", func(t *testing.T, path string) {
			t.Helper()
			if err := os.MkdirAll(filepath.Dir(path), 0o750); err != nil {
				t.Fatal(err)
			}
			other := newDesk(t)
			other.path = path
			r, _ := other.open(t)
			commit(t, r, started("b1"))
			shut(t, r)
		}, "start it again"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := newDesk(t)
			d.path = filepath.Join(filepath.Dir(d.path), "card", "record.db")
			r, restored := d.open(t)
			if restored.Unread == nil || r.Failing() == nil || !strings.Contains(r.Failing().Error(), d.path) {
				t.Fatalf("unread %v, failing with %v", restored.Unread, r.Failing())
			}
			r.Keep([]record.Entry{started("b9")}, controller.PlantState{})
			c.come(t, d.path)
			err := r.Commit(t.Context(), nil, controller.PlantState{})
			if c.want != "" {
				if err == nil || !strings.Contains(err.Error(), c.want) {
					t.Errorf("got %v, want %q", err, c.want)
				}
				_ = r.Close(t.Context())
				if c.want == "start it again" {
					again, restored := d.open(t)
					if b := restored.Vessels["fv1"].Batch; b == nil || b.ID != "b1" {
						t.Errorf("the record that came holds %+v", b)
					}
					shut(t, again)
				}
				return
			}
			if err != nil || r.Failing() != nil {
				t.Fatalf("%v, failing with %v", err, r.Failing())
			}
			shut(t, r)
			again, restored := d.open(t)
			if b := restored.Vessels["fv1"].Batch; b == nil || b.ID != "b9" {
				t.Errorf("what was kept is not there: %+v", b)
			}
			shut(t, again)
		})
	}
}

func TestNamesWithMarksOfTheirOwnAreOnlyNames(t *testing.T) {
	d := newDesk(t)
	d.path = filepath.Join(filepath.Dir(d.path), "a?mode=memory#b%20c d.db")
	r, _ := d.open(t)
	commit(t, r, started("b1"))
	shut(t, r)
	if _, err := os.Stat(d.path); err != nil {
		t.Error(err)
	}
}

func TestAWriteThatFailsOnceIsTriedAgain(t *testing.T) {
	d := newDesk(t)
	r, _ := d.open(t)
	commit(t, r, started("b1"))
	if err := r.LimitPages(t.Context()); err != nil {
		t.Fatal(err)
	}
	e := record.Entry{Vessel: "fv1", State: running("b1"), Events: []controller.Event{{Kind: controller.ReminderDue, Say: strings.Repeat("x", 1<<20)}}}
	if err := r.Commit(t.Context(), []record.Entry{e}, controller.PlantState{}); err == nil || !strings.Contains(err.Error(), "full") {
		t.Fatalf("a file that may not grow took a commit: %v", err)
	}
	shut(t, r) // opens the file anew, without the limit
	r, _ = d.open(t)
	if events, err := r.Events(t.Context(), "b1"); err != nil || len(events) != 3 {
		t.Errorf("%d events (%v), want three", len(events), err)
	}
}

func TestAFileThatIsTakenAwayIsBegunAnew(t *testing.T) {
	d := newDesk(t)
	r, _ := d.open(t)
	commit(t, r, started("b1"))
	for _, end := range []string{"", "-wal"} {
		if err := os.Rename(d.path+end, d.path+".elsewhere"+end); err != nil {
			t.Fatal(err)
		}
	}
	goesOn(t, d, r)
}

func TestAFileThatBreaksWhileItIsOpenIsMovedAsideAndBegunAnew(t *testing.T) {
	d := newDesk(t)
	r, _ := d.open(t)
	commit(t, r, started("b1"))
	if err := r.Forget(t.Context()); err != nil {
		t.Fatal(err)
	}
	f, err := os.OpenFile(d.path, os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	_, err = f.WriteAt([]byte(strings.Repeat("worn out", 512*8)), 0)
	if err := errors.Join(err, f.Close()); err != nil {
		t.Fatal(err)
	}
	if err := r.Commit(t.Context(), []record.Entry{{Vessel: "fv1", State: running("b1")}}, controller.PlantState{}); err == nil || r.Failing() == nil {
		t.Fatal("a broken file took a commit")
	}
	if aside, err := filepath.Glob(d.path + ".broken-*Z"); err != nil || len(aside) != 1 {
		t.Errorf("moved aside: %v (%v)", aside, err)
	}
	goesOn(t, d, r)
}

// goesOn holds the new file to knowing the batch that began in the old one.
func goesOn(t *testing.T, d *desk, r *record.Record) {
	t.Helper()
	d.pass(time.Minute)
	commit(t, r, record.Entry{Vessel: "fv1", State: running("b1"), Events: []controller.Event{{Kind: controller.StuckFound}}})
	if err := r.Failing(); err != nil {
		t.Errorf("failing: %v", err)
	}
	shut(t, r)
	r, restored := d.open(t)
	s := restored.Vessels["fv1"]
	if s.StateErr != nil || s.Batch == nil || s.Batch.Schedule != ale("b1").Schedule || !s.Batch.Started.Equal(d.wall.Add(-time.Minute)) {
		t.Errorf("restored %+v", s)
	}
	if events, err := r.Events(t.Context(), "b1"); err != nil || len(events) != 1 {
		t.Errorf("%d events (%v), want the one since", len(events), err)
	}
}

func TestACommitWaitsNoLongerThanItMay(t *testing.T) {
	d := newDesk(t)
	r, _ := d.open(t)
	let, busy, held := make(chan struct{}), make(chan struct{}), make(chan error, 1)
	go func() { held <- r.Hold(busy, let) }()
	<-busy
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	begun := time.Now()
	err := r.Commit(ctx, []record.Entry{started("b1")}, controller.PlantState{})
	if !errors.Is(err, context.Canceled) || time.Since(begun) > time.Second {
		t.Errorf("got %v after %s", err, time.Since(begun))
	}
	close(let)
	if err := <-held; err != nil {
		t.Fatal(err)
	}
	shut(t, r)
	_, restored := d.open(t)
	if s := restored.Vessels["fv1"]; s.StateErr != nil || s.Batch == nil {
		t.Errorf("what was not waited for was not stored: %+v", s)
	}
}
