package gravity

import (
	"math"
	"slices"
	"time"
)

const (
	// terminalDrop is the share of the expected fall below which standing still
	// is not the end: a beer that has hardly begun looks stable to any window.
	terminalDrop = 0.6
	nearEnd      = 4.0  // points: beer rarely ends further from a careful expectation
	driftVar     = 2.25 // (1.5 points)^2: day-and-night drift of a device, measured 1.15 to 2.3
	widestBound  = 2.5  // points: a change known worse than this is not known
	riseAllowed  = 1.0  // points above the limit: readings creep up when yeast settles on the device
	stuckOver    = 36 * time.Hour
	stuckWithin  = 1.0
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

// StillFor is how long the levels have stayed within the limit of the present one,
// as far as judging goes back.
func (s State) StillFor(within float64) time.Duration {
	const scatter = 0.5 // points, of a level
	if !s.Est.Known {
		return 0
	}
	since := s.Now
	for _, v := range slices.Backward(s.Levels) {
		at := time.Duration(v.Sec) * time.Second
		if at < s.JudgeFrom || math.Abs(v.P-s.Est.Level) > within+scatter {
			break
		}
		since = at
	}
	return s.Now - since
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

// Stuck tells whether the gravity has stopped above where it should.
func (s State) Stuck(p Prior) bool {
	return s.Pitched && s.Fallen(p) >= startedFall && s.still(stuckWithin, stuckOver) &&
		s.Est.Level-s.expected(p).Mean > s.near(p)
}

// The late bound of a forecast: half as long again while the fall is straight, and
// a tail as slow as the slowest usual ones.
const (
	slowFall  = 1.5
	slowDecay = 0.025 // 1/h
)

// startedFall is the fall, in points, from which a fermentation counts as begun.
const startedFall = 2.0

// Begun tells whether the gravity has fallen since pitching: from the original
// gravity, or steadily once the device's own start-up is over.
func (s State) Begun(p Prior) bool { return s.Moving || s.Fallen(p) >= startedFall }

// AtMost tells whether it is more likely than not that n points or fewer are
// left. A temperature change that nobody corrected blocks it once that may have
// moved the reading by half of n.
func (s State) AtMost(n float64) bool {
	return s.Est.Known && s.Est.Ready && s.swing() <= n/2 && s.Est.Left <= n
}

// Attenuation is the apparent attenuation by points, true gravities on both sides.
func (s State) Attenuation(p Prior) (float64, bool) {
	if !s.Est.Known || !s.Est.Ready || p.Original <= 0 {
		return 0, false
	}
	return s.Fallen(p) / p.Original, true
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

// Until is a first forecast of the hours until n points are left: the middle and
// a late bound. The fall goes on at its present rate until a third of it is left
// and then decays; the late bound takes the slowest usual tail.
func (s State) Until(n float64, p Prior) (middle, late float64, ok bool) {
	e := s.Est
	if !e.Known || n <= 0 || e.Left <= 0 {
		return 0, 0, false
	}
	if e.Left <= n {
		return 0, 0, true
	}
	knee := max(n, tailDrop*(p.Original-p.Final))
	start, straight := e.Left, 0.0
	if s.TailFrom == 0 {
		if e.Rate <= 0 {
			return 0, 0, false
		}
		if e.Left > knee {
			straight, start = (e.Left-knee)/e.Rate, knee
		}
	}
	if start <= n {
		return straight, straight * slowFall, true
	}
	fall := math.Log(start / n)
	return straight + fall/e.Decay, float64(straight*slowFall) + fall/slowDecay, true
}
