package plant_test

import (
	"math"
	"testing"
	"time"

	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/units"
)

const every = 260 * time.Second // the records that the figures come from are 4 min 20 s apart

// readings takes a beer that has ended (or one that ferments) and gives the error of
// each record in points, NaN where it is missing.
func readings(n plant.Noise, seed uint64, hours float64, pitch bool) []float64 {
	p := plant.New(isothermal(), plant.PaleAle(), n, seed, 20)
	if pitch {
		p.Pitch()
	}
	var e []float64
	for p.Elapsed().Hours() < hours {
		p.Advance(every, plant.Outputs{})
		g, ok := p.ReadHydrometer()
		if !ok {
			e = append(e, math.NaN())
			continue
		}
		e = append(e, float64(g.Minus(p.Gravity())))
	}
	return e
}

func moments(x []float64) (mean, sd, skew float64) {
	n := 0.0
	for _, v := range x {
		if !math.IsNaN(v) {
			mean += v
			n++
		}
	}
	mean /= n
	var m2, m3 float64
	for _, v := range x {
		if !math.IsNaN(v) {
			m2 += (v - mean) * (v - mean)
			m3 += (v - mean) * (v - mean) * (v - mean)
		}
	}
	sd = math.Sqrt(m2 / n)
	return mean, sd, m3 / n / (sd * sd * sd)
}

// autocorrelation at a lag in records.
func autocorrelation(x []float64, lag int) float64 {
	mean, sd, _ := moments(x)
	var sum, n float64
	for i := lag; i < len(x); i++ {
		if !math.IsNaN(x[i]) && !math.IsNaN(x[i-lag]) {
			sum += (x[i] - mean) * (x[i-lag] - mean)
			n++
		}
	}
	return sum / n / (sd * sd)
}

func onlyOf(set func(from plant.Noise, to *plant.Noise)) [3]plant.Noise {
	var only [3]plant.Noise
	for i, level := range []plant.Noise{plant.Mild(), plant.Typical(), plant.Nasty()} {
		set(level, &only[i])
	}
	return only
}

// Each term alone against the figure of its column: mild, typical, nasty. The
// bounds are the published figure with what is left by chance in the time simulated.
func TestEachTermHasItsSize(t *testing.T) {
	t.Parallel()
	white := onlyOf(func(f plant.Noise, n *plant.Noise) { n.White = f.White })
	ripple := onlyOf(func(f plant.Noise, n *plant.Noise) { n.Ripple = f.Ripple })
	drift := onlyOf(func(f plant.Noise, n *plant.Noise) { n.Drift = f.Drift })
	missing := onlyOf(func(f plant.Noise, n *plant.Noise) { n.Missing = f.Missing })
	for i, want := range []struct{ white, ripple, drift, missing float64 }{
		{0.3, 0, 0.3, 0.01}, {0.6, 1.5, 1.2, 0.05}, {1, 4, 2.3, 0.11},
	} {
		_, sd, _ := moments(readings(white[i], 11, 400, false))
		near(t, "white SD", sd, want.white, 0.08*want.white)
		e := readings(ripple[i], 12, 400, false)
		low, high := extremes(e)
		near(t, "ripple peak to peak", high-low, want.ripple, 0.08*want.ripple+1e-9)
		if want.ripple > 0 {
			mean, sd, skew := moments(e)
			near(t, "ripple mean", mean, 0, 0.03*want.ripple)
			within(t, "ripple SD over its peak to peak (measured 1.3 of 4)", sd/want.ripple, 0.25, 0.36)
			within(t, "ripple skew (measured 0.5 to 1.0)", skew, 0.5, 1)
		}
		_, sd, _ = moments(readings(drift[i], 13, 1500, false))
		near(t, "drift SD", sd, want.drift, 0.2*want.drift)
		lost := 0.0
		e = readings(missing[i], 14, 1000, false)
		for _, v := range e {
			if math.IsNaN(v) {
				lost++
			}
		}
		near(t, "share missing", lost/float64(len(e)), want.missing, 0.25*want.missing)
	}
}

