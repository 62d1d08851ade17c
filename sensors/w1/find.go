package w1

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"

	"example.org/restpoint/controller"
	"example.org/restpoint/sensors/internal/sysfs"
)

// Found is one device on a 1-Wire bus.
type Found struct {
	ID          string
	Thermometer bool // one that this package reads; else only its family is known
	Parasite    bool // the kernel says that it takes its power from the data line
	Unchecked   bool // bit 0 of its features is clear: the kernel hands on 85 C of a chip that did not measure
}

// Find lists the devices on all 1-Wire buses, in the order of their ids, and tells
// how many buses there are. A machine without any is no error. An empty root is
// the kernel's; a nil read reads files. What a device does not say counts as well.
func Find(root string, read func(string) ([]byte, error)) (found []Found, buses int, err error) {
	if root == "" {
		root = Root
	}
	if read == nil {
		read = sysfs.Read
	}
	entries, err := os.ReadDir(root)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, 0, fmt.Errorf("look for 1-Wire devices: %w", err)
	}
	for _, e := range entries {
		switch name := e.Name(); {
		case strings.HasPrefix(name, "w1_bus_master"):
			buses++
		case regexp.MustCompile(`^[0-9a-f]{2}-[0-9a-f]{12}$`).MatchString(name):
			dir := filepath.Join(root, name)
			d := Found{ID: name, Thermometer: strings.HasPrefix(name, family)}
			if d.Thermometer {
				power, known := number(read, filepath.Join(dir, "ext_power"))
				d.Parasite = known && power == 0
				features, known := number(read, filepath.Join(dir, "features"))
				d.Unchecked = known && features&1 == 0
			}
			found = append(found, d)
		}
	}
	return found, buses, nil
}

// number reads a whole number, where there is one.
func number(read sysfs.ReadFile, path string) (n int, known bool) {
	data, err := read(path)
	if err != nil {
		return 0, false
	}
	n, err = strconv.Atoi(strings.TrimSpace(string(data)))
	return n, err == nil
}

// Evidence shows what the chip says now, for a person who asks why a read failed.
// It takes another conversion.
func (t *Thermometer) Evidence() string {
	data, err := t.read(filepath.Join(t.dir, "w1_slave"))
	switch text := strings.TrimSpace(string(data)); {
	case sysfs.FaultOf(err) == controller.Unplugged:
		return "the kernel does not list it"
	case err != nil:
		return sysfs.Cause(err)
	case text == "":
		return "w1_slave is empty: no answer, or none with a valid checksum"
	default:
		return "w1_slave: " + sysfs.Quote(data)
	}
}
