package history

import (
	"context"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/controller/record"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles"
)

// Keeper writes the record of a simulated batch, as the running program would
// write it. The zero one keeps nothing.
type Keeper struct {
	record *record.Record
	file   *profiles.File
	volume units.Litres
	at     time.Duration // of the simulation
	stored time.Duration
	every  time.Duration
}

// simulatedFrom is the wall clock's label of the first step of a simulation: one
// batch is the same as ever.
func simulatedFrom() time.Time { return time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC) }

// NewKeeper begins a record at path. It is flushed each time that so much has
// passed in the simulation.
func NewKeeper(ctx context.Context, path string, file *profiles.File, volume units.Litres, flush time.Duration) (*Keeper, error) {
	k := &Keeper{file: file, volume: volume, every: flush}
	var err error
	k.record, _, err = record.Open(ctx, record.Options{
		Path: path, Flush: units.Day, BootID: "simulated", Version: "simulated",
		Now:          func() time.Time { return simulatedFrom().Add(k.at) },
		Monotonic:    func() time.Duration { return time.Minute + k.at },
		Synchronised: func() bool { return true },
	})
	return k, err
}

// Note takes the newest step of a tank, so long after the simulation began.
func (k *Keeper) Note(ctx context.Context, at time.Duration, t *bench.Tank) error {
	if k.record == nil {
		return nil
	}
	k.at = at
	name, out := t.Vessel.Name, &t.Out
	step := record.Of(&t.In, out)
	step.Vessel, step.Batch, step.Counted = name, t.State.Batch.ID, at
	k.record.Note(step)
	e := record.Entry{Vessel: name, State: t.State, Counted: at, Events: append(append([]controller.Event(nil), out.Events...), out.Notes...), Decision: &out.Decision}
	if t.In.Elapsed == 0 {
		// A simulation begins with a vessel of which nothing is known.
		e.Begin = &record.Begin{State: controller.Fresh(), Vessel: *t.Vessel.With(nil)}
	}
	for i, o := range t.In.Orders {
		if i < len(out.Answers) {
			e.Orders = append(e.Orders, record.Asked{Order: o, Words: o.Do.String(), Answer: out.Answers[i]})
		}
	}
	if s := out.Schedule; s != nil {
		e.Batch = &record.BatchInfo{
			ID: t.State.Batch.ID, Vessel: name, Name: k.file.Name, Schedule: string(k.file.Source),
			Original: s.Wort.Original, Final: s.Wort.Final, FinalSD: s.Wort.FinalSD, Volume: k.volume, Who: "simulated brewer",
		}
	}
	if at-k.stored < k.every {
		k.record.Keep([]record.Entry{e}, controller.PlantState{})
		return nil
	}
	k.stored = at
	return k.record.Commit(ctx, []record.Entry{e}, controller.PlantState{})
}

// Close writes what is left.
func (k *Keeper) Close(ctx context.Context) error {
	if k.record == nil {
		return nil
	}
	return k.record.Close(ctx)
}