func extremes(x []float64) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, v := range x {
		if !math.IsNaN(v) {
			low, high = min(low, v), max(high, v)
		}
	}
	return low, high
}

// The period is where the autocorrelation peaks: 42 to 50 min measured.
func TestRipplePeriod(t *testing.T) {
	t.Parallel()
	only := onlyOf(func(f plant.Noise, n *plant.Noise) { n.Ripple = f.Ripple })
	e := readings(only[2], 5, 500, false)
	best, at := -1.0, 0
	for lag := 5; lag < 18; lag++ {
		if r := autocorrelation(e, lag); r > best {
			best, at = r, lag
		}
	}
	within(t, "period, min", float64(at)*every.Minutes(), 41, 51)
	within(t, "correlation one period on", best, 0.3, 1)
}

// With the cooling relay at work the ripple follows it, whatever its period.
func TestRippleFollowsTheCooling(t *testing.T) {
	t.Parallel()
	p := plant.New(isothermal(), inert(), plant.Noise{Ripple: 4}, 3, 20)
	for range 20 {
		p.Advance(5*time.Minute, plant.Outputs{Cool: true})
		atStart, _ := p.ReadHydrometer()
		p.Advance(25*time.Minute, plant.Outputs{})
		later, _ := p.ReadHydrometer()
		within(t, "excursion just after the start, points", float64(atStart.Minus(1)), 1.4, 2.8)
		within(t, "half an hour on, points", float64(later.Minus(1)), -1.4, -0.6)
	}
}

// Spikes 10 and 22 points, 1 a 150 and 80 h; steps 3 and 5 points, 1 a 500 and 300 h.
func TestSpikesAndSteps(t *testing.T) {
	t.Parallel()
	const hours = 4_000
	for _, row := range []struct {
		n          plant.Noise
		size, mean float64
	}{{plant.Typical(), 10, 150}, {plant.Nasty(), 22, 80}} {
		spikes, up := 0.0, 0.0
		for _, v := range readings(plant.Noise{Spike: row.n.Spike, SpikeEvery: row.n.SpikeEvery}, 21, hours, false) {
			if math.Abs(v) > 0.5 {
				spikes++
				within(t, "spike, points", math.Abs(v), 0.69*row.size, 1.31*row.size)
				if v > 0 {
					up++
				}
			}
		}
		near(t, "spikes", spikes, hours/row.mean, 4*math.Sqrt(hours/row.mean))
		within(t, "share upward", up/spikes, 0.75, 0.95)
	}
	for _, row := range []struct {
		n          plant.Noise
		size, mean float64
	}{{plant.Typical(), 3, 500}, {plant.Nasty(), 5, 300}} {
		e := readings(plant.Noise{Step: row.n.Step, StepEvery: row.n.StepEvery}, 22, hours, false)
		steps := 0.0
		for i := 1; i < len(e); i++ {
			if d := math.Abs(e[i] - e[i-1]); d > 0.5 {
				steps++
				near(t, "step, points", d, row.size, 0.01)
			}
		}
		near(t, "steps", steps, hours/row.mean, 4*math.Sqrt(hours/row.mean))
	}
}

// A restart of the logger every 45 to 50 h: 6 to 54 points measured, 50 at most here.
func TestRezeroing(t *testing.T) {
	t.Parallel()
	e := readings(plant.Noise{Rezero: plant.Nasty().Rezero}, 23, 2000, false)
	jumps := 0.0
	for i := 1; i < len(e); i++ {
		if e[i] != e[i-1] && math.Abs(e[i]-e[i-1]) > 1e-6 {
			jumps++
			within(t, "level, points", math.Abs(e[i]), 6, 50)
		}
	}
	within(t, "jumps in 2000 h", jumps, 40, 45)
}

