// Package hwmon reads thermometer chips through the kernel's hardware monitoring
// class. It refuses to go by the number of a device, which may change at any
// boot, and to choose among several chips that fit.
package hwmon

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"regexp"
	"strings"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors/internal/sysfs"
)

// Root is where the kernel lists its hardware monitoring devices.
const Root = "/sys/class/hwmon"

// Match says which input of which chip is meant. Name is what the driver calls
// the chip; Label and Device tell apart chips of one name.
type Match struct {
	Root   string // empty = the kernel's
	Name   string // contents of the file "name", such as tmp105
	Device string // last part of the device link, such as 1-0048; empty = any
	Label  string // contents of temp1_label; empty = any
	Input  string // empty = temp1
}

// Thermometer is one temperature input of one chip.
type Thermometer struct {
	match Match
	read  sysfs.ReadFile
}

// New makes the thermometer, whether or not the chip is there now. A nil read
// reads files.
func New(m Match, read func(string) ([]byte, error)) (*Thermometer, error) {
	if m.Input == "" {
		m.Input = "temp1"
	}
	if m.Root == "" {
		m.Root = Root
	}
	if m.Name == "" {
		return nil, errors.New("a hwmon thermometer needs the name of its chip, such as tmp105")
	}
	if !regexp.MustCompile(`^temp[1-9][0-9]*$`).MatchString(m.Input) {
		return nil, fmt.Errorf("%q is not the input of a hwmon thermometer, such as temp1", m.Input)
	}
	if read == nil {
		read = sysfs.Read
	}
	return &Thermometer{match: m, read: read}, nil
}

// String names the thermometer.
func (t *Thermometer) String() string {
	var s strings.Builder
	s.WriteString("hwmon " + t.match.Name)
	for _, part := range []string{t.match.Device, t.match.Label, t.match.Input} {
		if part != "" {
			s.WriteString(" " + part)
		}
	}
	return s.String()
}

// Bus names what cannot be read twice at a time: the chip.
func (t *Thermometer) Bus() string { return "hwmon " + t.match.Name + " " + t.match.Device }

// Read reads the input, unless the chip says that its sensor is open or shorted.
func (t *Thermometer) Read() (units.Celsius, controller.Fault) {
	dir, fault := t.find()
	if fault != controller.NoFault {
		return 0, fault
	}
	broken, err := t.text(dir, t.match.Input+"_fault")
	switch {
	case errors.Is(err, fs.ErrNotExist): // most chips cannot tell
	case err != nil:
		return 0, sysfs.FaultOf(err)
	case broken != "0":
		return 0, controller.Unplugged
	}
	data, err := t.read(filepath.Join(dir, t.match.Input+"_input"))
	if err != nil {
		return 0, sysfs.FaultOf(err)
	}
	m, fault := sysfs.Parse(data)
	return m.Celsius(), fault
}

// find looks for the one chip that fits, at every read: it may have come back
// under another number.
func (t *Thermometer) find() (string, controller.Fault) {
	return sysfs.Only(t.match.Root, t.fits)
}

func (t *Thermometer) fits(dir string) bool {
	if name, err := t.text(dir, "name"); err != nil || name != t.match.Name {
		return false
	}
	if t.match.Device != "" {
		link, err := filepath.EvalSymlinks(filepath.Join(dir, "device"))
		if err != nil || filepath.Base(link) != t.match.Device {
			return false
		}
	}
	if t.match.Label != "" {
		label, err := t.text(dir, t.match.Input+"_label")
		if err != nil || label != t.match.Label {
			return false
		}
	}
	return true
}

func (t *Thermometer) text(dir, name string) (string, error) {
	data, err := t.read(filepath.Join(dir, name))
	return strings.TrimSpace(string(data)), err
}
