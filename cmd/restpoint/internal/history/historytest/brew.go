// Package historytest records simulated batches for tests. It is part of no program.
package historytest

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/history"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/profiles"
)

// Brew records a simulated batch for so long and gives the file. Between lets the
// test meddle before each step; it may be nil.
func Brew(t testing.TB, schedule string, b bench.Brew, flush, long time.Duration, between func(*bench.Simulated)) string {
	t.Helper()
	file, err := profiles.Load(schedule)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "record.db")
	k, err := history.NewKeeper(t.Context(), path, file, 60, flush)
	if err != nil {
		t.Fatal(err)
	}
	sim := bench.Simulate("fv1", b, file.Schedule)
	for sim.Rig.Elapsed < long {
		if between != nil {
			between(sim)
		}
		sim.Step()
		if err := k.Note(t.Context(), sim.Rig.Elapsed, sim.Tank); err != nil {
			t.Fatal(err)
		}
	}
	if err := k.Close(context.WithoutCancel(t.Context())); err != nil {
		t.Fatal(err)
	}
	return path
}
