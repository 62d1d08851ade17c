package gravity

import "math"

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
