package gravity

import "math"

// The fall of a beer, fitted by every shape under every size of noise. One pair is
//
//	true gravity  original - drop*f(t; middle), f(0) = 0
//	device        true + offset + start-up*exp(-t/8 h) + day and night + gas + noise
//
// A sample by hand sees the true gravity. Priors and noise are normal, all but three
// of the unknowns are linear and those are smooth, so that each pair gives what is
// left as a normal distribution, and its own evidence, about its best fit. What is
// believed is their mixture.
const (
	uDrop = iota
	uMiddle
	uRate
	uForm
	uOffset
	uStart
	uSin
	uCos
	uGas
	fitted
)

const (
	settling  = 8.0  // h, a device's start-up (measured 6 to 10)
	startSD   = 7.0  // points (measured 11 to 12)
	offsetSD  = 2.7  // points: devices are found 1 to 5 points off
	middleAt  = 55.0 // h after pitching
	middleSD  = 30.0 // h
	leastDrop = 5.0  // points
	// Few beers end far above what a careful brewer expects, but those are the ones
	// to know of.
	strayShare  = 0.73 // of the expected fall
	straySD     = 0.16 // of it
	gasFrom     = 0.1  // of the fastest fall: from here on gas is at the device
	fewestSeen  = 3
	mostRounds  = 8
	closeEnough = 0.05 // of the cost: further steps change no weight by more than a few per cent
	rarestNoise = 3e-3
	deadPart    = 3e-4 // shapes below this are not asked again for a while
	rarestPart  = 1e-3 // parts of the mixture below this weight are left out
)

// sight is one level as the fit sees it.
type sight struct {
	t, y  float64 // h since pitching; points above the original gravity
	reads float64
	rough float64
	jump  float64
	hand  bool
}

// part is one pair of shape and noise in the mixture.
type part struct {
	fall         fall
	mean, sd     float64 // points left
	drop, dropSD float64
	perHour      float64 // of the fall now
	noise, index int
	score        float64
	left         float64 // share of the fall that is left now
}

// start is where the search for one shape begins: where it ended the last time.
// The unknowns that no equation gives at once come first.
type start [uOffset]float32

// fit is the work space of one estimate.
type fit struct {
	seen  []sight
	now   float64
	prior Prior // end lowered and widened already

	y      []float64
	fixed  [fitted][]float64  // columns that no shape changes
	cols   [shapely][]float64 // columns of the shape that is looked at
	gains  [sizes][]gain
	logs   [sizes]float64
	white  [sizes]whitened
	col    [shapely][]float64 // the same, whitened
	parts  []part
	best   float64
	live   uint64 // the shapes that have weight
	starts [many]start
}

// The columns that a shape changes.
const (
	cShare = iota
	cMiddle
	cRate
	cForm
	cGas
	shapely
)

// whitened is what is the same for all shapes under one size of noise.
type whitened struct {
	y   []float64
	col [fitted][]float64
	inv vector
	log float64
}

func newFit(seen []sight, now float64, p Prior) *fit {
	n := len(seen)
	store := make([]float64, n*(1+4+5*sizes+2*shapely))
	take := func() []float64 { v := store[:n:n]; store = store[n:]; return v }
	f := &fit{seen: seen, now: now, prior: p, y: take(), best: math.Inf(-1)}
	for _, u := range [...]int{uOffset, uStart, uSin, uCos} {
		f.fixed[u] = take()
	}
	for i := range f.col {
		f.cols[i], f.col[i] = take(), take()
	}
	for i := range seen {
		v := &seen[i]
		f.y[i] = v.y
		if v.hand {
			continue // no device, no offset
		}
		f.fixed[uOffset][i], f.fixed[uStart][i] = 1, math.Exp(-v.t/settling)
		f.fixed[uSin][i], f.fixed[uCos][i] = math.Sincos(2 * math.Pi / 24 * v.t)
	}
	gains := make([]gain, sizes*n)
	for i, z := range noises() {
		w := &f.white[i]
		f.gains[i], gains = gains[:n:n], gains[n:]
		f.logs[i] = z.filter(seen, f.gains[i])
		w.y = take()
		whiten(f.gains[i], f.y, w.y)
		for _, u := range [...]int{uOffset, uStart, uSin, uCos} {
			w.col[u] = take()
			whiten(f.gains[i], f.fixed[u], w.col[u])
		}
		w.inv = vector{
			1, 1 / float64(middleSD*middleSD), 1 / float64(rateSD*rateSD), 1 / float64(formSD*formSD),
			1 / float64(offsetSD*offsetSD), 1 / float64(startSD*startSD),
			1 / float64(z.day*z.day), 1 / float64(z.day*z.day), 1 / float64(z.unsure*z.unsure),
		}
		for u := range fitted {
			w.log += math.Log(w.inv[u])
		}
	}
	return f
}

