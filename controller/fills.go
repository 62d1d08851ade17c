package controller

import "example.org/restpoint/controller/units"

// Filled is the wort that went in so far. Several turns are one wort in the end:
// its original gravity is the mean of the turns by volume.
type Filled struct {
	Turns   int
	Volume  units.Litres
	Gravity units.Gravity
}

// fill takes a turn of wort in. Without its volume and gravity it is known only
// that wort went in; turns that are known weigh nothing then.
func (r *run) fill(volume units.Litres, of units.Gravity) (Reason, bool) {
	if volume == 0 && of == 0 {
		return Reason{}, true
	}
	if !(volume > 0 && volume <= mostFilled) || !of.Plausible() {
		return refused(CodeFillUnclear)
	}
	if r.v.Volume > 0 && r.s.Batch.Filled.Volume+volume > fullest*r.v.Volume {
		return why(CodeOverfull, num("volume", float64(r.s.Batch.Filled.Volume+volume), InLitres), num("limit", float64(r.v.Volume), InLitres)), false
	}
	lots := []units.Lot{{Volume: volume, Gravity: of}}
	if f := r.s.Batch.Filled; f.Turns > 0 {
		lots = append(lots, units.Lot{Volume: f.Volume, Gravity: f.Gravity})
	}
	all, err := units.Blend(lots...)
	if err != nil {
		return refused(CodeFillUnclear)
	}
	r.s.Batch.Filled = Filled{r.s.Batch.Filled.Turns + 1, all.Volume, all.Gravity}
	return why(CodeFilled, num("volume", float64(volume), InLitres), num("gravity", float64(of), InGravity),
		num("all", float64(all.Volume), InLitres), num("original", float64(all.Gravity), InGravity)), true
}

// mostFilled is more than any turn of wort holds, in litres.
const mostFilled units.Litres = 1e6

// fullest is how much more than its nominal volume a tank is believed to hold: the
// head space of a conical (common practice is a quarter), and measuring.
const fullest = 1.3

// wort is what is expected of the beer that is really in the tank: the turns that
// went in, at the apparent attenuation that the schedule expects, and what was
// added, which the yeast takes whole.
func (r *run) wort() Wort {
	w := r.sch.Wort
	if f := r.s.Batch.Filled; f.Turns > 0 && w.Original > 1 {
		share := float64(f.Gravity.Minus(1) / w.Original.Minus(1))
		w.Original = f.Gravity
		w.Final = units.Gravity(gravityOf(float64(w.Final.Minus(1)) * share))
	}
	w.Original = w.Original.Plus(r.s.Batch.Added)
	return w
}
