// Package file reads a thermometer that another program writes: a plain file
// with whole milli-degrees Celsius. It refuses to guess a unit, and does not know
// how old the number is: whoever writes it must remove it when it goes stale.
package file

import (
	"errors"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors/internal/sysfs"
)

// Thermometer is one such file.
type Thermometer struct {
	path string
	read sysfs.ReadFile
}

// New makes the thermometer, whether or not the file is there now. A nil read
// reads files.
func New(path string, read func(string) ([]byte, error)) (*Thermometer, error) {
	if path == "" {
		return nil, errors.New("a file thermometer needs the path of its file")
	}
	if read == nil {
		read = sysfs.Read
	}
	return &Thermometer{path: path, read: read}, nil
}

// String names the thermometer.
func (t *Thermometer) String() string { return "file " + t.path }

// Bus names what cannot be read twice at a time: the file alone, since it may be
// a pipe that hangs.
func (t *Thermometer) Bus() string { return "file " + t.path }

// Read reads the file. An empty one is a fault: its writer has just cut it.
func (t *Thermometer) Read() (units.Celsius, controller.Fault) {
	data, err := t.read(t.path)
	if err != nil {
		return 0, sysfs.FaultOf(err)
	}
	m, fault := sysfs.ParseLoose(data)
	return m.Celsius(), fault
}

// Evidence shows what the file says now, for a person who asks why a read failed.
func (t *Thermometer) Evidence() string {
	data, err := t.read(t.path)
	if err != nil {
		return sysfs.Cause(err)
	}
	return "it says " + sysfs.Quote(data)
}
