// Package sensors brings the readings of probes in, raw. It refuses to judge
// them: a value that no beer can have is delivered as it came, and a read that
// failed is delivered as its fault.
package sensors

import (
	"fmt"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors/file"
	"example.org/restpoint/sensors/hwmon"
	"example.org/restpoint/sensors/iio"
	"example.org/restpoint/sensors/port"
	"example.org/restpoint/sensors/pressure"
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

// The kinds of probes. All but Pressure are thermometers.
const (
	OneWire  Kind = "one-wire"
	Hwmon    Kind = "hwmon"
	File     Kind = "file"
	IIO      Kind = "iio"
	RTD      Kind = "rtd"
	NTC      Kind = "ntc"
	Pressure Kind = "pressure"
)

// Kinds lists every kind.
func Kinds() []Kind { return []Kind{OneWire, Hwmon, File, IIO, RTD, NTC, Pressure} }

// ReadFile reads a whole small file.
type ReadFile func(path string) ([]byte, error)

// Spec says what a probe is. Which fields count follows from the kind; the
// calibration is that of a thermometer.
type Spec struct {
	Probe      controller.ProbeID
	Kind       Kind
	ID         string      // one-wire
	Hwmon      hwmon.Match // hwmon
	Path       string      // file
	IIO        iio.Match   // iio
	Platinum   Platinum    // rtd
	Thermistor Thermistor  // ntc
	Transducer Transducer  // pressure
	Root       string      // one-wire, iio and converters of the kernel: another folder than the kernel's

	Calibration Calibration

	Read    ReadFile     // nil = files; for tests
	OpenI2C port.OpenI2C // nil = the board's; for tests
	OpenSPI port.OpenSPI // nil = the board's; for tests
}

// Open makes the sensor of a spec. It may be unplugged: that is a fault of its
// readings, not an error here.
func Open(s Spec) (Sensor, error) {
	sensor, err := open(s)
	if err != nil {
		return nil, fmt.Errorf("probe %s: %w", s.Probe, err)
	}
	return sensor, nil
}

func open(s Spec) (Sensor, error) {
	if err := s.Calibration.Check(); err != nil {
		return nil, err
	}
	if s.Kind == Pressure {
		g, err := s.gauge()
		return pascals{g}, err
	}
	t, err := s.thermometer()
	return degrees{t, s.Calibration}, err
}

func (s Spec) thermometer() (Thermometer, error) {
	switch s.Kind {
	case OneWire:
		return w1.New(s.Root, s.ID, s.Read)
	case Hwmon:
		return hwmon.New(s.Hwmon, s.Read)
	case File:
		return file.New(s.Path, s.Read)
	case IIO:
		m := s.IIO
		m.Root = s.Root
		return iio.NewThermometer(m, s.Read)
	case RTD:
		return s.platinum()
	case NTC:
		return s.thermistor()
	case Pressure: // no thermometer
	}
	return nil, fmt.Errorf("there is no kind %q of probe; kinds are %v", s.Kind, Kinds())
}

// degrees is a thermometer as a sensor, with its calibration.
type degrees struct {
	Thermometer
	calibration Calibration
}

// Read reads the thermometer and corrects a value, never a fault.
func (d degrees) Read() (controller.Value, controller.Fault) {
	t, fault := d.Thermometer.Read()
	if fault != controller.NoFault {
		return controller.Value{}, fault
	}
	return controller.OfTemperature(d.calibration.Apply(t)), controller.NoFault
}

// pascals is a pressure transducer as a sensor.
type pascals struct{ *pressure.Gauge }

// Read reads the transducer.
func (p pascals) Read() (controller.Value, controller.Fault) {
	v, fault := p.Gauge.Read()
	if fault != controller.NoFault {
		return controller.Value{}, fault
	}
	return controller.OfPressure(v), controller.NoFault
}
