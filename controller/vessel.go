package controller

import (
	"time"

	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/units"
)

// Probes names the probes that a vessel has; an empty name is none.
type Probes struct {
	Thermowell ProbeID
	Surround   ProbeID // air or jacket
	Ambient    ProbeID
	Hydrometer ProbeID
}

// Limits are what the vessel and its contents can stand.
type Limits struct{ Lowest, Highest units.Celsius }

// SuckBack says what keeps air out of the tank and the tank from collapsing
// when cooling shrinks the gas above the beer.
type SuckBack string

// Protections against vacuum. Only a gas supply lets a crash begin unasked: a
// breaker saves the tank, not the beer.
const (
	CO2Supply     SuckBack = "co2-supply"
	VacuumBreaker SuckBack = "vacuum-breaker"
	NoProtection  SuckBack = "none"
)

// Vessel is all that is fixed about one fermenter while the program runs.
type Vessel struct {
	Name     string
	Step     time.Duration // nominal time between steps
	Volume   units.Litres
	Probes   Probes
	Heat     guard.Relay
	Cool     guard.Relay
	Limits   Limits
	SuckBack SuckBack
	Silence  time.Duration // without a gravity, until the hydrometer counts as lost; 0 = 6 h
	ByHand   bool          // the hydrometer's readings are rare samples by hand
	Coarse   bool          // thermometer values are held from a coarse record: jumps are no fault
	Schedule *Schedule     // of the running batch; nil before the first start
}

// With gives the vessel with another schedule.
func (v *Vessel) With(s *Schedule) *Vessel {
	w := *v
	w.Schedule = s
	return &w
}
