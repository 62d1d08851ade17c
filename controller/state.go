package controller

import "time"

// StateVersion is the version of the stored state. A state of another version
// is not understood: the vessel then idles and asks.
const StateVersion = 1

// Outputs are levels, not edges: setting the same again is harmless.
type Outputs struct{ Heat, Cool bool }

// Outage is the time between two runs of the program. It is known within one
// boot of the board, or when both ends were clock-synchronised.
type Outage struct {
	Length time.Duration
	Known  bool
}

// Input is all that one step may know.
type Input struct {
	Elapsed  time.Duration // monotonic, whole milliseconds, since the last finished step; 0 on the first of a process
	Gap      Outage        // first step after a start only
	Readings []Reading
	Orders   []Order
	Actual   Outputs // levels really driven since the last step
}
