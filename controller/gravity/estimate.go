package gravity

import (
	"math"
	"time"
)

// decay is one speed of the tail and how likely it is before any data. Full
// logistic fits of 21 measured beers gave 0.059 to 0.145 a hour, and real tails
// are longer than a logistic's.
type decay struct{ k, weight float64 }

func decays() [5]decay {
	return [5]decay{{0.02, 0.12}, {0.035, 0.25}, {0.055, 0.30}, {0.08, 0.21}, {0.12, 0.12}}
}

const (
	tailDrop   = 0.35 // of the expected fall must be seen before a slow-down is a tail
	tailRate   = 0.6  // of the fastest fall
	tailAgain  = 0.85 // the fall has picked up again: it was no tail
	tailWindow = 72 * time.Hour
	// A steady fall of this many points an hour, this long after pitching, is
	// yeast: what is left of a device's start-up moves by 0.05 then.
	movingRate  = 0.2
	movingAfter = 18 * time.Hour
	rateWindow  = 12 * time.Hour
	minTail     = 5     // levels of a device
	levelVar    = 0.36  // (0.6 points)^2: what the present level may be off
	slackVar    = 900.0 // (30 points)^2: no opinion on how much is left
	handSupport = 6.0   // points between a sample and what the ones before promise
	handFresh   = 36 * time.Hour
	bareSwing   = 0.2 // points a kelvin for a source that does not correct (noise study: 0.11 for water, wort more)
)

// expected gives the end that the brewer expects, in the device's frame, and its
// variance.
func (s State) expected(p Prior) Belief {
	wider := s.Wider
	if wider == 0 {
		wider = 1
	}
	sd := p.SD * wider
	b := Belief{Mean: p.Final - s.Lower, Var: float64(sd * sd)}
	if !s.allHand() {
		b.Mean += s.Offset.Mean
		b.Var += s.Offset.Var
	}
	return b
}

// estimate makes the picture anew. It is called when a level or bin closes, not
// at every step.
func (s State) estimate(p Prior) State {
	level, known := s.level()
	if !known {
		s.Est.Ready = false
		return s
	}
	s = s.anchor(p)
	end := s.expected(p)
	e := Estimate{Known: true, Level: level, Offset: s.Offset.Mean, Final: end.Mean, FinalVar: end.Var}
	s, e.Rate = s.tail(level, p)
	left := Belief{Mean: level - end.Mean, Var: end.Var + levelVar}
	e.Decay = 0.055
	if s.TailFrom > 0 {
		if fit, ok := s.fitTail(end); ok {
			left, e.Final, e.FinalVar, e.Decay = fit.left, fit.final.Mean, fit.final.Var, fit.k
		}
	}
	swing := s.swing()
	left.Var += float64(swing * swing)
	sd := math.Sqrt(left.Var)
	e.Left = max(0, left.Mean)
	e.Low = max(0, left.Mean-float64(z90*sd))
	e.High = max(0, left.Mean+float64(z90*sd))
	e.Ready = s.ready(e)
	s.Est = e
	return s
}

// swing is what an uncorrected change of temperature may have added, in points.
func (s State) swing() float64 {
	if !s.Warmth.Bare || !s.Warmth.Known {
		return 0
	}
	return bareSwing * math.Abs(s.Warmth.Now-s.Warmth.Ref)
}

// level is the gravity now: the median over two hours, or the newest level.
func (s State) level() (float64, bool) {
	if m, ok := s.recent(); ok {
		return m, true
	}
	if n := len(s.Levels); n > 0 {
		return s.Levels[n-1].P, true
	}
	return 0, false
}

// Pitch begins the fermentation: judging and attenuation count from here.
func (s State) Pitch() State {
	s.PitchedAt, s.Pitched = s.Now, true
	s.JudgeFrom = s.Now
	s.Warmth.Ref = s.Warmth.Now
	return s
}

// anchor compares the device's start with the original gravity, once, when its
// own start-up is over and before the yeast has done much.
func (s State) anchor(p Prior) State {
	const from, to = 6 * time.Hour, 12 * time.Hour
	if s.Anchored || !s.Pitched || s.Now-s.PitchedAt < to {
		return s
	}
	s.Anchored = true
	var v [8]float64
	n := 0
	for _, l := range s.Levels {
		at := time.Duration(l.Sec)*time.Second - s.PitchedAt
		if !l.Hand && at >= from && at <= to && n < len(v) {
			v[n] = l.P
			n++
		}
	}
	if n > 0 {
		sortUp(v[:n])
		s.Offset = s.Offset.combine(Belief{v[n/2] - p.Original, anchorVar})
	}
	return s
}

// tail follows the fastest fall and finds when the fall slows down.
func (s State) tail(level float64, p Prior) (State, float64) {
	rate, ok := s.slope(s.Now-rateWindow, 4, 6*time.Hour)
	if !ok {
		return s, 0
	}
	rate = -rate
	s.Peak = max(s.Peak, rate)
	if s.Pitched && s.Now-s.PitchedAt >= movingAfter && rate >= movingRate {
		s.Moving = true
	}
	start := p.Original
	if !s.allHand() {
		start += s.Offset.Mean
	}
	slow := s.Peak > 0 && start-level >= tailDrop*(p.Original-p.Final) && rate < tailRate*s.Peak
	switch {
	case s.TailFrom == 0 && slow:
		s.TailFrom = max(1, s.Now-rateWindow/2)
	case s.TailFrom > 0 && rate > tailAgain*s.Peak:
		s.TailFrom = 0
	}
	return s, rate
}

