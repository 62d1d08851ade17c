package gravity

import (
	"math"
	"slices"
	"time"
)

const (
	// A steady fall of this many points an hour, this long after pitching, is
	// yeast: what is left of a device's start-up moves by 0.05 then.
	movingRate  = 0.2
	movingAfter = 18 * time.Hour
	rateWindow  = 12 * time.Hour
	levelVar    = 0.36 // (0.6 points)^2: what the present level may be off
	handSupport = 6.0  // points between a sample and what the ones before promise
	handFresh   = 36 * time.Hour
	bareSwing   = 0.2       // points a kelvin for a source that does not correct (noise study: 0.11 for water, wort more)
	turns       = 6         // fits until a shape that had no weight is asked again
	fitEvery    = time.Hour // a picture is older than this before it is made anew
	strayFrom   = 0.5       // of the expected fall, see firm
	creepTime   = 60.0      // h, in which enzymes of hops free most of what they free (1 to 2 points a day for five days)
)

// expected gives the end that the brewer expects, in the device's frame, and its
// variance.
func (s *State) expected(p Prior) Belief {
	sd := p.SD * max(1, s.Wider)
	b := Belief{Mean: p.Final - s.Lower, Var: float64(sd * sd)}
	if !s.allHand() {
		b.Mean += s.Offset.Mean
		b.Var += s.Offset.Var
	}
	return b
}

// estimate makes the picture anew. Between two fits, an hour apart, the beer goes
// on along the curve, and so it does while a fit waits for its turn.
func (s State) estimate(p Prior, anew bool) State {
	level, known := s.level()
	if !known {
		s.Est.Ready = false
		return s
	}
	s = s.moving()
	s.FitDue = s.FitDue || anew || !s.Est.Known || s.Now-s.FitAt >= fitEvery
	if s.Est.Known && (s.Hurried || !s.FitDue) {
		s = s.along(level)
	} else {
		s = s.picture(level, p)
		s.FitAt, s.FitDue = s.Now, false
	}
	s.Est.Ready = s.ready()
	return s
}

// along moves what is left along the curve since the last look.
func (s State) along(level float64) State {
	h := (s.Now - s.LookAt).Hours()
	s.LookAt = s.Now
	e := s.Est
	keep := 1.0
	if e.Left > 0 {
		keep = math.Exp(-max(0, e.Rate) * h / max(e.Left, 0.5))
	}
	e.Left, e.Low, e.High, e.Firm, e.Rate = e.Left*keep, e.Low*keep, e.High*keep, e.Firm*keep, e.Rate*keep
	e.Level = level
	e.Final = level - e.Left
	s.Est = e
	return s
}

// picture fits the curve, or falls back on what the brewer expects where there is
// too little to fit.
func (s State) picture(level float64, p Prior) State {
	s.LookAt = s.Now
	end := s.expected(p)
	e := Estimate{Known: true, Level: level, End: end.Mean, EndVar: end.Var}
	if !s.allHand() {
		e.End -= s.Offset.Mean
	}
	swing := s.swing()
	creep, creepSD := s.creep(p)
	parts, f := s.parts(p)
	if len(parts) == 0 {
		left := Belief{Mean: level - end.Mean, Var: end.Var + levelVar + float64(swing*swing)}
		sd := math.Sqrt(left.Var)
		e.Left, e.Low, e.High = left.Mean, left.Mean-float64(z90*sd), left.Mean+float64(z90*sd)
		e.Firm = e.Left
		s.Est = e.bounded(level)
		return s
	}
	widen := float64(swing*swing) + float64(creepSD*creepSD)
	var left, drop float64
	var noises [sizes]float64
	for i := range parts {
		q := &parts[i]
		q.mean += creep
		q.sd = math.Sqrt(float64(q.sd*q.sd) + widen)
		w := q.score
		left += float64(w * q.mean)
		drop += float64(w * q.drop)
		e.Rate += float64(w * q.perHour)
		noises[q.noise] += w
	}
	e.Rate += creep / creepTime
	e.End = p.Original - drop - s.Lower
	e.EndVar = 0
	for i := range parts {
		d := parts[i].drop - drop
		e.EndVar += float64(parts[i].score * (float64(d*d) + float64(parts[i].dropSD*parts[i].dropSD)))
		e.Above += float64(parts[i].score * normal((p.Original-p.Final-s.above(p)-parts[i].drop)/parts[i].dropSD))
	}
	e.Done = below(parts, doneAt)
	e.Low, e.Left, e.High = quantile(parts, 0.1), quantile(parts, 0.5), quantile(parts, 0.9)
	e.Firm = e.Left
	if s.Fallen(p) < strayFrom*(p.Original-p.Final) || !s.still(stuckWithin, stuckOver) {
		e.Firm = firm(parts, e.Left)
		e.Left = min(e.Firm, e.High)
	}
	e.Noises, e.Live, e.Starts = noises, f.live, f.starts[:]
	e.Ahead = ahead(parts, f.now)
	if !s.Hand && !s.allHand() {
		s.Offset = Belief{round(level - e.End - left), max(0.25, float64(e.EndVar+end.Var)/4)}
	}
	s.Est = e.bounded(level)
	return s
}

