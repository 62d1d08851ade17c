package gravity

import "time"

// A beer is stuck when its gravity has stopped above where it should.
const (
	stuckOver = 30 * time.Hour
	// stuckFrom is how long after pitching a beer may be called stuck: a device's
	// start-up, 12 points in 6 to 10 h, can hide the first day's fall.
	stuckFrom   = 24*time.Hour + stuckOver
	stuckWithin = 2.5  // points: what drift makes of standing still; the curve must agree
	aboveSure   = 0.5  // chance that it ends too far above: more likely than not
	aboveOver   = 0.04 // what is likelier than this is not terminal: to wait costs less than to crash a beer that is stuck
	stuckDone   = 0.4
	// movingAgain is how far a stuck gravity must fall before it moves again: drift
	// makes no news.
	movingAgain = 2.0
)

// Stuck tells whether the gravity has stopped above where it should.
func (s *State) Stuck(p Prior) bool {
	return s.Pitched && s.Now-s.PitchedAt >= stuckFrom && s.Fallen(p) >= startedFall && s.still(stuckWithin, stuckOver) &&
		s.Est.Done >= stuckDone && s.Est.Above > aboveSure
}

// StillStuck tells whether a beer that was found stuck at a level has not moved on
// since, and is not taken for one that ended after all.
func (s *State) StillStuck(at float64) bool {
	return s.Est.Level > at-movingAgain && s.Est.Above > aboveOver
}
