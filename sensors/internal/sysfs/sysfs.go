// Package sysfs reads the small text files in which the kernel gives numbers. It
// refuses to guess: a unit is never taken from the size of a number, and a text
// that is not a whole number is no reading.
package sysfs

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
)

// longest is one page, the most that a sysfs attribute can hold. It keeps a
// wrong path, such as /dev/zero, from filling the memory.
const longest = 4096 // bytes

// Milli is a temperature in thousandths of a degree Celsius.
type Milli int64

// Outside of these a number is no temperature, whatever the sensor: nothing is
// colder than the one, and no thermocouple reads beyond the other.
const (
	absoluteZero Milli = -273_150
	hottest      Milli = 2_500_000
)

// Celsius gives the temperature in degrees.
func (m Milli) Celsius() units.Celsius { return units.Celsius(float64(m) / 1000) }

// ReadFile reads a whole small file. Tests replace it to get the errors that a
// plain file cannot give.
type ReadFile func(path string) ([]byte, error)

// Read is the ReadFile of the real world.
func Read(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	data, err := io.ReadAll(io.LimitReader(f, longest))
	return data, errors.Join(err, f.Close())
}

// Parse reads a number as the kernel writes it: whole milli-degrees and a line
// end. Without the line end the text may be cut short, and 250 may once have
// been 25062.
func Parse(data []byte) (Milli, controller.Fault) {
	if len(data) > 0 && data[len(data)-1] != '\n' {
		return 0, controller.Unreadable
	}
	return ParseLoose(data)
}

// ParseLoose reads a number that may lack its line end.
func ParseLoose(data []byte) (Milli, controller.Fault) {
	if len(data) == 0 {
		return 0, controller.EmptyRead
	}
	n, err := strconv.ParseInt(string(bytes.TrimSpace(data)), 10, 64)
	m := Milli(n)
	switch {
	case errors.Is(err, strconv.ErrRange):
		return 0, controller.OutOfRange
	case err != nil:
		return 0, controller.Unreadable
	case m < absoluteZero || m > hottest:
		return 0, controller.OutOfRange
	}
	return m, controller.NoFault
}

// FaultOf names the fault behind a failed read.
func FaultOf(err error) controller.Fault {
	switch {
	case err == nil:
		return controller.NoFault
	case errors.Is(err, fs.ErrNotExist), errors.Is(err, syscall.ENODEV), errors.Is(err, syscall.ENXIO):
		return controller.Unplugged
	case errors.Is(err, syscall.ENODATA):
		return controller.EmptyRead // the channel is disabled
	case errors.Is(err, syscall.ETIMEDOUT):
		return controller.TimedOut // the bus itself gave up
	}
	return controller.BusError
}

// Cause gives what is behind the error of a file, without its path.
func Cause(err error) string {
	if e, ok := errors.AsType[*fs.PathError](err); ok {
		return filepath.Base(e.Path) + ": " + e.Err.Error()
	}
	return err.Error()
}

// Quote shows a file's text in one line that is short enough for people.
func Quote(data []byte) string {
	const most = 80 // both lines of w1_slave
	text := strings.Join(strings.Fields(strings.ToValidUTF8(string(data), "?")), " ")
	if r := []rune(text); len(r) > most {
		text = string(r[:most]) + "..."
	}
	return strconv.Quote(text)
}

// Only gives the one folder below a root that fits. Two that fit are a fault of the
// bus: either may be in the wrong tank.
func Only(root string, fits func(dir string) bool) (string, controller.Fault) {
	entries, err := os.ReadDir(root)
	if err != nil {
		return "", FaultOf(err)
	}
	found := ""
	for _, e := range entries {
		dir := filepath.Join(root, e.Name())
		if !fits(dir) {
			continue
		}
		if found != "" {
			return "", controller.BusError
		}
		found = dir
	}
	if found == "" {
		return "", controller.Unplugged
	}
	return found, controller.NoFault
}
