package controller

import (
	"time"

	"example.org/restpoint/controller/gravity"
	"example.org/restpoint/controller/units"
)

// What a thermometer on a fermenter can say (engineering judgement; the power-on
// value of the usual probe, 85 C, is far outside).
const (
	beerLowest     units.Celsius = -5
	beerHighest    units.Celsius = 45
	airLowest      units.Celsius = -30
	airHighest     units.Celsius = 60
	staleAfter                   = 60 * time.Second // then the last value must not be used
	fastest        units.Kelvins = 1                // a minute, for more than 20 L of beer
	jumpMargin     units.Kelvins = 1
	rangeDoubts                  = 2 // readings out of range until the probe has failed
	agree                        = 5 // good readings in a row until it is believed again
	agreeWithin    units.Kelvins = 3
	defaultSilence               = 6 * time.Hour // a radio hydrometer is silent for minutes, measured records for hours
)

// sense takes the raw readings in. Plausibility lives here and not at the edges,
// so that a better filter can be tried on last month's batch.
func (r *run) sense() {
	was := r.s.Sense.Thermowell.Usable() || !r.s.Sense.Thermowell.Known && !r.s.Sense.Thermowell.Failed
	r.s.Sense.Thermowell = r.thermometer(r.s.Sense.Thermowell, r.v.Probes.Thermowell, beerLowest, beerHighest, true)
	r.s.Sense.Surround = r.thermometer(r.s.Sense.Surround, r.v.Probes.Surround, airLowest, airHighest, false)
	r.s.Sense.Ambient = r.thermometer(r.s.Sense.Ambient, r.v.Probes.Ambient, airLowest, airHighest, false)
	t := r.s.Sense.Thermowell
	now := t.Usable() || !t.Known && !t.Failed
	switch {
	case was && !now:
		r.event(Event{Kind: ProbeLost, Probe: r.v.Probes.Thermowell, Reason: Reason{Code: CodeProbeLost, Name: string(t.Fault), Numbers: []Number{num("age", t.Age.Seconds(), InTime)}}})
	case !was && now:
		r.event(Event{Kind: ProbeBack, Probe: r.v.Probes.Thermowell, Reason: why(CodeProbeBack, num("beer", float64(t.Celsius), InCelsius))})
	}
}

func (r *run) thermometer(t Thermometer, id ProbeID, lowest, highest units.Celsius, slow bool) Thermometer {
	if id == "" {
		return Thermometer{}
	}
	t.Age = min(t.Age+r.elapsed, 365*units.Day)
	for i := range r.in.Readings {
		rd := &r.in.Readings[i]
		if rd.Probe != id || rd.Fault == NoFault && rd.Value.Quantity != Temperature {
			continue
		}
		switch {
		case rd.Fault != NoFault:
			t.Fault, t.Good = rd.Fault, 0
		case !(rd.Value.Celsius >= lowest && rd.Value.Celsius <= highest):
			t.Fault, t.Good = OutOfRange, 0
			t.Doubts++
			if t.Doubts >= rangeDoubts {
				t.Failed = true
			}
		default:
			t = r.believe(t, rd.Value.Celsius, max(0, rd.Age), slow)
		}
	}
	if t.Age > max(staleAfter, lateFactor*r.v.Step) {
		if !t.Failed {
			t.Failed, t.Good = true, 0
		}
		if t.Fault == NoFault {
			t.Fault = TimedOut
		}
	}
	return t
}

// started is a thermometer after any start of the program: nothing is known of it,
// but a failure is not healed by a restart.
func (t Thermometer) started() Thermometer {
	if !t.Failed {
		return Thermometer{}
	}
	t.Good = 0
	return t
}

// believe takes a value that is in range. A jump that beer cannot make is not
// believed until readings agree on it.
func (r *run) believe(t Thermometer, x units.Celsius, age time.Duration, slow bool) Thermometer {
	if !t.Known {
		if age > staleAfter {
			return t
		}
		return Thermometer{Known: true, Celsius: x, Age: age, Good: 1}
	}
	if age > t.Age {
		return t // older than what is known
	}
	allowed := jumpMargin + units.Kelvins(float64(fastest)*t.Age.Minutes())
	jumps := slow && !r.v.Coarse && abs(x.Minus(t.Celsius)) > allowed
	if !t.Failed && !jumps {
		t.Celsius, t.Age, t.Doubts, t.Fault = x, age, 0, NoFault
		t.Good = min(t.Good+1, agree)
		return t
	}
	// In failure, or a jump: readings must agree with one another first.
	if t.Good > 0 && abs(x.Minus(t.Jump)) > agreeWithin {
		t.Good = 0
	}
	if jumps && !t.Failed && t.Doubts == 0 {
		t.Good = 0
	}
	t.Jump = x
	t.Good++
	if !t.Failed {
		t.Doubts++
	}
	need := agree
	if r.v.Coarse {
		need = 1
	}
	if t.Good >= need {
		return Thermometer{Known: true, Celsius: x, Age: age, Good: agree}
	}
	return t
}

// gravity takes the hydrometer's readings in.
func (r *run) gravity() {
	if r.s.Mode != InBatch || r.sch == nil {
		return
	}
	beer := r.s.Sense.Thermowell
	r.s.Gravity = r.s.Gravity.Advance(r.elapsed, float64(beer.Celsius), beer.Usable(), r.prior)
	for i := range r.in.Readings {
		rd := &r.in.Readings[i]
		if r.v.Probes.Hydrometer == "" || rd.Probe != r.v.Probes.Hydrometer || rd.Fault != NoFault || rd.Value.Quantity != SpecificGravity {
			continue
		}
		r.take(rd.Value, r.v.ByHand)
	}
}

// take corrects a gravity for temperature where that can be done and hands it to
// the estimator.
func (r *run) take(v Value, hand bool) gravity.Verdict {
	g := v.Gravity
	bare := false
	switch {
	case v.Corrected:
	case v.HasCelsius && v.Celsius >= beerLowest && v.Celsius <= airHighest:
		g = units.CorrectHydrometer(g, v.Celsius, units.Glass20C)
	default:
		bare = true
	}
	var verdict gravity.Verdict
	r.s.Gravity, verdict = r.s.Gravity.Take(gravity.Reading{Points: float64(g.Minus(1)), Hand: hand, Uncorrected: bare && !hand}, r.prior)
	return verdict
}

func abs(d units.Kelvins) units.Kelvins {
	if d < 0 {
		return -d
	}
	return d
}
