package gravity

import (
	"math"
	"time"
)

// What real gravity can do between two readings, and what a device can do to us.
const (
	fastestFall = 4.0 // points an hour: a hot farmhouse ale at its height (from memory); measured worts reach 1.3
	fallMargin  = 4.0 // points
	handMargin  = 5.0
	stepPause   = levelLength

	// A reading may be off what is promised by this much, by more where the newest
	// ones scatter, and by more after a silence.
	margin      = 3.5
	byScatter   = 1.5 // times their mean distance from the median
	byHour      = 1.5 // points for each hour of silence, for up to
	longSilence = 6.0 // hours

	// Rejected readings that agree are a new level.
	stepAfter     = 45 * time.Minute
	stepReads     = 4
	stepSpread    = 5.0           // points
	stepForgotten = 6 * time.Hour // so far apart they are no run
	// A fall between two readings of less than this is gas or foam that lets go: no
	// step of the device, the new level is the true one. While the yeast works gas
	// gathers again, so that a rise of less is none either.
	releaseFall = 10.0
	gassing     = 0.25 // points an hour
	stepJump    = 3.0  // points: how well the readings on both sides tell the step's size

	// A device that does not move while the beer must have fallen is held by foam or
	// by the wall.
	sameReads  = 5
	sameWithin = 0.055 // points: a raster of 0.1 moves by more, a correction for temperature by less
	sameFall   = 1.6   // points that the beer fell meanwhile: more than any raster hides
	lively     = 0.08  // points of scatter: what never moved is not held
	// sameLongest: foam holds a device for up to a day (assumption of the noise study).
	sameLongest = 26 * time.Hour
	// What it does when it comes free is held against the fall that was promised.
	heldMargin = 4.5  // points
	heldShare  = 0.35 // of that fall
	heldLong   = 3 * time.Hour
	heldJump   = 3.0 // points: it may lie in another place after so long
)

// Verdict says what became of a reading.
type Verdict string

// The verdicts.
const (
	Accepted    Verdict = "accepted"
	TooHigh     Verdict = "rises faster than beer can"
	TooLow      Verdict = "falls faster than yeast can"
	Implausible Verdict = "not a gravity that a fermenter can hold"
	NotMoving   Verdict = "does not move: foam or the wall holds the device"
	Stepped     Verdict = "a new level: the device has stepped"
)

// Take accepts or rejects one reading.
func (s State) Take(r Reading, p Prior) (State, Verdict) {
	if !(r.Points >= -30 && r.Points <= 200) {
		s.Rejected++
		return s, Implausible
	}
	if r.Hand {
		if v := s.judgeHand(r.Points); v != Accepted {
			return s.rejectHand(r, v, p)
		}
		s.PendHand = Pending{}
		return s.accept(r.Points, r, p), Accepted
	}
	x := r.Points - s.Shift
	var held bool
	if s, held = s.watchHold(x); held {
		s.Rejected++
		return s, NotMoving
	}
	promised, v := s.judge(x)
	if v != Accepted {
		return s.reject(x, promised, r, v, p)
	}
	s.Pend, s.Held = nil, false
	return s.accept(x, r, p), Accepted
}

// watchHold finds a device that does not move while the beer falls. What it has
// told since it was caught is dropped.
func (s State) watchHold(x float64) (State, bool) {
	raw := x + s.Shift
	if s.Same.N == 0 || math.Abs(raw-s.Same.Value) > sameWithin {
		s.Same = Sameness{N: 1, Value: raw, From: s.Now}
		return s, false
	}
	s.Same.N++
	if s.Now-s.Same.From > sameLongest {
		s.Held = false // no foam stands so long: the beer does
		return s, false
	}
	if s.Held {
		return s, true
	}
	if s.Same.N < sameReads || !s.lively() || s.Est.Rate*(s.Now-s.Same.From).Hours() <= sameFall {
		return s, false
	}
	s.Held = true
	s.HeldLeft = s.Est.Left + float64(s.Est.Rate*(s.Now-s.Same.From).Hours())
	if s.Now-s.Same.From > heldLong {
		s.Jump = max(s.Jump, heldJump)
	}
	return s.since(s.Same.From), true
}

// lively tells whether the device is one that moves at all.
func (s *State) lively() bool {
	for _, l := range s.Levels[max(0, len(s.Levels)-6):] {
		if !l.Hand && l.Rough > lively {
			return true
		}
	}
	return false
}

// since drops what was read after a time.
func (s State) since(from time.Duration) State {
	bins := make([]Bin, 0, len(s.Bins))
	for _, b := range s.Bins {
		if b.At < int64(from/binLength) {
			bins = append(bins, b)
		}
	}
	n := len(s.Levels)
	for n > 0 && !s.Levels[n-1].Hand && time.Duration(s.Levels[n-1].Sec)*time.Second > from+30*time.Minute {
		n--
		s.Jump = max(s.Jump, s.Levels[n].Jump)
	}
	s.Bins, s.Levels = bins, s.Levels[:n:n]
	return s
}

