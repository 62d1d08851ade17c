package gravity

import "time"

// AtMost tells whether it is more likely than not that n points or fewer are
// left. A temperature change that nobody corrected blocks it once that may have
// moved the reading by half of n.
func (s State) AtMost(n float64) bool {
	return s.Est.Known && s.Est.Ready && s.swing() <= n/2 && s.Est.Left <= n
}

// True is the present gravity without the device's offset, in points.
func (s State) True() float64 {
	if s.allHand() {
		return s.Est.Level
	}
	return s.Est.Level - s.Offset.Mean
}

// Silent is how long no reading has been accepted.
func (s State) Silent() time.Duration { return s.Now - s.Last }
