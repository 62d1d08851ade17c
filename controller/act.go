package controller

import (
	"strings"
	"time"

	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/controller/watch"
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
	r.aim.CoolRun, r.aim.HeatRun = r.v.Cool.MinOn, r.v.Heat.MinOn
	r.aim.Sparing = r.v.Cool.Profile == guard.Compressor
	// What is not there is called for only where it is missed.
	r.aim.MayCool = r.aim.MayCool && (r.v.Cool.Fitted || beer.Celsius >= r.aim.CoolTo.Plus(thermal.CoolBand))
	r.aim.MayHeat = r.aim.MayHeat && (r.v.Heat.Fitted || beer.Celsius <= r.aim.HeatTo.Plus(-thermal.HeatBand))
	r.aim.Both = r.v.Cool.Fitted && r.v.Heat.Fitted
	r.s.Thermal.Step(&r.aim, beer.Celsius, r.s.Guard.Cool.On, r.s.Guard.Heat.On, r.elapsed)
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
	r.watchContacts()
	r.frost(beer)
	r.bound(beer)
	w := &r.wish.Limits
	switch r.s.Mode {
	case Idle, Cleaning:
		w.ForbidHeat, w.StopCool = true, true
	case InBatch, PreChill:
	}
	if !beer.Usable() {
		w.ForbidHeat, w.ForbidCool = true, true
		r.blind()
	} else {
		w.ForbidHeat = w.ForbidHeat || beer.Celsius >= r.v.Limits.Highest
		w.StopCool = w.StopCool || beer.Celsius <= r.floor
		r.s.Runaway.Blind, r.s.Runaway.Credit = 0, 0
	}
	found := &r.s.Runaway
	if r.late || r.dry() || r.s.Sense.Backup == ByHydrometer || found.HeatLocked || found.HeatTripped || found.HeatStuck {
		w.ForbidHeat = true
	}
	w.StopCool = w.StopCool || found.CoolLocked || found.CoolTripped
	w.ForbidCool = w.ForbidCool || found.CoolStuck
	if !r.s.Watch.Cool.Falls(r.s.Pace.Of, stillFalls) {
		w.LongestCool = longestCool
	}
	if r.kind() == Crash && r.vacuum() {
		w.StopCool = true // each kelvin more pulls harder
	}
	if r.in.RelayFault {
		w.ForbidHeat, w.StopCool = true, true
	}
	r.verdict = r.s.Guard.Decide(r.v.Heat, r.v.Cool, r.wish)
	r.out.Outputs = Outputs{Heat: r.verdict.Heat, Cool: r.verdict.Cool}
	found.CoolLong = r.verdict.CoolBlock == guard.LongestRun && (found.CoolLong || r.s.Guard.Cool.On)
	r.zones(beer)
}

// A held beer does not need cooling for half a day on end: a coil is frozen, the
// glycol is gone, the probe stands still (engineering judgement). A beer that is led
// down may, while it falls by a share of what is known of it.
const (
	longestCool = 12 * time.Hour
	stillFalls  = 0.3
)

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
	g := &r.s.Guard
	known := beer.Usable() && r.kind() != Fill
	r.s.Watch.Step(&watch.Input{
		Learnt: r.learnt(known),
		Beer:   beer.Celsius, Known: known, Heat: r.in.Actual.Heat, Cool: r.in.Actual.Cool,
		Elapsed: r.elapsed, Age: r.s.Age, HeatSwitches: g.Heat.Switches, CoolSwitches: g.Cool.Switches,
	})
	if !beer.Usable() {
		return
	}
	w, seen := &r.s.Runaway, &r.s.Watch
	if !g.Heat.On {
		w.HeatFrom = beer.Celsius
	} else if g.Heat.For >= heatProof && beer.Celsius < w.HeatFrom.Plus(-wrongWay) {
		w.HeatLocked = true
	}
	if !g.Cool.On {
		w.CoolFrom = beer.Celsius
	}
	w.CoolWeak = g.Cool.On && g.Cool.For >= coolProof && beer.Celsius > w.CoolFrom.Plus(wrongWay)
	w.HeatLocked = w.HeatLocked || seen.Heat.Wrong(+1)
	w.CoolLocked = w.CoolLocked || seen.Cool.Wrong(-1)
	if beer.Celsius != w.StuckAt {
		w.HeatStuck, w.CoolStuck = false, false
	}
	w.HeatStuck, w.CoolStuck = w.HeatStuck || seen.Heat.Stuck(), w.CoolStuck || seen.Cool.Stuck()
	if w.HeatStuck || w.CoolStuck {
		w.StuckAt = beer.Celsius
	}
	w.HeatTripped = w.HeatTripped || beer.Celsius > r.v.Limits.Highest && lately(g.Heat)
	w.CoolTripped = w.CoolTripped || (beer.Celsius < r.v.Limits.Lowest || r.freezing()) && lately(g.Cool)
}

