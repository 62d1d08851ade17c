package record_test

import (
	"context"
	"flag"
	"fmt"
	"maps"
	"os"
	"reflect"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
)

// ledger is what the record is held to: everything that was handed over, in
// order, and how far of it is known to be on the disk.
type ledger struct {
	desk  *desk
	r     *record.Record
	n     int               // serial of whatever is handed over next
	batch map[string]string // running, by vessel, as the caller knows it

	events []noted
	steps  []noted
	states map[string]kept // newest
	stored struct {
		events, steps int
		states        map[string]kept
	}
}

// noted is an event or a step by its serial.
type noted struct{ vessel, batch, serial string }

type kept struct {
	state controller.State
	batch string
}

func (l *ledger) serial() string { l.n++; return strconv.Itoa(l.n) }

// entry is a step of a vessel with some events, as the program would hand it over.
func (l *ledger) entry(t *rapid.T, vessel, big string) record.Entry {
	e := record.Entry{Vessel: vessel, Counted: l.desk.mono}
	add := func(kind controller.EventKind) {
		ev := controller.Event{Kind: kind, Stage: l.serial(), Say: big}
		e.Events = append(e.Events, ev)
		l.events = append(l.events, noted{vessel, l.batch[vessel], ev.Stage})
	}
	for range rapid.IntRange(0, 2).Draw(t, "events") {
		add(controller.ProbeLost)
	}
	switch change := rapid.IntRange(0, 5).Draw(t, "change"); {
	case change == 0 && l.batch[vessel] != "":
		add(controller.BatchEnded)
		l.batch[vessel] = ""
	case change <= 1 && l.batch[vessel] == "":
		l.batch[vessel] = "b" + l.serial()
		e.Batch = ale(l.batch[vessel])
		e.Batch.Vessel = vessel
		add(controller.BatchStarted)
	case change == 2 && l.batch[vessel] != "": // the schedule was edited and adopted
		e.Batch = ale(l.batch[vessel])
		e.Batch.Vessel, e.Batch.Schedule = vessel, "schedule: edited"
	}
	e.State = controller.Fresh()
	if l.batch[vessel] != "" {
		e.State = running(l.batch[vessel])
	}
	e.State.Stage.Name = l.serial()
	l.states[vessel] = kept{e.State, l.batch[vessel]}
	return e
}

func (l *ledger) entries(t *rapid.T, big string) []record.Entry {
	var list []record.Entry
	for _, vessel := range []string{"fv1", "fv2"} {
		if rapid.Bool().Draw(t, vessel) {
			list = append(list, l.entry(t, vessel, big))
		}
	}
	return list
}

func (l *ledger) note(vessel string) {
	counted := l.serial()
	n, _ := strconv.Atoi(counted)
	l.r.Note(record.Telemetry{Vessel: vessel, Batch: l.batch[vessel], Counted: time.Duration(n) * time.Second})
	l.steps = append(l.steps, noted{vessel, l.batch[vessel], counted})
}

// written takes down that all is on the disk.
func (l *ledger) written() {
	l.stored.events, l.stored.steps = len(l.events), len(l.steps)
	l.stored.states = maps.Clone(l.states)
}

// lost takes down that the program is gone, with all that was not on the disk.
func (l *ledger) lost() {
	l.events, l.steps = l.events[:l.stored.events], l.steps[:l.stored.steps]
	l.states, l.batch = map[string]kept{}, map[string]string{}
	for v, s := range l.stored.states {
		l.states[v], l.batch[v] = s, s.batch
	}
}

func (l *ledger) open(t *rapid.T) {
	r, restored, err := record.Open(context.Background(), l.desk.options())
	if err != nil {
		t.Fatal(err)
	}
	l.r = r
	if restored.MovedAside != "" || len(restored.Vessels) != len(l.stored.states) {
		t.Fatalf("restored %d vessels, want %d; moved aside to %q", len(restored.Vessels), len(l.stored.states), restored.MovedAside)
	}
	for vessel, want := range l.stored.states {
		got := restored.Vessels[vessel]
		if got.StateErr != nil || !reflect.DeepEqual(got.State, want.state) {
			t.Fatalf("%s is restored to step %q (%v), want %q", vessel, got.State.Stage.Name, got.StateErr, want.state.Stage.Name)
		}
		switch {
		case want.batch == "" && got.Batch != nil:
			t.Fatalf("%s is restored to batch %s, which has ended", vessel, got.Batch.ID)
		case want.batch != "" && (got.Batch == nil || got.Batch.ID != want.batch || got.Batch.Vessel != vessel):
			t.Fatalf("%s is restored to %+v, want batch %s", vessel, got.Batch, want.batch)
		}
	}
}

