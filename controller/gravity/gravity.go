// Package gravity holds what the hydrometer says: which readings are accepted,
// where the gravity stands, how many points are left and how sure that is,
// whether it is terminal or stuck.
//
// It works in the hydrometer's own frame, so that a constant offset cancels. It
// refuses to decide on one reading, and it never moves the brewer's expected end
// before the data show a tail: a curve fitted earlier puts the end far too high.
//
// Gravities are points above water here (1.048 is 48), time is counted since the
// batch began, and no state holds a number that is not finite.
package gravity

import (
	"math"
	"time"
)

// Prior is what the brewer expects, in points.
type Prior struct {
	Original, Final, SD float64
}

// Reading is one gravity, corrected for temperature where it could be.
type Reading struct {
	Points      float64
	Hand        bool // a sample read by a person: no offset, coarse, rare
	Uncorrected bool // neither the source nor we could allow for temperature
}

// Verdicts lists every verdict, so that counters exist before the first one.
func Verdicts() []Verdict {
	return []Verdict{Accepted, TooHigh, TooLow, Implausible, NotMoving, Stepped}
}

// Word is the verdict in one word, for counters and scripts.
func (v Verdict) Word() string {
	switch v {
	case Accepted:
		return "accepted"
	case TooHigh:
		return "too-high"
	case TooLow:
		return "too-low"
	case Implausible:
		return "implausible"
	case NotMoving:
		return "not-moving"
	case Stepped:
		return "stepped"
	}
	return string(v)
}

// Believed tells whether the reading was taken in.
func (v Verdict) Believed() bool { return v == Accepted || v == Stepped }

// State is what is remembered of a batch's gravity. History is kept as levels of
// two hours, longer ones further back, so that it stays small.
type State struct {
	Now       time.Duration // counted, with known outages
	Closed    int64         // number of the ten minutes that are open
	Bins      []Bin         // of ten minutes, inside the last two hours
	Levels    []Level       // of two hours, or single hand samples
	Levelled  time.Duration // when the newest level of the device was closed
	Jump      float64       // points, SD of a jump between the newest level and the readings now
	Pend      []Bin         // readings of the device that were rejected and may be a new level
	PendHand  Pending       // the same for samples: what the device says between two of them is no answer
	Shift     float64       // the device's output minus its first frame, from steps that were seen
	Offset    Belief        // what the device reads now minus the true gravity
	Hand      bool          // the newest accepted reading came from a person
	Odd       bool          // and none of the curves foresaw it: a slip, until the next one agrees
	Accepted  int64
	Rejected  int64
	Last      time.Duration // when a reading was last accepted
	Same      Sameness      // whether foam or a wall holds the device
	Held      bool
	HeldLeft  float64       // points that were left when it was caught
	HoldTo    time.Duration // no judgement before: the device has just stepped
	JudgeFrom time.Duration // no judgement on anything older: a mark
	Lower     float64       // by how much marks moved the expected end down
	LowerAt   time.Duration // when the newest of them did
	Wider     float64       // by which factor marks widened it; 0 is 1
	Pitched   bool
	PitchedAt time.Duration
	Moving    bool   // the yeast is seen at work
	Warmth    Warmth // beer temperature, for sources that are not corrected
	FitAt     time.Duration
	Hurried   bool // a fit waits for a later step
	FitDue    bool // one waits
	LookAt    time.Duration
	Est       Estimate
}

// Sameness counts readings that do not move at all.
type Sameness struct {
	N     int
	Value float64
	From  time.Duration
}

// Bin is ten minutes of readings.
type Bin struct {
	At  int64 // number of the ten minutes since the start
	Sum float64
	N   int
}

// Level is a gravity that can be trusted as one figure: the median of two hours in
// the device's first frame, or a sample by hand, which is true.
type Level struct {
	Sec   int64 // when: the middle of its time
	P     float64
	N     int     // times of ten minutes that it stands on
	Rough float64 // points, their mean distance from it
	Jump  float64 // points, SD of a jump of the device before it
	Hand  bool
}

// Pending is a run of rejected readings.
type Pending struct {
	N              int
	From           time.Duration
	Last           time.Duration
	Low, High, Sum float64
}

// Belief is a normal distribution.
type Belief struct{ Mean, Var float64 }

// Warmth follows the beer for sources that do not correct for temperature.
type Warmth struct {
	Known bool
	Ref   float64 // C, when judging began
	Now   float64
	Bare  bool // the source does not correct and gives no temperature
}

