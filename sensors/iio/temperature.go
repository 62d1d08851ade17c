package iio

import (
	"math"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
)

// What a thermometer at a fermenter can measure: semiconductors do -55 to 125 C
// (DS18B20 data sheet) and platinum and thermocouples more than any tank has.
const (
	coldest units.Celsius = -60
	hottest units.Celsius = 150
)

// slip is below what a reading cannot tell degrees from thousandths of them. The
// class has milli-degrees; one driver gave degrees until it was found (kernel,
// max30102: "Temperature should be in milli Celsius"), and then 150 C reads as
// 0.15 C.
const slip = hottest / 1000

// Thermometer is one temperature channel.
type Thermometer struct {
	device
	proven bool // one reading was not what a slip of the unit would give
}

// NewThermometer makes the thermometer, whether or not the device is there now.
// Its channel is temp, temp0, temp_ambient or temp_object. A nil read reads files.
func NewThermometer(m Match, read func(string) ([]byte, error)) (*Thermometer, error) {
	d, err := open(m, `^temp([0-9]+|_ambient|_object)?$`, "temp or temp0", read)
	if err != nil {
		return nil, err
	}
	return &Thermometer{device: d}, nil
}

// Read reads the channel. A first reading within 0.15 K of freezing is out of
// range, and every later one until one is not: it may be the beer in degrees.
// Nothing cools or heats meanwhile, so that a true 0 C soon leaves the band.
func (t *Thermometer) Read() (units.Celsius, controller.Fault) {
	milli, fault := t.value()
	if fault != controller.NoFault {
		return 0, fault
	}
	c := units.Celsius(milli / 1000)
	if inside := c >= coldest && c <= hottest; !inside { // which a NaN is not
		return 0, controller.OutOfRange
	}
	t.proven = t.proven || math.Abs(float64(c)) > float64(slip)
	if !t.proven {
		return 0, controller.OutOfRange
	}
	return c, controller.NoFault
}
