package controller

import (
	"strings"
	"time"

	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

// thermostat turns the target into a wish.
func (r *run) thermostat() {
	beer := r.s.Sense.Beer
	if !r.aimed || !beer.Usable() {
		r.s.Thermal = r.s.Thermal.Blind()
		return
	}
	if r.s.Sense.Backup != NoBackup {
		r.aim.CoolTo = r.aim.CoolTo.Plus(backupBand)
		r.aim.HeatTo = r.aim.HeatTo.Plus(-backupBand)
	}
	r.s.Thermal = r.s.Thermal.Step(r.aim, beer.Celsius, r.s.Guard.Cool.On, r.s.Guard.Heat.On, r.elapsed)
	r.wish.Heat = r.s.Thermal.Demand == thermal.Heating
	r.wish.Cool = r.s.Thermal.Demand == thermal.Cooling
}

const (
	heatProof               = time.Hour // of heat must not leave the beer colder than before
	coolProof               = 2 * time.Hour
	wrongWay  units.Kelvins = 0.25
)

// guard lets through what may be done. Doubt means OFF.
func (r *run) guard() {
	beer := r.s.Sense.Beer
	r.watchRuns(beer)
	w := &r.wish.Limits
	switch r.s.Mode {
	case Idle, Cleaning:
		w.ForbidHeat, w.StopCool = true, true
	case InBatch, PreChill:
	}
	if !beer.Usable() {
		w.ForbidHeat, w.ForbidCool = true, true
	} else {
		w.ForbidHeat = w.ForbidHeat || beer.Celsius >= r.v.Limits.Highest
		w.StopCool = w.StopCool || beer.Celsius <= r.floor
	}
	if r.late || r.s.Runaway.HeatLocked || r.dry() || r.s.Sense.Backup == ByHydrometer {
		w.ForbidHeat = true
	}
	if r.kind() == Crash && r.vacuum() {
		w.StopCool = true // each kelvin more pulls harder
	}
	if r.in.RelayFault {
		w.ForbidHeat, w.StopCool = true, true
	}
	r.verdict = r.s.Guard.Decide(r.v.Heat, r.v.Cool, r.wish)
	r.out.Outputs = Outputs{Heat: r.verdict.Heat, Cool: r.verdict.Cool}
	r.zones(beer)
}

// zones says by which parts of the vessel it is cooled.
func (r *run) zones(beer Thermometer) {
	if len(r.v.Zones) == 0 {
		r.s.Zones = 0
		return
	}
	was := r.s.Zones
	if beer.Usable() || was == 0 {
		r.s.Zones = was.Choose(r.v.Zones, beer.Celsius)
	}
	r.out.Zones = r.s.Zones
	if was != 0 && was != r.s.Zones {
		r.event(Event{Kind: ZoneChanged, Reason: Reason{Code: CodeZone, Name: r.zoneNames(), Numbers: []Number{num("beer", float64(beer.Celsius), InCelsius)}}})
	}
}

func (r *run) zoneNames() string {
	var names []string
	for i, z := range r.v.Zones {
		if r.s.Zones.Has(i) {
			names = append(names, z.Name)
		}
	}
	return strings.Join(names, " and ")
}

// watchRuns sees to it that a relay that is on moves the beer the right way. A
// heater that does not is locked out until a person acknowledges: the probe may
// be out of its well.
func (r *run) watchRuns(beer Thermometer) {
	if !beer.Usable() {
		return
	}
	w := &r.s.Runaway
	if !r.s.Guard.Heat.On {
		w.HeatFrom = beer.Celsius
	} else if r.s.Guard.Heat.For >= heatProof && beer.Celsius < w.HeatFrom.Plus(-wrongWay) {
		w.HeatLocked = true
	}
	if !r.s.Guard.Cool.On {
		w.CoolFrom = beer.Celsius
	}
	w.CoolWeak = r.s.Guard.Cool.On && r.s.Guard.Cool.For >= coolProof && beer.Celsius > w.CoolFrom.Plus(wrongWay)
}

// explainRelays says why the relays are as they are.
func (r *run) explainRelays() Reason {
	v, beer := r.verdict, r.s.Sense.Beer
	switch {
	case r.s.Mode == Idle:
		return Reason{Code: CodeIdle}
	case r.s.Mode == Cleaning:
		return why(CodeCleaningLock, num("left", r.s.Hold.Left.Seconds(), InTime))
	case !beer.Known:
		return Reason{Code: CodeNoBeer}
	case !beer.Usable():
		return Reason{Code: CodeBeerLost, Name: string(beer.Fault), Numbers: []Number{num("age", beer.Age.Seconds(), InTime)}}
	case !r.aimed:
		return Reason{Code: CodeNoTarget}
	case r.wish.Heat && !v.Heat && r.v.Heat.Fitted && r.dry():
		return Reason{Code: CodeDry}
	case r.wish.Heat && !v.Heat:
		return r.held(CodeHeatHeld, v.HeatBlock, v.HeatWait)
	case r.wish.Cool && !v.Cool:
		return r.held(CodeCoolHeld, v.CoolBlock, v.CoolWait)
	case v.Cool && !r.wish.Cool:
		return r.held(CodeCoolRuns, v.CoolBlock, v.CoolWait)
	case v.Heat && !r.wish.Heat:
		return r.held(CodeHeatRuns, v.HeatBlock, v.HeatWait)
	}
	code := CodeInBand
	aim := r.aim.CoolTo
	switch {
	case v.Heat:
		code, aim = CodeHeats, r.aim.HeatTo
	case v.Cool:
		code = CodeCools
	case beer.Celsius < aim.Plus(-thermal.HeatBand) || beer.Celsius > aim.Plus(thermal.CoolBand):
		code = CodeLetBe // a ramp or a free rise, or the last run still works
	}
	return why(code, num("beer", float64(beer.Celsius), InCelsius), num("target", float64(aim), InCelsius))
}

func (r *run) held(c Code, b guard.Block, wait time.Duration) Reason {
	return Reason{Code: c, Name: string(b), Numbers: []Number{num("wait", wait.Seconds(), InTime)}}
}
