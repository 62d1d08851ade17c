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
	Silence  time.Duration        // without a gravity, until the hydrometer counts as lost; 0 = 6 h
	ByHand   bool                 // the hydrometer's readings are rare samples by hand
	Loss     units.WattsPerKelvin // of heat to its surroundings, as somebody measured it; 0 = not known
	InAir    bool                 // the surround is the air of a cabinet, not a jacket
	Coarse   bool                 // thermometer values are held from a coarse record: jumps are no fault
	Schedule *Schedule            // of the running batch; nil before the first start
	// Calibration makes gravities of what the hydrometer gives; none = they are.
	Calibration sense.Calibration
}

// With gives the vessel with another schedule.
func (v *Vessel) With(s *Schedule) *Vessel {
	w := *v
	w.Schedule = s
	return &w
}

// ProbeID names a probe by vessel and place: "fv1/thermowell".
type ProbeID string

// Quantity is what a reading measures.
type Quantity string

// The quantities that the core understands.
const (
	Temperature     Quantity = "temperature"
	SpecificGravity Quantity = "gravity"
	GaugePressure   Quantity = "pressure" // above that of the air
	// OwnNumber is what a hydrometer gives that knows no gravity, such as an angle:
	// the vessel's calibration makes one of it.
	OwnNumber Quantity = "own-number"
)

// Value is what was measured. A gravity, and a hydrometer's own number, may come
// with the temperature of its sample; Corrected says that the source has already
// allowed for it.
type Value struct {
	Quantity   Quantity
	Celsius    units.Celsius
	Gravity    units.Gravity
	Gauge      units.Pascals
	Number     float64 // the hydrometer's own
	HasCelsius bool
	Corrected  bool
}

// OfTemperature makes the value of a thermometer.
func OfTemperature(t units.Celsius) Value {
	return Value{Quantity: Temperature, Celsius: t, HasCelsius: true}
}

// OfPressure makes the value of a pressure transducer, above the air's.
func OfPressure(p units.Pascals) Value { return Value{Quantity: GaugePressure, Gauge: p} }

// OfGravity makes the value of a hydrometer that needs no correction.
func OfGravity(g units.Gravity) Value {
	return Value{Quantity: SpecificGravity, Gravity: g, Corrected: true}
}

// OfSample makes the value of a hydrometer read at the sample's temperature.
func OfSample(g units.Gravity, at units.Celsius) Value {
	return Value{Quantity: SpecificGravity, Gravity: g, Celsius: at, HasCelsius: true}
}

// OfNumber makes the value of a hydrometer that gives a number of its own, which
// nobody has corrected for temperature yet.
func OfNumber(n float64) Value { return Value{Quantity: OwnNumber, Number: n} }

// ofHydrometer tells whether a hydrometer can have given the value.
func (v Value) ofHydrometer() bool { return v.Quantity == SpecificGravity || v.Quantity == OwnNumber }

// Raw is the number that the hydrometer gave.
func (v Value) Raw() float64 {
	if v.Quantity == OwnNumber {
		return v.Number
	}
	return float64(v.Gravity)
}

// Fault says why a reading has no value. The empty fault is none.
type Fault = sense.Fault

// Faults of probes, as the edges report them.
const (
	NoFault            = sense.NoFault
	TimedOut           = sense.TimedOut     // no answer within the deadline
	BadChecksum  Fault = "checksum"         // the bus delivered damaged bytes
	PowerOnValue Fault = "power-on-value"   // the probe lost power: no conversion happened
	EmptyRead    Fault = "empty"            // the kernel gave nothing and no error
	Unplugged    Fault = "unplugged"        // no such device
	BusError     Fault = "bus"              // any other error of the bus
	Unreadable   Fault = "unreadable"       // text that is not a number
	OutOfRange         = sense.OutOfRange   // beyond what the sensor can measure
	MovedAway          = sense.Moved        // found by the core alone: no beer goes there so fast
	Contradicted       = sense.Contradicted // likewise: two others in the same beer agree on another temperature
)

// Faults lists every fault, so that counters exist before the first one.
func Faults() []Fault {
	return []Fault{TimedOut, BadChecksum, PowerOnValue, EmptyRead, Unplugged, BusError, Unreadable, OutOfRange}
}

// Reading is one raw measurement. A failed one is still a Reading: it carries
// its Fault. Age is counted time before this step; wall stamps live in the
// record only.
type Reading struct {
	Probe ProbeID
	Age   time.Duration
	Value Value
	Fault Fault
}
