package thermal

import (
	"slices"
	"time"

	"example.org/restpoint/controller/units"
)

// Response is what is learnt of how a vessel answers its relays while it is used:
// how fast cooling and heating move the beer, how late, and where the beer drifts by
// itself. It needs no volume and no power, and no trial run.
//
//	dT/dt = drift + cooling x (share of cooling that has arrived) + heating x (the same)
//
// What a relay does arrives through two lags in a row, of which nobody knows the
// length. So a bank of guesses runs side by side, each a Kalman filter over
// temperature, drift and both rates: one guess for each lag of cooling, with the best
// lag of heating, and the other way about. The guess that foresees the probe best
// counts. With the relays off the rates are not touched, however long
// that lasts: nothing can be learnt of them, and nothing is forgotten.
type Response struct {
	Seen bool // the temperature is followed
	// What came since the last look.
	Since, Cooled, Heated time.Duration
	Sum                   float32 // K s that the beer was above From
	From                  units.Celsius
	// How much of its full strength is in the first lag, and how much has arrived.
	Cool [coolLags][2]float32
	Heat [heatLags][2]float32
	Bank []Guess // first the lags of cooling; made anew with each look
	// The best of each.
	BestCool, BestHeat int
	// How long each relay has worked in all that was learnt from.
	CoolLearnt, HeatLearnt time.Duration
	// How long ago each was on.
	CoolAgo, HeatAgo time.Duration
}

// Guess is what is known if the lags are so.
type Guess struct {
	Mean  [4]float32  // C, K/h of drift, K/h of cooling and of heating at full strength
	Cov   [10]float32 // of those, by rows
	Score float32     // log likelihood, 0 = that of the best
}

const (
	reTemperature = iota
	reDrift
	reCool
	reHeat
)

const (
	coolLags = 7
	heatLags = 4
)

// lags in hours: a jacket with a quick probe has 5 min, the air of a cabinet half an
// hour and more, a heater 3 to 13 min; some of it the probe's own 1 to 10.
func coolLag(i int) float64 { return [coolLags]float64{3, 6, 10, 16, 25, 40, 60}[i] / 60 }

func heatLag(i int) float64 { return [heatLags]float64{4, 8, 15, 30}[i] / 60 }

// The slower one of the two lags in a row is so much of both (one fridge: air 24
// min of 33, one jacket: probe 2 of 5).
const slower = 0.7

const (
	lookEvery = time.Minute
	longLook  = 15 * time.Minute // nothing is known of what the relays did in between
	// A look is a minute's mean of a probe of 0.0625 K (0.018 K as even noise), whose
	// error stays the same for many looks when the beer stands still.
	lookVar      = 0.04 * 0.04
	respVar      = 0.05 * 0.05 // K2/h: layers, what a wall holds (engineering judgement)
	respDriftVar = 0.06 * 0.06 // (K/h)2 an hour: yeast, room
	rateWalk     = 0.1         // of itself an hour of work: glycol is nearer to a colder beer
	firstCool    = -2.5        // K/h
	firstCoolVar = 2.0 * 2.0
	firstHeat    = 1.0
	firstHeatVar = 0.7 * 0.7
	firstDrift   = 0.3 * 0.3
	respJump     = 0.6 // K that no beer moves in a minute: wort was added, a probe moved
	overLags     = 4.0 // lags, after which 2 % of a run are still to come
	overLeast    = time.Hour
	scoreKeeps   = 1440 // looks with something to see: a day of work
	scoreLeast   = -40
	idle         = 0.01 // of its strength: a relay that does not work
)

// Rates is what the response comes to.
type Rates struct {
	Known            bool
	Beer             units.Celsius        // as followed
	Drift            units.KelvinsPerHour // with both relays off
	Cool, Heat       units.KelvinsPerHour // what they add at full strength; cool is negative
	CoolLag, HeatLag time.Duration
	// Rest is where the beer would come to rest by what is under way, were there no
	// drift.
	Rest units.Celsius
	// CoolCoast and HeatCoast are how far the beer still goes after a long run.
	CoolCoast, HeatCoast   units.Kelvins
	CoolLearnt, HeatLearnt time.Duration
	// Over: its last run has long arrived. Lately: there was one within a day.
	CoolOver, HeatOver, CoolLately, HeatLately bool
}

// step takes one step: the beer, and how the relays were driven since the last one.
func (r *Response) step(beer units.Celsius, cool, heat bool, elapsed time.Duration) {
	if elapsed > longLook {
		r.lose()
		elapsed = 0
	}
	if !r.Seen || !r.whole() {
		r.begin(beer)
		return
	}
	r.Since += elapsed
	r.CoolAgo, r.HeatAgo = min(r.CoolAgo+elapsed, oldest), min(r.HeatAgo+elapsed, oldest)
	if cool {
		r.Cooled, r.CoolAgo = r.Cooled+elapsed, 0
	}
	if heat {
		r.Heated, r.HeatAgo = r.Heated+elapsed, 0
	}
	r.Sum += float32(float64(beer.Minus(r.From)) * elapsed.Seconds())
	if r.Since >= lookEvery {
		r.look()
	}
}

// whole tells whether there is a guess for each lag: a state that was stored
// otherwise is no reason to stumble.
func (r *Response) whole() bool {
	return len(r.Bank) == coolLags+heatLags && r.BestCool >= 0 && r.BestCool < coolLags && r.BestHeat >= 0 && r.BestHeat < heatLags
}

