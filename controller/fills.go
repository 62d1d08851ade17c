package controller

import "example.org/restpoint/controller/units"

// Wort that comes in several turns is one wort in the end: its original gravity
// is the mean of the turns by volume. (Masses would be exact; between worts of
// 1.040 and 1.080 the difference is below a tenth of a point.)

// Filled is the wort that went in so far.
type Filled struct {
	Turns  int
	Volume units.Litres
	Points float64 // original gravity above water, the mean by volume
}

// blend gives the mean of two gravities by volume, in points above water.
func blend(v1 units.Litres, p1 float64, v2 units.Litres, p2 float64) float64 {
	return (float64(float64(v1)*p1) + float64(float64(v2)*p2)) / float64(v1+v2)
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
	f := &r.s.Batch.Filled
	f.Points = blend(f.Volume, f.Points, volume, float64(of.Minus(1)))
	f.Volume += volume
	f.Turns++
	return why(CodeFilled, num("volume", float64(volume), InLitres), num("gravity", float64(of), InGravity),
		num("all", float64(f.Volume), InLitres), num("original", gravityOf(f.Points), InGravity)), true
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
		share := f.Points / float64(w.Original.Minus(1))
		w.Original = units.Gravity(gravityOf(f.Points))
		w.Final = units.Gravity(gravityOf(float64(w.Final.Minus(1)) * share))
	}
	w.Original = w.Original.Plus(r.s.Batch.Added)
	return w
}
