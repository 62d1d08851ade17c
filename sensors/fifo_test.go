//go:build unix

package sensors_test

import (
	"context"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"go.uber.org/goleak"

	"example.org/restpoint/controller"
	"example.org/restpoint/sensors"
)

// A pipe that nobody writes to hangs in the kernel, as a lost bus does; here the
// time is real.
func TestAPipeThatHangsTimesOutAndComesBack(t *testing.T) {
	defer goleak.VerifyNone(t)
	dir := t.TempDir()
	path, aside := filepath.Join(dir, "beer"), filepath.Join(dir, "pipe")
	if err := syscall.Mkfifo(path, 0o600); err != nil {
		t.Skipf("no pipe can be made here: %v", err)
	}
	p := probe(t, sensors.Spec{Probe: "fv1/thermowell", Kind: sensors.File, Path: path})

	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	out, ended := make(chan controller.Reading), make(chan error, 1)
	poll := sensors.Poll{Interval: 5 * time.Millisecond, Deadline: 5 * time.Millisecond, Probes: []sensors.Probe{p}}
	go func() { ended <- poll.Run(ctx, out) }()
	for i := range 3 {
		if r := <-out; r.Fault != controller.TimedOut {
			t.Fatalf("reading %d of a hanging pipe: %+v", i, r)
		}
	}

	// A plain file takes the pipe's place, and the hanging read is let go.
	if err := os.Rename(path, aside); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte("18500\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	w, err := os.OpenFile(aside, os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.WriteString("99000\n"); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	for r := range out {
		if r.Fault == controller.TimedOut {
			continue
		}
		if r.Value != controller.OfTemperature(18.5) || r.Fault != "" {
			t.Errorf("after the pipe let go: %+v, want 18.5 C", r)
		}
		break
	}
	cancel()
	if err := <-ended; err != nil {
		t.Error(err)
	}
}