// look computes the columns of one shape at the levels.
func (f *fit) look(h *shape, x *vector) {
	beer := h.at(x[uMiddle], x[uRate], x[uForm])
	peak := 1e-9
	for i := range f.seen {
		l := beer.left(f.seen[i].t)
		f.cols[cShare][i], f.cols[cMiddle][i], f.cols[cRate][i], f.cols[cForm][i] = l.share-1, l.byMiddle, l.byRate, l.byForm
		f.cols[cGas][i] = l.perHour
		peak = max(peak, l.perHour)
	}
	for i, speed := range f.cols[cGas] {
		f.cols[cGas][i] = 0
		if !f.seen[i].hand {
			f.cols[cGas][i] = speed / (speed + float64(gasFrom*peak))
		}
	}
}

// at gives the equations of the shape that was looked at, under one noise.
func (f *fit) at(z int, h *shape, x *vector) equations {
	g, w := f.gains[z], &f.white[z]
	for i := range f.cols {
		whiten(g, f.cols[i], f.col[i])
	}
	drop := x[uDrop]
	var e equations
	for i := range f.seen {
		row := vector{
			f.col[cShare][i], drop * f.col[cMiddle][i], drop * f.col[cRate][i], drop * f.col[cForm][i],
			w.col[uOffset][i], w.col[uStart][i], w.col[uSin][i], w.col[uCos][i], f.col[cGas][i],
		}
		residual := w.y[i] - float64(drop*row[uDrop])
		for u := uOffset; u < fitted; u++ {
			residual -= float64(x[u] * row[u])
		}
		e.add(fitted, &row, residual, g[i].weight)
	}
	mean, inverse := f.means(z), w.inv
	mean[uForm] = h.form
	mean[uDrop], inverse[uDrop] = f.expected(h)
	for u := range fitted {
		e.prior(u, x[u], mean[u], inverse[u])
	}
	return e
}

// expected is the fall that the brewer expects, or that of a beer which stops where
// nobody expects it, with the inverse of its variance.
func (f *fit) expected(h *shape) (drop, inverse float64) {
	drop = f.prior.Original - f.prior.Final
	if h.stray {
		return drop * strayShare, 1 / float64(straySD*straySD*drop*drop)
	}
	return drop, 1 / float64(f.prior.SD*f.prior.SD)
}

func (f *fit) means(z int) vector {
	m := vector{uMiddle: middleAt}
	m[uGas] = noises()[z].bubble
	return m
}

// run fits everything and gives the parts of the mixture. Of the sizes of noise the
// one that did best the last time leads, and those that had no weight are left out,
// as are the shapes that had none.
func (f *fit) run(was [sizes]float64, live uint64) []part {
	usual := 0
	for z, w := range was {
		if w > was[usual] {
			usual = z
		}
	}
	list := shapes()
	f.parts = make([]part, 0, many*sizes)
	for i := range list {
		h := &list[i]
		if live&(1<<i) == 0 {
			f.starts[i] = start{} // what it was would mislead
			continue
		}
		got, e, ok := search(fitted, f.begin(h, usual, f.starts[i]), func(x *vector) equations {
			f.look(h, x)
			return f.at(usual, h, x)
		}, mostRounds, closeEnough, 0)
		if !ok && !(e.cost < math.MaxFloat64) {
			f.starts[i] = start{}
			continue
		}
		for u := range f.starts[i] {
			f.starts[i][u] = float32(round(got[u]))
		}
		f.take(i, h, usual, &got, &e)
		f.look(h, &got)
		for z := range sizes {
			if z != usual && was[z] >= rarestNoise {
				e := f.at(z, h, &got)
				f.take(i, h, z, &got, &e)
			}
		}
	}
	return f.mixture()
}

