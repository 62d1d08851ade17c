// Package controller is the core of restpoint: the words of the trade and the
// rules by which a fermentation is looked after, as one pure function.
//
//	state', outcome = Step(vessel, state, input)
//
// It has no clock, no input or output, no goroutine, no lock and no chance.
// Time reaches it as counted duration, readings arrive raw, and what it wants
// done is returned as data. The daemon, the simulator, the replay of a recorded
// batch, a foreign plant on a pipe and the tests are five callers of Step; so
// what was simulated is what will run, and every decision can be taken again
// from its record.
//
// The package refuses to touch the world: it imports the standard library's
// pure parts and its own pure children only, and a test holds it to that.
package controller
