package thermal

import (
	"math"
	"strconv"
	"time"

	"example.org/restpoint/controller/units"
)

// Balance is what is learnt of a vessel's heat while a batch runs: what it loses
// to its surroundings, what its heater gives, and what is left over, which is the
// yeast. It sees neither the hydrometer nor the schedule, so that it is a second
// opinion; it wants nothing and moves nothing.
//
//	dT/dt = loss (around + bias - T) + heater (share of time on) + yeast
//
// is followed by recursive least squares with a variance for each unknown (a
// Kalman filter): the yeast may change from hour to hour, the vessel hardly. What
// cooling takes out is known too badly to be of use (a jacket holds 0.3 K worth of
// cold), so nothing is learnt while it works or coasts.
//
// The numbers are stored in single precision: they are known to three digits.
type Balance struct {
	Mean [unknowns]float32 // see below
	Cov  [unknowns * (unknowns + 1) / 2]float32
	Vat  float32 // J/K; 0 = nothing is known yet
	Seen bool    // the temperature is followed
	// The window at work.
	Clean  bool
	Hours  float32
	Lags   float32 // h in which the drift was known
	Beer   float32 // K h
	Around float32 // K h that the surroundings were warmer
	Heated float32 // h
	Slid   float32 // K that the beer would have drifted without its relays
	Warm   float32 // how far the heater has got warm, 0 to 1
	// Coast is since cooling was on last, Blind since a window was of use, Learnt
	// how much time was.
	Coast, Blind, Learnt time.Duration
}

// The unknowns, in the order in which they are kept.
const (
	unTemperature = iota // C
	unLoss               // 1/h
	unHeater             // K/h with the heater on
	unBias               // K by which the thermometers do not agree
	unYeast              // K/h
	unDrift              // K/h an hour, of the yeast
	unSum                // K that the yeast was worth since pitching
	unknowns
)

const (
	window   = 15 * time.Minute // a probe of 0.0625 K says nothing in less
	shortest = time.Minute      // of a window that is looked at
	// A jacket is back at the beer's temperature after half an hour, at 4 to 7
	// minutes of time constant; the air of a shut cabinet has 36 minutes.
	cooledFor  = 35 * time.Minute
	cabinetFor = 3 * time.Hour
	heaterLag  = 5 * time.Minute // pad or belt, wall and thermowell together
	heaterLead = 0.03            // h by which that is known (engineering judgement)
	airDoubt   = 0.05            // of what flows through the wall: one probe is not all the air (engineering judgement)
	oldest     = 30 * units.Day  // an outage beyond that is as bad as one of it
	blindStep  = time.Hour
	// After so long without a look the yeast may do anything.
	lostAfter = 3 * time.Hour

	readingVar = 0.015 * 0.015 // K2 a window: a raster of 0.0625 K has 0.018 K (computed), and the beer moves through it
	modelVar   = 0.01 * 0.01   // K2/h: layers, and what a wall holds (engineering judgement)
	lossWalk   = 0.05 * 0.05 / 168
	// An ale's heat rises to 0.25 K/h in a day and falls again: its drift is 0.006
	// K/h an hour as a rule, and turns within half a day. Set on modelled ales so
	// that nominal intervals hold what they promise.
	driftVar   = 0.006 * 0.006
	driftKeeps = 12.0          // h
	yeastWalk  = 0.004 * 0.004 // (K/h)2 an hour
	lostWalk   = 0.08 * 0.08   // the same when nothing was seen for long: its whole range within half a day
	// A drift is found from the beer between pulses, and remembers an hour or two: one
	// look of a window is worth little (engineering judgement).
	driftDoubt = 0.15          // K/h
	farOff     = 5             // standard deviations that no reading is off
	leastJump  = 0.2           // K
	yeastFirst = 0.2 * 0.2     // (K/h)2: 4.7 P a day are 0.235 K/h
	yeastUsual = 0.1           // K/h
	quietVar   = 0.004 * 0.004 // (K/h)2: no yeast
	stillVar   = 0.001 * 0.001 // and none that wakes
)