// The whole of the typical and nasty columns long after the end: what the two
// records show then is a sample-to-sample spread of 0.35-0.8 points, a lag-1
// correlation of 0.52-0.90, 4 h means of SD 1.15-2.3.
func TestWholeNoiseAfterTheEnd(t *testing.T) {
	t.Parallel()
	for name, n := range map[string]plant.Noise{"typical": plant.Typical(), "nasty": plant.Nasty()} {
		n.Rezero, n.Step, n.Spike, n.FoulPerDay = 0, 0, 0, 0 // counted one by one elsewhere
		e := readings(n, 31, 700, true)[200*3600/260:]
		var d, c float64
		for i := 1; i < len(e); i++ {
			if x := e[i] - e[i-1]; !math.IsNaN(x) {
				d += x * x
				c++
			}
		}
		fast := math.Sqrt(d / c / 2)
		var means []float64
		for i := 0; i+55 <= len(e); i += 55 {
			m, _, _ := moments(e[i : i+55])
			means = append(means, m)
		}
		_, slow, _ := moments(means)
		r := autocorrelation(e, 1)
		t.Logf("%s: sample to sample %.2f points, 4 h means SD %.2f, lag-1 correlation %.2f", name, fast, slow, r)
		within(t, name+": 4 h means SD", slow, 0.8, 3)
		within(t, name+": lag-1 correlation", r, 0.5, 0.95)
		within(t, name+": sample to sample", fast, 0.35, 1.6)
	}
}

// Bubbles and bursts go with the activity: up to 8 points and 2.5 points SD at
// the fastest in the nasty column, next to nothing at the end.
func TestActivityNoise(t *testing.T) {
	t.Parallel()
	var fastSD, endSD, most, sum float64
	const batches = 10
	for seed := range uint64(batches) {
		e := readings(plant.Noise{Burst: plant.Nasty().Burst}, seed, 200, true)
		_, sd, _ := moments(e[45*3600/260 : 60*3600/260])
		fastSD += sd / batches
		_, sd, _ = moments(e[150*3600/260:])
		endSD += sd / batches
		e = readings(plant.Noise{Bubbles: plant.Nasty().Bubbles}, seed, 150, true)
		low, high := extremes(e)
		most = max(most, high)
		within(t, "least that bubbles add", low, -0.01, 0.01)
		mean, _, _ := moments(e[45*3600/260 : 60*3600/260])
		sum += mean / batches
	}
	within(t, "burst SD at the fastest, points", fastSD, 1.5, 3)
	within(t, "burst SD at the end, points", endSD, 0, 0.15)
	within(t, "most that bubbles add, points", most, 6, 8)
	within(t, "bubbles on average at the fastest, points", sum, 1.5, 6)
}

func TestStartUpDecays(t *testing.T) {
	t.Parallel()
	for seed := range uint64(10) {
		e := readings(plant.Noise{StartUp: 12}, seed, 80, false)
		within(t, "first error, points", math.Abs(e[0]), 11.5, 12)
		within(t, "after 8 h, points", math.Abs(e[8*3600/260]), 12*math.Exp(-8.1/6), 12*math.Exp(-7.9/10))
		within(t, "after 75 h, points", math.Abs(e[75*3600/260]), 0, 0.01)
	}
}

// Half of the nasty batches and a tenth of the typical ones see foam hold the
// device for 1 to 24 h; it then returns with a step.
func TestFoamHolds(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		n    plant.Noise
		want float64
	}{{plant.Mild(), 0}, {plant.Typical(), 0.1}, {plant.Nasty(), 0.5}} {
		held := 0.0
		const batches = 40
		for seed := range uint64(batches) {
			brisk := plant.PaleAle()
			brisk.Vigour = 2 // so that the fast part is over soon
			p := plant.New(isothermal(), brisk, plant.Noise{FoamHold: row.n.FoamHold}, seed, 20)
			p.Pitch()
			p.Advance(12*time.Hour, plant.Outputs{})
			var last units.Gravity
			same := 0
			longest := 0
			for range 40 {
				p.Advance(time.Hour, plant.Outputs{})
				g, _ := p.ReadHydrometer()
				if g == last {
					same++
				} else {
					same = 0
				}
				last = g
				longest = max(longest, same)
			}
			within(t, "longest hold, h", float64(longest), 0, 24)
			if longest > 0 {
				held++
			}
		}
		// Holds of under 2 h may fall between two hourly records: a fifth of a log-uniform 1 to 24 h.
		within(t, "share of batches held", held/batches, row.want*0.6-0.02, row.want*1.4+0.02)
	}
}

