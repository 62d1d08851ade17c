package controller

import (
	"math"
	"time"

	"example.org/restpoint/controller/gravity"
	"example.org/restpoint/controller/sense"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/controller/watch"
)

// Thermometer is one probe's last word and how far it may be believed.
type Thermometer = sense.Thermometer

// Gauge is a pressure transducer's last word.
type Gauge = sense.Gauge

// What a thermometer on a fermenter can say (engineering judgement; the power-on
// value of the usual probe, 85 C, is far outside), and when it is too old.
const (
	beerLowest     units.Celsius = -5
	beerHighest    units.Celsius = 45
	airLowest      units.Celsius = -30
	airHighest     units.Celsius = 60
	staleAfter                   = 60 * time.Second
	floatStale                   = time.Hour     // a radio hydrometer speaks every quarter of an hour or so
	defaultSilence               = 6 * time.Hour // and is silent for minutes, measured records for hours
	// A hydrometer's thermometer stands in for a lost probe only where beer would
	// be lost without cooling: while it ferments, above this.
	floatAbove units.Celsius = 12
	// backupBand is how much wider control keeps the beer on a probe that stands in:
	// layers of a quiet beer lie about so far apart.
	backupBand units.Kelvins = 0.75
)

// Backup is what stands in for the thermowell that control goes by.
type Backup string

// What may stand in.
const (
	NoBackup     Backup = ""
	ByThermowell Backup = "thermowell" // another one: heat, cooling and the schedule go on
	ByHydrometer Backup = "hydrometer" // its thermometer: only cooling goes on
)

func (r *run) stale() time.Duration { return max(staleAfter, lateFactor*r.v.Step) }

// sense takes the raw readings in. Plausibility lives in the core and not at the
// edges, so that a better filter can be tried on last month's batch.
func (r *run) sense() {
	s := &r.s.Sense
	inBeer := r.inBeer()
	outside := sense.Place{Lowest: airLowest, Highest: airHighest, Stale: r.stale()}
	inFloat := sense.Place{Lowest: beerLowest, Highest: beerHighest, Slow: true, Stale: floatStale}
	for i, id := range r.v.Probes.wells() {
		was := s.Wells[i].Sound()
		s.Wells[i] = r.thermometer(s.Wells[i], id, inBeer)
		if s.Wells[i].Sound() != was {
			r.tellProbe(id, &s.Wells[i])
		}
	}
	s.Surround = r.thermometer(s.Surround, r.v.Probes.Surround, outside)
	s.Ambient = r.thermometer(s.Ambient, r.v.Probes.Ambient, outside)
	s.Float = r.thermometer(s.Float, r.v.Probes.Hydrometer, inFloat)
	s.Gauge = r.gauge(s.Gauge)
	r.beer()
}

// inBeer is where the thermowells are. While wort is filled in, and after somebody
// touched the beer, it may change as fast as it likes.
func (r *run) inBeer() sense.Place {
	handled := r.kind() == Fill || r.s.Watch.Quiet > 0 || r.s.Mode == Idle || r.s.Mode == Cleaning
	return sense.Place{Lowest: beerLowest, Highest: beerHighest, Slow: true, Coarse: r.v.Coarse, Handled: handled, Stale: r.stale()}
}

// tellProbe says that a probe was lost or is back.
func (r *run) tellProbe(id ProbeID, t *Thermometer) {
	if t.Sound() {
		r.event(Event{Kind: ProbeBack, Probe: id, Reason: why(CodeProbeBack, num("beer", float64(t.Celsius), InCelsius))})
		return
	}
	r.event(Event{Kind: ProbeLost, Probe: id, Reason: Reason{Code: CodeProbeLost, Name: string(t.Fault), Numbers: []Number{num("age", t.Age.Seconds(), InTime)}}})
}

// beer says what control goes by. A change of probe is no movement of the beer.
func (r *run) beer() {
	s := &r.s.Sense
	was := s.Backup
	beer, standsIn := s.Wells.Without(s.Odd).Beer(r.v.Probes.count(), r.v.Probes.Mean)
	s.Beer, s.Backup = beer, NoBackup
	switch {
	case standsIn:
		s.Backup = ByThermowell
	case !beer.Sound() && r.kind() == Primary && r.s.Batch.Pitched && s.Float.Usable() && s.Float.Celsius > floatAbove:
		s.Beer, s.Backup = s.Float, ByHydrometer
	}
	if s.Backup == was {
		return
	}
	r.s.Thermal = r.s.Thermal.Blind()
	r.s.Runaway.HeatFrom, r.s.Runaway.CoolFrom = s.Beer.Celsius, s.Beer.Celsius
	r.s.Watch.Heat, r.s.Watch.Cool = watch.Run{}, watch.Run{}
	if s.Backup != NoBackup {
		r.event(Event{Kind: BackupUsed, Reason: Reason{Code: CodeBackup, Name: string(s.Backup), Numbers: []Number{num("beer", float64(s.Beer.Celsius), InCelsius)}}})
	}
}

