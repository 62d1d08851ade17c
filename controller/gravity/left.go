package gravity

import "time"

// AtMost tells whether it is more likely than not that n points or fewer are
// left. A temperature change that nobody corrected blocks it once that may have
// moved the reading by half of n.
func (s *State) AtMost(n float64) bool { return s.Within(n, 0) }

// Within tells the same of a time to come, so that whoever waits for it to stay so
// need not be late by the time of waiting.
func (s *State) Within(n float64, in time.Duration) bool {
	e := &s.Est
	return e.Known && e.Ready && s.swing() <= n/2 && max(e.Left, e.Firm)-float64(e.Rate*in.Hours()) <= n
}

// True is the present gravity without the device's offset, in points.
func (s *State) True() float64 {
	if s.allHand() {
		return s.Est.Level
	}
	return s.Est.Level - s.Offset.Mean
}

// Silent is how long no reading has been accepted.
func (s *State) Silent() time.Duration { return s.Now - s.Last }
