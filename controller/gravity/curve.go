package gravity

import "math"

// The fall of a beer, fitted by every shape under every size of noise. One pair is
//
//	true gravity  original - drop*f(t; middle), f(0) = 0
//	device        true + offset + start-up*exp(-t/8 h) + day and night + gas + noise
//
// A sample by hand sees the true gravity. All but the middle is linear, priors and
// noise are normal, so that each pair gives what is left as a normal distribution
// and its own evidence in closed form. What is believed is their mixture.
const (
	uDrop = iota
	uMiddle
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
	// to know of: the prior of the end has a second, wide part.
	strayWeight = 0.08
	straySD     = 7.0 // points
	strayUp     = 5.0 // points higher on average
	gasFrom     = 0.1 // of the fastest fall: from here on gas is at the device
	fewestSeen  = 3
	mostRounds  = 4
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
	shape        *shape
	middle       float64
	mean, sd     float64 // points left
	drop, dropSD float64
	perHour      float64 // of the fall now
	noise, index int
	score        float64
	share, first float64 // of the fall that is done now, and was at pitching
}

// fit is the work space of one estimate.
type fit struct {
	seen  []sight
	now   float64
	prior Prior // end lowered and widened already

	y      []float64
	fixed  [fitted][]float64 // columns that no shape changes
	shares []float64
	byMid  []float64
	gas    []float64
	gains  [3][]gain
	logs   [3]float64
	white  [3]whitened
	col    [3][]float64 // whitened share, its change, gas
	parts  []part
	best   float64
	live   uint64 // the shapes that have weight
}

// whitened is what is the same for all shapes under one size of noise.
type whitened struct {
	y   []float64
	col [fitted][]float64
	inv vector
	log float64
}

func newFit(seen []sight, now float64, p Prior) *fit {
	n := len(seen)
	store := make([]float64, n*(1+4+3+3*5+3))
	take := func() []float64 { v := store[:n:n]; store = store[n:]; return v }
	f := &fit{seen: seen, now: now, prior: p, y: take(), shares: take(), byMid: take(), gas: take(), best: math.Inf(-1)}
	for _, u := range [...]int{uOffset, uStart, uSin, uCos} {
		f.fixed[u] = take()
	}
	for i := range f.col {
		f.col[i] = take()
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
	gains := make([]gain, 3*n)
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
			1 / float64(p.SD*p.SD), 1 / float64(middleSD*middleSD), 1 / float64(offsetSD*offsetSD), 1 / float64(startSD*startSD),
			1 / float64(z.day*z.day), 1 / float64(z.day*z.day), 1 / float64(z.unsure*z.unsure),
		}
		for u := range fitted {
			w.log += math.Log(w.inv[u])
		}
	}
	return f
}

// look computes the shares of one shape at the levels.
func (f *fit) look(h *shape, middle float64) {
	first, _ := h.fallen(0, middle)
	scale := 1 / max(1e-6, 1-first)
	peak := 1e-9
	for i := range f.seen {
		share, by := h.fallen(f.seen[i].t, middle)
		f.shares[i], f.byMid[i] = (share-first)*scale, by*scale
		peak = max(peak, -f.byMid[i])
	}
	for i := range f.seen {
		f.gas[i] = 0
		if a := -f.byMid[i] / peak; !f.seen[i].hand {
			f.gas[i] = a / (a + gasFrom)
		}
	}
}

// at gives the equations of the shape that was looked at, under one noise.
func (f *fit) at(z int, x *vector) equations {
	g, w := f.gains[z], &f.white[z]
	whiten(g, f.shares, f.col[0])
	whiten(g, f.byMid, f.col[1])
	whiten(g, f.gas, f.col[2])
	var e equations
	for i := range f.seen {
		row := vector{
			-f.col[0][i], -x[uDrop] * f.col[1][i], w.col[uOffset][i], w.col[uStart][i], w.col[uSin][i], w.col[uCos][i], f.col[2][i],
		}
		residual := w.y[i] - float64(x[uDrop]*row[uDrop])
		for u := uOffset; u < fitted; u++ {
			residual -= float64(x[u] * row[u])
		}
		e.add(fitted, &row, residual, g[i].weight)
	}
	mean := f.means(z)
	for u := range fitted {
		e.prior(u, x[u], mean[u], w.inv[u])
	}
	return e
}

