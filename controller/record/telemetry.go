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
	Run      int64         // of the program; filled when read back
	At       time.Time     // a label only; filled when read back
	Counted  time.Duration // by this run of the program
	Elapsed  time.Duration // since the step before
	Readings []controller.Reading
	Actual   controller.Outputs // levels driven since the step before
	Outputs  controller.Outputs // levels that the step decided
	Quiet    bool               // the step fell into the quiet hours
	Hurried  bool               // what takes long waited for a later step
	// Verdicts say what became of the hydrometer's readings: the gravity that was
	// used, and why one was not believed. Records of before know none.
	Verdicts []controller.ReadingVerdict
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