// firm is what is left if the beer ends where beers end. That it may stop where
// nobody expects it is no reason to go on, until most of the fall is done and it is
// seen to stand still.
func firm(parts []part, all float64) float64 {
	usual, sum := make([]part, 0, len(parts)), 0.0
	for i := range parts {
		if !parts[i].fall.shape.stray {
			usual = append(usual, parts[i])
			sum += parts[i].score
		}
	}
	if sum < rarestPart {
		return all
	}
	for i := range usual {
		usual[i].score /= sum
	}
	return max(all, quantile(usual, 0.5))
}

func (e Estimate) bounded(level float64) Estimate {
	e.Low, e.Left, e.High = max(0, e.Low), max(0, e.Left), max(0, e.High)
	e.Final = level - e.Left
	return e
}

// parts fits the curve to the levels.
func (s *State) parts(p Prior) ([]part, *fit) {
	now := (s.Now - s.PitchedAt).Hours()
	if !s.Pitched || now < 1 {
		return nil, nil
	}
	seen := s.sights(p)
	if len(seen) < fewestSeen {
		return nil, nil
	}
	// What had no weight is left out, and asked again by turns.
	noises, live := s.Est.Noises, s.Est.Live
	turn := int(s.Now / fitEvery)
	if live == 0 {
		live = 1<<many - 1
	}
	for i := turn % turns; i < many; i += turns {
		live |= 1 << i
	}
	if noises == [sizes]float64{} {
		noises = [sizes]float64{rarestNoise, rarestNoise, rarestNoise, rarestNoise}
	}
	noises[turn%sizes] = max(noises[turn%sizes], rarestNoise)
	f := newFit(seen, now, Prior{p.Original, p.Final, p.SD * max(1, s.Wider)})
	copy(f.starts[:], s.Est.Starts)
	return f.run(noises, live), f
}

// sights are the levels since pitching, and the one that is still open.
func (s *State) sights(p Prior) []sight {
	list := make([]sight, 0, len(s.Levels)+1)
	add := func(l Level) {
		t := hours(l.Sec) - s.PitchedAt.Hours()
		if t < 0 {
			return
		}
		y := l.P - p.Original
		if since := hours(l.Sec) - s.LowerAt.Hours(); s.Lower > 0 && since > 0 {
			y += float64(s.Lower * (1 - math.Exp(-since/creepTime))) // what the hops freed is no part of the curve
		}
		list = append(list, sight{t: t, y: y, reads: float64(max(1, l.N)), rough: l.Rough, jump: l.Jump, hand: l.Hand})
	}
	// What is further back needs no levels of two hours: the curve is smooth.
	coarse := int64((s.Now - keepCoarse).Seconds())
	for i := 0; i < len(s.Levels); i++ {
		l := s.Levels[i]
		if i+1 < len(s.Levels) && s.Levels[i+1].Sec < coarse && l.joins(s.Levels[i+1]) {
			l = l.join(s.Levels[i+1])
			i++
		}
		add(l)
	}
	if l, ok := s.open(); ok {
		add(l)
	}
	return list
}

