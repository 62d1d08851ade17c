package hwmon

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

// ofOneWire is what the kernel's driver of 1-Wire thermometers calls each of them
// here too (kernel, w1_therm). They have a package of their own.
const ofOneWire = "w1_slave_temp"

// Found is one temperature input of one chip.
type Found struct {
	Match Match  // finds it again, by its device where it has one
	Label string // what the driver calls the input; may be empty
	Twin  bool   // another chip has the same name
	Inner bool   // it is a thermal zone: the board measures itself
}

// Find lists the temperature inputs of all chips, but for 1-Wire thermometers, in
// the order of their names. A machine without any is no error. An empty root is
// the kernel's; a nil read reads files.
func Find(root string, read func(string) ([]byte, error)) ([]Found, error) {
	if root == "" {
		root = Root
	}
	if read == nil {
		read = sysfs.Read
	}
	entries, err := os.ReadDir(root)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("look for hwmon chips: %w", err)
	}
	var all []Found
	chips := map[string]int{}
	for _, e := range entries {
		dir := filepath.Join(root, e.Name())
		data, err := read(filepath.Join(dir, "name"))
		name := strings.TrimSpace(string(data))
		if err != nil || name == "" || name == ofOneWire {
			continue
		}
		inputs := inputsOf(dir)
		if len(inputs) > 0 {
			chips[name]++
		}
		for _, input := range inputs {
			f := Found{Match: Match{Root: root, Name: name, Input: input}}
			if link, err := filepath.EvalSymlinks(filepath.Join(dir, "device")); err == nil {
				f.Match.Device = filepath.Base(link)
				f.Inner = strings.HasPrefix(f.Match.Device, "thermal_zone") // kernel, thermal_hwmon
			}
			label, _ := read(filepath.Join(dir, input+"_label")) // most inputs have none
			f.Label = strings.TrimSpace(string(label))
			all = append(all, f)
		}
	}
	for i := range all {
		all[i].Twin = chips[all[i].Match.Name] > 1
	}
	slices.SortStableFunc(all, func(a, b Found) int {
		return cmp.Or(cmp.Compare(a.Match.Name, b.Match.Name), cmp.Compare(a.Match.Device, b.Match.Device), cmp.Compare(len(a.Match.Input), len(b.Match.Input)), cmp.Compare(a.Match.Input, b.Match.Input))
	})
	return all, nil
}

// inputsOf lists the temperature inputs of a chip: temp1 and so on.
func inputsOf(dir string) (inputs []string) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil // it went while we looked
	}
	for _, e := range entries {
		if m := regexp.MustCompile(`^(temp[1-9][0-9]*)_input$`).FindStringSubmatch(e.Name()); m != nil {
			inputs = append(inputs, m[1])
		}
	}
	return inputs
}

// Evidence shows what the files of the input say now, for a person who asks why a
// read failed.
func (t *Thermometer) Evidence() string {
	dir, fault := t.find()
	switch fault {
	case controller.NoFault:
	case controller.BusError:
		return "several chips are called " + t.match.Name
	default:
		return "no chip is called " + t.match.Name
	}
	if broken, err := t.text(dir, t.match.Input+"_fault"); err == nil && broken != "0" {
		return fmt.Sprintf("%s_fault is %q: the chip says that its sensor is open or shorted", t.match.Input, broken)
	}
	data, err := t.read(filepath.Join(dir, t.match.Input+"_input"))
	if err != nil {
		return sysfs.Cause(err)
	}
	return t.match.Input + "_input: " + sysfs.Quote(data)
}
