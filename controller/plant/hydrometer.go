package plant

import (
	"math"

	"example.org/restpoint/controller/units"
)

// One stream of chance for each source, see chance.
const (
	streamProbes = iota
	streamBatch
	streamWhite
	streamRipple
	streamDrift
	streamBubbles
	streamBurst
	streamSpikes
	streamSteps
	streamRezero
	streamMissing
	streamHops
)

const (
	fullActivity = 5.0 / 24 // P/h; 4.7 P/day is the median of the fastest 6 h of 54 real fermentations
	driftTime    = 12.0     // h
	burstTime    = 0.5      // h
	bubbleTime   = 1.5      // h to grow at full activity (assumed)
	releaseTime  = 2.0      // h between releases at full activity
	dissolveTime = 24.0     // h for bubbles to go when nothing makes new ones (assumed)
	knockKeeps   = 0.4      // share of a deposit that survives a knock (assumed)
)

// hydrometer is the in-tank device: errors that live on between readings, in
// points (positive reads too dense) and hours.
type hydrometer struct {
	white, ripple, drift, bubbles, burst, spikes, steps, rezero, missing, hops chance

	offset, startUp, startUpTime float64 // drawn once a batch
	dayPhase                     float64 // turns
	foulSign                     float64
	foamFrom, foamUntil          float64 // share of the drop where foam takes hold; h when it lets go
	foamFor                      float64 // h
	outageFrom                   float64 // h

	temperature              float64 // of the device
	cooling                  bool    // the relay at the last sub-step
	phase, period            float64 // of the ripple: turns, h
	peak                     float64 // P/h, greatest activity so far
	wander, swing            float64 // drift and burst, in standard deviations
	bubble, fouled           float64
	stepped, moved, scripted float64 // permanent steps, re-zero, a scenario's own
	nextRezero               float64 // h
	lost                     int     // records still to drop
	knock, knockUntil        float64 // points and h, by a dry hop
	bubblyUntil              float64 // h

	held     bool // by a scenario
	heldAt   float64
	holding  bool    // by either
	readAt   float64 // h of the last reading
	recorded float64
}

func newHydrometer(p *Plant, seed uint64) hydrometer {
	n := &p.noise
	d := hydrometer{
		white: stream(seed, streamWhite), ripple: stream(seed, streamRipple), drift: stream(seed, streamDrift),
		bubbles: stream(seed, streamBubbles), burst: stream(seed, streamBurst), spikes: stream(seed, streamSpikes),
		steps: stream(seed, streamSteps), rezero: stream(seed, streamRezero), missing: stream(seed, streamMissing), hops: stream(seed, streamHops),
		temperature: p.heat[beer],
	}
	batch := stream(seed, streamBatch)
	d.offset = batch.between(-1, 1) * float64(n.Offset)
	d.startUp = batch.sign(0.5) * float64(n.StartUp)
	d.startUpTime = batch.between(6, 10)
	d.dayPhase = batch.uniform()
	d.foulSign = batch.sign(0.5)
	d.foamFrom = batch.between(0.2, 0.6) // of the drop: the fastest third of the time lies here
	d.foamFor = exp(batch.between(0, ln(24)))
	if batch.uniform() >= n.FoamHold {
		d.foamFrom = 2 // never
	}
	d.outageFrom = batch.between(0, 8*24)
	d.wander, d.swing = d.drift.normal(), d.burst.normal()
	d.nextRezero = d.rezero.between(45, 50)
	d.phase = d.ripple.uniform()
	d.period = d.ripplePeriod()
	return d
}

// ripplePeriod in h: 42 to 50 min.
func (d *hydrometer) ripplePeriod() float64 { return d.ripple.between(42, 50) / 60 }

// follow keeps up what cannot wait for a reading. The ripple starts anew with
// each start of the cooling, which causes it; with no start within a period it
// goes on by itself, as other things on the same supply would make it.
func (d *hydrometer) follow(p *Plant, cool bool, s float64) {
	d.temperature = lagged(d.temperature, p.heat[beer], s, p.noise.SensorLag.Seconds())
	d.phase += s / 3600 / d.period
	if d.phase >= 1 || (cool && !d.cooling) {
		d.phase = 0
		d.period = d.ripplePeriod()
	}
	d.cooling = cool
	d.peak = max(d.peak, p.dropRate)
}

