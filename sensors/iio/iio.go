// Package iio reads thermometers and voltages through the kernel's industrial
// I/O class. It refuses to go by the number of a device, which may change at any
// boot, to choose among several devices that fit, to take a count that has no
// scale for a value, and to believe a thermometer whose unit may have slipped.
package iio

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"regexp"
	"strings"

	"example.org/restpoint/controller"
	"example.org/restpoint/sensors/internal/sysfs"
)

// Root is where the kernel lists its industrial I/O devices.
const Root = "/sys/bus/iio/devices"

// Match says which channel of which device is meant, by the name that the driver
// gives, by the label that the board's description gives, or by both.
type Match struct {
	Root    string // empty = the kernel's
	Name    string // contents of the file "name", such as ads1115; empty = any
	Label   string // contents of the file "label"; empty = any
	Channel string // such as temp, temp0 or voltage0
}

// device is a channel, whatever it measures.
type device struct {
	match Match
	read  sysfs.ReadFile
}

func open(m Match, channels, example string, read func(string) ([]byte, error)) (device, error) {
	if m.Root == "" {
		m.Root = Root
	}
	if m.Name == "" && m.Label == "" {
		return device{}, errors.New("an industrial I/O device needs its name, such as ads1115, or its label")
	}
	if !regexp.MustCompile(channels).MatchString(m.Channel) {
		return device{}, fmt.Errorf("%q is no channel such as %s", m.Channel, example)
	}
	if read == nil {
		read = sysfs.Read
	}
	return device{match: m, read: read}, nil
}

// String names the channel.
func (d *device) String() string {
	var s strings.Builder
	s.WriteString("iio")
	for _, part := range []string{d.match.Name, d.match.Label, d.match.Channel} {
		if part != "" {
			s.WriteString(" " + part)
		}
	}
	return s.String()
}

// Bus names what cannot be read twice at a time: the device, which has one
// converter for all its channels.
func (d *device) Bus() string { return "iio " + d.match.Name + " " + d.match.Label }

// value reads the channel in the unit of the class: the processed value if the
// driver gives one, else (raw + offset) * scale. What a channel does not have of
// its own, all channels of its kind may share: in_voltage_scale for voltage0.
func (d *device) value() (float64, controller.Fault) {
	dir, fault := d.find()
	if fault != controller.NoFault {
		return 0, fault
	}
	own := "in_" + d.match.Channel
	shared, _, _ := strings.Cut(regexp.MustCompile(`[0-9]+`).ReplaceAllString(d.match.Channel, ""), "_")
	shared = "in_" + shared
	if v, found, fault := d.number(dir, own+"_input"); found {
		return v, fault
	}
	raw, found, fault := d.number(dir, own+"_raw")
	if !found || fault != controller.NoFault {
		return 0, or(fault, controller.Unplugged)
	}
	offset, _, fault := d.number(dir, own+"_offset", shared+"_offset") // a missing one is 0
	if fault != controller.NoFault {
		return 0, fault
	}
	scale, found, fault := d.number(dir, own+"_scale", shared+"_scale")
	if !found || fault != controller.NoFault {
		return 0, or(fault, controller.Unreadable) // a count and nothing to say what it counts
	}
	return (raw + offset) * scale, controller.NoFault
}

// number reads the first of some attributes that is there.
func (d *device) number(dir string, names ...string) (v float64, found bool, fault controller.Fault) {
	for _, name := range names {
		data, err := d.read(filepath.Join(dir, name))
		switch {
		case errors.Is(err, fs.ErrNotExist):
			continue
		case err != nil:
			return 0, true, sysfs.FaultOf(err)
		}
		v, fault = sysfs.ParseDecimal(data)
		return v, true, fault
	}
	return 0, false, controller.NoFault
}

// find looks for the one device that fits, at every read: it may have come back
// under another number.
func (d *device) find() (string, controller.Fault) {
	return sysfs.Only(d.match.Root, d.fits)
}

func (d *device) fits(dir string) bool {
	if !strings.HasPrefix(filepath.Base(dir), "iio:device") {
		return false // triggers have names too
	}
	for _, want := range [][2]string{{"name", d.match.Name}, {"label", d.match.Label}} {
		if want[1] == "" {
			continue
		}
		data, err := d.read(filepath.Join(dir, want[0]))
		if err != nil || strings.TrimSpace(string(data)) != want[1] {
			return false
		}
	}
	return true
}

func or(fault, otherwise controller.Fault) controller.Fault {
	if fault != controller.NoFault {
		return fault
	}
	return otherwise
}
