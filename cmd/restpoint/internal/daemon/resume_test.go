package daemon_test

import (
	"errors"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/daemon"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/record"
)

// halfway is what a run leaves behind that was killed in primary.
func halfway(t *testing.T) record.Saved {
	t.Helper()
	var saved record.Saved
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		c.begin(24)
		c.steps(12, 24)
		if !c.cool.On() {
			t.Fatal("not cooling")
		}
		c.close()
		for _, e := range c.disk.entries {
			saved.State = e.State
			if e.Batch != nil {
				saved.Batch = e.Batch
			}
		}
	})
	return saved
}

func TestABatchGoesOnWhereItWas(t *testing.T) {
	saved := halfway(t)
	saved.Outage = controller.Outage{Length: 7 * time.Hour, Known: true}
	saved.Batch.Original = 1.055 // of the batch, not of the schedule's text
	begin, err := daemon.Resume(vessel(), "section", saved)
	if err != nil {
		t.Fatal(err)
	}
	if begin.Vessel.Schedule.Wort.Original != 1.055 || begin.Name != saved.Batch.Name || begin.Schedule != saved.Batch.Schedule || begin.Section != "section" {
		t.Errorf("resumed as %+v", begin)
	}
	synctest.Test(t, func(t *testing.T) {
		c := open(t, func(cfg *daemon.Config) { cfg.Vessels = []daemon.Vessel{begin} })
		defer c.close()
		s := c.step(pace, 24)
		d := s.Vessels[0].Decision
		if d.Stage != "primary" || d.Batch != "b1" {
			t.Fatalf("stage %q of batch %q", d.Stage, d.Batch)
		}
		if c.cool.On() {
			t.Error("cooling starts without its rest after a restart")
		}
		if since := d.Since - saved.State.Batch.Since; since != 7*time.Hour {
			t.Errorf("the time since pitching went on by %v over an outage of 7 h", since)
		}
		if d.In != saved.State.Stage.In {
			t.Errorf("the dwell went on from %v to %v, an outage is no dwell", saved.State.Stage.In, d.In)
		}
		if got := s.Vessels[0].Recent[0].String(); !strings.Contains(got, "outage of 7 h") {
			t.Errorf("the first event is %q", got)
		}
		second := c.step(pace, 24).Vessels[0].Decision
		if grown := second.Since - d.Since; grown != pace {
			t.Errorf("the second step adds %v to the time since pitching: the outage counts once", grown)
		}
		// What the last run of cooling still does to the beer is waited for first.
		rested := 0
		for ; !c.cool.On() && rested < 400; rested++ {
			c.step(pace, 24)
		}
		t.Logf("cooling came back %v after the restart", time.Duration(rested)*pace)
		if !c.cool.On() || time.Duration(rested)*pace > 21*time.Minute {
			t.Errorf("cooling does not come back: %v", c.d.Snapshot().Vessels[0].Decision.Reasons)
		}
	})
}

func TestWhatIsNotUnderstoodIsNeverGuessed(t *testing.T) {
	sound := halfway(t)
	broken := *sound.Batch
	broken.Schedule = "schedule: x\nstages: [\n"
	other := sound.State
	other.Version = controller.StateVersion + 1
	for _, row := range []struct {
		name  string
		saved record.Saved
		says  string
	}{
		{"the state of a running batch is missing", record.Saved{Batch: sound.Batch, StateErr: errors.New("the state is missing")}, "batch b1: the state is missing"},
		{"the state is of another version", record.Saved{Batch: sound.Batch, StateErr: errors.New("the state has version 2, this program knows 1")}, "version 2"},
		{"a state of no batch that is not understood", record.Saved{StateErr: errors.New("the state is not understood")}, "not understood"},
		{"the schedule is damaged", record.Saved{Batch: &broken, State: sound.State}, "batch b1: its schedule"},
		{"a state that is in a batch of which the record knows nothing", record.Saved{State: sound.State}, `batch "b1"`},
		{"a state of another version that nobody has refused", record.Saved{Batch: sound.Batch, State: other}, "version"},
	} {
		t.Run(row.name, func(t *testing.T) {
			begin, err := daemon.Resume(vessel(), "", row.saved)
			if err == nil || !strings.Contains(err.Error(), row.says) || !strings.Contains(err.Error(), "fv1") {
				t.Errorf("said %v, want %q", err, row.says)
			}
			if begin.State.Mode != controller.Idle || !begin.State.Lost {
				t.Fatalf("mode %s, lost %v", begin.State.Mode, begin.State.Lost)
			}
			synctest.Test(t, func(t *testing.T) {
				c := open(t, func(cfg *daemon.Config) { cfg.Vessels = []daemon.Vessel{begin} })
				defer c.close()
				s := c.steps(30, 24)
				if !raised(s, string(alarms.StateLost)) {
					t.Error("the alarm state-lost is not raised")
				}
				if c.heat.On() || c.cool.On() || s.Vessels[0].Decision.Stage != "" {
					t.Errorf("the vessel does something: %+v", s.Vessels[0].Decision)
				}
				reply := c.ask("a", "fv1", controller.Verb{Kind: controller.Start, Batch: "b2"})
				s = c.step(pace, 24)
				if a := <-reply; !a.Answer.Taken || s.Vessels[0].Decision.Batch != "b2" {
					t.Errorf("a person cannot start anew: %+v", a)
				}
			})
		})
	}
}

func TestAVesselWithoutABatchComesBackAsItWas(t *testing.T) {
	chilled := controller.Fresh()
	chilled.Mode, chilled.Hold.Target, chilled.Age = controller.PreChill, 12, time.Hour
	begin, err := daemon.Resume(vessel(), "", record.Saved{State: chilled})
	if err != nil || begin.State.Mode != controller.PreChill || begin.State.Hold.Target != 12 {
		t.Errorf("%v, %+v", err, begin.State)
	}
	begin, err = daemon.Resume(vessel(), "", record.Saved{})
	if err != nil || begin.State.Mode != controller.Idle || begin.State.Lost {
		t.Errorf("nothing known: %v, %+v", err, begin.State)
	}
}

// The last state reaches the record even if nothing happened since the last event.
func TestTheLastStateIsHandedOverAtTheEnd(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		c.begin(19)
		c.steps(5, 19)
		before := len(c.disk.entries)
		c.close()
		if len(c.disk.entries) != before+1 {
			t.Fatalf("%d entries at the end", len(c.disk.entries)-before)
		}
		last := c.disk.entries[before]
		if last.State.Age != c.disk.entries[before-1].State.Age || len(last.Events) != 0 || len(last.Orders) != 0 || last.Batch != nil {
			t.Errorf("%+v", last)
		}
	})
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		c.close()
		if len(c.disk.entries) != 0 {
			t.Error("a run without a step overwrites what the last one left")
		}
	})
}
