package hwmon_test

import (
	"os"
	"path/filepath"
	"reflect"
	"syscall"
	"testing"

	"example.org/restpoint/controller"
	"example.org/restpoint/sensors/hwmon"
)

func TestEveryInputOfEveryChipIsListed(t *testing.T) {
	root := t.TempDir()
	chip(t, root, "hwmon0", "cpu_thermal", "51000\n")
	chip(t, root, "hwmon1", "w1_slave_temp", "19062\n") // a 1-Wire thermometer, seen from here
	chip(t, root, "hwmon10", "lm75", "4000\n")
	chip(t, root, "hwmon2", "lm75", "5000\n", "temp10_input", "7000\n", "temp2_input", "6000\n", "temp2_label", "cone\n", "temp2_crit", "80000\n", "in1_input", "3300\n")
	device(t, root, "hwmon0", "thermal_zone0")
	device(t, root, "hwmon10", "1-0048")
	device(t, root, "hwmon2", "1-0049")
	if err := os.MkdirAll(filepath.Join(root, "hwmon3"), 0o700); err != nil { // just going
		t.Fatal(err)
	}
	lm75 := func(device, input string) hwmon.Match {
		return hwmon.Match{Root: root, Name: "lm75", Device: device, Input: input}
	}
	want := []hwmon.Found{
		{Match: hwmon.Match{Root: root, Name: "cpu_thermal", Device: "thermal_zone0", Input: "temp1"}, Inner: true},
		{Match: lm75("1-0048", "temp1"), Twin: true},
		{Match: lm75("1-0049", "temp1"), Twin: true},
		{Match: lm75("1-0049", "temp2"), Twin: true, Label: "cone"},
		{Match: lm75("1-0049", "temp10"), Twin: true},
	}
	found, err := hwmon.Find(root, nil)
	if err != nil || !reflect.DeepEqual(found, want) {
		t.Fatalf("%v\ngot  %+v\nwant %+v", err, found, want)
	}
	check(t, found[2].Match, 5, controller.NoFault) // each finds its own, twin or not
	check(t, found[4].Match, 7, controller.NoFault)
}

func TestAMachineWithoutChipsHasNoInputs(t *testing.T) {
	root := filepath.Join(t.TempDir(), "none")
	if found, err := hwmon.Find(root, nil); err != nil || found != nil {
		t.Errorf("%v, %v", found, err)
	}
	if err := os.WriteFile(root, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := hwmon.Find(root, nil); err == nil {
		t.Error("a file was taken for a folder of chips")
	}
}

func TestTheEvidenceBehindAFaultIsShown(t *testing.T) {
	root := t.TempDir()
	chip(t, root, "hwmon0", "well", "19000\n")
	chip(t, root, "hwmon1", "odd", "hot\n")
	chip(t, root, "hwmon2", "open", "0\n", "temp1_fault", "1\n")
	chip(t, root, "hwmon3", "twin", "0\n")
	chip(t, root, "hwmon4", "twin", "0\n")
	chip(t, root, "hwmon5", "dead", "0\n")
	for name, want := range map[string]string{
		"well":  `temp1_input: "19000"`,
		"odd":   `temp1_input: "hot"`,
		"open":  `temp1_fault is "1": the chip says that its sensor is open or shorted`,
		"twin":  "several chips are called twin",
		"lm75":  "no chip is called lm75",
		"other": "no chip is called other",
		"dead":  "temp1_input: input/output error",
	} {
		th, err := hwmon.New(hwmon.Match{Root: root, Name: name}, func(path string) ([]byte, error) {
			if path == filepath.Join(root, "hwmon5", "temp1_input") {
				return nil, &os.PathError{Op: "read", Path: path, Err: syscall.EIO}
			}
			return os.ReadFile(path)
		})
		if err != nil {
			t.Fatal(err)
		}
		if got := th.Evidence(); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
}
