package record

import (
	"time"

	"example.org/restpoint/controller"
)

// Telemetry is what one step of one vessel saw and did. Together with the orders
// it is the input of the step again. Durations are kept as whole milliseconds;
// whoever wants to take decisions again from the record hands the step the same
// whole milliseconds.
type Telemetry struct {
	Vessel   string
	Batch    string        // empty = no batch ran
	At       time.Time     // a label only; filled when read back
	Counted  time.Duration // by this run of the program
	Elapsed  time.Duration // since the step before
	Readings []controller.Reading
	Gap      controller.Outage  // before the first step of a run
	Actual   controller.Outputs // levels driven since the step before
	Outputs  controller.Outputs // levels that the step decided
	Quiet    bool               // the step fell into the quiet hours
	Hurried  bool               // what takes long waited for a later step
	// Faults of the edges, and what was measured of the relays' contacts.
	RelayFault, RecordFault bool
	Contacts                controller.Contacts
	// Verdicts say what became of the hydrometer's readings: the gravity that was
	// used, and why one was not believed. Records of before know none.
	Verdicts []controller.ReadingVerdict

	// Filled when read back.
	Run   int64
	Every time.Duration // between the steps that were kept; 0 = every one was
	Sum   []byte        // of the state after the step, see Sum; nil = it was not stored here
}

// Of is what one step of a vessel was given and what it decided. Vessel, batch and
// count are the caller's to add.
func Of(in *controller.Input, out *controller.Outcome) Telemetry {
	return Telemetry{
		Elapsed: in.Elapsed, Gap: in.Gap, Readings: in.Readings, Actual: in.Actual, Quiet: in.Quiet, Hurried: in.Hurried,
		RelayFault: in.RelayFault, RecordFault: in.RecordFault, Contacts: in.Contacts,
		Outputs: out.Outputs, Verdicts: out.Verdicts,
	}
}

// Input is what the step was given, but for the orders.
func (t *Telemetry) Input() controller.Input {
	return controller.Input{
		Elapsed: t.Elapsed, Gap: t.Gap, Readings: t.Readings, Actual: t.Actual, Quiet: t.Quiet, Hurried: t.Hurried,
		RelayFault: t.RelayFault, RecordFault: t.RecordFault, Contacts: t.Contacts,
	}
}

// chunk is telemetry of one vessel and batch on its way into one row of the file.
type chunk struct {
	vessel, batch string
	first         moment
	from, to      time.Duration
	rows          int
	pack          packer
}

// sealAt is the size of packed telemetry, in bytes before compression, from which
// a new chunk is begun: about an hour of a vessel with three probes. Only a failing record
// gets there.
const sealAt = 16 << 10

func (c *chunk) add(t *Telemetry) {
	if c.rows == 0 {
		c.from = t.Counted
	}
	c.to = t.Counted
	c.rows++
	c.pack.add(t)
}

func (c *chunk) fits(t *Telemetry) bool {
	return c.vessel == t.Vessel && c.batch == t.Batch && len(c.pack.buf) < sealAt
}
