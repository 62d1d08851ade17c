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
	"slices"
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
func Verdicts() []Verdict { return []Verdict{Accepted, TooHigh, TooLow, Implausible, Stepped} }

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
	case Stepped:
		return "stepped"
	}
	return string(v)
}

// Believed tells whether the reading was taken in.
func (v Verdict) Believed() bool { return v == Accepted || v == Stepped }

// State is what is remembered of a batch's gravity. History is kept as levels of
// two hours, so that it stays small.
type State struct {
	Now       time.Duration // counted, with known outages
	Closed    int64         // number of the ten minutes that are open
	Bins      []Bin         // of ten minutes, inside the last two hours
	Levels    []Level       // of two hours, or single hand samples, up to sixteen days
	Pend      Pending       // readings of the device that were rejected and may be a new level
	PendHand  Pending       // the same for samples: what the device says between two of them is no answer
	Shift     float64       // the device's output minus its first frame, from steps that were seen
	Offset    Belief        // the device's frame minus the true gravity
	Anchored  bool          // the start has been compared with the original gravity
	Hand      bool          // the newest accepted reading came from a person
	Accepted  int64
	Rejected  int64
	Last      time.Duration // when a reading was last accepted
	Every     time.Duration // between the two newest accepted readings of the device
	HoldTo    time.Duration // no judgement before: the device has just stepped
	JudgeFrom time.Duration // no judgement on anything older: a mark
	Lower     float64       // by how much marks moved the expected end down
	Wider     float64       // by which factor marks widened it; 0 is 1
	Peak      float64       // fastest fall seen over twelve hours, points an hour
	TailFrom  time.Duration // since then the fall is slowing down; 0 = not yet
	Pitched   bool
	PitchedAt time.Duration
	Moving    bool   // the yeast is seen at work
	Warmth    Warmth // beer temperature, for sources that are not corrected
	Est       Estimate
}

// Bin is ten minutes of readings.
type Bin struct {
	At  int64 // number of the ten minutes since the start
	Sum float64
	N   int
}

// Level is a gravity that can be trusted as one figure.
type Level struct {
	Sec  int64 // when
	P    float64
	Hand bool
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
	Known    bool
	Ready    bool    // enough accepted readings, none of them alone, to judge by
	Level    float64 // in the device's frame
	Rate     float64 // points an hour, falling is positive
	Final    float64 // where it will end, in the device's frame
	FinalVar float64
	Left     float64
	Low      float64
	High     float64
	Decay    float64 // of the tail, 1/h
	Offset   float64 // of the frame
}

const (
	binLength   = 10 * time.Minute
	levelLength = 2 * time.Hour // more than two periods of a cooling cabinet's ripple (42 to 50 min in measured records)
	keepLevels  = 192           // sixteen days of levels
	z90         = 1.2815515655446004
)

// New starts a batch.
func New() State { return State{Offset: Belief{0, offsetVar}} }

const (
	offsetVar = 9.0  // (3 points)^2: devices are found 1 to 5 points off (assumption of the noise study)
	anchorVar = 4.0  // the start reads 2 points off by its own transients
	handVar   = 1.69 // (1.3 points)^2: measured scatter of hand readings on a 0.002 raster
	deviceVar = 0.64 // (0.8 points)^2: a two-hour level, measured 0.35 to 0.8
	// widest is the most by which marks widen the expected end: a spread of two
	// points is then no opinion any more.
	widest = 16.0
	// alike is how many levels in a row carry the same error: drift of 12 h
	// against levels of 2 h leaves about one independent figure in five.
	alike = 5.0
)

// Advance counts time, and closes the ten minutes and two hours that are over.
func (s State) Advance(elapsed time.Duration, beer float64, beerKnown bool, p Prior) State {
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
			return s.closeBins(p)
		}
	}
	return s
}

// Mark begins judging anew after something was done to the beer.
func (s State) Mark(lower, wider float64) State {
	s.JudgeFrom = s.Now
	s.Lower += lower
	if s.Wider == 0 {
		s.Wider = 1
	}
	s.Wider = min(s.Wider*wider, widest)
	s.Warmth.Ref = s.Warmth.Now
	return s
}

// Moved begins a new segment after something went into the beer that has a gravity
// of its own: no reading of before says what the next one may be, and where the
// fall slows down is to be found anew.
func (s State) Moved() State {
	s.Bins, s.Levels = nil, nil
	s.Pend, s.PendHand = Pending{}, Pending{}
	s.Peak, s.TailFrom = 0, 0
	s.Est.Ready = false
	return s
}

// Broken begins a new segment after an outage of unknown length: nothing read
// before can be held against what is read after it. The device's frame is kept,
// and what was found before stands until it is found anew.
func (s State) Broken() State {
	s.Bins, s.Levels = nil, nil
	s.Pend, s.PendHand = Pending{}, Pending{}
	s.JudgeFrom = s.Now
	s.Est.Ready = false
	return s
}

// Recalibrated begins a new segment after the device was calibrated anew: it reads
// in another frame, so that neither what was read before nor the offset that was
// found counts any more.
func (s State) Recalibrated() State {
	s = s.Broken()
	s.Shift, s.Offset = 0, Belief{0, offsetVar}
	return s
}

// closeBins drops bins that are too old, and makes a level of two hours when the
// last one is older than that.
func (s State) closeBins(p Prior) State {
	now := int64(s.Now / binLength)
	newest := s.Bins[len(s.Bins)-1].At
	lastLevel := int64(-1)
	for _, v := range slices.Backward(s.Levels) {
		if !v.Hand {
			lastLevel = v.Sec
			break
		}
	}
	perLevel := int64(levelLength / binLength)
	due := int64(s.Now.Seconds())/int64(levelLength.Seconds()) != lastLevel/int64(levelLength.Seconds()) || lastLevel < 0
	if due && newest >= now-perLevel {
		if m, ok := s.recent(); ok {
			s = s.addLevel(Level{Sec: int64(s.Now.Seconds()), P: m})
		}
	}
	keep := make([]Bin, 0, len(s.Bins))
	rare := s.Every > levelLength/fewest
	for i, b := range s.Bins {
		// Of a device that reports rarely the newest few are kept for longer.
		few := rare && i >= len(s.Bins)-fewest && b.At >= now-int64(rarest/binLength)
		if b.At >= now-perLevel || few {
			keep = append(keep, b)
		}
	}
	s.Bins = keep
	return s.estimate(p)
}

// A figure stands on this many times of ten minutes, the oldest no older than this.
const (
	fewest = 3
	rarest = 8 * time.Hour
)

// recent is the median of the last two hours, or of the newest few readings of a
// device that reports less often than every forty minutes.
func (s State) recent() (float64, bool) {
	if m, n := s.median(int64((s.Now - levelLength) / binLength)); n >= fewest {
		return m, true
	}
	m, n := s.median(0)
	return m, n >= fewest
}

func (s State) addLevel(l Level) State {
	from := 0
	if len(s.Levels) >= keepLevels {
		from = len(s.Levels) - keepLevels + 1
	}
	levels := make([]Level, 0, len(s.Levels)-from+1)
	l.P = round(l.P)
	levels = append(levels, s.Levels[from:]...)
	levels = append(levels, l)
	s.Levels = levels
	return s
}

// median of the bins since one of them.
func (s State) median(from int64) (float64, int) {
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