// Moment is what one step tells the balance.
type Moment struct {
	Elapsed      time.Duration
	Beer, Around units.Celsius
	Known        bool                 // both of them
	Heat, Cool   bool                 // as they were driven
	Quiet        bool                 // no yeast works: none is in, or it is too cold for it
	Lag          time.Duration        // of cooling, as it was learnt; 0 = it is not known
	Drift        units.KelvinsPerHour // with both relays off, as it was learnt with the lag
}

// Step takes one step. The work is done where a window closes.
func (b Balance) Step(m Moment, v Vat) Balance {
	if !v.known() {
		return b
	}
	b = b.fit(v)
	m.Known = m.Known && possible(m.Beer) && possible(m.Around)
	if m.Elapsed > window {
		return b.Gap(m.Elapsed, v)
	}
	if b.Coast = min(b.Coast+m.Elapsed, units.Day); m.Cool {
		b.Coast = 0
	}
	if clean := m.Known && b.Coast >= v.coasts(m.Lag); clean != b.Clean {
		b = b.close(m.Quiet)
		b.Clean = clean
	}
	h := float32(m.Elapsed.Hours())
	on := float32(0)
	if m.Heat {
		on = 1
	}
	b.Warm += float32((on - b.Warm) * (h / (h + float32(heaterLag.Hours()))))
	b.Hours += h
	b.Heated += float32(b.Warm * h)
	if m.Lag > 0 && m.Known && !v.Cabinet {
		b.Lags += h
		b.Slid += float32(float32(m.Drift) * h)
	}
	if m.Known {
		b.Beer += float32(float32(m.Beer) * h)
		b.Around += float32(float32(m.Around.Minus(m.Beer)) * h)
	}
	if b.Hours >= float32(window.Hours()) {
		b = b.close(m.Quiet)
	}
	return b
}

// possible tells a temperature from what is none.
func possible(c units.Celsius) bool { return c > -50 && c < 100 }

// Gap lets time pass in which nothing was seen.
func (b Balance) Gap(length time.Duration, v Vat) Balance {
	if !v.known() {
		return b
	}
	b = b.fit(v).close(false)
	b.Seen, b.Clean, b.Warm, b.Coast = false, false, 0, 0
	length = min(length, oldest)
	b.Blind = min(b.Blind+length, oldest)
	f := b.load()
	for left := length; left > 0; left -= blindStep {
		f.pass(min(left, blindStep).Hours(), 0, 0, true)
		f.bound()
	}
	f.forget()
	return b.store(&f)
}

// Rested is the balance when nobody knows what is in the vessel: only what is known
// of the vessel itself stays.
func (b Balance) Rested() Balance {
	if b.Vat == 0 || !b.Seen && b.Hours == 0 && b.Coast == 0 && b.Blind == oldest {
		return b
	}
	b.Hours, b.Beer, b.Around, b.Heated, b.Warm, b.Lags, b.Slid = 0, 0, 0, 0, 0, 0, 0
	b.Seen, b.Clean, b.Coast, b.Blind = false, false, 0, oldest
	f := b.load()
	f.anew(unYeast, yeastUsual, yeastFirst)
	f.anew(unDrift, 0, driftVar)
	f.anew(unSum, 0, 0)
	f.forget()
	f.bound()
	return b.store(&f)
}

// Pitched begins the sum of what the yeast is worth.
func (b Balance) Pitched() Balance {
	f := b.load()
	f.anew(unSum, 0, 0)
	return b.store(&f)
}

