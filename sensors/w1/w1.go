// Package w1 reads 1-Wire thermometers through the kernel's own driver. It
// refuses to take a value that the kernel marks as none: an empty file, the
// 85 C that the chip holds after losing power, the 127.94 C of too little
// power, and the zero of a bus that is stuck low. What the beer can be is not
// its business.
package w1

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors/internal/sysfs"
)

// Root is where the kernel lists the devices of all its 1-Wire buses.
const Root = "/sys/bus/w1/devices"

// family is how the ids of the thermometers begin that are read here: those of the
// DS18B20 (kernel, w1_therm).
const family = "28-"

// What the sensor can measure, in milli-degrees (DS18B20 data sheet, table 1).
const (
	coldest sysfs.Milli = -55_000
	hottest sysfs.Milli = 125_000
)

// Values that are none, in milli-degrees.
const (
	powerOn  sysfs.Milli = 85_000  // register 0x0550, before the first conversion (data sheet)
	starved  sysfs.Milli = 127_900 // register 0x07FF is 127.9375: too little power (kernel, w1_therm features bit 0)
	starved2 sysfs.Milli = 128_000
)

// Thermometer is one 1-Wire thermometer.
type Thermometer struct {
	dir  string
	id   string
	read sysfs.ReadFile
}

// New makes the thermometer with an id such as "28-000001318252", whether or
// not it is plugged in now. An empty root is the kernel's; a nil read reads files.
func New(root, id string, read func(string) ([]byte, error)) (*Thermometer, error) {
	if !regexp.MustCompile(`^28-[0-9a-f]{12}$`).MatchString(id) {
		return nil, fmt.Errorf("%q is not the id of a 1-Wire thermometer, such as 28-000001318252", id)
	}
	if root == "" {
		root = Root
	}
	if read == nil {
		read = sysfs.Read
	}
	return &Thermometer{dir: filepath.Join(root, id), id: id, read: read}, nil
}

// String names the thermometer.
func (t *Thermometer) String() string { return "1-wire " + t.id }

// Bus names what cannot be read twice at a time. Where the kernel has several
// masters they are read one after another all the same: a read takes 0.8 s.
func (t *Thermometer) Bus() string { return "w1" }

// Read takes one conversion, about 0.8 s. The hwmon file comes first because it
// alone tells its errors; w1_slave then shows the bytes behind a doubtful value.
func (t *Thermometer) Read() (units.Celsius, controller.Fault) {
	input, ok := t.hwmon()
	if !ok {
		return t.slave()
	}
	data, err := t.read(input)
	switch {
	case errors.Is(err, fs.ErrNotExist): // renumbered since we looked, or gone
		return t.slave()
	case errors.Is(err, syscall.EIO):
		return 0, t.whyEIO()
	case err != nil:
		return 0, sysfs.FaultOf(err)
	}
	m, fault := sysfs.Parse(data)
	if fault != controller.NoFault {
		return 0, fault
	}
	switch m {
	case powerOn, 0:
		if fault := t.confirm(m); fault != controller.NoFault {
			return 0, fault
		}
	}
	return exact(m)
}

// hwmon finds the hwmon file by way of the device at every read, because the
// number changes when a probe comes back.
func (t *Thermometer) hwmon() (string, bool) {
	entries, err := os.ReadDir(filepath.Join(t.dir, "hwmon"))
	if err != nil {
		return "", false
	}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), "hwmon") {
			return filepath.Join(t.dir, "hwmon", e.Name(), "temp1_input"), true
		}
	}
	return "", false
}

// slave reads the value from w1_slave where there is nothing better.
func (t *Thermometer) slave() (units.Celsius, controller.Fault) {
	e := t.evidence()
	if e.fault == controller.NoFault {
		e.fault = e.noReading()
	}
	if e.fault != controller.NoFault {
		return 0, e.fault
	}
	return exact(e.milli)
}

// whyEIO tells a damaged answer from any other error of the bus. The kernel
// leaves w1_slave empty when five tries brought no valid checksum.
func (t *Thermometer) whyEIO() controller.Fault {
	fault := t.evidence().fault
	if fault == controller.BadChecksum || fault == controller.EmptyRead {
		return controller.BadChecksum
	}
	if fault == controller.Unplugged {
		return controller.Unplugged
	}
	return controller.BusError
}

// confirm looks at the bytes behind a value that can also mean "no reading".
// Looking starts another conversion, so its value is evidence and no more.
func (t *Thermometer) confirm(m sysfs.Milli) controller.Fault {
	e := t.evidence()
	switch {
	case e.fault != controller.NoFault && m == powerOn:
		return controller.PowerOnValue
	case e.fault != controller.NoFault:
		return e.fault
	case m == powerOn && e.milli != powerOn: // by now the chip has converted: it had not, before
		return controller.PowerOnValue
	}
	return e.noReading()
}

// exact undoes the kernel's cut to whole milli-degrees: the chip counts in
// sixteenths of a degree.
func exact(m sysfs.Milli) (units.Celsius, controller.Fault) {
	switch {
	case m >= starved && m < starved2:
		return 0, controller.PowerOnValue
	case m < coldest || m > hottest:
		return 0, controller.OutOfRange
	}
	return units.Celsius(math.Round(float64(m*16)/1000) / 16), controller.NoFault
}
