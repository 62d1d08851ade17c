package record_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"syscall"
	"testing"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
)

// small mounts a file system of its own, which needs a privileged user.
func small(t *testing.T, size string) string {
	t.Helper()
	folder := t.TempDir()
	if err := syscall.Mount("none", folder, "tmpfs", 0, "size="+size); err != nil {
		t.Skipf("cannot mount a small file system here: %v", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(folder, 0); err != nil {
			t.Errorf("unmount: %v", err)
		}
	})
	return folder
}

func readOnly(t *testing.T, folder string) {
	t.Helper()
	if err := syscall.Mount("none", folder, "tmpfs", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""); err != nil {
		t.Skipf("cannot make a file system read-only here: %v", err)
	}
}

func fillUp(t *testing.T, folder string) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(folder, "ballast"), make([]byte, 2<<20), 0o600); !errors.Is(err, syscall.ENOSPC) {
		t.Fatalf("the disk is not full: %v", err)
	}
}

// A reader makes do with a card that cannot be written: what a killed program left
// in its journal is read too.
func TestARecordIsReadFromACardThatCannotBeWritten(t *testing.T) {
	for _, c := range []struct {
		name string
		ends []string
		stop func(t *testing.T, folder string)
	}{
		{"a read-only one after a kill", []string{"", "-wal"}, readOnly},
		{"a read-only one after a good end", []string{""}, readOnly},
		{"a full one after a kill", []string{"", "-wal"}, fillUp},
		{"a full one after a good end", []string{""}, fillUp},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, r := atWork(t)
			if len(c.ends) == 1 {
				shut(t, r)
			}
			folder := small(t, "1m")
			card := filepath.Join(folder, "record.db")
			copyAll(t, d.path, card, c.ends...)
			c.stop(t, folder)
			whole(t, read(t, card))
		})
	}
}

// The index of the journal is mapped into memory: a disk that gets full while it grows
// must be an error and not the program's end. One part of it holds some 4000 pages of
// the journal; there is room for the first part and not for the second.
func TestADiskThatIsFullWhenTheIndexGrowsIsAnError(t *testing.T) {
	d := newDesk(t)
	r, _ := d.open(t)
	commit(t, r, started("b1"))
	commit(t, r, record.Entry{Vessel: "fv1", State: running("b1"), Events: []controller.Event{{Kind: controller.ReminderDue, Say: strings.Repeat("x", 18<<20)}}})
	folder := small(t, "40m")
	card := newDesk(t)
	card.path = filepath.Join(folder, "record.db")
	copyAll(t, d.path, card.path, "", "-wal")
	if info, err := os.Stat(card.path + "-wal"); err != nil || info.Size() < 4100*4096 {
		t.Fatalf("the journal is too short: %v, %v", info, err)
	}
	ballast := filepath.Join(folder, "ballast")
	if err := os.WriteFile(ballast, make([]byte, 40<<20), 0o600); !errors.Is(err, syscall.ENOSPC) {
		t.Fatalf("the disk is not full: %v", err)
	}
	info, err := os.Stat(ballast)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(ballast, info.Size()-48<<10); err != nil {
		t.Fatal(err)
	}
	again, restored := card.open(t)
	if s := restored.Vessels["fv1"]; s.StateErr != nil || s.Batch == nil || again.Failing() == nil {
		t.Errorf("restored %v, batch %v, failing with %v", s.StateErr, s.Batch, again.Failing())
	}
	if err := os.Remove(ballast); err != nil {
		t.Fatal(err)
	}
	commit(t, again, record.Entry{Vessel: "fv1", State: running("b1")})
	if err := again.Failing(); err != nil {
		t.Errorf("still failing: %v", err)
	}
	shut(t, again)
}

