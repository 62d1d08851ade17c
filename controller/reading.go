package controller

import (
	"time"

	"example.org/restpoint/controller/sense"
	"example.org/restpoint/controller/units"
)

// ProbeID names a probe by vessel and place: "fv1/thermowell".
type ProbeID string

// Quantity is what a reading measures.
type Quantity string

// The quantities that the core understands.
const (
	Temperature     Quantity = "temperature"
	SpecificGravity Quantity = "gravity"
	GaugePressure   Quantity = "pressure" // above that of the air
)

// Value is what was measured. A gravity may come with the temperature of its
// sample; Corrected says that the source has already allowed for it.
type Value struct {
	Quantity   Quantity
	Celsius    units.Celsius
	Gravity    units.Gravity
	Gauge      units.Pascals
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

// Fault says why a reading has no value. The empty fault is none.
type Fault = sense.Fault

// Faults of probes, as the edges report them.
const (
	NoFault            = sense.NoFault
	TimedOut           = sense.TimedOut   // no answer within the deadline
	BadChecksum  Fault = "checksum"       // the bus delivered damaged bytes
	PowerOnValue Fault = "power-on-value" // the probe lost power: no conversion happened
	EmptyRead    Fault = "empty"          // the kernel gave nothing and no error
	Unplugged    Fault = "unplugged"      // no such device
	BusError     Fault = "bus"            // any other error of the bus
	Unreadable   Fault = "unreadable"     // text that is not a number
	OutOfRange         = sense.OutOfRange // beyond what the sensor can measure
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