// judge holds a reading of the device against what is promised: the newest ones,
// and the fall since.
func (s *State) judge(x float64) (promised float64, v Verdict) {
	m, at, n := s.newest()
	if n < 2 {
		return s.judgeAfterSilence(x)
	}
	gap := (s.Now - s.Last).Hours()
	rate := max(0, s.Est.Rate)
	promised = m - float64(rate*max(0, s.Now.Hours()-at))
	rough := s.scatter(m)
	up := margin + float64(byHour*min(gap, longSilence)) + float64(byScatter*rough)
	down := up + float64(max(0, fastestFall-byHour)*min(gap, longSilence))
	if s.Held {
		fall := max(0, s.HeldLeft-s.Est.Left)
		promised = m - fall
		up = heldMargin + float64(heldShare*fall) + float64(0.5*rough)
		down = up
	}
	switch {
	case x > promised+up:
		return promised, TooHigh
	case x < promised-down:
		return promised, TooLow
	}
	return promised, Accepted
}

func (s *State) judgeAfterSilence(x float64) (float64, Verdict) {
	ref, at, known := s.reference()
	if !known {
		return x, Accepted
	}
	gap := (s.Now - at).Hours()
	switch {
	case x > ref+margin+float64(byHour*min(gap, longSilence)):
		return ref, TooHigh
	case x < ref-fallMargin-float64(fastestFall*gap):
		return ref, TooLow
	}
	return ref, Accepted
}

// newest is the median of the newest two hours, with its time, or of the newest
// few where there are not enough.
func (s *State) newest() (m, at float64, n int) {
	from := int64((s.Now - levelLength) / binLength)
	if n := len(s.Bins); n >= fewest && s.Bins[n-fewest].At < from {
		from = s.Bins[n-fewest].At
	}
	m, n = s.median(from)
	sum := 0.0
	for _, b := range s.Bins {
		if b.At >= from {
			sum += float64(b.At) + 0.5
		}
	}
	if n > 0 {
		at = sum / float64(n) * binLength.Hours()
	}
	return m, at, n
}

func (s *State) scatter(m float64) float64 {
	sum := 0.0
	for _, b := range s.Bins {
		sum += math.Abs(b.Sum/float64(b.N) - m)
	}
	return sum / float64(max(1, len(s.Bins)))
}

func (s *State) judgeHand(x float64) Verdict {
	ref, at, known := s.reference()
	if !known {
		return Accepted
	}
	wide := handMargin
	x += s.Offset.Mean
	if !s.allHand() {
		wide += 3 // the device's offset is not known better
	}
	switch {
	case x > ref+wide:
		return TooHigh
	case x < ref-fallMargin-float64(fastestFall*(s.Now-at).Hours()):
		return TooLow
	}
	return Accepted
}

// reference is the newest figure that a reading can be held against.
func (s *State) reference() (float64, time.Duration, bool) {
	if len(s.Bins) > 0 {
		if m, n := s.median(0); n > 0 {
			return m, s.Last, true
		}
	}
	if n := len(s.Levels); n > 0 {
		l := s.Levels[n-1]
		if l.Hand && !s.allHand() {
			l.P += s.Offset.Mean
		}
		return l.P, time.Duration(l.Sec) * time.Second, true
	}
	return 0, 0, false
}

func (s *State) allHand() bool {
	if len(s.Bins) > 0 {
		return false
	}
	for _, l := range s.Levels {
		if !l.Hand {
			return false
		}
	}
	return true
}

func (s State) rejectHand(r Reading, v Verdict, p Prior) (State, Verdict) {
	s.Rejected++
	s.PendHand = s.PendHand.add(r.Points, s.Now)
	if s.PendHand.N < 2 { // two samples by hand that agree are believed
		return s, v
	}
	s.PendHand, s.Levels, s.HoldTo = Pending{}, nil, s.Now+stepPause
	return s.accept(r.Points, r, p), Stepped
}

// reject keeps a reading that may be the first of a new level, and takes the new
// level once enough of them agree.
func (s State) reject(x, promised float64, r Reading, v Verdict, p Prior) (State, Verdict) {
	s.Rejected++
	pend := s.Pend
	if n := len(pend); n > 0 {
		m := middle(pend)
		if math.Abs(x-m) > stepSpread || time.Duration(int64(s.Now/binLength)-pend[n-1].At)*binLength > stepForgotten {
			pend = nil
		}
	}
	s.Pend = into(pend, int64(s.Now/binLength), x)
	n := len(s.Pend)
	if reads(s.Pend) < stepReads || time.Duration(s.Pend[n-1].At-s.Pend[0].At)*binLength < stepAfter-binLength {
		return s, v
	}
	return s.step(promised, r, p), Stepped
}

