package thermal

import "math"

// guess is one guess at work: the same in double precision and in full.
type guess struct {
	x [4]float64
	p [4][4]float64
}

// look takes a look at the beer in, h hours after the last one, with what arrived
// meanwhile. It counts where something moves.
func (g *Guess) look(seen, h, cooled, heated float64, counts bool) {
	f := g.load()
	if cooled < idle*h {
		f.idle(reCool)
	}
	if heated < idle*h {
		f.idle(reHeat)
	}
	f.pass(h, cooled, heated)
	said := f.learn(seen)
	if counts {
		g.Score += said - g.Score/scoreKeeps
	}
	f.bound()
	g.store(&f)
}

func (g *Guess) load() guess {
	var f guess
	n := 0
	for i := range 4 {
		f.x[i] = float64(g.Mean[i])
		for j := range i + 1 {
			f.p[i][j], f.p[j][i] = float64(g.Cov[n]), float64(g.Cov[n])
			n++
		}
	}
	return f
}

func (g *Guess) store(f *guess) {
	n := 0
	for i := range 4 {
		g.Mean[i] = float32(f.x[i])
		for j := range i + 1 {
			g.Cov[n] = float32(f.p[i][j])
			n++
		}
	}
}

// anew sets one unknown, whatever was known of it.
func (f *guess) anew(i int, mean, variance float64) {
	for j := range 4 {
		f.p[i][j], f.p[j][i] = 0, 0
	}
	f.x[i], f.p[i][i] = mean, variance
}

// pass lets h hours pass, in which so many hours of full cooling and heating arrived.
func (f *guess) pass(h, cooled, heated float64) {
	by := [4]float64{1, h, cooled, heated}
	var x float64
	var row [4]float64
	for k := range 4 {
		x += float64(by[k] * f.x[k])
		for j := range 4 {
			row[j] += float64(by[k] * f.p[k][j])
		}
	}
	var own float64
	for k := range 4 {
		own += float64(row[k] * by[k])
	}
	f.x[reTemperature] = x
	for j := 1; j < 4; j++ {
		f.p[reTemperature][j], f.p[j][reTemperature] = row[j], row[j]
	}
	f.p[reTemperature][reTemperature] = own + float64(respVar*h)
	f.p[reDrift][reDrift] += float64(respDriftVar * h)
	// A rate may change only where it works.
	cool, heat := float64(rateWalk*f.x[reCool]), float64(rateWalk*f.x[reHeat])
	f.p[reCool][reCool] += float64(cool * cool * cooled)
	f.p[reHeat][reHeat] += float64(heat * heat * heated)
}

// idle keeps one rate as it is, apart from all others: nothing can be learnt of it.
func (f *guess) idle(i int) { f.anew(i, f.x[i], f.p[i][i]) }

// learn takes a look at the beer in, and gives how likely it was before.
func (f *guess) learn(seen float64) float32 {
	off := seen - f.x[reTemperature]
	if math.Abs(off) > respJump {
		f.anew(reTemperature, seen, lookVar)
		return 0
	}
	s := f.p[reTemperature][reTemperature] + lookVar
	row := f.p[reTemperature]
	for j := range 4 {
		gain := row[j] / s
		f.x[j] += float64(gain * off)
		for k := range 4 {
			f.p[j][k] -= float64(gain * row[k])
		}
	}
	return float32(-float64(off*off) / (2 * s))
}

// bound keeps every number possible: cooling cools and heating heats, and nothing
// is less known than a vessel that nobody has seen.
func (f *guess) bound() {
	for i, m := range [4]struct{ variance, low, high float64 }{
		reTemperature: {1, -50, 100},
		reDrift:       {1, -5, 5},
		reCool:        {firstCoolVar, -30, -0.05},
		reHeat:        {firstHeatVar, 0.02, 30},
	} {
		if v := f.p[i][i]; v > m.variance {
			shrink := math.Sqrt(m.variance / v)
			for j := range 4 {
				f.p[i][j] *= shrink
				f.p[j][i] *= shrink
			}
		}
		f.p[i][i] = max(f.p[i][i], 1e-9)
		f.x[i] = min(max(f.x[i], m.low), m.high)
	}
}
