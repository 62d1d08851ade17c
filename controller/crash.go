package controller

import "example.org/restpoint/controller/units"

// Nothing but terminal gravity or a named person lets a beer into a crash, and no
// tank is cooled before it is known that it will not suck air or be sucked in.

// crashHeat is how far a crashing beer must be below its end before heat may
// help: never against the undershoot of its own cooling.
const crashHeat units.Kelvins = 1

// A cold beer is brought no further below its target than this, whatever its
// swing: ice is near. A crash stops a little sooner still: how far a vessel coasts
// when it is cold is only learnt there.
const (
	coldUnder  units.Kelvins = 0.1
	crashUnder units.Kelvins = 0.03
	nearIce    units.Celsius = 4
)

// deepCool is how far an order may cool a batch whose tank is not armed: the
// gas above the beer shrinks by a third of a per cent a kelvin, and the cold beer
// takes more of it.
const deepCool units.Kelvins = 5

// mayCrash tells whether the tank may be cooled.
func (r *run) mayCrash() bool { return r.v.SuckBack == CO2Supply || r.s.Batch.Armed }

// earnedCrash tells whether a stage that is over may end in a crash. One that
// waits for a person to arm the tank says so once.
func (r *run) earnedCrash(st, next *Stage) bool {
	if !st.Until.MustBe(Terminal, Confirmed) {
		return false
	}
	if !r.mayCrash() && !r.s.Stage.Waits {
		r.s.Stage.Waits = true
		r.event(Event{Kind: StageWaits, Reason: Reason{Code: CodeNeedsArming, Name: next.Name}})
	}
	return r.mayCrash()
}

// mayEnter tells whether an order lets the beer into a stage: into a crash only
// for a named person, and only in a tank that may be cooled.
func (r *run) mayEnter(st *Stage, who string) (Reason, bool) {
	switch {
	case st.Kind != Crash:
	case who == "":
		return refused(CodeNobody)
	case !r.mayCrash():
		return Reason{Code: CodeNeedsArming, Name: st.Name}, false
	}
	return Reason{}, true
}