// creep is what hops have still to free, and how well that is known.
func (s *State) creep(p Prior) (points, sd float64) {
	if s.Lower <= 0 {
		return 0, 0
	}
	rest := math.Exp(-(s.Now - s.LowerAt).Hours() / creepTime)
	wider := max(1, s.Wider)
	return s.Lower * rest, p.SD * math.Sqrt(float64(wider*wider)-1) * rest
}

// above is how far above the expected end a beer may stop and still be finished.
func (s *State) above(p Prior) float64 { return max(nearEnd, nearBy*p.SD*max(1, s.Wider)) }

// swing is what an uncorrected change of temperature may have added, in points.
func (s *State) swing() float64 {
	if !s.Warmth.Bare || !s.Warmth.Known {
		return 0
	}
	return bareSwing * math.Abs(s.Warmth.Now-s.Warmth.Ref)
}

// level is the gravity now: the median over two hours, or the newest level.
func (s *State) level() (float64, bool) {
	if m, ok := s.recent(); ok {
		return m, true
	}
	if n := len(s.Levels); n > 0 {
		l := s.Levels[n-1]
		if l.Hand && !s.allHand() {
			return l.P + s.Offset.Mean, true
		}
		return l.P, true
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

// moving finds whether the yeast is seen at work.
func (s State) moving() State {
	if s.Moving || !s.Pitched || s.Now-s.PitchedAt < movingAfter {
		return s
	}
	if slope, ok := s.slope(s.Now-rateWindow, 4, 6*time.Hour); ok && -slope >= movingRate {
		s.Moving = true
	}
	return s
}

// slope is the least-squares change in points an hour over the levels since a
// time. Hand samples need only two, for they are days apart.
func (s *State) slope(from time.Duration, need int, span time.Duration) (float64, bool) {
	if s.allHand() {
		need = 2
		from = min(from, s.newestByHand(need))
	}
	f, ok := s.line(from)
	if !ok || f.n < need || f.span < span {
		return 0, false
	}
	return f.slope, true
}

// newestByHand is when the oldest of the newest few samples was taken.
func (s *State) newestByHand(few int) time.Duration {
	for _, l := range slices.Backward(s.Levels) {
		if l.Hand {
			if few--; few == 0 {
				return time.Duration(l.Sec) * time.Second
			}
		}
	}
	return 0
}

// straight is a line through levels.
type straight struct {
	n     int
	span  time.Duration
	slope float64 // points an hour
	sxx   float64 // h^2
}

// line is the straight line through the levels since a time that came from who
// reads now: the device, with the level that is still open, or the person where the
// newest reading is one by hand.
func (s *State) line(from time.Duration) (straight, bool) {
	hand := s.Hand || s.allHand()
	last, open := s.open()
	open = open && !hand
	var first, newest int64
	var n, st, sp, stt, stp float64
	add := func(l *Level) {
		if n == 0 {
			first = l.Sec
		}
		newest = l.Sec
		t := hours(l.Sec - first)
		n++
		st += t
		sp += l.P
		stt += float64(t * t)
		stp += float64(t * l.P)
	}
	for i := range s.Levels {
		if l := &s.Levels[i]; l.Hand == hand && time.Duration(l.Sec)*time.Second >= from {
			add(l)
		}
	}
	if open {
		add(&last)
	}
	if n < 2 {
		return straight{n: int(n)}, false
	}
	sxx := stt - float64(st*st)/n
	if sxx <= 1e-9 {
		return straight{n: int(n)}, false
	}
	return straight{int(n), time.Duration(newest-first) * time.Second, (stp - float64(st*sp)/n) / sxx, sxx}, true
}

func hours(sec int64) float64 { return float64(sec) / 3600 }

// ready tells whether the picture stands on enough readings to decide by it.
func (s *State) ready() bool {
	if s.Now < s.HoldTo || s.Held {
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
	return !s.Odd
}