// step takes the rejected readings as the device's new level.
func (s State) step(promised float64, r Reading, p Prior) State {
	if len(s.Levels) == 0 && len(s.Bins) < fewest { // what came first was a spike, and no frame
		return s.newLevel(0, 0, r, p)
	}
	s, _ = s.closeLevel()
	m := middle(s.Pend)
	// The change between the last readings of before and the first of after.
	tail := s.Bins[max(0, len(s.Bins)-4):]
	change := middle(s.Pend[:min(3, len(s.Pend))]) - middle(tail) + float64(0.75*max(0, s.Est.Rate))
	if len(tail) == 0 {
		change = m - promised
	}
	jump, shift := jumpOf(change), 0.0
	if s.Held {
		jump = max(jump, jumpOf(m-promised))
	}
	if gas := !s.Held && s.Est.Rate >= gassing && change > 0 && change < releaseFall; jump > 0 && !gas {
		shift = m - promised
	}
	return s.newLevel(shift, jump, r, p)
}

// newLevel goes on with the readings that were rejected, in a frame that is shifted.
func (s State) newLevel(shift, jump float64, r Reading, p Prior) State {
	bins := make([]Bin, len(s.Pend))
	for i, b := range s.Pend {
		bins[i] = Bin{At: b.At, Sum: b.Sum - float64(shift*float64(b.N)), N: b.N}
	}
	s.Levelled = time.Duration(bins[0].At) * binLength
	s.Bins, s.Pend, s.Held = bins, nil, false
	s.Shift += shift
	s.Jump = max(s.Jump, jump)
	s.HoldTo = s.Now + stepPause
	s.Accepted++
	s.Last, s.Hand = s.Now, false
	s.Warmth.Bare = r.Uncorrected
	return s.estimate(p, true)
}

// jumpOf is what is not known of the frame after a change of the device's level.
func jumpOf(change float64) float64 {
	if change > 0 || change < -releaseFall {
		return stepJump
	}
	return 0
}

// into adds a value to the ten minutes that it belongs to.
func into(bins []Bin, at int64, x float64) []Bin {
	list := make([]Bin, len(bins), len(bins)+1)
	copy(list, bins)
	if n := len(list); n > 0 && list[n-1].At == at {
		list[n-1].Sum += x
		list[n-1].N++
		return list
	}
	if len(list) >= 32 { // a run that never agrees
		list = list[1:]
	}
	return append(list, Bin{At: at, Sum: x, N: 1})
}

func reads(bins []Bin) int {
	n := 0
	for _, b := range bins {
		n += b.N
	}
	return n
}

// middle is the median of a few times of ten minutes.
func middle(bins []Bin) float64 {
	var v [32]float64
	n := 0
	for _, b := range bins[max(0, len(bins)-len(v)):] {
		v[n] = b.Sum / float64(b.N)
		n++
	}
	if n == 0 {
		return 0
	}
	sortUp(v[:n])
	return (v[n/2] + v[(n-1)/2]) / 2
}

// add takes a rejected reading into the run, or begins a new run with it.
func (q Pending) add(x float64, now time.Duration) Pending {
	low, high := min(q.Low, x), max(q.High, x)
	if q.N == 0 || high-low > stepSpread {
		return Pending{N: 1, From: now, Last: now, Low: x, High: x, Sum: x}
	}
	return Pending{N: q.N + 1, From: q.From, Last: now, Low: low, High: high, Sum: q.Sum + x}
}

func (s State) accept(x float64, r Reading, p Prior) State {
	s.Accepted++
	s.Last = s.Now
	s.Warmth.Bare = r.Uncorrected
	if r.Hand {
		return s.acceptHand(x, p)
	}
	s.Hand = false
	s.Bins = into(s.Bins, int64(s.Now/binLength), x)
	return s
}

// acceptHand takes a sample. It is a level of its own: beside a living device it
// shows the device's offset, alone it is all there is.
func (s State) acceptHand(x float64, p Prior) State {
	if _, n := s.median(int64((s.Now - levelLength) / binLength)); n == 0 {
		s.Hand = true
		s.Bins = nil // older than two hours
		if s.allHand() {
			s.Offset = Belief{0, offsetVar}
		}
	}
	hours := (s.Now - s.LookAt).Hours()
	promised := s.Est.End + s.Est.Left - min(s.Est.Left, float64(max(0, s.Est.Rate)*hours))
	s.Odd = s.Hand && s.Est.Live != 0 && math.Abs(x-promised) > handSupport
	s = s.addLevel(Level{Sec: int64(s.Now.Seconds()), P: round(x), N: 1, Hand: true})
	return s.estimate(p, true)
}
