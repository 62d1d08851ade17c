package daemon

import (
	"fmt"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
	"example.org/restpoint/profiles"
)

// Resume puts a vessel back to where the last run left it. A batch whose state or
// schedule is not understood is never guessed: the vessel idles and a person is
// asked.
func Resume(v *controller.Vessel, section string, saved record.Saved) (Vessel, error) {
	begin := Vessel{Vessel: v, State: controller.Fresh(), Section: section, Gap: saved.Outage}
	known := saved.State.Version == controller.StateVersion
	if saved.StateErr == nil && saved.State.Version != 0 && !known {
		saved.StateErr = fmt.Errorf("the state has version %d, this program knows %d", saved.State.Version, controller.StateVersion)
	}
	if saved.Batch == nil {
		if saved.StateErr == nil && saved.State.Mode == controller.InBatch {
			saved.StateErr = fmt.Errorf("the state is of batch %q, which the record does not know", saved.State.Batch.ID)
		}
		if saved.StateErr != nil {
			begin.State.Lost = true
			return begin, fmt.Errorf("vessel %s: %w", v.Name, saved.StateErr)
		}
		if known {
			begin.State = saved.State
		}
		return begin, nil
	}
	if saved.StateErr != nil {
		begin.State.Lost = true
		return begin, fmt.Errorf("vessel %s: batch %s: %w", v.Name, saved.Batch.ID, saved.StateErr)
	}
	f, err := profiles.Read(saved.Batch.Name, []byte(saved.Batch.Schedule))
	if err != nil {
		begin.State.Lost = true
		return begin, fmt.Errorf("vessel %s: batch %s: its schedule: %w", v.Name, saved.Batch.ID, err)
	}
	f.Schedule.Wort = controller.Wort{Original: saved.Batch.Original, Final: saved.Batch.Final, FinalSD: saved.Batch.FinalSD}
	begin.Vessel = v.With(f.Schedule)
	begin.State, begin.Schedule, begin.Name = saved.State, saved.Batch.Schedule, saved.Batch.Name
	// An edited file never touches a running batch; that it differs is told.
	if now, err := profiles.Load(saved.Batch.Name); err == nil {
		begin.Differs = string(now.Source) != saved.Batch.Schedule
	}
	return begin, nil
}
