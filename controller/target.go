package controller

import (
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

// target says where the beer shall be now.
func (r *run) target() {
	r.aimed = false
	r.floor = r.coldest()
	switch r.s.Mode {
	case PreChill:
		r.hold(r.s.Hold.Target)
	case InBatch:
		r.stageTarget()
	case Cleaning:
		r.s.Hold.Left = max(0, r.s.Hold.Left-r.elapsed)
	case Idle:
	}
}

func (r *run) stageTarget() {
	st := r.stage()
	if st == nil {
		return
	}
	beer := r.s.Sense.Beer
	if !r.s.Stage.Entered && beer.Usable() {
		r.s.Stage.Entered, r.s.Stage.Entry = true, beer.Celsius
	}
	if r.s.Stage.Override {
		r.s.Stage.Ramping = false
		r.hold(r.s.Stage.Target)
		return
	}
	switch st.Target.Kind {
	case At:
		r.hold(st.Target.To)
	case Ramp:
		r.ramp(st, beer)
	case FreeRise:
		r.freeRise(st, beer)
	}
	if r.aim.CoolTo < nearIce {
		r.aim.Under = coldUnder
	}
	if st.Kind == Crash {
		r.aim.Regime, r.aim.Under = thermal.Ramping, crashUnder
		r.aim.HeatTo = r.within(st.Target.To).Plus(-crashHeat)
	}
}

// within keeps a target inside the vessel's limits, where going outside is an
// alarm, and above ice.
func (r *run) within(t units.Celsius) units.Celsius {
	c := min(max(t, r.v.Limits.Lowest), r.v.Limits.Highest)
	r.clamped = r.clamped || c != t
	if c < r.floor {
		r.iced, c = c, r.floor
	}
	return c
}

func (r *run) hold(t units.Celsius) {
	t = r.within(t)
	r.aimed = true
	r.aim = thermal.Aim{CoolTo: t, HeatTo: t, MayCool: true, MayHeat: true, Regime: thermal.Holding}
	r.out.Decision.HasTarget, r.out.Decision.Target = true, t
}

// ramp starts at the beer's present temperature, whatever the schedule before it
// wanted, and waits when the beer trails.
func (r *run) ramp(st *Stage, beer Thermometer) {
	if !r.s.Stage.Ramping {
		if !beer.Usable() {
			return
		}
		r.s.Stage.Ramping, r.s.Stage.RampAt = true, beer.Celsius
	}
	end := r.within(st.Target.To)
	rate := thermal.LedAt(r.s.Stage.RampAt, end, st.Target.Rate)
	if beer.Usable() {
		r.s.Stage.RampAt = thermal.Advance(r.s.Stage.RampAt, end, beer.Celsius, rate, r.elapsed)
	}
	at := r.s.Stage.RampAt
	r.hold(at)
	if at == end {
		return
	}
	r.aim.Regime = thermal.Ramping
	r.aim.Rate, r.aim.End = rate, end
	if end < at {
		r.aim.Rate = -r.aim.Rate
		r.aim.MayHeat = false
	} else {
		r.aim.CoolTo = max(at, end) // the yeast may be ahead of the ramp
	}
}