// begin is where the search for a shape begins.
func (f *fit) begin(h *shape, z int, from start) vector {
	x := f.means(z)
	x[uMiddle], x[uForm] = f.guess(), h.form
	x[uDrop], _ = f.expected(h)
	if from != (start{}) {
		for u := range from {
			x[u] = float64(from[u])
		}
	}
	x[uDrop], x[uMiddle] = max(leastDrop, x[uDrop]), min(300, max(4, x[uMiddle]))
	return x
}

// take makes the part of one pair of shape and noise.
func (f *fit) take(i int, h *shape, z int, x *vector, e *equations) {
	fac, ok := e.factor(fitted, 0)
	if !ok {
		return
	}
	step := fac.solve(e.b)
	_, inverse := f.expected(h)
	log := f.white[z].log + math.Log(inverse) + 2*math.Log(h.weight*noises()[z].weight)
	score := 0.5 * (log - fac.logDet() - f.logs[z] - e.cost + dot(fitted, &step, &e.b))
	if score < f.best-12 {
		return // it will have no weight
	}
	f.best = max(f.best, score)
	beer := h.at(x[uMiddle], x[uRate], x[uForm])
	l := beer.left(f.now)
	drop := x[uDrop] + step[uDrop]
	toLeft := vector{uDrop: l.share, uMiddle: x[uDrop] * l.byMiddle, uRate: x[uDrop] * l.byRate, uForm: x[uDrop] * l.byForm}
	mean := float64(drop * l.share)
	for u := uMiddle; u <= uForm; u++ {
		mean += float64(toLeft[u] * step[u])
	}
	f.parts = append(f.parts, part{
		fall: beer, mean: mean, sd: math.Sqrt(fac.variance(toLeft) + leastVar), drop: drop, dropSD: math.Sqrt(fac.variance(vector{uDrop: 1}) + leastVar),
		perHour: drop * l.perHour, noise: z, index: i, score: score, left: l.share,
	})
}

// leastVar is (0.2 points)^2: no estimate is better.
const leastVar = 0.04

// mixture normalises the weights and leaves out what has none.
func (f *fit) mixture() []part {
	sum := 0.0
	for i := range f.parts {
		f.parts[i].score = math.Exp(f.parts[i].score - f.best)
		sum += f.parts[i].score
	}
	for i := range f.parts {
		if f.parts[i].score >= deadPart*sum {
			f.live |= 1 << f.parts[i].index
		}
	}
	kept := f.parts[:0]
	left := 0.0
	for _, p := range f.parts {
		if p.score >= rarestPart*sum {
			kept = append(kept, p)
			left += p.score
		}
	}
	for i := range kept {
		kept[i].score /= left
	}
	return kept
}

// guess is when half of the fall is or will be done.
func (f *fit) guess() float64 {
	half := float64((f.prior.Final - f.prior.Original) / 2)
	for _, v := range f.seen {
		if v.t > 12 && v.y <= half {
			return min(v.t, 300)
		}
	}
	const usualRate = 0.35 // points an hour
	last := f.seen[len(f.seen)-1]
	return min(150, max(30, last.t+(last.y-half)/usualRate))
}

// quantile of what is left.
func quantile(parts []part, q float64) float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for i := range parts {
		low, high = min(low, parts[i].mean-float64(3*parts[i].sd)), max(high, parts[i].mean+float64(3*parts[i].sd))
	}
	for range 14 {
		mid := (low + high) / 2
		if below(parts, mid) < q {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

func below(parts []part, left float64) float64 {
	sum := 0.0
	for i := range parts {
		sum += float64(parts[i].score * normal((left-parts[i].mean)/parts[i].sd))
	}
	return sum
}

// normal is the share of a normal distribution below x.
func normal(x float64) float64 {
	switch {
	case x > surely: // most of what is looked at ahead lies out here
		return 1
	case x < -surely:
		return 0
	}
	return 0.5 * math.Erfc(-x/math.Sqrt2)
}

// surely is where less than 1e-8 of a normal distribution lies beyond.
const surely = 5.7