// grow moves the errors that live between readings by h hours.
func (d *hydrometer) grow(p *Plant, now, h float64) {
	n := &p.noise
	activity := p.dropRate / fullActivity
	if now < d.bubblyUntil {
		activity += 0.5 // hop matter makes dissolved gas come out (assumed)
	}
	d.wander = remembered(&d.drift, d.wander, h, driftTime)
	d.swing = remembered(&d.burst, d.swing, h, burstTime)

	most := float64(n.Bubbles)
	d.bubble += float64((most - d.bubble) * (1 - exp(-h*activity/bubbleTime)))
	d.bubble *= exp(-h / dissolveTime)
	if d.bubbles.within(h*activity, releaseTime) {
		d.bubble *= d.bubbles.uniform()
	}
	if p.dropRate < float64(0.9*d.peak) {
		d.fouled += float64(d.foulSign * float64(n.FoulPerDay) * h / 24)
	}
	if d.steps.within(h, n.StepEvery.Hours()) {
		d.stepped += float64(d.steps.sign(0.5) * float64(n.Step))
	}
	for n.Rezero > 0 && now >= d.nextRezero {
		d.moved = d.rezero.sign(0.5) * d.rezero.between(6, float64(n.Rezero))
		d.nextRezero += d.rezero.between(45, 50)
	}
	if p.broth[yeast] > 0 && d.foamUntil == 0 && p.progress() >= d.foamFrom {
		d.foamUntil = now + d.foamFor
	}
}

// remembered moves a stationary process of standard deviation 1 by h hours.
func remembered(c *chance, x, h, memory float64) float64 {
	keep := exp(-h / memory)
	return float64(keep*x) + float64(math.Sqrt(1-float64(keep*keep))*c.normal())
}

// progress is the share of the extract that is gone.
func (p *Plant) progress() float64 {
	total := float64(p.wort.Original.Plato()) - p.end
	if total <= 0 {
		return 1
	}
	return 1 - p.sugar()/total
}

// ReadHydrometer takes a record of the in-tank gravity; false: it is missing.
// Only the time between readings counts, so reading often does not make the
// slow errors grow faster.
func (p *Plant) ReadHydrometer() (units.Gravity, bool) {
	d, n := &p.hydrometer, &p.noise
	now := p.elapsed.Hours()
	d.grow(p, now, now-d.readAt)
	dt := now - d.readAt
	d.readAt = now

	y := float64(p.Gravity().Minus(1)) + d.offset + d.scripted + d.stepped + d.moved + d.fouled + d.bubble
	y += float64(float64(n.PerKelvin) * (d.temperature - 20))
	y += float64(d.startUp * exp(-now/d.startUpTime))
	left := 1 - d.phase
	y += float64(float64(n.Ripple) * (float64(left*left) - 1.0/3)) // mean 0, skewed to the dense side
	y += float64(float64(n.Drift) * (float64(turnSine(now/24+d.dayPhase)) + d.wander/math.Sqrt2))
	y += float64(float64(n.Burst) * min(1.5, p.dropRate/fullActivity) * d.swing)
	y += float64(float64(n.White) * d.white.student())
	if d.spikes.within(dt, n.SpikeEvery.Hours()) {
		y += float64(d.spikes.sign(0.15) * d.spikes.between(0.7, 1.3) * float64(n.Spike))
	}

	if hold := d.held || now < d.foamUntil; hold {
		if !d.holding {
			d.heldAt = y
		}
		d.holding = true
		y = d.heldAt
	} else {
		d.holding = false
	}
	if now < d.knockUntil {
		y += d.knock
	}
	if n.Raster > 0 {
		y = math.Round(y/float64(n.Raster)) * float64(n.Raster)
	}
	d.recorded = min(200, max(-50, y)) // what such a device can show at all
	return units.Gravity(1 + d.recorded/1000), !d.drops(n, now)
}

// HydrometerTemperature is what the device's own thermometer shows, to a tenth.
func (p *Plant) HydrometerTemperature() units.Celsius {
	return units.Celsius(math.Round(p.hydrometer.temperature*10) / 10)
}

// hopped begins the disturbance of a dry hop.
func (d *hydrometer) hopped(p *Plant) {
	now, most := p.elapsed.Hours(), float64(p.noise.DryHop)
	d.knock = d.hops.sign(0.5) * d.hops.between(min(2, most), most)
	d.knockUntil = now + d.hops.between(0.5, 6)
	d.bubblyUntil = now + 24
}

// drops tells whether this record is lost.
func (d *hydrometer) drops(n *Noise, now float64) bool {
	if n.Outage > 0 && now >= d.outageFrom && now < d.outageFrom+n.Outage.Hours() {
		return true
	}
	if d.lost > 0 {
		d.lost--
		return true
	}
	// Runs of 1 to 5, 3 on average: a run starts after a kept record with p, and
	// the share lost is then 3p/(1+3p) = Missing.
	if n.Missing > 0 && d.missing.uniform() < n.Missing/(3*(1-n.Missing)) {
		d.lost = int(d.missing.between(0, 5))
		return true
	}
	return false
}

// HoldHydrometer keeps the device at its next reading, as foam or a wall does.
func (p *Plant) HoldHydrometer(on bool) { p.hydrometer.held = on }

// StepHydrometer changes the level of the device for good.
func (p *Plant) StepHydrometer(by units.Points) { p.hydrometer.scripted += float64(by) }

// Knock frees the device of bubbles and of part of its deposit.
func (p *Plant) Knock() {
	p.hydrometer.bubble = 0
	p.hydrometer.fouled *= knockKeeps
}
