package gravity

import "time"

// What real gravity can do between two readings, and what a device can do to us.
const (
	fastestFall = 4.0 // points an hour: a hot farmhouse ale at its height (from memory); measured worts reach 1.3
	fallMargin  = 4.0 // points
	riseMargin  = 4.0 // points: real gravity does not rise, readings scatter by two
	handMargin  = 5.0
	stepAfter   = 3 * time.Hour // rejected readings that agree for so long are a new level
	stepReads   = 6
	stepSpread  = 4.0 // points
	stepPause   = levelLength

	stepForgotten = 12 * time.Hour // rejected readings so far apart are no run
)

// Verdict says what became of a reading.
type Verdict string

// The verdicts.
const (
	Accepted    Verdict = "accepted"
	TooHigh     Verdict = "rises faster than beer can"
	TooLow      Verdict = "falls faster than yeast can"
	Implausible Verdict = "not a gravity that a fermenter can hold"
	Stepped     Verdict = "a new level: the device has stepped"
)

// Take accepts or rejects one reading.
func (s State) Take(r Reading, p Prior) (State, Verdict) {
	if !(r.Points >= -30 && r.Points <= 200) {
		s.Rejected++
		return s, Implausible
	}
	x := r.Points
	if !r.Hand {
		x -= s.Shift
	}
	v := s.judge(x, r.Hand)
	if v != Accepted {
		return s.reject(x, r, v, p)
	}
	if r.Hand {
		s.PendHand = Pending{}
	} else {
		s.Pend = Pending{}
	}
	return s.accept(x, r, p), Accepted
}

func (s State) judge(x float64, hand bool) Verdict {
	ref, at, known := s.reference()
	if !known {
		return Accepted
	}
	margin := riseMargin
	if hand {
		margin = handMargin
		x += s.Offset.Mean
		if !s.allHand() {
			margin += 3 // the device's offset is not known better
		}
	}
	gap := (s.Now - at).Hours()
	switch {
	case x > ref+margin:
		return TooHigh
	case x < s.newest(ref)-fallMargin-float64(fastestFall*gap):
		return TooLow
	}
	return Accepted
}

// newest is the mean of the newest ten minutes, or the reference where there is
// none: a fall is held against what was read last, for the median lags behind it.
func (s State) newest(ref float64) float64 {
	if n := len(s.Bins); n > 0 {
		b := s.Bins[n-1]
		return min(ref, b.Sum/float64(b.N))
	}
	return ref
}

// reference is the newest figure that a reading can be held against.
func (s State) reference() (float64, time.Duration, bool) {
	if len(s.Bins) > 0 {
		if m, n := s.median(0); n > 0 {
			return m, s.Last, true
		}
	}
	if n := len(s.Levels); n > 0 {
		return s.Levels[n-1].P, time.Duration(s.Levels[n-1].Sec) * time.Second, true
	}
	return 0, 0, false
}

func (s State) allHand() bool {
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

func (s State) reject(x float64, r Reading, v Verdict, p Prior) (State, Verdict) {
	s.Rejected++
	if r.Hand {
		s.PendHand = s.PendHand.add(x, s.Now)
		if s.PendHand.N < 2 { // two samples by hand that agree are believed
			return s, v
		}
		s.PendHand, s.Levels, s.HoldTo = Pending{}, nil, s.Now+stepPause
		return s.accept(x, r, p), Stepped
	}
	if s.Now-s.Pend.Last > stepForgotten {
		s.Pend = Pending{}
	}
	s.Pend = s.Pend.add(x, s.Now)
	if s.Pend.N < stepReads || s.Now-s.Pend.From < stepAfter {
		return s, v
	}
	mean := s.Pend.Sum / float64(s.Pend.N)
	s.Pend = Pending{}
	s.HoldTo = s.Now + stepPause
	if ref, _, known := s.reference(); known {
		s.Shift += mean - ref
		x -= mean - ref
	}
	return s.accept(x, r, p), Stepped
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
	if !r.Hand {
		s.Every = s.Now - s.Last // the first one counts as rare
	}
	s.Last = s.Now
	s.Warmth.Bare = r.Uncorrected
	if r.Hand {
		return s.acceptHand(x, p)
	}
	s.Hand = false
	at := int64(s.Now / binLength)
	bins := make([]Bin, len(s.Bins), len(s.Bins)+1)
	copy(bins, s.Bins)
	if n := len(bins); n > 0 && bins[n-1].At == at {
		bins[n-1].Sum += x
		bins[n-1].N++
	} else {
		bins = append(bins, Bin{At: at, Sum: x, N: 1})
	}
	s.Bins = bins
	return s
}

// acceptHand takes a sample. Beside a living device it shows the device's
// offset; alone it is a level.
func (s State) acceptHand(x float64, p Prior) State {
	if m, n := s.median(int64((s.Now - levelLength) / binLength)); n > 0 {
		s.Offset = s.Offset.combine(Belief{m - x, handVar + deviceVar})
		return s.estimate(p)
	}
	s.Hand = true
	s.Bins = nil // older than two hours
	if s.allHand() {
		s.Offset = Belief{0, offsetVar}
	}
	s = s.addLevel(Level{Sec: int64(s.Now.Seconds()), P: x + s.Offset.Mean, Hand: true})
	return s.estimate(p)
}

// combine weighs two beliefs by their certainty.
func (b Belief) combine(o Belief) Belief {
	if b.Var <= 0 {
		return b
	}
	w := o.Var / (b.Var + o.Var)
	return Belief{Mean: float64(w*b.Mean) + float64((1-w)*o.Mean), Var: w * b.Var}
}