func TestAFullDiskLosesNoEventAndComesBack(t *testing.T) {
	d := newDesk(t)
	d.path = filepath.Join(small(t, "512k"), "record.db")
	r, _ := d.open(t)
	commit(t, r, started("b1"))
	ballast := filepath.Join(filepath.Dir(d.path), "ballast")
	if err := os.WriteFile(ballast, make([]byte, 512<<10), 0o600); !errors.Is(err, syscall.ENOSPC) {
		t.Fatalf("the disk is not full: %v", err)
	}
	for n := range 3 {
		e := record.Entry{Vessel: "fv1", State: running("b1"), Events: []controller.Event{{Kind: controller.ReminderDue, Say: fmt.Sprint(n) + strings.Repeat("x", 8<<10)}}}
		if err := r.Commit(t.Context(), []record.Entry{e}, controller.PlantState{}); err == nil {
			t.Fatal("a full disk took a commit")
		}
	}
	if err := r.Failing(); err == nil || !strings.Contains(err.Error(), "full") {
		t.Errorf("failing with %v, want a full disk", err)
	}
	if err := os.Remove(ballast); err != nil {
		t.Fatal(err)
	}
	commit(t, r, record.Entry{Vessel: "fv1", State: running("b1")})
	if err := r.Failing(); err != nil {
		t.Errorf("still failing: %v", err)
	}
	events, err := r.Events(t.Context(), "b1")
	if err != nil || len(events) != 5 || events[2].Event.Say[0] != '0' || events[4].Event.Say[0] != '2' {
		t.Errorf("%d events (%v), want all five in order", len(events), err)
	}
	shut(t, r)
}

func TestAFullDiskAtTheStartStillRestores(t *testing.T) {
	d := newDesk(t)
	d.path = filepath.Join(small(t, "512k"), "record.db")
	r, _ := d.open(t)
	commit(t, r, started("b1"))
	shut(t, r)
	ballast := filepath.Join(filepath.Dir(d.path), "ballast")
	if err := os.WriteFile(ballast, make([]byte, 512<<10), 0o600); !errors.Is(err, syscall.ENOSPC) {
		t.Fatalf("the disk is not full: %v", err)
	}
	r, restored := d.open(t)
	if s := restored.Vessels["fv1"]; s.StateErr != nil || s.Batch == nil {
		t.Errorf("restored %+v", s)
	}
	e := record.Entry{Vessel: "fv1", State: running("b1"), Events: []controller.Event{{Kind: controller.Resumed}}}
	if err := r.Commit(t.Context(), []record.Entry{e}, controller.PlantState{}); err == nil || r.Failing() == nil {
		t.Errorf("a full disk took a commit: %v", err)
	}
	if err := os.Remove(ballast); err != nil {
		t.Fatal(err)
	}
	if err := r.Close(context.Background()); err != nil {
		t.Errorf("the last flush: %v", err)
	}
	r, _ = d.open(t)
	if events, err := r.Events(t.Context(), "b1"); err != nil || len(events) != 3 {
		t.Errorf("events %+v (%v)", events, err)
	}
	shut(t, r)
}

func writable(t *testing.T, folder string) {
	t.Helper()
	if err := syscall.Mount("none", folder, "tmpfs", syscall.MS_REMOUNT, ""); err != nil {
		t.Fatal(err)
	}
}

// notTaken holds that a commit is answered with an error, and that the trouble is said.
func notTaken(t *testing.T, r *record.Record, say string) {
	t.Helper()
	e := record.Entry{Vessel: "fv1", State: running("b1"), Events: []controller.Event{{Kind: controller.StuckFound, Say: say}}}
	if err := r.Commit(t.Context(), []record.Entry{e}, controller.PlantState{}); err == nil || r.Failing() == nil {
		t.Errorf("a card that cannot be written took a commit: %v, failing with %v", err, r.Failing())
	}
}

func TestACardThatCannotBeWrittenIsGoneOnWithFromMemory(t *testing.T) {
	for _, c := range []struct {
		name  string
		ends  []string // of the record that lies on the card
		found func(t *testing.T, s record.Restored)
		spoil bool
		after int // events of b1 that are stored when the card is well again
		aside int
	}{
		{"after a good end", []string{""}, knows, false, 4, 0},
		{"after a kill", []string{"", "-wal"}, knows, false, 4, 0},
		{"a card without a record", nil, func(t *testing.T, s record.Restored) {
			t.Helper()
			if s.Unread != nil || len(s.Vessels) != 0 {
				t.Errorf("restored %+v", s)
			}
		}, false, 0, 0},
		{"a broken record", []string{""}, func(t *testing.T, s record.Restored) {
			t.Helper()
			if s.Unread == nil || len(s.Vessels) != 0 || s.MovedAside != "" {
				t.Errorf("restored %+v", s)
			}
		}, true, 0, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, r := atWork(t)
			if len(c.ends) == 1 {
				shut(t, r)
			}
			folder := small(t, "2m")
			card := newDesk(t)
			card.path = filepath.Join(folder, "record.db")
			copyAll(t, d.path, card.path, c.ends...)
			if c.spoil {
				if err := os.Truncate(card.path, 5000); err != nil {
					t.Fatal(err)
				}
			}
			readOnly(t, folder)
			again, restored := card.open(t)
			c.found(t, restored)
			notTaken(t, again, "one")
			writable(t, folder)
			commit(t, again, record.Entry{Vessel: "fv1", State: running("b1")})
			if err := again.Failing(); err != nil {
				t.Errorf("still failing: %v", err)
			}
			if events, err := again.Events(t.Context(), "b1"); err != nil || len(events) != c.after {
				t.Errorf("%d events (%v), want %d", len(events), err, c.after)
			}
			if aside, err := filepath.Glob(card.path + ".broken-*Z"); err != nil || len(aside) != c.aside {
				t.Errorf("moved aside: %v (%v)", aside, err)
			}
			shut(t, again)
		})
	}
}

