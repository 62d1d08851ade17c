// Package sensors brings the readings of probes in, raw. It refuses to judge
// them: a value that no beer can have is delivered as it came, and a read that
// failed is delivered as its fault.
package sensors

import (
	"fmt"
	"math"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors/file"
	"example.org/restpoint/sensors/hwmon"
	"example.org/restpoint/sensors/w1"
)

// Sensor is a probe that can be read, whatever it measures.
type Sensor interface {
	Read() (controller.Value, controller.Fault) // may take a second, or hang
	String() string                             // names it for people
	Bus() string                                // probes of one bus are never read at the same time
}

// Thermometer is what a driver of a thermometer offers.
type Thermometer interface {
	Read() (units.Celsius, controller.Fault)
	String() string
	Bus() string
}

// Kind is a way to reach a probe.
type Kind string

// The kinds of probes.
const (
	OneWire Kind = "one-wire"
	Hwmon   Kind = "hwmon"
	File    Kind = "file"
)

// Kinds lists every kind.
func Kinds() []Kind { return []Kind{OneWire, Hwmon, File} }

// ReadFile reads a whole small file.
type ReadFile func(path string) ([]byte, error)

// Spec says what a probe is. Offset is added to every temperature.
type Spec struct {
	Probe  controller.ProbeID
	Kind   Kind
	ID     string      // one-wire
	Hwmon  hwmon.Match // hwmon
	Path   string      // file
	Root   string      // one-wire: another folder than the kernel's
	Offset units.Kelvins
	Read   ReadFile // nil = files; for tests
}

// Open makes the sensor of a spec. It may be unplugged: that is a fault of its
// readings, not an error here.
func Open(s Spec) (Sensor, error) {
	if math.IsNaN(float64(s.Offset)) || math.IsInf(float64(s.Offset), 0) {
		return nil, fmt.Errorf("probe %s: the offset is not a number", s.Probe)
	}
	t, err := thermometer(s)
	if err != nil {
		return nil, fmt.Errorf("probe %s: %w", s.Probe, err)
	}
	return degrees{t, s.Offset}, nil
}

func thermometer(s Spec) (Thermometer, error) {
	switch s.Kind {
	case OneWire:
		return w1.New(s.Root, s.ID, s.Read)
	case Hwmon:
		return hwmon.New(s.Hwmon, s.Read)
	case File:
		return file.New(s.Path, s.Read)
	}
	return nil, fmt.Errorf("there is no kind %q of probe; kinds are %v", s.Kind, Kinds())
}

// degrees is a thermometer as a sensor, with the offset found by calibration.
type degrees struct {
	Thermometer
	offset units.Kelvins
}

// Read reads the thermometer and adds the offset to a value, never to a fault.
func (d degrees) Read() (controller.Value, controller.Fault) {
	t, fault := d.Thermometer.Read()
	if fault != controller.NoFault {
		return controller.Value{}, fault
	}
	return controller.OfTemperature(t.Plus(d.offset)), controller.NoFault
}
