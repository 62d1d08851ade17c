package controller

import (
	"slices"
	"time"

	"example.org/restpoint/controller/units"
)

const (
	// gravityHold is how long a condition on gravity must stay so before it
	// counts: no decision on an accident.
	gravityHold = time.Hour
	// A beer is at a temperature when it stays within this for so long.
	beerWithin units.Kelvins = 0.3
	beerFor                  = 30 * time.Minute
)

// judge moves every leaf of the stage's condition on. This is the one table of
// what the conditions mean.
func (r *run) judge(st *Stage) {
	leaves := r.leaves(st)
	held := make([]Leaf, len(leaves))
	copy(held, r.s.Stage.Leaves)
	r.newly = -1
	for i, c := range leaves {
		was := held[i].Met
		if held[i] = r.leaf(c, held[i]); held[i].Met && !was {
			r.newly = i
		}
	}
	r.s.Stage.Leaves = held
}

func (r *run) leaf(c *Condition, l Leaf) Leaf {
	beer := r.s.Sense.Beer
	switch c.Kind {
	case PointsLeft:
		return l.hold(r.s.Batch.Pitched && r.s.Gravity.Within(float64(c.Points), gravityHold-min(l.Held+r.elapsed, gravityHold)), r.elapsed, gravityHold)
	case ApparentAttenuation:
		a, ok := r.s.Gravity.Attenuation(r.prior)
		return l.hold(r.s.Batch.Pitched && ok && a >= c.Attenuation, r.elapsed, gravityHold)
	case GravityAtMost:
		g := r.s.Gravity
		return l.hold(r.s.Batch.Pitched && g.Est.Ready && g.True() <= float64(c.Gravity.Minus(1)), r.elapsed, gravityHold)
	case Terminal:
		return r.terminalLeaf(c, l)
	case Dwell:
		if !c.HasBeerAbove || beer.Usable() && beer.Celsius > c.Beer {
			l.Held += r.elapsed
		}
		l.Met = l.Held >= c.AtLeast
	case BeerAt:
		return l.hold(beer.Usable() && abs(beer.Celsius.Minus(c.Beer)) <= beerWithin, r.elapsed, beerFor)
	case Pitched:
		l.Met = r.s.Batch.Pitched
	case Confirmed:
		l.Met = r.confirmed(c.Say)
	case Never, All, Any:
	}
	return l
}

// lookEvery is how often what takes days is judged: what is known of gravity
// changes no faster.
const lookEvery = 10 * time.Minute

// tick tells whether that time is over again.
func (r *run) tick() bool {
	now := r.s.Gravity.Now
	return now/lookEvery != (now-r.elapsed)/lookEvery
}

// terminalAgain is how far a gravity that was terminal must fall until it is so no
// more: drift of the device does not undo what was found.
const terminalAgain = 2.0

func (r *run) terminalLeaf(c *Condition, l Leaf) Leaf {
	if !r.tick() {
		return l
	}
	level := r.s.Gravity.Est.Level
	if l.Met && level > l.At-terminalAgain {
		return l
	}
	met := r.s.Batch.Pitched && !r.s.Batch.Told.Stuck && r.s.Gravity.Terminal(float64(c.Points), c.Over, r.prior)
	change := r.s.Gravity.NetChange(c.Over)
	l = Leaf{Met: met, Seen: change.Known, Fall: finite(change.Fall)}
	if met {
		l.At = level
	}
	return l
}

// hold is met once the thing has stayed so for a while.
func (l Leaf) hold(so bool, elapsed, need time.Duration) Leaf {
	if !so {
		return Leaf{}
	}
	l.Held = min(l.Held+elapsed, 365*units.Day)
	l.Met = l.Held >= need
	return l
}

func (r *run) confirmed(say string) bool {
	return slices.Contains(r.s.Stage.Confirmed, say)
}

// holds evaluates a condition over its leaves, which are consumed in order.
func (c *Condition) holds(leaves []Leaf, at *int) bool {
	switch c.Kind {
	case Never:
		return false
	case All:
		all := len(c.Of) > 0
		for i := range c.Of {
			all = c.Of[i].holds(leaves, at) && all
		}
		return all
	case Any:
		one := false
		for i := range c.Of {
			one = c.Of[i].holds(leaves, at) || one
		}
		return one
	default:
		l := *at
		*at++
		return l < len(leaves) && leaves[l].Met
	}
}

// remaining is the least time until the condition can hold, as far as it can be
// told: for reminders, never for decisions.
func (r *run) remaining(c *Condition, leaves []Leaf, at *int) time.Duration {
	switch c.Kind {
	case Never:
		return 365 * units.Day
	case All:
		longest := time.Duration(0)
		for i := range c.Of {
			longest = max(longest, r.remaining(&c.Of[i], leaves, at))
		}
		return longest
	case Any:
		shortest := 365 * units.Day
		for i := range c.Of {
			shortest = min(shortest, r.remaining(&c.Of[i], leaves, at))
		}
		return shortest
	default:
		l := *at
		*at++
		if l >= len(leaves) || leaves[l].Met {
			return 0
		}
		return r.leafRemaining(c, leaves[l])
	}
}

func (r *run) leafRemaining(c *Condition, l Leaf) time.Duration {
	switch c.Kind {
	case PointsLeft:
		if span, ok := r.s.Gravity.Until(float64(c.Points)); ok {
			return span.Middle
		}
		return units.Day
	case Terminal:
		return r.s.Gravity.UntilTerminal(float64(c.Points), c.Over, r.prior)
	case Dwell:
		return c.AtLeast - l.Held
	case BeerAt:
		return beerFor - l.Held
	case ApparentAttenuation, GravityAtMost:
		return units.Day
	default:
		return 0
	}
}