// Estimate is what is believed now. Bounds are 10 % and 90 %.
type Estimate struct {
	Known  bool
	Ready  bool    // enough accepted readings, none of them alone, to judge by
	Level  float64 // in the device's frame
	Rate   float64 // points an hour, falling is positive
	Final  float64 // where it will end, in the device's frame
	End    float64 // the same, as a true gravity
	EndVar float64
	Left   float64
	Low    float64
	High   float64
	Firm   float64           // points left at least, unless it stops where nobody expects it
	Done   float64           // chance that there is next to nothing left
	Above  float64           // chance that it ends too far above what was expected
	Noises [sizes]float64    // how likely each size of noise is
	Live   uint64            // the shapes that have weight, a bit each
	Starts []start           // where the next search for each begins
	Ahead  [steps][3]float64 // h from the fit until so few points are left: 10 %, half, 90 %; see forecast
}

const (
	binLength   = 10 * time.Minute
	levelLength = 2 * time.Hour  // more than two periods of a cooling cabinet's ripple (42 to 50 min in measured records)
	keepLevels  = 92             // from here on the older ones are joined by two
	keepFine    = 72 * time.Hour // but not those of the usual windows
	keepCoarse  = 36 * time.Hour // further back the fit sees them joined
	z90         = 1.2815515655446004
)

// New starts a batch.
func New() State { return State{Offset: Belief{0, offsetVar}} }

// offsetVar is (2.7 points)^2: what the device's frame may be off before anything is known.
const offsetVar = offsetSD * offsetSD

// widest is the most by which marks widen the expected end: a spread of two points
// is then no opinion any more.
const widest = 16.0

// Advance counts time, and closes the ten minutes and two hours that are over.
func (s *State) Advance(elapsed time.Duration, beer float64, beerKnown bool, p Prior) {
	s.Now += elapsed
	if beerKnown {
		if !s.Warmth.Known {
			s.Warmth.Known, s.Warmth.Ref = true, beer
		}
		s.Warmth.Now = beer
	}
	if bin := int64(s.Now / binLength); bin > s.Closed {
		s.Closed = bin
		if len(s.Bins) > 0 {
			*s = s.closeBins(p)
			return
		}
	}
	if s.FitDue && !s.Hurried {
		*s = s.estimate(p, true)
	}
}

// Mark begins judging anew after something was done to the beer.
func (s State) Mark(lower, wider float64) State {
	s.JudgeFrom = s.Now
	if lower > 0 {
		s.Lower, s.LowerAt = s.Lower+lower, s.Now
	}
	if s.Wider == 0 {
		s.Wider = 1
	}
	s.Wider = min(s.Wider*wider, widest)
	s.Warmth.Ref = s.Warmth.Now
	s.FitAt = 0
	return s
}

// Moved begins a new segment after something went into the beer that has a gravity
// of its own: no reading of before says what the next one may be, and where the
// fall slows down is to be found anew.
func (s State) Moved() State {
	s = s.forget()
	s.Est.Ready = false
	return s
}

// Broken begins a new segment after an outage of unknown length: nothing read
// before can be held against what is read after it. The device's frame is kept,
// and what was found before stands until it is found anew.
func (s State) Broken() State {
	s = s.forget()
	s.JudgeFrom = s.Now
	s.Est.Ready = false
	return s
}

// Recalibrated begins a new segment after the device was calibrated anew: it reads
// in another frame, so that neither what was read before nor the offset that was
// found counts any more. Samples by hand are true and stay.
func (s State) Recalibrated() State {
	byHand := make([]Level, 0, len(s.Levels))
	for _, l := range s.Levels {
		if l.Hand {
			byHand = append(byHand, l)
		}
	}
	s = s.Broken()
	s.Levels = byHand
	s.Shift, s.Offset = 0, Belief{0, offsetVar}
	return s
}

// forget drops what was read.
func (s State) forget() State {
	s.Bins, s.Levels, s.Pend, s.PendHand = nil, nil, nil, Pending{}
	s.Jump, s.Levelled, s.FitAt = 0, s.Now, 0
	s.Held, s.Same = false, Sameness{}
	return s
}

