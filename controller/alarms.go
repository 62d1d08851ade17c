package controller

import (
	"time"

	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/gravity"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/sense"
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

// deviation is how far from its target a beer may be before a person should
// know, in a stage that holds a temperature.
const (
	deviation units.Kelvins = 1.5
	// settling is how long a new stage may take to reach its temperature.
	settling = 24 * time.Hour
)

// alarms looks for every cause. A vessel that idles has few: its readings and
// its limits.
func (r *run) alarms() {
	r.vote()
	causes := r.causes(make([]alarms.Cause, 0, 8))
	state, changes := r.s.Alarms.Step(causes, r.elapsed, r.in.Quiet)
	r.s.Alarms = state
	for _, c := range changes {
		kind := AlarmOver
		if c.Raised {
			kind = AlarmRaised
		}
		row, _ := alarms.Find(c.ID)
		because := Reason{Code: CodeAlarm, Name: row.Cause}
		if c.ID == alarms.GravityDoubtful && c.Raised {
			because = r.contradiction()
		}
		r.event(Event{Kind: kind, Alarm: string(c.ID), Priority: string(row.Priority), Reason: because})
	}
}

func (r *run) causes(list []alarms.Cause) []alarms.Cause {
	beer := r.s.Sense.Beer
	add := func(id alarms.ID, so bool) {
		if so {
			list = append(list, alarms.Cause{ID: id})
		}
	}
	add(alarms.ProbeLost, beer.Failed)
	add(alarms.BackupProbe, r.s.Sense.Backup != NoBackup)
	add(alarms.OverPressure, r.overPressure())
	add(alarms.PressureLost, r.s.Sense.Gauge.Failed)
	list = r.limits(list)
	w, seen := &r.s.Runaway, &r.s.Watch
	add(alarms.ProbeMoved, r.moved())
	add(alarms.ProbeStuck, w.HeatStuck || w.CoolStuck)
	add(alarms.CoolWrong, w.CoolLocked)
	add(alarms.RelayStuck, r.welded())
	add(alarms.RelayWorn, worn(&r.v.Heat, r.s.Guard.Heat) || worn(&r.v.Cool, r.s.Guard.Cool))
	add(alarms.ManyStarts, r.v.Cool.Profile == guard.Compressor && seen.CoolStarts.Hour() > mostStarts)
	add(alarms.HeatIneffective, w.HeatLocked)
	add(alarms.CoolIneffective, w.CoolWeak || w.CoolLong)
	add(alarms.HeatWeak, seen.Lift.Weak)
	add(alarms.StateLost, r.s.Lost)
	add(alarms.LateLoop, r.late)
	add(alarms.RelayFault, r.in.RelayFault)
	add(alarms.RecordFailing, r.in.RecordFault)
	add(alarms.OutsideLimits, r.clamped)
	add(alarms.CleaningTooLong, r.s.Mode == Cleaning && r.s.Hold.Left == 0)
	if r.s.Mode != InBatch {
		return list
	}
	list = r.distance(list)
	r.comeBack()
	add(alarms.Strayed, r.s.Back.Strayed)
	add(alarms.Vacuum, r.vacuum())
	add(alarms.Stratified, r.stratified())
	late := r.startsLate()
	add(alarms.NotStarted, late == gravity.TooLate)
	add(alarms.SlowStart, late == gravity.Late)
	add(alarms.Stuck, r.s.Batch.Told.Stuck)
	add(alarms.GravityLost, r.s.Batch.Told.GravityLost)
	add(alarms.GravityDoubtful, r.s.Batch.Opinion.Against != Agrees)
	add(alarms.StageTooLong, r.s.Stage.TooLong)
	add(alarms.NeedsArming, r.s.Stage.Waits)
	return list
}

// limits lists what lies beyond the vessel's limits, and what a limit tripped.
func (r *run) limits(list []alarms.Cause) []alarms.Cause {
	latch := func(id alarms.ID, now, tripped bool) {
		if now || tripped {
			list = append(list, alarms.Cause{ID: id, Latched: !now})
		}
	}
	w, beer := &r.s.Runaway, r.s.Sense.Beer
	looked := beer.Usable() && r.s.Mode != Cleaning
	low, ice := looked && beer.Celsius < r.v.Limits.Lowest, r.freezing()
	raised := r.s.Alarms.Raised
	latch(alarms.HighLimit, looked && beer.Celsius > r.v.Limits.Highest, w.HeatTripped)
	latch(alarms.LowLimit, low, w.CoolTripped && raised(alarms.LowLimit))
	latch(alarms.Freezing, ice, w.CoolTripped && (raised(alarms.Freezing) || !raised(alarms.LowLimit)))
	return list
}

// distance lists how far the beer is from where it shall be. In a ramp, and while a
// stage settles, that is meant.
func (r *run) distance(list []alarms.Cause) []alarms.Cause {
	beer := r.s.Sense.Beer
	if !r.aimed || !beer.Usable() {
		return list
	}
	meant := r.s.Stage.In <= settling || r.aim.Regime == thermal.Ramping
	if beer.Celsius.Minus(r.aim.CoolTo) > deviation {
		list = append(list, alarms.Cause{ID: alarms.BeerTooWarm, Suppressed: meant})
	}
	if beer.Celsius.Minus(r.meantAtLeast()) < -deviation {
		list = append(list, alarms.Cause{ID: alarms.BeerTooCold, Suppressed: meant})
	}
	return list
}

// comeBack looks, once after the program came back to a batch, whether the beer left
// its stage's band meanwhile: it should lie between where it was and where it was to
// go. Its target is regulated whatever is found; a person is asked.
func (r *run) comeBack() {
	b, beer, st := &r.s.Back, r.s.Sense.Beer, r.stage()
	if !b.Look || !beer.Usable() || st == nil {
		return
	}
	low := st.Target.To
	if r.s.Stage.Override {
		low = r.s.Stage.Target
	}
	high := low
	if b.Seen {
		low, high = min(low, b.Was), max(high, b.Was)
	}
	out := beer.Celsius < low.Plus(-deviation) || beer.Celsius > high.Plus(deviation)
	*b = Back{Strayed: b.Strayed || out}
}

const (
	// mostStarts of a compressor an hour (common practice; 6 to 10 are the usual limits).
	mostStarts = 6
	// wornAt is 70 % of the 1e5 operations that a mechanical contact lives (from
	// memory).
	wornAt = 70_000
)

func worn(r *guard.Relay, l guard.Line) bool {
	return r.Fitted && r.Profile != guard.SSR && l.Switches >= wornAt
}

// moved tells whether a thermowell's probe went where no beer can go.
func (r *run) moved() bool {
	for i := range r.v.Probes.count() {
		if r.s.Sense.Wells[i].Motion.Away {
			return true
		}
	}
	return false
}

// meantAtLeast is below which the beer is not meant to be. In a free rise the cap is
// only where it may go: it began lower, and shall not fall from there.
func (r *run) meantAtLeast() units.Celsius {
	if st := r.stage(); st != nil && st.Target.Kind == FreeRise && !r.s.Stage.Override && r.s.Stage.Entered {
		return min(r.aim.HeatTo, r.s.Stage.Entry)
	}
	return r.aim.HeatTo
}

// lies tells whether the beer may lie in layers: a working one mixes itself; in a
// crash the cold lies in layers for hours; in a fill a thermowell may hang in the air.
func (r *run) lies() bool {
	return r.kind() == Crash || r.kind() == Fill || r.aim.Regime != thermal.Holding
}

func (r *run) stratified() bool {
	spread, known := r.s.Sense.Wells.Spread(r.v.Probes.count())
	return known && spread > sense.Apart && !r.lies()
}

// vote leaves out the one of three thermowells that the other two contradict, from
// the next step on.
func (r *run) vote() {
	s := &r.s.Sense
	n := r.v.Probes.count()
	if n < sense.MostWells {
		s.Odd = sense.Odd{}
		return
	}
	was := s.Odd
	s.Odd = s.Odd.Step(&s.Wells, n, r.aimed && !r.lies() && r.s.Watch.Quiet == 0, r.elapsed)
	if s.Odd.Out != was.Out {
		kind, of, code := ProbeLost, s.Odd, CodeOdd
		if was.Out {
			kind, of, code = ProbeBack, was, CodeOddBack
		}
		id := r.v.Probes.wells()[of.Of-1]
		r.event(Event{Kind: kind, Probe: id, Reason: Reason{Code: code, Name: string(id), Numbers: []Number{num("beer", float64(s.Wells[of.Of-1].Celsius), InCelsius)}}})
	}
}

// explainOdd names the thermowell that is left out.
func (r *run) explainOdd() {
	if o := r.s.Sense.Odd; o.Out {
		r.reasons = append(r.reasons, Reason{Code: CodeOdd, Name: string(r.v.Probes.wells()[o.Of-1]), Numbers: []Number{num("beer", float64(r.s.Sense.Wells[o.Of-1].Celsius), InCelsius)}})
	}
}