func (f *fit) means(z int) vector {
	m := vector{uDrop: f.prior.Original - f.prior.Final, uMiddle: middleAt}
	m[uGas] = noises()[z].bubble
	return m
}

// run fits everything and gives the parts of the mixture. Of the sizes of noise the
// one that did best the last time leads, and those that had no weight are left out,
// as are the shapes that had none.
func (f *fit) run(list []shape, was [3]float64, live uint64) []part {
	usual := 0
	for z, w := range was {
		if w > was[usual] {
			usual = z
		}
	}
	x := f.means(usual)
	x[uMiddle] = f.guess()
	f.parts = make([]part, 0, len(list)*6)
	for i := range list {
		h := &list[i]
		if live&(1<<i) == 0 {
			continue
		}
		try := x
		try[uDrop], try[uMiddle] = max(leastDrop, x[uDrop]), min(300, max(4, x[uMiddle]))
		got, e, ok := search(fitted, try, func(x *vector) equations {
			f.look(h, x[uMiddle])
			return f.at(usual, x)
		}, mostRounds, closeEnough, 0)
		if !ok && !(e.cost < math.MaxFloat64) {
			continue
		}
		f.take(i, h, usual, &got, &e)
		x = got
		f.look(h, got[uMiddle])
		for z := range 3 {
			if z != usual && was[z] >= rarestNoise {
				e := f.at(z, &got)
				f.take(i, h, z, &got, &e)
			}
		}
	}
	return f.mixture()
}

// take makes parts of one pair: the careful prior of the end, and the wide one.
func (f *fit) take(i int, h *shape, z int, x *vector, e *equations) {
	w := &f.white[z]
	weight := math.Log(h.weight * noises()[z].weight)
	f.part(i, h, z, x, e, w.log+2*(weight+math.Log(1-strayWeight)))
	mean := f.prior.Original - f.prior.Final
	stray := *e
	stray.prior(uDrop, x[uDrop], mean, -w.inv[uDrop])
	const inverse = 1 / (straySD * straySD)
	stray.prior(uDrop, x[uDrop], mean-strayUp, inverse)
	f.part(i, h, z, x, &stray, w.log-math.Log(w.inv[uDrop])+math.Log(inverse)+2*(weight+math.Log(strayWeight)))
}

func (f *fit) part(i int, h *shape, z int, x *vector, e *equations, log float64) {
	fac, ok := e.factor(fitted, 0)
	if !ok {
		return
	}
	step := fac.solve(e.b)
	score := 0.5 * (log - fac.logDet() - f.logs[z] - e.cost + dot(fitted, &step, &e.b))
	if score < f.best-12 {
		return // it will have no weight
	}
	f.best = max(f.best, score)
	first, _ := h.fallen(0, x[uMiddle])
	done, by := h.fallen(f.now, x[uMiddle])
	share, by := (done-first)/(1-first), by/(1-first)
	drop := x[uDrop] + step[uDrop]
	toLeft := vector{uDrop: 1 - share, uMiddle: -x[uDrop] * by}
	mean := float64(drop*(1-share)) + float64(toLeft[uMiddle]*step[uMiddle])
	f.parts = append(f.parts, part{
		shape: h, middle: x[uMiddle], mean: mean, sd: math.Sqrt(fac.variance(toLeft) + leastVar), drop: drop, dropSD: math.Sqrt(fac.variance(vector{uDrop: 1}) + leastVar),
		perHour: -drop * by, noise: z, index: i, score: score, share: share, first: first,
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

func normal(x float64) float64 { return 0.5 * math.Erfc(-x/math.Sqrt2) }
