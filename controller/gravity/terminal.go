package gravity

import (
	"math"
	"time"
)

// A beer is terminal when its gravity has stopped where it should. Standing still
// alone is not the end, and one window of raw readings proves nothing.

const (
	// terminalDrop is the share of the expected fall below which standing still
	// is not the end: a beer that has hardly begun looks stable to any window.
	terminalDrop = 0.6
	nearEnd      = 4.0  // points: beer rarely ends further from a careful expectation
	driftVar     = 2.25 // (1.5 points)^2: day-and-night drift of a device, measured 1.15 to 2.3
	widestBound  = 2.5  // points: a change known worse than this is not known
	riseAllowed  = 1.0  // points above the limit: readings creep up when yeast settles on the device
)

// Change is the net fall of the estimate over a window, with its standard error.
type Change struct {
	Known bool
	Fall  float64
	SE    float64
}

// NetChange is the least-squares change over the window that ends now.
func (s State) NetChange(over time.Duration) Change {
	from := s.Now - over
	if !s.Est.Known || from < s.JudgeFrom || s.Now < s.HoldTo {
		return Change{}
	}
	first := len(s.Levels)
	for first > 0 && time.Duration(s.Levels[first-1].Sec)*time.Second >= from {
		first--
	}
	hand := s.allHand()
	need, v := int(over/levelLength)/2, deviceVar*alike
	if hand {
		need, v = 3, handVar
		if first > 0 {
			first-- // the sample before the window closes it
		}
		if s.Now-s.Last > handFresh {
			return Change{}
		}
	} else if s.Now-s.Last > levelLength*2 {
		return Change{}
	}
	f, ok := line(s.Levels[first:])
	if !ok || f.n < need || f.span < over-over/6 {
		return Change{}
	}
	window := over.Hours()
	return Change{true, -f.slope * window, math.Sqrt(v/f.sxx) * window}
}

// still tells whether the gravity moved no more than the limit over the window.
func (s State) still(within float64, over time.Duration) bool {
	c := s.NetChange(over)
	return c.Known && c.Fall <= within && c.Fall >= -within-riseAllowed && c.SE <= widestBound
}

// near is how far above the expected end a beer may stop and still be finished:
// two standard deviations of what is expected in this device's frame and of its
// drift.
func (s State) near(p Prior) float64 {
	return max(nearEnd, 2*math.Sqrt(s.expected(p).Var+driftVar))
}

// Terminal tells whether the gravity has stopped where it should: still over the
// window, most of the expected fall behind it, near the expected end.
func (s State) Terminal(within float64, over time.Duration, p Prior) bool {
	return s.still(within, over) && s.Fallen(p) >= terminalDrop*(p.Original-p.Final) &&
		s.Est.Level-s.expected(p).Mean <= s.near(p)
}
