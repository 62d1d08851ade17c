package controller

import (
	"math"
	"time"

	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/gravity"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

// The second opinion: what the yeast does, told from heat alone. It may doubt the
// hydrometer, and where there is none it may ask a person to look. It moves no
// relay and no stage.

// Opinion is what heat has to say of the running batch.
type Opinion struct {
	Pitched bool          // the sum of the heat has begun
	Seen    Against       // how they contradict each other now
	For     time.Duration // and have for so long
	Against Against       // what may be said of it
}

// Against is how heat and hydrometer contradict each other.
type Against string

// The contradictions.
const (
	Agrees      Against = ""
	DeviceStill Against = "device-still" // the hydrometer stands, the beer makes heat
	DeviceFalls Against = "device-falls" // the hydrometer falls, the beer makes none
)

// What counts as a contradiction, in points an hour. An ale falls by 0.3 to 1 while
// it works; a device moves by 0.05 from drift alone (engineering judgement). Each
// has a second figure at which it is over.
const (
	deviceWindow = 12 * time.Hour

	standsBelow, standsNoMore = 0.05, 0.10 // the device
	worksAbove, worksNoMore   = 0.25, 0.15 // the 10 % bound of heat
	fallsAbove, fallsNoMore   = 0.30, 0.20
	restsBelow, restsNoMore   = 0.10, 0.20 // the 90 % bound of heat
)

// unknownGap stands for an outage of unknown length: a whole fermentation.
const unknownGap = 30 * units.Day

// noYeastBelow: colder than this nothing ferments (common practice: 3 C).
const noYeastBelow units.Celsius = 3

// lagLearnt is how long cooling must have worked until its lag is worth something.
const lagLearnt = time.Hour

// opinion feeds the balance and compares it with the hydrometer.
func (r *run) opinion() {
	response := &r.out.Decision.Response
	*response = r.s.Thermal.Response.Rates()
	if r.s.Mode != InBatch || r.sch == nil || !r.s.Full && !r.s.Batch.Pitched {
		r.s.Balance, r.s.Heat = r.s.Balance.Rested(), r.heat()
		return
	}
	beer := r.s.Sense.Beer
	around, lag := r.around(), time.Duration(0)
	if response.Known && response.CoolLearnt > lagLearnt && !r.inAir() {
		lag = response.CoolLag
	}
	r.s.Balance = r.s.Balance.Step(thermal.Moment{
		Elapsed: r.elapsed, Beer: beer.Celsius, Around: around.Celsius,
		Known: beer.Usable() && around.Usable() && r.s.Sense.Backup == NoBackup,
		Heat:  r.in.Actual.Heat, Cool: r.in.Actual.Cool && !r.inAir(),
		Lag: lag, Drift: response.Drift,
		Quiet: !r.s.Batch.Pitched || beer.Usable() && beer.Celsius < noYeastBelow,
	}, r.vat())
	if o := &r.s.Batch.Opinion; r.s.Batch.Pitched && !o.Pitched {
		o.Pitched = true
		if r.s.Balance = r.s.Balance.Pitched(); r.s.Batch.Since > lookEvery {
			// Nobody has kept the sum from its beginning, as in a state of an older program.
			r.s.Balance = r.s.Balance.Gap(unknownGap, r.vat())
		}
	}
	if r.tick() {
		r.compare()
	}
	if r.tick() || r.s.Heat == (thermal.Heat{}) {
		r.s.Heat = r.heat()
	}
}

// compare keeps what contradicts. A hydrometer that was knocked to another level
// falls within the window for less than its length: with the alarm's own delay a
// fall has to stand for longer than that.
func (r *run) compare() {
	o := &r.s.Batch.Opinion
	was := o.Seen
	o.Seen = r.against()
	if o.For += lookEvery; o.Seen != was {
		o.For = 0
	}
	o.For = min(o.For, deviceWindow)
	o.Against = o.Seen
	if o.Seen == DeviceFalls && o.For < deviceWindow/2 {
		o.Against = Agrees
	}
}

// outage tells the balance of time in which nothing was seen. Of unknown length it
// may have been the whole fermentation.
func (r *run) outage(known time.Duration) {
	if !r.in.Gap.Known {
		known = unknownGap
	}
	r.s.Balance = r.s.Balance.Gap(known, r.vat())
}

// inAir tells whether the air around the vessel is measured: then it does not
// matter what warms or cools it.
func (r *run) inAir() bool { return r.v.InAir && r.v.Probes.Surround != "" }

// around is what the vessel loses its heat to.
func (r *run) around() Thermometer {
	if r.inAir() {
		return r.s.Sense.Surround
	}
	return r.s.Sense.Ambient
}

func (r *run) vat() thermal.Vat {
	if r.sch == nil {
		return thermal.Vat{}
	}
	w := r.wort()
	v := thermal.Vat{Volume: r.v.Volume, Original: w.Original, Final: w.Final, Loss: r.v.Loss, Heater: r.v.Heat.Power}
	if f := r.s.Batch.Filled; f.Turns > 0 {
		v.Volume = f.Volume
	}
	// A compressor of its own cools a cabinet, or a bath that is as slow.
	v.Cabinet = r.v.Cool.Profile == guard.Compressor && !r.inAir()
	return v
}

// heat is the picture for people.
func (r *run) heat() thermal.Heat {
	switch {
	case r.s.Mode != InBatch || r.sch == nil:
		return thermal.Heat{Off: thermal.Learning}
	case r.v.Probes.Ambient == "" && !r.inAir():
		return thermal.Heat{Off: thermal.NoAround}
	}
	return r.s.Balance.Heat(r.vat())
}

// against compares heat and hydrometer. Once the alarm is raised it stays until
// the contradiction is clearly over.
func (r *run) against() Against {
	k := r.kind()
	h := r.heat()
	change := r.deviceFall()
	if r.v.Probes.Hydrometer == "" || r.v.ByHand || !r.s.Batch.Pitched || k != Primary && k != Rest || h.Off != thermal.On || !change.Known {
		return Agrees
	}
	was, raised := r.s.Batch.Opinion.Seen, r.s.Alarms.Raised(alarms.GravityDoubtful)
	limit := func(a Against, found, over float64) float64 {
		if was == a && raised {
			return over
		}
		return found
	}
	rate := change.Fall / deviceWindow.Hours()
	switch {
	case rate < limit(DeviceStill, standsBelow, standsNoMore) && float64(h.Low) > limit(DeviceStill, worksAbove, worksNoMore):
		return DeviceStill
	case rate > limit(DeviceFalls, fallsAbove, fallsNoMore) && float64(h.High) < limit(DeviceFalls, restsBelow, restsNoMore):
		return DeviceFalls
	}
	return Agrees
}

// deviceFall is what the device says of the window: nothing, where something holds it.
func (r *run) deviceFall() gravity.Change {
	if g := r.s.Gravity; g.Held && g.Now-g.Same.From >= deviceWindow {
		return gravity.Change{Known: true}
	}
	return r.s.Gravity.NetChange(deviceWindow)
}

// contradiction says with its numbers what heat and hydrometer disagree about.
func (r *run) contradiction() Reason {
	h := r.heat()
	code := CodeDeviceStill
	if r.s.Batch.Opinion.Against == DeviceFalls {
		code = CodeDeviceFalls
	}
	fall := r.deviceFall().Fall
	return why(code, num("fallen", fall, InPoints), num("window", deviceWindow.Seconds(), InTime),
		num("rate", float64(h.Rate), InPoints), num("low", float64(h.Low), InPoints), num("high", float64(h.High), InPoints))
}

// A proposal is not made when the rest is known worse than this, in points (one
// standard deviation): it would only say that there is beer.
const proposalDoubt = 6.0

// heatLeft is what heat says of the points left, where there is no other word: with
// its standard deviation, of heat and of the expected end together. A person is
// asked as soon as the wanted rest lies within that of it, one chance in six: a
// look too early costs a sample, late warmth costs more.
func (r *run) heatLeft() (left, sd float64, known bool) {
	if r.v.Probes.Hydrometer != "" || r.s.Gravity.Est.Known || !r.s.Batch.Pitched {
		return 0, 0, false
	}
	h := r.heat()
	if h.Off != thermal.On {
		return 0, 0, false
	}
	w := r.wort()
	left = float64(w.Original.Minus(w.Final) - h.Fallen)
	sd = math.Sqrt(float64(h.FallenSD*h.FallenSD) + float64(w.FinalSD*w.FinalSD))
	return left, sd, sd <= proposalDoubt
}

// z90 standard deviations on each side hold four of five values.
const z90 = 1.2816

// reminds says why a reminder is due, where its figures are of use.
func (r *run) reminds(m *Reminder) Reason {
	if m.When != RemindHeat {
		return Reason{}
	}
	left, sd, _ := r.heatLeft()
	return why(CodeHeatLeft, num("left", max(0, left), InPoints), num("low", max(0, left-float64(z90*sd)), InPoints), num("high", max(0, left+float64(z90*sd)), InPoints))
}
