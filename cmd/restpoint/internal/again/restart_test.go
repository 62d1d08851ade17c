package again_test

import (
	"math"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
)

// flush is the record's usual one: what a kill may cost of counted time.
const flush = record.DefaultFlush

// A program that was killed goes on where its record is: in the same stage, with at
// most one flush of counted time lost, with what it has learnt of the vessel, with its
// relays at rest, and with the outage as an event.
func TestAKilledProgramGoesOnWhereItWas(t *testing.T) {
	for _, c := range []struct {
		name string
		off  time.Duration
		boot string // after the cut
		sync bool
		said string
	}{
		{"within one boot the outage is known", 10 * time.Minute, "boot-1", false, "an outage of 12 min"}, // two minutes were not flushed
		{"over a boot two clocks that are right know it", 7 * time.Hour, "boot-2", true, "an outage of 7 h"},
		{"else nobody knows it", 7 * time.Hour, "boot-2", false, "an outage of unknown length"},
	} {
		t.Run(c.name, func(t *testing.T) {
			folder := memory(t)
			var path string
			synctest.Test(t, func(t *testing.T) {
				d := newCellar(t, folder, 3)
				d.synced = c.sync
				d.run()
				d.steps(2)
				d.tell("start pale-ale-with-rest as b1")
				d.tell("pitched")
				d.hours(30)
				d.steps(3) // between two flushes
				before := d.d.Snapshot().Vessels[0].Decision
				d.kill()
				if c.boot == d.boot {
					<-time.After(c.off)
				} else {
					d.reboot(c.off, c.boot)
				}
				d.run()
				d.steps(1)
				after := d.d.Snapshot().Vessels[0]
				if after.Decision.Stage != before.Stage || after.Decision.Batch != before.Batch {
					t.Errorf("in stage %q, was in %q", after.Decision.Stage, before.Stage)
				}
				if lost := before.In - after.Decision.In; lost < 0 || lost > flush {
					t.Errorf("%v of counted time are lost", lost)
				}
				if after.Heat.On || after.Cool.On || after.Heat.For > pace || after.Cool.For > pace {
					t.Errorf("a relay does not begin its rest: %+v, %+v", after.Heat, after.Cool)
				}
				d.steps(20) // the response counts when the beer has been seen for a while
				is, was := d.d.Snapshot().Vessels[0].Decision.Response, before.Response
				t.Logf("learnt: cooling %v after %v, from %v of it; lost are %v of counted time", is.Cool, is.CoolLag, is.CoolLearnt, before.In-after.Decision.In)
				if was.CoolLearnt == 0 || is.CoolLearnt < was.CoolLearnt-flush || is.CoolLag != was.CoolLag || !near(float64(is.Cool), float64(was.Cool)) || !near(float64(is.Heat), float64(was.Heat)) {
					t.Errorf("what was learnt of the vessel is\n%+v, was\n%+v", is, was)
				}
				d.stop()
				path = d.path
			})
			events, err := read(t, path).Events(t.Context(), "b1")
			if err != nil {
				t.Fatal(err)
			}
			said := ""
			for _, e := range events {
				if e.Event.Kind == controller.Resumed {
					said += e.Event.String()
				}
			}
			if !strings.Contains(said, c.said) {
				t.Errorf("said %q, want %q", said, c.said)
			}
		})
	}
}

// near allows for what the last minutes before the kill had taught.
func near(a, b float64) bool { return math.Abs(a-b) <= 0.05*math.Abs(b) }
