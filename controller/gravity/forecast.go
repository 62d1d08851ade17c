package gravity

import (
	"math"
	"time"
)

// The hours until so few points are left, for a row of points, from the mixture of
// curves: each goes on as it is, what is left of it may be more or less.

// steps is how many points are looked at ahead.
const steps = 7

// aheadPoints are those points; what lies between is taken from the neighbours.
func aheadPoints() [steps]float64 { return [steps]float64{24, 12, 8, 6, 4, 2, 1} }

// aheadHours are the hours at which the curves are looked at.
func aheadHours() [14]float64 {
	return [14]float64{0, 2, 4, 8, 12, 18, 24, 36, 48, 72, 108, 168, 240, 360}
}

const (
	never     = 360.0 // h, how far a forecast looks
	rareAhead = 0.1   // parts of the mixture below this share of the best are not followed
)

func ahead(parts []part, now float64) [steps][3]float64 {
	times := aheadHours()
	var chance [steps][len(times)]float64
	sum, best := 0.0, 0.0
	for i := range parts {
		best = max(best, parts[i].score)
	}
	for i := range parts {
		q := &parts[i]
		if q.score < rareAhead*best {
			continue
		}
		sum += q.score
		for j, h := range times {
			keep := 1.0
			if q.left > 0 {
				keep = max(1e-6, q.fall.left(now+h).share/q.left)
			}
			for k, n := range aheadPoints() {
				chance[k][j] += float64(q.score * normal((n/keep-q.mean)/q.sd))
			}
		}
	}
	var out [steps][3]float64
	for k := range out {
		for i, want := range [3]float64{0.1, 0.5, 0.9} {
			out[k][i] = round(crossing(times[:], chance[k][:], float64(want*sum)))
		}
	}
	return out
}

// crossing is when a chance that grows with time reaches what is wanted.
func crossing(times, chance []float64, want float64) float64 {
	before, at := 0.0, 0.0
	for j, c := range chance {
		if c >= want {
			if j == 0 {
				return 0
			}
			return at + float64((times[j]-at)*(want-before)/(c-before))
		}
		before, at = c, times[j]
	}
	return never
}

// Span is a time to come: the hour that is as likely to be before as after, and
// those that one case in ten lies before and after. From now on.
type Span struct{ Early, Middle, Late time.Duration }

// Until is the forecast of the time until n points are left. It is not known where
// no curve has been fitted, or where the end is further off than it looks.
func (s *State) Until(n float64) (Span, bool) {
	e := &s.Est
	switch {
	case !e.Known || n <= 0 || e.Live == 0:
		return Span{}, false
	case e.High <= n:
		return Span{}, true
	}
	points := aheadPoints()
	k := 1
	for k < steps-1 && points[k] > n {
		k++
	}
	// Between two rows time goes with the logarithm of the points.
	share := math.Log(n/points[k]) / math.Log(points[k-1]/points[k])
	since := (s.Now - s.FitAt).Hours()
	var out [3]time.Duration
	for i := range out {
		h := e.Ahead[k][i] + float64(share*(e.Ahead[k-1][i]-e.Ahead[k][i]))
		if e.Ahead[k][i] >= never {
			h = never
		}
		out[i] = time.Duration(max(0, h-since) * float64(time.Hour))
	}
	if out[1] >= time.Duration(never-since)*time.Hour {
		return Span{}, false
	}
	return Span{out[0], out[1], out[2]}, true
}

// UntilTerminal is the least time until the gravity can be terminal, judged over a
// window: what is missing of it to the longest shorter window over which the beer
// has been still. For reminders, which may come early and not late.
func (s *State) UntilTerminal(within float64, over time.Duration, p Prior) time.Duration {
	if s.Fallen(p) < terminalDrop*(p.Original-p.Final) {
		return over
	}
	const raster = 3 * time.Hour
	for w := over; w >= shortest; w -= raster {
		if c := s.NetChange(w); c.Known && c.Fall <= within+early {
			return over - w
		}
	}
	return over
}

// early is by how much drift may hide that a beer stands still, in points.
const early = 1.0

// shortest is the shortest window over which a gravity says anything of its end.
const shortest = 12 * time.Hour
