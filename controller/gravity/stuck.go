package gravity

import "time"

// A beer is stuck when its gravity has stopped above where it should.
const (
	stuckOver   = 36 * time.Hour
	stuckWithin = 1.0 // points
	// movingAgain is how far a stuck gravity must fall before it moves again: drift
	// makes no news.
	movingAgain = 2.0
)

// Stuck tells whether the gravity has stopped above where it should.
func (s State) Stuck(p Prior) bool {
	return s.Pitched && s.Fallen(p) >= startedFall && s.still(stuckWithin, stuckOver) &&
		s.Est.Level-s.expected(p).Mean > s.near(p)
}

// StillStuck tells whether a beer that was found stuck at a level has not moved on
// since.
func (s State) StillStuck(at float64) bool { return s.Est.Level > at-movingAgain }