// begin follows a beer that nothing is known of; the rates stay.
func (r *Response) begin(beer units.Celsius) {
	fresh := !r.whole()
	if fresh {
		*r = Response{Bank: make([]Guess, coolLags+heatLags)}
	}
	r.Bank = slices.Clone(r.Bank)
	for i := range r.Bank {
		f := r.Bank[i].load()
		if fresh {
			f.anew(reCool, firstCool, firstCoolVar)
			f.anew(reHeat, firstHeat, firstHeatVar)
		}
		f.anew(reTemperature, float64(beer), lookVar)
		f.anew(reDrift, 0, firstDrift)
		r.Bank[i].store(&f)
	}
	if fresh {
		r.CoolAgo, r.HeatAgo = oldest, oldest
		r.BestCool, r.BestHeat = coolLags/2, heatLags/2
		for i := range r.Bank {
			r.Bank[i].Score = -1 // the middle lags, for want of better
		}
		r.Bank[r.BestCool].Score, r.Bank[coolLags+r.BestHeat].Score = 0, 0
	}
	r.Seen, r.From = true, beer
	r.Since, r.Cooled, r.Heated, r.Sum = 0, 0, 0, 0
}

// lose lets the temperature go, and with it what is under way. What was learnt stays.
func (r *Response) lose() {
	r.Seen = false
	r.Cool, r.Heat = [coolLags][2]float32{}, [heatLags][2]float32{}
	r.CoolAgo, r.HeatAgo = oldest, oldest
}

// look takes what came since the last look in.
func (r *Response) look() {
	h := r.Since.Hours()
	cool, heat := r.Cooled.Hours()/h, r.Heated.Hours()/h
	seen := float64(r.From) + float64(r.Sum)/r.Since.Seconds()
	var cooled [coolLags]float64
	var heated [heatLags]float64
	var cools, heats bool
	for i := range cooled {
		cooled[i] = pass(&r.Cool[i], cool, h, coolLag(i))
		cools = cools || r.Cool[i][0]+r.Cool[i][1] > 2*idle
	}
	for i := range heated {
		heated[i] = pass(&r.Heat[i], heat, h, heatLag(i))
		heats = heats || r.Heat[i][0]+r.Heat[i][1] > 2*idle
	}
	r.Bank = slices.Clone(r.Bank)
	bestCool, bestHeat := cooled[r.BestCool], heated[r.BestHeat]
	for i, arrived := range cooled {
		r.Bank[i].look(seen, h, arrived, bestHeat, cools)
	}
	for i, arrived := range heated {
		r.Bank[coolLags+i].look(seen, h, bestCool, arrived, heats)
	}
	r.BestCool, r.BestHeat = best(r.Bank[:coolLags]), best(r.Bank[coolLags:])
	r.CoolLearnt = min(r.CoolLearnt+r.Cooled, oldest)
	r.HeatLearnt = min(r.HeatLearnt+r.Heated, oldest)
	r.From = units.Celsius(seen)
	r.Since, r.Cooled, r.Heated, r.Sum = 0, 0, 0, 0
}

// best finds the best of some guesses, and counts the scores of all from it.
func best(bank []Guess) int {
	at := 0
	for i := range bank {
		if bank[i].Score > bank[at].Score {
			at = i
		}
	}
	most := bank[at].Score
	for i := range bank {
		bank[i].Score = max(scoreLeast, bank[i].Score-most)
	}
	return at
}

// pass lets h hours pass in two lags and gives what arrives meanwhile, in hours.
// The implicit form cannot overshoot.
func pass(in *[2]float32, on, h, lag float64) float64 {
	a, b := float64(in[0]), float64(in[1])
	a += float64((on - a) * (h / (h + float64(slower*lag))))
	b += float64((a - b) * (h / (h + float64((1-slower)*lag))))
	in[0], in[1] = small(a), small(b)
	return b * h
}

// small drops what nobody can see.
func small(x float64) float32 {
	if x < 1e-6 {
		return 0
	}
	return float32(x)
}

// Rates gives the picture now.
func (r *Response) Rates() Rates {
	if !r.Seen || !r.whole() {
		return Rates{}
	}
	c, h := r.BestCool, r.BestHeat
	m := &r.Bank[c].Mean
	drift, cool, heat := float64(m[reDrift]), float64(m[reCool]), float64(m[reHeat])
	rest := float64(m[reTemperature]) +
		float64(cool*(under(r.Cool[c], coolLag(c))+r.Cooled.Hours())) +
		float64(heat*(under(r.Heat[h], heatLag(h))+r.Heated.Hours())) +
		float64(drift*r.Since.Hours())
	return Rates{
		Known: true, Beer: units.Celsius(m[reTemperature]), Drift: units.KelvinsPerHour(drift),
		Cool: units.KelvinsPerHour(cool), Heat: units.KelvinsPerHour(heat),
		CoolLag: hours(coolLag(c)), HeatLag: hours(heatLag(h)),
		Rest: units.Celsius(rest), CoolCoast: units.Kelvins(-cool * coolLag(c)), HeatCoast: units.Kelvins(heat * heatLag(h)),
		CoolLearnt: r.CoolLearnt, HeatLearnt: r.HeatLearnt,
		CoolOver: r.CoolAgo >= max(overLeast, hours(overLags*coolLag(c))), HeatOver: r.HeatAgo >= max(overLeast, hours(overLags*heatLag(h))),
		CoolLately: r.CoolAgo < units.Day, HeatLately: r.HeatAgo < units.Day,
	}
}

// under is what is under way in two lags, in hours of full strength.
func under(in [2]float32, lag float64) float64 {
	return float64(float64(in[0])*slower*lag) + float64(float64(in[1])*(1-slower)*lag)
}

func hours(h float64) time.Duration { return time.Duration(h * float64(time.Hour)).Round(time.Second) }
