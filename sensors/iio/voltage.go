package iio

import (
	"math"

	"example.org/restpoint/controller"
	"example.org/restpoint/sensors/electric"
)

// Voltage is one voltage channel of a converter.
type Voltage struct{ device }

// NewVoltage makes the channel, whether or not the device is there now. It is
// voltage0, or voltage0-voltage1 for the difference of two. A nil read reads
// files.
func NewVoltage(m Match, read func(string) ([]byte, error)) (*Voltage, error) {
	d, err := open(m, `^voltage[0-9]+(-voltage[0-9]+)?$`, "voltage0", read)
	if err != nil {
		return nil, err
	}
	return &Voltage{device: d}, nil
}

// Volts reads the channel. A unit that slipped cannot be told here: it shows as a
// short of what hangs on the channel.
func (v *Voltage) Volts() (electric.Volts, controller.Fault) {
	milli, fault := v.value()
	if fault != controller.NoFault {
		return 0, fault
	}
	if math.IsInf(milli, 0) || math.IsNaN(milli) {
		return 0, controller.OutOfRange
	}
	return electric.Volts(milli / 1000), controller.NoFault
}