// closeBins drops bins that are too old, and makes a level of two hours when the
// last one is older than that.
func (s State) closeBins(p Prior) State {
	now := int64(s.Now / binLength)
	perLevel := int64(levelLength / binLength)
	anew := false
	if s.Now-s.Levelled >= levelLength {
		s, anew = s.closeLevel()
	}
	keep := make([]Bin, 0, len(s.Bins))
	for i, b := range s.Bins {
		// The newest few are kept for longer: the next reading is held against them.
		if b.At >= now-perLevel || i >= len(s.Bins)-fewest {
			keep = append(keep, b)
		}
	}
	s.Bins = keep
	return s.estimate(p, anew)
}

// closeLevel makes a level of what was read since the last one.
func (s State) closeLevel() (State, bool) {
	l, ok := s.open()
	if !ok {
		return s, false
	}
	s.Levelled, s.Jump = s.Now, 0
	return s.addLevel(l), true
}

// open is the level that is being made.
func (s *State) open() (Level, bool) {
	from := int64(s.Levelled / binLength)
	first := len(s.Bins)
	for first > 0 && s.Bins[first-1].At >= from {
		first--
	}
	bins := s.Bins[first:]
	if len(bins) < fewest {
		return Level{}, false
	}
	m, _ := s.median(from)
	var at, rough float64
	for _, b := range bins {
		at += float64(b.At)
		rough += math.Abs(b.Sum/float64(b.N) - m)
	}
	n := float64(len(bins))
	sec := (at/n + 0.5) * binLength.Seconds()
	return Level{Sec: int64(sec), P: round(m), N: len(bins), Rough: round(rough / n), Jump: round(s.Jump)}, true
}

// A figure stands on this many times of ten minutes, the oldest no older than this.
const (
	fewest = 3
	rarest = 8 * time.Hour
)

// recent is the median of the last two hours, or of the newest few readings of a
// device that reports less often than every forty minutes.
func (s *State) recent() (float64, bool) {
	if m, n := s.median(int64((s.Now - levelLength) / binLength)); n >= fewest {
		return m, true
	}
	m, n := s.median(int64((s.Now - rarest) / binLength))
	return m, n >= fewest
}

func (s State) addLevel(l Level) State {
	levels := make([]Level, 0, len(s.Levels)+1)
	if len(s.Levels) < keepLevels {
		levels = append(levels, s.Levels...)
	} else {
		levels = s.joined(levels)
	}
	levels = append(levels, l)
	s.Levels = levels
	return s
}

// joined are the levels with the older ones joined by two, where no jump lies
// between them.
func (s *State) joined(levels []Level) []Level {
	fine := int64((s.Now - keepFine).Seconds())
	list := s.Levels
	for i := 0; i < len(list); i++ {
		l := list[i]
		if i+1 < len(list) && list[i+1].Sec < fine && l.joins(list[i+1]) {
			l = l.join(list[i+1])
			i++
		}
		levels = append(levels, l)
	}
	if len(levels) >= keepLevels { // jumps and samples without end
		levels = levels[len(levels)-keepLevels+1:]
	}
	return levels
}

// joins tells whether two levels may become one: no jump lies between them, and a
// sample by hand stays as it is.
func (l Level) joins(m Level) bool {
	return m.Jump == 0 && !l.Hand && !m.Hand && m.Sec-l.Sec < int64((24*time.Hour).Seconds())
}

func (l Level) join(m Level) Level {
	a, b := float64(max(1, l.N)), float64(max(1, m.N))
	return Level{
		Sec: (l.Sec + m.Sec) / 2, P: round((float64(a*l.P) + float64(b*m.P)) / (a + b)),
		N: l.N + m.N, Rough: round((float64(a*l.Rough) + float64(b*m.Rough)) / (a + b)), Jump: l.Jump,
	}
}

// median of the bins since one of them.
func (s *State) median(from int64) (float64, int) {
	var v [16]float64
	n := 0
	for _, b := range s.Bins {
		if b.At >= from && b.N > 0 && n < len(v) {
			v[n] = b.Sum / float64(b.N)
			n++
		}
	}
	if n == 0 {
		return 0, 0
	}
	sortUp(v[:n])
	if n%2 == 1 {
		return v[n/2], n
	}
	return (v[n/2-1] + v[n/2]) / 2, n
}

func sortUp(v []float64) {
	for i := 1; i < len(v); i++ {
		for j := i; j > 0 && v[j] < v[j-1]; j-- {
			v[j], v[j-1] = v[j-1], v[j]
		}
	}
}

// round keeps the stored history short: a thousandth of a point.
func round(p float64) float64 {
	if p < 0 {
		return -round(-p)
	}
	return float64(int64(float64(p*1000)+0.5)) / 1000
}