// slope is the least-squares change in points an hour over the levels since a
// time. Hand samples need only two, for they are days apart.
func (s State) slope(from time.Duration, need int, span time.Duration) (float64, bool) {
	first := len(s.Levels)
	for first > 0 && time.Duration(s.Levels[first-1].Sec)*time.Second >= from {
		first--
	}
	if s.allHand() {
		need = 2
		first = max(0, min(first, len(s.Levels)-2))
	}
	f, ok := line(s.Levels[first:])
	if !ok || f.n < need || f.span < span {
		return 0, false
	}
	return f.slope, true
}

// fitted is a straight line through levels.
type fitted struct {
	n     int
	span  time.Duration
	slope float64 // points an hour
	sxx   float64 // h^2
}

func line(levels []Level) (fitted, bool) {
	n := len(levels)
	if n < 2 {
		return fitted{n: n}, false
	}
	var st, sp float64
	for _, l := range levels {
		st += hours(l.Sec - levels[0].Sec)
		sp += l.P
	}
	mt, mp := st/float64(n), sp/float64(n)
	var sxx, sxy float64
	for _, l := range levels {
		dt := hours(l.Sec-levels[0].Sec) - mt
		sxx += float64(dt * dt)
		sxy += float64(dt * (l.P - mp))
	}
	if sxx <= 0 {
		return fitted{n: n}, false
	}
	return fitted{n, time.Duration(levels[n-1].Sec-levels[0].Sec) * time.Second, sxy / sxx, sxx}, true
}

func hours(sec int64) float64 { return float64(sec) / 3600 }

type tailFit struct {
	left, final Belief
	k           float64
}

// fitTail fits an exponential approach to an unknown end, for several speeds side
// by side, each weighed by how well it does and by the brewer's expectation. The
// data move the end only as far as they show it.
func (s State) fitTail(end Belief) (tailFit, bool) {
	from := max(s.TailFrom, s.Now-tailWindow)
	first := len(s.Levels)
	for first > 0 && time.Duration(s.Levels[first-1].Sec)*time.Second >= from {
		first--
	}
	levels := s.Levels[first:]
	if s.allHand() {
		if len(levels) < 2 {
			return tailFit{}, false
		}
	} else if len(levels) < minTail {
		return tailFit{}, false
	}
	var fits [5]tailFit
	var scores [5]float64
	best := math.Inf(-1)
	for i, d := range decays() {
		fits[i], scores[i] = s.fitOne(levels, d.k, end)
		scores[i] += math.Log(d.weight)
		best = max(best, scores[i])
	}
	var sum float64
	for i := range scores {
		scores[i] = math.Exp(scores[i] - best)
		sum += scores[i]
	}
	var out tailFit
	for i := range fits {
		w := scores[i] / sum
		out.left.Mean += float64(w * fits[i].left.Mean)
		out.final.Mean += float64(w * fits[i].final.Mean)
		out.k += float64(w * fits[i].k)
	}
	for i := range fits {
		w := scores[i] / sum
		dl, df := fits[i].left.Mean-out.left.Mean, fits[i].final.Mean-out.final.Mean
		out.left.Var += float64(w * (fits[i].left.Var + float64(dl*dl)))
		out.final.Var += float64(w * (fits[i].final.Var + float64(df*df)))
	}
	return out, true
}

// fitOne is the linear least-squares fit of level = final + left*exp(-k(t-now))
// with a prior on both, and the logarithm of its evidence.
func (s State) fitOne(levels []Level, k float64, end Belief) (tailFit, float64) {
	now := s.Now.Seconds() / 3600
	var a11, a12, a22, b1, b2, chi float64
	for _, l := range levels {
		v := deviceVar * alike
		if l.Hand {
			v = handVar
		}
		u := math.Exp(-k * (hours(l.Sec) - now))
		a11 += 1 / v
		a12 += u / v
		a22 += float64(u*u) / v
		b1 += l.P / v
		b2 += float64(u*l.P) / v
		chi += float64(l.P*l.P) / v
	}
	a11 += 1 / end.Var
	b1 += end.Mean / end.Var
	chi += float64(end.Mean*end.Mean) / end.Var
	a22 += 1 / slackVar
	det := float64(a11*a22) - float64(a12*a12)
	final := (float64(b1*a22) - float64(b2*a12)) / det
	left := (float64(a11*b2) - float64(a12*b1)) / det
	chi -= float64(b1*final) + float64(b2*left)
	return tailFit{
		left:  Belief{left, a11 / det},
		final: Belief{final, a22 / det},
		k:     k,
	}, float64(-0.5*chi) - float64(0.5*math.Log(det))
}

// ready tells whether the picture stands on enough readings to decide by it.
func (s State) ready(e Estimate) bool {
	if s.Now < s.HoldTo {
		return false
	}
	if !s.Hand {
		n := len(s.Bins)
		return n >= fewest && s.Bins[n-1].At-s.Bins[0].At >= int64(80*time.Minute/binLength) && s.Now-s.Last <= levelLength
	}
	n := len(s.Levels)
	if n < 3 || s.Now-s.Last > handFresh {
		return false
	}
	last, before := s.Levels[n-1], s.Levels[n-2]
	promised := e.Final + float64((before.P-e.Final)*math.Exp(-e.Decay*hours(last.Sec-before.Sec)))
	return math.Abs(last.P-promised) <= handSupport
}
