package controller

import (
	"time"

	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/gravity"
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
	add(alarms.HighLimit, beer.Usable() && r.s.Mode != Cleaning && beer.Celsius > r.v.Limits.Highest)
	add(alarms.LowLimit, beer.Usable() && r.s.Mode != Cleaning && beer.Celsius < r.v.Limits.Lowest)
	add(alarms.Freezing, r.freezing())
	add(alarms.HeatIneffective, r.s.Runaway.HeatLocked)
	add(alarms.CoolIneffective, r.s.Runaway.CoolWeak)
	add(alarms.StateLost, r.s.Lost)
	add(alarms.LateLoop, r.late)
	add(alarms.RelayFault, r.in.RelayFault)
	add(alarms.RecordFailing, r.in.RecordFault)
	add(alarms.OutsideLimits, r.clamped)
	add(alarms.CleaningTooLong, r.s.Mode == Cleaning && r.s.Hold.Left == 0)
	if r.s.Mode != InBatch {
		return list
	}
	if r.aimed && beer.Usable() {
		meant := r.s.Stage.In <= settling || r.aim.Regime == thermal.Ramping
		if beer.Celsius.Minus(r.aim.CoolTo) > deviation {
			list = append(list, alarms.Cause{ID: alarms.BeerTooWarm, Suppressed: meant})
		}
		if beer.Celsius.Minus(r.meantAtLeast()) < -deviation {
			list = append(list, alarms.Cause{ID: alarms.BeerTooCold, Suppressed: meant})
		}
	}
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

// meantAtLeast is below which the beer is not meant to be. In a free rise the cap is
// only where it may go: it began lower, and shall not fall from there.
func (r *run) meantAtLeast() units.Celsius {
	if st := r.stage(); st != nil && st.Target.Kind == FreeRise && !r.s.Stage.Override && r.s.Stage.Entered {
		return min(r.aim.HeatTo, r.s.Stage.Entry)
	}
	return r.aim.HeatTo
}

// layers is how far apart the thermowells of a quiet beer may be. A working one
// mixes itself; in a crash the cold lies in layers for hours.
const layers units.Kelvins = 2

func (r *run) stratified() bool {
	spread, known := r.s.Sense.Wells.Spread(r.v.Probes.count())
	return known && spread > layers && r.kind() != Crash && r.aim.Regime == thermal.Holding
}