// close ends the program in order. What Close says it could not write is lost.
func (l *ledger) close() {
	if err := l.r.Close(context.Background()); err == nil {
		l.written()
	}
	l.lost()
}

// kill goes on with what the files hold at this moment.
func (l *ledger) kill(t *rapid.T, next *desk) {
	for _, end := range []string{"", "-wal"} {
		b, err := os.ReadFile(l.desk.path + end)
		if os.IsNotExist(err) {
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(next.path+end, b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	_ = l.r.Close(context.Background()) // of the file that nobody looks at any more
	next.wall, next.mono = l.desk.wall, l.desk.mono
	l.desk = next
	l.lost()
}

// look compares what can be read with what is stored: every event and step, of
// the right batch, in order, once.
func (l *ledger) look(t *rapid.T) {
	wantEvents, wantSteps := map[string][]string{"": nil}, map[string][]string{"": nil}
	for _, e := range l.events[:l.stored.events] {
		wantEvents[e.batch] = append(wantEvents[e.batch], e.vessel+" "+e.serial)
	}
	for _, s := range l.steps[:l.stored.steps] {
		wantSteps[s.batch+"/"+s.vessel] = append(wantSteps[s.batch+"/"+s.vessel], s.serial)
	}
	for batch, want := range wantEvents {
		list, err := l.r.Events(context.Background(), batch)
		if err != nil {
			return // a file that is closed after an error is read once it is written again
		}
		var got []string
		for i := range list {
			got = append(got, list[i].Vessel+" "+list[i].Event.Stage)
		}
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("events of batch %q:\n got %v\nwant %v", batch, got, want)
		}
	}
	for key, want := range wantSteps {
		batch, vessel, _ := strings.Cut(key, "/")
		var got []string
		for step, err := range l.r.Telemetry(context.Background(), batch) {
			if err != nil {
				return
			}
			if step.Vessel == vessel {
				got = append(got, strconv.Itoa(int(step.Counted/time.Second)))
			}
		}
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("steps of batch %q in %s:\n got %v\nwant %v", batch, vessel, got, want)
		}
	}
}

// Whatever is kept, committed, refused by the disk, killed and opened again: what
// was committed is there, once, in order, in its batch, and the state is the last
// that was stored.
func TestNothingThatWasCommittedIsLostOrMovedInAnyOrderOfThings(t *testing.T) {
	// Every check opens and syncs files, which takes a tenth of a second on a
	// slow disk: fewer than usual, unless more are asked for.
	if checks := flag.Lookup("rapid.checks"); checks.Value.String() == checks.DefValue {
		if err := checks.Value.Set("25"); err != nil {
			t.Fatal(err)
		}
		defer func() { _ = checks.Value.Set(checks.DefValue) }()
	}
	rapid.Check(t, func(rt *rapid.T) {
		l := &ledger{desk: newDesk(t), batch: map[string]string{}, states: map[string]kept{}}
		l.written()
		l.open(rt)
		defer func() { _ = l.r.Close(context.Background()) }()
		for range rapid.IntRange(3, 14).Draw(rt, "length") {
			l.desk.pass(time.Second)
			switch what := rapid.SampledFrom([]string{"keep", "keep", "note", "note", "commit", "commit", "impatient", "full", "read", "close", "kill"}).Draw(rt, "what"); what {
			case "keep":
				l.r.Keep(l.entries(rt, ""), controller.PlantState{})
			case "note":
				l.note(rapid.SampledFrom([]string{"fv1", "fv2"}).Draw(rt, "vessel"))
			case "commit":
				if err := l.r.Commit(context.Background(), l.entries(rt, ""), controller.PlantState{}); err == nil {
					l.written()
				} else if l.r.Failing() == nil {
					rt.Fatalf("a commit failed with %v and nothing fails", err)
				}
			case "impatient":
				ctx, cancel := context.WithCancel(context.Background())
				cancel()
				_ = l.r.Commit(ctx, l.entries(rt, ""), controller.PlantState{}) // stored now or later
				if err := l.r.Commit(context.Background(), nil, controller.PlantState{}); err == nil {
					l.written()
				}
			case "full":
				if err := l.r.LimitPages(context.Background()); err != nil {
					continue
				}
				list := append(l.entries(rt, strings.Repeat("x", 64<<10)), l.entry(rt, "fv1", strings.Repeat("x", 64<<10)))
				if err := l.r.Commit(context.Background(), list, controller.PlantState{}); err == nil {
					l.written()
				}
			case "read":
				l.look(rt)
			case "close":
				l.close()
				l.open(rt)
			case "kill":
				l.kill(rt, newDesk(t))
				l.open(rt)
			}
		}
		if err := l.r.Commit(context.Background(), nil, controller.PlantState{}); err == nil {
			l.written()
		} else if err := l.r.Commit(context.Background(), nil, controller.PlantState{}); err != nil {
			rt.Fatalf("the file is writable and two commits failed: %v", err)
		} else {
			l.written()
		}
		l.look(rt)
		if steps, events := l.r.Dropped(); steps != 0 || events != 0 {
			rt.Fatalf("%d steps and %d events were dropped", steps, events)
		}
		l.close()
		l.open(rt)
		l.look(rt)
	})
}

// Readers see whole commits, each event once and in order, while they are written.
func TestReadersSeeWholeCommitsWhileTheyAreWritten(t *testing.T) {
	d := newDesk(t)
	r, _ := d.open(t)
	commit(t, r, started("b1"))
	const commits, each = 40, 3
	done := make(chan error, 1)
	go func() {
		for i := range commits {
			e := record.Entry{Vessel: "fv1", State: running("b1")}
			for k := range each {
				e.Events = append(e.Events, controller.Event{Kind: controller.StuckFound, Stage: strconv.Itoa(each*i + k)})
			}
			if err := r.Commit(context.Background(), []record.Entry{e}, controller.PlantState{}); err != nil {
				done <- fmt.Errorf("commit %d: %w", i, err)
				return
			}
		}
		done <- nil
	}()
	seen := 0
	for writing := true; writing; {
		select {
		case err := <-done:
			if err != nil {
				t.Fatal(err)
			}
			writing = false
		default:
		}
		list, err := r.Events(t.Context(), "b1")
		if err != nil {
			t.Fatal(err)
		}
		list = list[2:] // the start
		if len(list)%each != 0 || len(list) < seen {
			t.Fatalf("%d events are seen after %d", len(list), seen)
		}
		for i := range list {
			if list[i].Event.Stage != strconv.Itoa(i) {
				t.Fatalf("event %d is %s", i, list[i].Event.Stage)
			}
		}
		seen = len(list)
	}
	if seen != commits*each {
		t.Errorf("%d events at the end, want %d", seen, commits*each)
	}
}

// What comes while a write fails stands behind what could not be written.
func TestWhatComesWhileAWriteFailsStaysBehindIt(t *testing.T) {
	d := newDesk(t)
	r, _ := d.open(t)
	commit(t, r, started("b1"))
	if err := r.LimitPages(t.Context()); err != nil {
		t.Fatal(err)
	}
	n, other := 0, ""
	next := func(say string) []record.Entry {
		n++
		s := running("b1")
		s.Stage.Name = strconv.Itoa(n)
		r.Note(record.Telemetry{Vessel: "fv1", Batch: "b1", Counted: time.Duration(n) * time.Second})
		list := []record.Entry{{Vessel: "fv1", State: s, Events: []controller.Event{{Kind: controller.StuckFound, Stage: strconv.Itoa(n), Say: say}}}}
		if n <= 300 { // the other vessel is quiet before the write has failed
			idle := controller.Fresh()
			other = strconv.Itoa(n)
			idle.Stage.Name = other
			list = append(list, record.Entry{Vessel: "fv2", State: idle})
		}
		return list
	}
	r.Keep(next(strings.Repeat("x", 4<<20)), controller.PlantState{})
	failed := make(chan error, 1)
	go func() { failed <- r.Commit(context.Background(), nil, controller.PlantState{}) }()
	for trying := true; trying; {
		select {
		case err := <-failed:
			if err == nil {
				t.Fatal("a file that may not grow took 4 MiB")
			}
			trying = false
		default:
			if n < 5000 {
				r.Keep(next(""), controller.PlantState{})
			}
		}
	}
	commit(t, r)
	events, err := r.Events(t.Context(), "b1")
	if err != nil || len(events) != n+2 {
		t.Fatalf("%d events (%v), want %d", len(events), err, n+2)
	}
	for i := range events[2:] {
		if got := events[2+i].Event.Stage; got != strconv.Itoa(i+1) {
			t.Fatalf("event %d of %d is %s", i+1, n, got)
		}
	}
	for i, step := range telemetry(t, r, "b1") {
		if step.Counted != time.Duration(i+1)*time.Second {
			t.Fatalf("step %d of %d is of %s", i+1, n, step.Counted)
		}
	}
	shut(t, r)
	_, restored := d.open(t)
	for vessel, want := range map[string]string{"fv1": strconv.Itoa(n), "fv2": other} {
		if got := restored.Vessels[vessel].State.Stage.Name; got != want {
			t.Errorf("%s is restored to step %s, want %s", vessel, got, want)
		}
	}
}
