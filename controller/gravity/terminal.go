package gravity

import (
	"math"
	"slices"
	"time"
)

// A beer is terminal when its gravity has stopped where it should. Standing still
// alone is not the end, and one window of raw readings proves nothing.

const (
	// terminalDrop is the share of the expected fall below which standing still
	// is not the end: a beer that has hardly begun looks stable to any window.
	terminalDrop = 0.6
	deviceVar    = 0.64 // (0.8 points)^2: a two-hour level, measured 0.35 to 0.8
	// alike is how many levels in a row carry the same error: drift of 12 h
	// against levels of 2 h leaves about one independent figure in five.
	alike       = 5.0
	nearEnd     = 4.0           // points: beer rarely ends further from a careful expectation
	nearBy      = 2.5           // times the spread of the expectation
	doneAt      = 2.0           // points: what no sensor can tell from nothing
	edges       = 4 * time.Hour // a level stands for the middle of its two hours, and one is always open
	doneSure    = 0.7           // chance that next to nothing is left
	widestBound = 2.5           // points: a change known worse than this is not known
	riseAllowed = 1.0           // points above the limit: readings creep up when yeast settles on the device
)

// Change is the net fall of the estimate over a window, with its standard error.
type Change struct {
	Known bool
	Fall  float64
	SE    float64
}

// NetChange is the least-squares change over the window that ends now.
func (s *State) NetChange(over time.Duration) Change {
	from := s.Now - over
	if !s.Est.Known || from < s.JudgeFrom || s.Now < s.HoldTo {
		return Change{}
	}
	need, v := int(over/levelLength)/2, deviceVar*alike
	fresh := levelLength * 2
	if s.Hand || s.allHand() {
		need, v, fresh = 3, handVar, handFresh
		from = s.before(from) // the sample before the window closes it
	}
	if s.Now-s.Last > fresh {
		return Change{}
	}
	f, ok := s.line(from)
	if !ok || f.n < need || f.span < over-max(over/6, edges) {
		return Change{}
	}
	window := over.Hours()
	return Change{true, -f.slope * window, math.Sqrt(v/f.sxx) * window}
}

// still tells whether the gravity moved no more than the limit over the window.
func (s *State) still(within float64, over time.Duration) bool {
	c := s.NetChange(over)
	return c.Known && c.Fall <= within && c.Fall >= -within-riseAllowed && c.SE <= widestBound
}

// Terminal tells whether the gravity has stopped where it should: still over the
// window, most of the expected fall behind it, next to nothing left by the curve,
// and near the expected end.
func (s *State) Terminal(within float64, over time.Duration, p Prior) bool {
	return s.still(within, over) && s.Fallen(p) >= terminalDrop*(p.Original-p.Final) &&
		s.Est.Done >= doneSure && s.Est.Above <= aboveOver
}

// before is when the newest sample by hand was taken before a time, or that time.
func (s *State) before(from time.Duration) time.Duration {
	for _, l := range slices.Backward(s.Levels) {
		if at := time.Duration(l.Sec) * time.Second; l.Hand && at < from {
			return at
		}
	}
	return from
}
