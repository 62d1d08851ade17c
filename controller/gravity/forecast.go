package gravity

import (
	"math"
	"time"
)

// The late bound of a forecast: half as long again while the fall is straight, and
// a tail as slow as the slowest usual ones.
const (
	slowFall  = 1.5
	slowDecay = 0.025 // 1/h
)

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

// UntilTerminal is the least time until the gravity can be terminal, judged over a
// window: what is missing of it to the longest shorter window over which the beer
// has been still. For reminders, which may come early and not late.
func (s State) UntilTerminal(within float64, over time.Duration, p Prior) time.Duration {
	if s.Fallen(p) < terminalDrop*(p.Original-p.Final) {
		return over
	}
	const raster = 3 * time.Hour
	for w := over; w >= shortest; w -= raster {
		if c := s.NetChange(w); c.Known && c.Fall <= within {
			return over - w
		}
	}
	return over
}

// shortest is the shortest window over which a gravity says anything of its end.
const shortest = 12 * time.Hour
