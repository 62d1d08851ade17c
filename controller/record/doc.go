// Package record keeps what happened: one SQLite file with the state of every
// vessel, the batches with their schedules, every event and order, and the
// readings and outputs of every step, packed.
//
// All SQL runs in one goroutine that the Record owns. Whatever the disk does,
// the caller is never held for longer than it allows: what cannot be written is
// kept in memory, tried again at every flush, and Failing says why. To spare a
// memory card, everything is written in one transaction a flush.
//
// Other processes may read the file meanwhile, with Read.
//
// The package refuses to decide anything about a vessel, to delete a file that
// it does not understand, to write to a file of a newer version, and to write to
// a file that another process writes to.
package record