// close takes a window in.
func (b Balance) close(quiet bool) Balance {
	h := float64(b.Hours)
	length := time.Duration(h * float64(time.Hour))
	beer, around, heated := float64(b.Beer), float64(b.Around), float64(b.Heated)
	drift, lagged := float64(b.Slid), float64(b.Lags)
	b.Hours, b.Beer, b.Around, b.Heated, b.Lags, b.Slid = 0, 0, 0, 0, 0, 0
	if h <= 0 {
		return b
	}
	f := b.load()
	switch {
	case !b.Clean && lagged > 0.99*h && length >= shortest:
		b.Seen = false
		f.pass(h, 0, heated, b.Blind > lostAfter)
		f.drifts(drift/h, around/h, float64(driftDoubt*driftDoubt*window.Hours()/h))
		b.Blind = min(b.Blind+length/2, oldest) // half a look
	case !b.Clean || length < shortest:
		if !b.Clean {
			around, b.Seen = 0, false
		}
		f.pass(h, around, heated, b.Blind > lostAfter)
		b.Blind = min(b.Blind+length, oldest)
	default:
		f.pass(h/2, around/2, heated/2, b.Blind > lostAfter)
		if !b.Seen || f.jumped(beer/h) {
			f.forget()
			f.x[unTemperature] = beer / h
		}
		f.learn(unTemperature, beer/h, readingVar)
		f.pass(h/2, around/2, heated/2, b.Blind > lostAfter)
		b.Seen, b.Blind = true, 0
		b.Learnt = min(b.Learnt+length, oldest)
	}
	if quiet {
		f.learn(unYeast, 0, quietVar)
		f.learn(unDrift, 0, stillVar)
	}
	if !b.Seen {
		f.forget()
	}
	f.bound()
	return b.store(&f)
}

// filter is the balance at work: the same in double precision and in full.
type filter struct {
	x [unknowns]float64
	p [unknowns][unknowns]float64
}

func (b Balance) load() filter {
	var f filter
	n := 0
	for i := range unknowns {
		f.x[i] = float64(b.Mean[i])
		for j := range i + 1 {
			f.p[i][j], f.p[j][i] = float64(b.Cov[n]), float64(b.Cov[n])
			n++
		}
	}
	return f
}

func (b Balance) store(f *filter) Balance {
	n := 0
	for i := range unknowns {
		b.Mean[i] = short(f.x[i], 6)
		for j := range i + 1 {
			b.Cov[n] = short(f.p[i][j], 4)
			n++
		}
	}
	return b
}

// short keeps a few digits: more than is known, and few to store.
func short(x float64, digits int) float32 {
	v, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', digits, 64), 32)
	if err != nil || math.IsNaN(v) {
		return 0
	}
	return float32(v)
}

// pass lets h hours pass, in which the surroundings were warmer by around K h and
// the heater was on for heated h.
func (f *filter) pass(h, around, heated float64, lost bool) {
	square := h * h / 2
	keep := driftKeeps / (driftKeeps + h)
	// What the bias does grows with the loss: straightened about what is known now.
	loss, bias := f.x[unLoss], f.x[unBias]
	to := [unknowns][unknowns]float64{
		unTemperature: {unTemperature: 1, unLoss: around + float64(bias*h), unHeater: heated, unBias: loss * h, unYeast: h, unDrift: square},
		unLoss:        {unLoss: 1},
		unHeater:      {unHeater: 1},
		unBias:        {unBias: 1},
		unYeast:       {unYeast: 1, unDrift: h},
		unDrift:       {unDrift: keep},
		unSum:         {unYeast: h, unDrift: square, unSum: 1},
	}
	var x [unknowns]float64
	var half, p [unknowns][unknowns]float64
	for i := range unknowns {
		for k := range unknowns {
			x[i] += float64(to[i][k] * f.x[k])
			for j := range unknowns {
				half[i][j] += float64(to[i][k] * f.p[k][j])
			}
		}
	}
	for i := range unknowns {
		for j := range unknowns {
			for k := range unknowns {
				p[i][j] += float64(half[i][k] * to[j][k])
			}
		}
	}
	x[unTemperature] -= float64(loss * bias * h) // it came in by both
	f.x, f.p = x, p
	f.p[unLoss][unLoss] += float64(lossWalk * h * f.x[unLoss] * f.x[unLoss])
	f.p[unDrift][unDrift] += float64(driftVar * (1 - float64(keep*keep)))
	flow := f.x[unLoss] * around * airDoubt
	doubt := float64(flow * flow)
	if heated > 0 {
		late := f.x[unHeater] * heaterLead
		doubt += float64(late * late * h / window.Hours())
	}
	f.p[unTemperature][unTemperature] += float64(modelVar*h) + doubt
	f.walk(h, lost)
}