func (r *run) thermometer(t Thermometer, id ProbeID, p sense.Place) Thermometer {
	if id == "" {
		return Thermometer{}
	}
	t = t.Advance(r.elapsed)
	for i := range r.in.Readings {
		rd := &r.in.Readings[i]
		if rd.Probe != id {
			continue
		}
		switch {
		case rd.Fault != NoFault:
			t = t.Take(0, rd.Fault, rd.Age, p)
		case rd.Value.Quantity == Temperature, rd.Value.ofHydrometer() && rd.Value.HasCelsius:
			t = t.Take(rd.Value.Celsius, NoFault, rd.Age, p)
		}
	}
	return t.Check(p)
}

func (r *run) gauge(g Gauge) Gauge {
	if r.v.Probes.Pressure == "" {
		return Gauge{}
	}
	g = g.Advance(r.elapsed)
	for i := range r.in.Readings {
		if rd := &r.in.Readings[i]; rd.Probe == r.v.Probes.Pressure && (rd.Fault != NoFault || rd.Value.Quantity == GaugePressure) {
			g = g.Take(rd.Value.Gauge, rd.Fault, rd.Age)
		}
	}
	return g.Check(r.stale())
}

// gravity takes the hydrometer's readings in.
func (r *run) gravity() {
	if r.s.Mode != InBatch || r.sch == nil {
		return
	}
	beer := r.s.Sense.Beer
	r.s.Gravity.Hurried = r.in.Hurried
	r.s.Gravity.Advance(r.elapsed, float64(beer.Celsius), beer.Usable(), r.prior)
	r.recalibrate()
	r.s.Batch.Tally = r.s.Batch.Tally.At(r.s.Gravity.Now)
	for i := range r.in.Readings {
		rd := &r.in.Readings[i]
		if r.v.Probes.Hydrometer == "" || rd.Probe != r.v.Probes.Hydrometer || rd.Fault != NoFault || !rd.Value.ofHydrometer() {
			continue
		}
		used, verdict := r.take(rd.Value, r.calibrated(rd.Value), r.v.ByHand)
		r.out.Verdicts = append(r.out.Verdicts, ReadingVerdict{i, rd.Probe, finite(rd.Value.Raw()), units.Gravity(finite(float64(used))), verdict})
		r.tellVerdict(rd.Value, used, verdict)
	}
}

// rejectedRun is how many readings in a row must be rejected to be worth an event:
// single spikes are usual and harm nothing.
const rejectedRun = 3

// tellVerdict counts what became of a reading, and says when a run of rejections
// begins, when it ends, and when the device has stepped.
func (r *run) tellVerdict(read Value, used units.Gravity, v gravity.Verdict) {
	b := &r.s.Batch
	run := b.Told.Rejected
	if v.Believed() {
		b.Tally, b.Told.Rejected = b.Tally.Accept(), 0
	} else {
		b.Tally, b.Told.Rejected = b.Tally.Reject(string(v)), min(run+1, rejectedRun)
	}
	e := Event{Probe: r.v.Probes.Hydrometer}
	switch {
	case r.v.ByHand: // a person has no frame that steps
		return
	case v == gravity.Stepped:
		e.Kind, e.Reason = DeviceStepped, why(CodeDeviceStepped, num("gravity", float64(used), InGravity), num("shift", r.s.Gravity.Shift, InPoints))
	case v.Believed() && run >= rejectedRun:
		e.Kind, e.Reason = GravityBelieved, why(CodeGravityBelieved, num("gravity", float64(used), InGravity))
	case !v.Believed() && run == rejectedRun-1:
		e.Kind, e.Reason = GravityRejected, Reason{Code: CodeGravityRejected, Name: string(v), Numbers: []Number{num("raw", read.Raw(), Bare)}}
	default:
		return
	}
	r.event(e)
}

// recalibrate begins judging anew where the hydrometer was given another
// calibration while the batch ran: its readings have moved, and not the beer.
func (r *run) recalibrate() {
	was := r.s.Calibration
	r.s.Calibration = r.v.Calibration
	if was == r.v.Calibration || r.s.Gravity.Accepted == 0 {
		return
	}
	r.s.Gravity = r.s.Gravity.Recalibrated()
	r.unjudge()
	r.event(Event{Kind: Recalibrated, Probe: r.v.Probes.Hydrometer, Reason: Reason{Code: CodeRecalibrated}})
}

// calibrated is the gravity that a reading of the hydrometer stands for, before any
// correction for temperature. What has none is not a number, which no fermenter holds.
func (r *run) calibrated(v Value) units.Gravity {
	c := r.v.Calibration
	if v.Quantity == SpecificGravity && c.Own {
		return v.Gravity // it is one already, as in a record of before
	}
	if g, ok := c.Apply(v.Raw()); ok && c.Own == (v.Quantity == OwnNumber) {
		return g
	}
	return units.Gravity(math.NaN())
}

// take corrects a gravity for temperature where that can be done, after its
// calibration, and hands it to the estimator. It gives the gravity that was used.
func (r *run) take(v Value, g units.Gravity, hand bool) (units.Gravity, gravity.Verdict) {
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
	return g, verdict
}

func abs(d units.Kelvins) units.Kelvins {
	if d < 0 {
		return -d
	}
	return d
}
