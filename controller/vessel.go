package controller

import (
	"time"

	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/sense"
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

// Probes names the probes that a vessel has; an empty name is none.
type Probes struct {
	Thermowell ProbeID                      // that control goes by
	More       [sense.MostWells - 1]ProbeID // further thermowells
	Mean       bool                         // control goes by the mean of all thermowells
	Surround   ProbeID                      // air or jacket
	Ambient    ProbeID
	Hydrometer ProbeID
	Pressure   ProbeID // of the gas above the beer
}

// wells lists the thermowells; those after count are empty.
func (p *Probes) wells() [sense.MostWells]ProbeID {
	return [sense.MostWells]ProbeID{p.Thermowell, p.More[0], p.More[1]}
}

// count is how many thermowells there are.
func (p *Probes) count() int {
	n := 1
	for n < sense.MostWells && p.More[n-1] != "" {
		n++
	}
	return n
}

// All lists every probe that a vessel has.
func (p *Probes) All() []ProbeID {
	var list []ProbeID
	for _, id := range []ProbeID{p.Thermowell, p.More[0], p.More[1], p.Surround, p.Ambient, p.Hydrometer, p.Pressure} {
		if id != "" {
			list = append(list, id)
		}
	}
	return list
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
	Zones    []thermal.Zone // cooling zones, each with a valve of its own; nil = one relay cools it all
	Pressure PressureLimits
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