// walk adds what the yeast may have changed by, with its share in the sums.
func (f *filter) walk(h float64, lost bool) {
	q := yeastWalk * h
	if lost {
		q = lostWalk * h
	}
	once, twice := float64(q*h/2), float64(q*h*h/3)
	f.p[unYeast][unYeast] += q
	for _, i := range [2]int{unTemperature, unSum} {
		f.p[i][unYeast] += once
		f.p[unYeast][i] += once
		f.p[i][i] += twice
	}
	f.p[unTemperature][unSum] += twice
	f.p[unSum][unTemperature] += twice
}

// drifts takes in how fast the beer drifts with its relays off: by what it loses to
// surroundings that are warmer by around, and by its yeast.
func (f *filter) drifts(drift, around, variance float64) {
	loss := f.x[unLoss]
	seen := [unknowns]float64{unLoss: around + f.x[unBias], unBias: loss, unYeast: 1}
	var row [unknowns]float64
	s := variance
	for i := range unknowns {
		for j := range unknowns {
			row[i] += float64(seen[j] * f.p[i][j])
		}
		s += float64(seen[i] * row[i])
	}
	off := drift - float64(loss*(around+f.x[unBias])) - f.x[unYeast]
	for j := range unknowns {
		gain := row[j] / s
		f.x[j] += float64(gain * off)
		for k := range unknowns {
			f.p[j][k] -= float64(gain * row[k])
		}
	}
}

// learn takes a measurement of one unknown in.
func (f *filter) learn(i int, value, variance float64) {
	s := f.p[i][i] + variance
	off := value - f.x[i]
	row := f.p[i]
	for j := range unknowns {
		gain := row[j] / s
		f.x[j] += float64(gain * off)
		for k := range unknowns {
			f.p[j][k] -= float64(gain * row[k])
		}
	}
}

// jumped tells whether the beer is somewhere else: wort that was added, a probe that
// was moved, a relay switched by hand. That is no heat of yeast.
func (f *filter) jumped(beer float64) bool {
	off := beer - f.x[unTemperature]
	return float64(off*off) > float64(farOff*farOff*(f.p[unTemperature][unTemperature]+readingVar)) && math.Abs(off) > leastJump
}

// forget says that the temperature is not followed.
func (f *filter) forget() { f.anew(unTemperature, f.x[unTemperature], 100) }

// anew sets one unknown, whatever was known of it.
func (f *filter) anew(i int, mean, variance float64) {
	for j := range unknowns {
		f.p[i][j], f.p[j][i] = 0, 0
	}
	f.x[i], f.p[i][i] = mean, variance
}

// most is the largest variance of each unknown, and bounds what it can be.
func most() [unknowns]struct{ variance, low, high float64 } {
	return [unknowns]struct{ variance, low, high float64 }{
		unTemperature: {100, -50, 100},
		unLoss:        {1, 0, 2},    // a glass of beer: 1/h
		unHeater:      {100, 0, 30}, // a kettle
		unBias:        {1, -3, 3},
		unYeast:       {0.09, -0.5, 2}, // K/h
		unDrift:       {driftVar, -0.1, 0.1},
		unSum:         {400, -20, 100}, // K; the strongest wort is worth 40 K
	}
}

// bound keeps every number possible: no loss and no heater below nothing.
func (f *filter) bound() {
	for i, m := range most() {
		if v := f.p[i][i]; v > m.variance {
			shrink := math.Sqrt(m.variance / v)
			for j := range unknowns {
				f.p[i][j] *= shrink
				f.p[j][i] *= shrink
			}
		}
		if f.p[i][i] < 1e-12 {
			f.p[i][i] = 1e-12
		}
		// What moves with it moves along; that it is possible is no measurement.
		off := min(max(f.x[i], m.low), m.high) - f.x[i]
		for j := range unknowns {
			f.x[j] += float64(f.p[j][i] / f.p[i][i] * off)
		}
	}
}