// heatKnown is for how long heat must have worked before its rate is a measure.
const heatKnown = 2 * time.Hour

// learnt is what is known of the heater where a run of it begins.
func (r *run) learnt(known bool) watch.Learnt {
	if !known || !r.in.Actual.Heat || r.s.Watch.Lift.On {
		return watch.Learnt{}
	}
	l := r.s.Thermal.Response.Rates()
	if !l.Known || l.HeatLearnt < heatKnown {
		return watch.Learnt{}
	}
	return watch.Learnt{Rest: l.Rest, Rate: l.Heat, Drift: l.Drift, Lag: l.HeatLag}
}

// itsWork is for how long after a run the beer's temperature is that relay's work.
const itsWork = time.Hour

// lately tells whether a relay is on or was a short while ago.
func lately(l guard.Line) bool { return l.On || (l.Worked || l.Before) && l.For < itsWork }

// closedFor is how long a contact may seem closed after it was commanded off: longer
// than any relay takes, and than the steps of its measurement.
const closedFor = 5 * time.Second

// watchContacts looks for a contact that is measured closed while it is commanded off.
func (r *run) watchContacts() {
	c := &r.s.Runaway.Closed
	for i, is := range [2]struct {
		on bool
		at Contact
	}{{r.in.Actual.Heat, r.in.Contacts.Heat}, {r.in.Actual.Cool, r.in.Contacts.Cool}} {
		switch {
		case is.on || is.at == Open:
			c[i] = 0
		case is.at == Closed:
			c[i] = min(c[i]+r.elapsed, units.Day)
		}
	}
}

// welded tells whether a contact seems to stay closed: measured so, or the beer goes
// on as if it were.
func (r *run) welded() bool {
	c := r.s.Runaway.Closed
	return c[0] > closedFor || c[1] > closedFor || r.s.Watch.HeatTrace.Weld || r.s.Watch.CoolTrace.Weld
}

const (
	// blindFor is how long a fermenting beer is cooled without any thermometer. After
	// that nobody knows any more what it needs.
	blindFor   = 6 * time.Hour
	blindShare = 0.5              // of the last day's mean: too warm is better than ice
	blindRun   = 5 * time.Minute  // the least run, for the sake of any relay
	mostCredit = 30 * time.Minute // unused share is not saved up beyond
)

// blind cools a fermenting beer whose probe is lost, by half of what the last day
// took, for some hours. It warms by kelvins a day with no cooling. Heat is never on.
func (r *run) blind() {
	w := &r.s.Runaway
	mean, known := r.s.Watch.Duty.Mean()
	if r.kind() != Primary || !r.s.Batch.Pitched || !r.s.Sense.Beer.Failed || !known || w.Blind >= blindFor || r.lastBelieved() <= floatAbove {
		return
	}
	w.Blind += r.elapsed
	w.Credit = min(w.Credit+time.Duration(float64(r.elapsed)*mean*blindShare), mostCredit)
	if r.s.Guard.Cool.On {
		w.Credit = max(w.Credit-r.elapsed, -mostCredit)
	}
	r.wish.Heat = false
	r.wish.Cool = w.Credit >= max(r.v.Cool.MinOn, blindRun) || r.s.Guard.Cool.On && w.Credit > 0
	r.wish.ForbidCool = false
	r.blindly = true
}

// lastBelieved is the beer's temperature before its probe was lost.
func (r *run) lastBelieved() units.Celsius {
	t := r.s.Sense.Wells[0]
	if t.Motion.Away {
		return t.Motion.Home
	}
	return t.Celsius
}

// explainRelays says why the relays are as they are.
func (r *run) explainRelays() Reason {
	v, beer := r.verdict, r.s.Sense.Beer
	switch {
	case r.s.Mode == Idle:
		return Reason{Code: CodeIdle}
	case r.s.Mode == Cleaning:
		return r.why(CodeCleaningLock, num("left", r.s.Hold.Left.Seconds(), InTime))
	case !beer.Known:
		return Reason{Code: CodeNoBeer}
	case r.blindly:
		return r.why(CodeBlind, num("left", (blindFor-r.s.Runaway.Blind).Seconds(), InTime))
	case !beer.Usable():
		return Reason{Code: CodeBeerLost, Name: string(beer.Fault), Numbers: []Number{num("age", beer.Age.Seconds(), InTime)}}
	case !r.aimed:
		return Reason{Code: CodeNoTarget}
	case r.s.Runaway.Frost && v.Heat:
		return r.why(CodeFrost, num("beer", float64(beer.Celsius), InCelsius))
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
	return r.why(code, num("beer", float64(beer.Celsius), InCelsius), num("target", float64(aim), InCelsius))
}

func (r *run) held(c Code, b guard.Block, wait time.Duration) Reason {
	return Reason{Code: c, Name: string(b), Numbers: []Number{num("wait", wait.Seconds(), InTime)}}
}