func TestScenarioEvents(t *testing.T) {
	t.Parallel()
	p := plant.New(isothermal(), plant.PaleAle(), plant.Quiet(), 1, 20)
	p.Pitch()
	p.Advance(40*time.Hour, plant.Outputs{})
	read := func() float64 {
		g, ok := p.ReadHydrometer()
		if !ok {
			t.Error("a quiet record is missing")
		}
		return float64(g.Minus(p.Gravity()))
	}
	near(t, "quiet error", read(), 0, 1e-9)
	p.HoldHydrometer(true)
	read()
	p.Advance(10*time.Hour, plant.Outputs{})
	within(t, "error after 10 h of foam, points", read(), 5, 12)
	p.HoldHydrometer(false)
	near(t, "error when let go", read(), 0, 1e-9)
	p.StepHydrometer(4.3)
	near(t, "error after a step", read(), 4.3, 1e-9)
}

// A sensor that is not corrected reads denser as the beer cools: 0.2 points/K
// with a lag of 1 h in the nasty column.
func TestColdRaisesTheReading(t *testing.T) {
	t.Parallel()
	p := plant.New(isothermal(), inert(), plant.Noise{PerKelvin: plant.Nasty().PerKelvin, SensorLag: plant.Nasty().SensorLag}, 1, 20)
	p.SetTemperatures(2, 2)
	p.Advance(time.Hour, plant.Outputs{})
	g, _ := p.ReadHydrometer()
	near(t, "after 1 h, points", float64(g.Minus(1)), 0.2*18*(1-1/math.E), 0.03)
	p.Advance(12*time.Hour, plant.Outputs{})
	g, _ = p.ReadHydrometer()
	near(t, "after 13 h, points", float64(g.Minus(1)), 3.6, 0.01)
}

func TestFoulingAndKnock(t *testing.T) {
	t.Parallel()
	p := plant.New(isothermal(), plant.PaleAle(), plant.Noise{FoulPerDay: 0.5}, 4, 20)
	p.Pitch()
	for p.Elapsed() < 10*units.Day {
		p.Advance(time.Hour, plant.Outputs{})
		p.ReadHydrometer()
	}
	g, _ := p.ReadHydrometer()
	deposit := math.Abs(float64(g.Minus(p.Gravity())))
	within(t, "deposit after ten days, points", deposit, 3, 5)
	p.Knock()
	g, _ = p.ReadHydrometer()
	within(t, "of it after a knock, points", math.Abs(float64(g.Minus(p.Gravity()))), 0.1*deposit, 0.7*deposit)
}

// The knock of a dry hop: 2 to 10 points for half an hour to six hours, then gone.
func TestDryHopKnocksTheDevice(t *testing.T) {
	t.Parallel()
	for seed := range uint64(20) {
		p := plant.New(isothermal(), plant.PaleAle(), plant.Noise{DryHop: plant.Nasty().DryHop}, seed, 20)
		p.DryHop(5)
		p.Advance(20*time.Minute, plant.Outputs{})
		g, _ := p.ReadHydrometer()
		within(t, "knock, points", math.Abs(float64(g.Minus(p.Gravity()))), 2, 10)
		p.Advance(6*time.Hour, plant.Outputs{})
		g, _ = p.ReadHydrometer()
		near(t, "after six hours", float64(g.Minus(p.Gravity())), 0, 1e-9)
	}
}

// One outage of six hours, somewhere in the first eight days of a nasty batch.
func TestOutage(t *testing.T) {
	t.Parallel()
	for seed := range uint64(3) {
		longest, same := 0, 0
		for _, v := range readings(plant.Noise{Outage: plant.Nasty().Outage}, seed, 200, false) {
			same++
			if !math.IsNaN(v) {
				same = 0
			}
			longest = max(longest, same)
		}
		within(t, "longest run of missing records, h", float64(longest)*every.Hours(), 5.8, 6.1)
	}
}