// A card that could not be read at the start and can later holds batches of which this
// run knows nothing: it is moved aside whole, never written over.
func TestARecordThatCouldNotBeReadIsNeverWrittenOver(t *testing.T) {
	d, r := atWork(t)
	shut(t, r)
	folder := small(t, "2m")
	card := newDesk(t)
	card.path = filepath.Join(folder, "record.db")
	copyAll(t, d.path, card.path, "")
	if err := os.Truncate(card.path, 5000); err != nil {
		t.Fatal(err)
	}
	readOnly(t, folder)
	blind, restored := card.open(t)
	if restored.Unread == nil {
		t.Fatal("a broken record was read")
	}
	writable(t, folder)
	copyAll(t, d.path, card.path, "") // the card is well again
	commit(t, blind, record.Entry{Vessel: "fv1", State: controller.Fresh()})
	shut(t, blind)
	aside, err := filepath.Glob(card.path + ".broken-*Z")
	if err != nil || len(aside) != 1 {
		t.Fatalf("moved aside: %v (%v)", aside, err)
	}
	card.path = aside[0]
	_, restored = card.open(t)
	knows(t, restored)
}

// knows holds that what atWork left is restored.
func knows(t *testing.T, s record.Restored) {
	t.Helper()
	if v := s.Vessels["fv1"]; v.StateErr != nil || v.Batch == nil || !reflect.DeepEqual(v.State, running("b1")) {
		t.Errorf("restored %v, batch %v", v.StateErr, v.Batch)
	}
}

func TestAFolderThatVanishesWhileTheProgramRunsIsTrouble(t *testing.T) {
	d, r := atWork(t)
	folder := filepath.Dir(d.path)
	if err := os.Rename(folder, folder+"-gone"); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(folder + "-gone") })
	notTaken(t, r, "one")
	notTaken(t, r, "two")
	if err := os.Mkdir(folder, 0o700); err != nil {
		t.Fatal(err)
	}
	commit(t, r, record.Entry{Vessel: "fv1", State: running("b1")})
	if events, err := r.Events(t.Context(), "b1"); err != nil || len(events) != 2 || events[1].Event.Say != "two" {
		t.Errorf("events %+v (%v), want those since the folder vanished", events, err)
	}
	shut(t, r)
	_, restored := d.open(t)
	knows(t, restored)
}

// Errors of writing that no full disk gives: a limit of the kernel on the size of
// files, in a process of its own.
func TestAnErrorOfWritingIsNotTheEnd(t *testing.T) {
	if os.Getenv("RECORD_LIMITED") == "" {
		cmd := exec.CommandContext(t.Context(), os.Args[0], "-test.run", "^TestAnErrorOfWritingIsNotTheEnd$", "-test.v")
		cmd.Env = append(os.Environ(), "RECORD_LIMITED=1")
		if out, err := cmd.CombinedOutput(); err != nil || !strings.Contains(string(out), "--- PASS") {
			t.Errorf("%v\n%s", err, out)
		}
		return
	}
	_, r := atWork(t)
	var was syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_FSIZE, &was); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: 100 << 10, Max: was.Max}); err != nil {
		t.Fatal(err)
	}
	notTaken(t, r, strings.Repeat("x", 200<<10))
	if err := r.Failing(); err == nil || !strings.Contains(err.Error(), "I/O") && !strings.Contains(err.Error(), "full") {
		t.Errorf("failing with %v", err)
	}
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &was); err != nil {
		t.Fatal(err)
	}
	commit(t, r, record.Entry{Vessel: "fv1", State: running("b1")})
	if events, err := r.Events(t.Context(), "b1"); err != nil || len(events) != 4 {
		t.Errorf("%d events (%v), want four", len(events), err)
	}
	shut(t, r)
}
