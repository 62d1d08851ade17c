package controller

import (
	"example.org/restpoint/controller/units"
)

// MarkKind is what was done to the beer.
type MarkKind string

// The marks.
const (
	Dump     MarkKind = "dump"     // the cone was emptied
	Crop     MarkKind = "crop"     // yeast was taken
	Rouse    MarkKind = "rouse"    // yeast was stirred up
	Oxygen   MarkKind = "oxygen"   // the wort was oxygenated again
	DryHop   MarkKind = "dry-hop"  // hops went in
	Addition MarkKind = "addition" // fruit, sugar, finings
	Refill   MarkKind = "fill"     // a turn of wort
	Transfer MarkKind = "transfer" // the beer changed its tank
)

// MarkKinds lists every mark.
func MarkKinds() []MarkKind {
	return []MarkKind{Dump, Crop, Rouse, Oxygen, DryHop, Addition, Refill, Transfer}
}

// mostAdded is the most that additions may be worth together: sugar for a strong
// beer goes in by steps, and a slip of the finger is larger.
const mostAdded units.Points = 60

// Effect is what a mark does to what was judged and expected before. Every mark
// makes judging start again: terminal, points and attenuation are to be found
// anew, and confirmations are void.
type Effect struct {
	Lower float64 // points: the expected end moves down by this
	Wider float64 // its spread grows by this factor
	Moves bool    // the gravity itself moves, so no reading of before counts
	Why   string
}

// Does tells what a mark does; nothing for a mark that there is not. Hops carry
// enzymes that free more sugar: about two points, and nobody knows how many
// (common practice). The other figures are engineering judgement.
func (k MarkKind) Does() (Effect, bool) {
	switch k {
	case Dump:
		return Effect{Wider: 1, Why: "trub and dead yeast are gone; the beer is the same"}, true
	case Crop:
		return Effect{Wider: 1.25, Why: "less yeast is left for the last points"}, true
	case Rouse:
		return Effect{Wider: 1, Why: "stirred yeast may go on"}, true
	case Oxygen:
		return Effect{Wider: 1, Why: "gas bubbles lift a hydrometer for hours"}, true
	case DryHop:
		return Effect{Lower: 2, Wider: 2, Why: "enzymes of the hops free more sugar"}, true
	case Addition:
		return Effect{Wider: 1.5, Moves: true, Why: "what went in has a gravity of its own"}, true
	case Refill:
		return Effect{Wider: 1, Moves: true, Why: "the wort is another one now"}, true
	case Transfer:
		return Effect{Wider: 1, Why: "the hydrometer lies in another place and may step; the beer is the same"}, true
	}
	return Effect{}, false
}

// mark notes what was done to the beer: what was judged before is void.
func (r *run) mark(k MarkKind, volume units.Litres, of units.Gravity, added units.Points) (Reason, bool) {
	e, known := k.Does()
	if !known {
		return Reason{Code: CodeNoSuchMark, Name: string(k)}, false
	}
	because := Reason{Code: CodeMarked, Name: string(k)}
	switch k {
	case Refill:
		said, ok := r.fill(volume, of)
		if !ok {
			return said, false
		}
		if r.s.Full = true; said.Code != "" {
			because = said
		}
	case Addition:
		if !(added >= 0 && r.s.Batch.Added+added <= mostAdded) {
			return why(CodeAddedTooMuch, num("limit", float64(mostAdded), InPoints)), false
		}
		r.s.Batch.Added += added
	case Transfer, Dump, Crop, Rouse, Oxygen, DryHop:
	}
	r.prior = priorOf(r.wort())
	if e.Moves {
		r.s.Gravity = r.s.Gravity.Moved()
		r.s.Batch.Diacetyl = r.s.Batch.Diacetyl.Lose()
	}
	r.s.Gravity = r.s.Gravity.Mark(e.Lower, e.Wider)
	r.s.Watch = r.s.Watch.Void()
	r.unjudge()
	return because, true
}

// unjudge makes void what was found and confirmed in this stage.
func (r *run) unjudge() {
	r.unforesee()
	r.s.Batch.Told.Terminal, r.s.Batch.Told.Stuck = false, false
	r.s.Stage.Confirmed = nil
	leaves := append([]Leaf(nil), r.s.Stage.Leaves...)
	for i, c := range r.leaves(r.stage()) {
		if i < len(leaves) && (c.Kind == PointsLeft || c.Kind == ApparentAttenuation || c.Kind == GravityAtMost || c.Kind == Terminal || c.Kind == Confirmed) {
			leaves[i] = Leaf{}
		}
	}
	r.s.Stage.Leaves = leaves
}
