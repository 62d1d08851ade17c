package record_test

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
)

// TestADayWearsTheCardLittle counts what the kernel writes for this process over
// a simulated day of one vessel at a 5 s step and the default flush. The bar is
// 25 MB; what the file system adds for itself is not in the figure.
func TestADayWearsTheCardLittle(t *testing.T) {
	if testing.Short() {
		t.Skip("a whole day takes some seconds")
	}
	d := newDesk(t)
	d.path = filepath.Join(t.TempDir(), "record.db") // memory does not wear
	rig, tank := brewing()
	synctest.Test(t, func(t *testing.T) {
		opt := d.options()
		opt.Flush, opt.Now = 0, time.Now
		r, _, err := record.Open(t.Context(), opt)
		if err != nil {
			t.Fatal(err)
		}
		begin := record.Entry{Vessel: "fv1", State: tank.State, Batch: ale("b1"), Events: []controller.Event{{Kind: controller.BatchStarted}}}
		commit(t, r, begin)
		before, commits := written(t), 0
		tick := time.NewTicker(step)
		defer tick.Stop()
		const steps = int(24 * time.Hour / step)
		for range steps {
			<-tick.C
			actual := tank.Driven
			rig.Step(step)
			r.Note(note(rig, tank, actual))
			e := []record.Entry{{Vessel: "fv1", State: tank.State, Counted: rig.Elapsed, Events: slices.Concat(tank.Out.Events, tank.Out.Notes), Decision: &tank.Out.Decision}}
			if tank.Out.Commit {
				commits++
				if err := r.Commit(t.Context(), e, rig.Plant); err != nil {
					t.Fatal(err)
				}
			} else {
				r.Keep(e, rig.Plant)
			}
		}
		shut(t, r)
		bytes := written(t) - before
		if bytes == 0 {
			t.Skip("this file system does not count what is written")
		}
		info, err := os.Stat(d.path)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%.1f MB written, file of %.2f MB, %d commits between flushes", float64(bytes)/1e6, float64(info.Size())/1e6, commits)
		if bytes > 25e6 {
			t.Errorf("%.1f MB written in a day, the bar is 25 MB", float64(bytes)/1e6)
		}
	})
	r, _ := d.open(t)
	steps := telemetry(t, r, "b1")
	if want := int(24 * time.Hour / step); len(steps) != want {
		t.Errorf("%d steps in the record, want %d", len(steps), want)
	}
}

// written is what this process made the kernel write, in bytes.
func written(t *testing.T) int64 {
	t.Helper()
	b, err := os.ReadFile("/proc/self/io")
	if err != nil {
		t.Skipf("the kernel does not count what is written: %v", err)
	}
	for line := range strings.Lines(string(b)) {
		var n int64
		if _, err := fmt.Sscanf(line, "write_bytes: %d", &n); err == nil {
			return n
		}
	}
	t.Skip("the kernel does not count what is written")
	return 0
}
