package hwmon_test

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors/hwmon"
)

// chip writes one chip of the class: name, value and further attributes.
func chip(t *testing.T, root, number, name, milli string, more ...string) {
	t.Helper()
	dir := filepath.Join(root, number)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	more = append(more, "name", name+"\n", "temp1_input", milli)
	for i := 0; i < len(more); i += 2 {
		if err := os.WriteFile(filepath.Join(dir, more[i]), []byte(more[i+1]), 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

func device(t *testing.T, root, number, address string) {
	t.Helper()
	target := filepath.Join(t.TempDir(), address)
	if err := os.MkdirAll(target, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(target, filepath.Join(root, number, "device")); err != nil {
		t.Fatal(err)
	}
}

func check(t *testing.T, m hwmon.Match, want units.Celsius, fault controller.Fault) {
	t.Helper()
	th, err := hwmon.New(m, nil)
	if err != nil {
		t.Fatal(err)
	}
	got, gotFault := th.Read()
	if got != want || gotFault != fault {
		t.Errorf("%s: read %v, fault %q; want %v, fault %q", th, got, gotFault, want, fault)
	}
}

func TestAChipIsFoundByNameWhateverItsNumber(t *testing.T) {
	root := t.TempDir()
	chip(t, root, "hwmon0", "cpu_thermal", "51000\n")
	chip(t, root, "hwmon1", "tmp105", "18500\n")
	check(t, hwmon.Match{Root: root, Name: "tmp105"}, 18.5, controller.NoFault)

	if err := os.Rename(filepath.Join(root, "hwmon1"), filepath.Join(root, "hwmon7")); err != nil {
		t.Fatal(err)
	}
	check(t, hwmon.Match{Root: root, Name: "tmp105"}, 18.5, controller.NoFault)
	check(t, hwmon.Match{Root: root, Name: "lm75"}, 0, controller.Unplugged)
	check(t, hwmon.Match{Root: filepath.Join(root, "none"), Name: "lm75"}, 0, controller.Unplugged)
}

func TestChipsOfOneNameAreToldApartOrRefused(t *testing.T) {
	root := t.TempDir()
	chip(t, root, "hwmon1", "lm75", "4000\n", "temp1_label", "cellar\n")
	chip(t, root, "hwmon2", "lm75", "-1250\n", "temp1_label", "beer\n", "temp2_input", "7125\n")
	device(t, root, "hwmon1", "1-0048")
	device(t, root, "hwmon2", "1-0049")

	check(t, hwmon.Match{Root: root, Name: "lm75"}, 0, controller.BusError)
	check(t, hwmon.Match{Root: root, Name: "lm75", Label: "beer"}, -1.25, controller.NoFault)
	check(t, hwmon.Match{Root: root, Name: "lm75", Device: "1-0048"}, 4, controller.NoFault)
	check(t, hwmon.Match{Root: root, Name: "lm75", Device: "1-0049", Input: "temp2"}, 7.125, controller.NoFault)
	check(t, hwmon.Match{Root: root, Name: "lm75", Device: "1-0049", Label: "cellar"}, 0, controller.Unplugged)
	check(t, hwmon.Match{Root: root, Name: "lm75", Device: "1-004a"}, 0, controller.Unplugged)
	check(t, hwmon.Match{Root: root, Name: "lm75", Device: "1-0048", Input: "temp2"}, 0, controller.Unplugged)
}

func TestFaultsOfAChipAreNamed(t *testing.T) {
	rows := []struct {
		name, milli string
		more        []string
		want        units.Celsius
		fault       controller.Fault
	}{
		{"an open sensor, whose value means nothing", "19000\n", []string{"temp1_fault", "1\n"}, 0, controller.Unplugged},
		{"a sensor that is well", "19000\n", []string{"temp1_fault", "0\n"}, 19, controller.NoFault},
		{"a fault file that says neither", "19000\n", []string{"temp1_fault", "\n"}, 0, controller.Unplugged},
		{"an empty file", "", nil, 0, controller.EmptyRead},
		{"a number cut short", "190", nil, 0, controller.Unreadable},
		{"words", "hot\n", nil, 0, controller.Unreadable},
		{"a huge number", "99999999999\n", nil, 0, controller.OutOfRange},
		{"a value just below freezing", "-62\n", nil, -0.062, controller.NoFault},
		{"85 C, which other chips may mean", "85000\n", nil, 85, controller.NoFault},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			root := t.TempDir()
			chip(t, root, "hwmon0", "tmp105", row.milli, row.more...)
			check(t, hwmon.Match{Root: root, Name: "tmp105"}, row.want, row.fault)
		})
	}
}

func TestErrorsOfTheKernelAreNamed(t *testing.T) {
	root := t.TempDir()
	chip(t, root, "hwmon0", "tmp105", "19000\n")
	for file, rows := range map[string]map[error]controller.Fault{
		"temp1_input": {
			syscall.EIO: controller.BusError, syscall.ENODEV: controller.Unplugged,
			syscall.ENODATA: controller.EmptyRead, syscall.EAGAIN: controller.BusError,
		},
		"temp1_fault": {syscall.EIO: controller.BusError},
	} {
		for err, want := range rows {
			th, _ := hwmon.New(hwmon.Match{Root: root, Name: "tmp105"}, func(path string) ([]byte, error) {
				if filepath.Base(path) == file {
					return nil, err
				}
				return os.ReadFile(path)
			})
			if got, fault := th.Read(); fault != want || got != 0 {
				t.Errorf("%v of %s: read %v, fault %q; want fault %q", err, file, got, fault, want)
			}
		}
	}
}

func TestAMatchThatNamesNothingIsRefused(t *testing.T) {
	for _, m := range []hwmon.Match{{}, {Name: "lm75", Input: "in1"}, {Name: "lm75", Input: "temp0"}, {Name: "lm75", Input: "temp1/../x"}} {
		if _, err := hwmon.New(m, nil); err == nil {
			t.Errorf("%+v was taken", m)
		}
	}
	th, err := hwmon.New(hwmon.Match{Name: "lm75", Device: "1-0048"}, nil)
	if err != nil || th.String() != "hwmon lm75 1-0048 temp1" || th.Bus() != "hwmon lm75 1-0048" {
		t.Errorf("named %q on bus %q, error %v", th, th.Bus(), err)
	}
}
