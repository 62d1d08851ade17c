package iio

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"example.org/restpoint/controller"
	"example.org/restpoint/sensors/internal/sysfs"
)

// Found is one channel of one device.
type Found struct {
	Match   Match // finds it again, by its name and its label where it has one
	Voltage bool  // else it is a temperature
	Twin    bool  // another device has the same name and label
}

// Find lists the channels of temperature and voltage of all devices, in the order
// of their names. A machine without any is no error. An empty root is the
// kernel's; a nil read reads files.
func Find(root string, read func(string) ([]byte, error)) ([]Found, error) {
	if root == "" {
		root = Root
	}
	if read == nil {
		read = sysfs.Read
	}
	entries, err := os.ReadDir(root)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("look for industrial I/O devices: %w", err)
	}
	var all []Found
	devices := map[[2]string]int{}
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), "iio:device") {
			continue
		}
		dir := filepath.Join(root, e.Name())
		name, _ := read(filepath.Join(dir, "name"))
		label, _ := read(filepath.Join(dir, "label")) // few have one
		m := Match{Root: root, Name: strings.TrimSpace(string(name)), Label: strings.TrimSpace(string(label))}
		channels := channelsOf(dir)
		if len(channels) > 0 {
			devices[[2]string{m.Name, m.Label}]++
		}
		for _, c := range channels {
			m.Channel = c
			all = append(all, Found{Match: m, Voltage: strings.HasPrefix(c, "voltage")})
		}
	}
	for i := range all {
		all[i].Twin = devices[[2]string{all[i].Match.Name, all[i].Match.Label}] > 1
	}
	slices.SortStableFunc(all, func(a, b Found) int {
		return cmp.Or(cmp.Compare(a.Match.Name, b.Match.Name), cmp.Compare(a.Match.Label, b.Match.Label), cmp.Compare(len(a.Match.Channel), len(b.Match.Channel)), cmp.Compare(a.Match.Channel, b.Match.Channel))
	})
	return all, nil
}

// channelsOf lists the channels of a device that this package can read.
func channelsOf(dir string) (channels []string) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil // it went while we looked
	}
	form := regexp.MustCompile(`^in_(temp(?:[0-9]+|_ambient|_object)?|voltage[0-9]+(?:-voltage[0-9]+)?)_(?:input|raw)$`)
	for _, e := range entries {
		if m := form.FindStringSubmatch(e.Name()); m != nil && !slices.Contains(channels, m[1]) {
			channels = append(channels, m[1])
		}
	}
	return channels
}

// Evidence shows what the files of the channel say now, for a person who asks why
// a read failed.
func (d *device) Evidence() string {
	dir, fault := d.find()
	switch fault {
	case controller.NoFault:
	case controller.BusError:
		return "several devices are called " + strings.TrimSpace(d.match.Name+" "+d.match.Label)
	default:
		return "no device is called " + strings.TrimSpace(d.match.Name+" "+d.match.Label)
	}
	var said []string
	for _, part := range []string{"_input", "_raw", "_offset", "_scale"} {
		name := "in_" + d.match.Channel + part
		data, err := d.read(filepath.Join(dir, name))
		switch {
		case errors.Is(err, fs.ErrNotExist):
		case err != nil:
			said = append(said, sysfs.Cause(err))
		default:
			said = append(said, name+": "+sysfs.Quote(data))
		}
	}
	if said == nil {
		return "the device has no channel " + d.match.Channel
	}
	return strings.Join(said, ", ")
}
