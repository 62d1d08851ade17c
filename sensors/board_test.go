package sensors_test

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"example.org/restpoint/sensors"
	"example.org/restpoint/sensors/hwmon"
	"example.org/restpoint/sensors/iio"
	"example.org/restpoint/sensors/port"
)

// tree writes files as the kernel shows its devices.
func tree(t *testing.T, files map[string]string) string {
	t.Helper()
	root := t.TempDir()
	for path, text := range files {
		path = filepath.Join(root, path)
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return root
}

func wired(t *testing.T) string {
	t.Helper()
	root := tree(t, map[string]string{
		"bus/w1/devices/w1_bus_master1/w1_master_slaves":          "28-000001318252",
		"bus/w1/devices/28-000001318252/hwmon/hwmon0/temp1_input": "19062",
		"bus/w1/devices/28-000001318252/ext_power":                "0",
		"bus/w1/devices/28-000001318252/features":                 "0",
		"bus/w1/devices/10-000801b5a7c2/name":                     "10-000801b5a7c2",
		"bus/w1/devices/00-400000000000/name":                     "00-400000000000",
		"class/hwmon/hwmon0/name":                                 "w1_slave_temp",
		"class/hwmon/hwmon0/temp1_input":                          "19062",
		"class/hwmon/hwmon1/name":                                 "tmp105",
		"class/hwmon/hwmon1/temp1_input":                          "4000",
		"class/hwmon/hwmon1/temp1_label":                          "cone",
		"class/hwmon/hwmon2/name":                                 "lm75",
		"class/hwmon/hwmon2/temp1_input":                          "5000",
		"class/hwmon/hwmon3/name":                                 "lm75",
		"class/hwmon/hwmon3/temp1_input":                          "6000",
		"bus/iio/devices/iio:device0/name":                        "tmp117",
		"bus/iio/devices/iio:device0/label":                       "lid",
		"bus/iio/devices/iio:device0/in_temp_raw":                 "2368",
		"bus/iio/devices/iio:device0/in_temp_scale":               "7.812500",
		"bus/iio/devices/iio:device1/name":                        "ads1015",
		"bus/iio/devices/iio:device1/in_voltage0_raw":             "825",
		"bus/iio/devices/iio:device1/in_voltage_scale":            "2.000000000",
		"class/i2c-dev/i2c-1/name":                                "bcm2835 (i2c@7e804000)",
		"class/spidev/spidev0.0/uevent":                           "",
		"class/hwmon/hwmon9/name":                                 "cpu_thermal",
		"class/hwmon/hwmon9/temp1_input":                          "51000",
		"zones/thermal_zone0/uevent":                              "",
	})
	if err := os.Symlink(filepath.Join(root, "zones/thermal_zone0"), filepath.Join(root, "class/hwmon/hwmon9/device")); err != nil {
		t.Fatal(err)
	}
	return root
}

func TestABoardShowsEveryKindOfProbe(t *testing.T) {
	b, err := sensors.Look(wired(t), nil)
	if err != nil {
		t.Fatal(err)
	}
	var said []string
	for _, f := range b.Found {
		line := f.Name
		for _, d := range f.Doubts {
			line += " " + string(d)
		}
		switch {
		case f.Voltage != nil:
			v, fault := f.Voltage.Volts()
			line += " " + v.String() + string(fault)
		case f.Spec.Kind != "":
			s, err := sensors.Open(f.Spec)
			if err != nil {
				t.Fatal(err)
			}
			v, fault := s.Read()
			line += " " + v.Celsius.String() + string(fault)
		}
		said = append(said, line)
	}
	want := []string{
		"00-400000000000 ghost",
		"10-000801b5a7c2 foreign",
		"28-000001318252 parasite unchecked 19.0625 C",
		"cpu_thermal temp1 inner 51 C",
		"lm75 temp1 twin 0 Cbus", // without a device none can be told from the other
		"lm75 temp1 twin 0 Cbus",
		"tmp105 temp1 cone 4 C",
		"ads1015 voltage0 1.65 V",
		"tmp117 lid temp 18.5 C",
	}
	if !slices.Equal(said, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(said, "\n"), strings.Join(want, "\n"))
	}
	if wantBuses := []port.Bus{{Path: "/dev/i2c-1", Name: "bcm2835 (i2c@7e804000)"}, {Path: "/dev/spidev0.0"}}; b.OneWire != 1 || !slices.Equal(b.Buses, wantBuses) {
		t.Errorf("%d 1-Wire buses, others %v", b.OneWire, b.Buses)
	}
	seen := map[sensors.Doubt]bool{}
	for _, f := range b.Found {
		for _, d := range f.Doubts {
			seen[d] = true
		}
	}
	for _, d := range sensors.Doubts() {
		if !seen[d] {
			t.Errorf("nothing is doubted as %s", d)
		}
	}
}

func TestABoardWithNothingIsEmptyAndABadOneSaysWhy(t *testing.T) {
	root := t.TempDir()
	if b, err := sensors.Look(root, nil); err != nil || len(b.Found)+len(b.Buses)+b.OneWire > 0 {
		t.Errorf("%+v, %v", b, err)
	}
	bad := wired(t)
	if err := os.RemoveAll(filepath.Join(bad, "bus/w1/devices")); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(bad, "bus/w1/devices"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	b, err := sensors.Look(bad, nil)
	if err == nil || !strings.Contains(err.Error(), "look for 1-Wire devices") || len(b.Found) != 6 {
		t.Errorf("%d found, %v", len(b.Found), err)
	}
}

func ofKernel(channel string) sensors.ADC {
	return sensors.ADC{Kind: sensors.OfKernel, IIO: iio.Match{Name: "ads1015", Channel: channel}}
}

func TestOnlyOneProgramMayAskAChipThatTheKernelDoesNotDrive(t *testing.T) {
	for _, row := range []struct {
		spec sensors.Spec
		want bool
	}{
		{sensors.Spec{Kind: sensors.OneWire}, false},
		{sensors.Spec{Kind: sensors.RTD}, true},
		{sensors.Spec{Kind: sensors.NTC, Thermistor: sensors.Thermistor{Input: ofKernel("voltage0")}}, false},
		{sensors.Spec{Kind: sensors.NTC, Thermistor: thermistor()}, true},
		{sensors.Spec{Kind: sensors.Pressure, Transducer: transducer()}, true},
	} {
		if got := row.spec.Alone(); got != row.want {
			t.Errorf("%s: %v", row.spec.Kind, got)
		}
	}
}

func TestASpecOfASiteMeansWhatItNames(t *testing.T) {
	b, err := sensors.Look(wired(t), nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		name string
		spec sensors.Spec
		want int
	}{
		{"an id", sensors.Spec{Kind: sensors.OneWire, ID: "28-000001318252"}, 1},
		{"an id of another", sensors.Spec{Kind: sensors.OneWire, ID: "28-0000013182aa"}, 0},
		{"an id that is no thermometer's", sensors.Spec{Kind: sensors.OneWire, ID: "10-000801b5a7c2"}, 0},
		{"a chip", sensors.Spec{Kind: sensors.Hwmon, Hwmon: hwmon.Match{Name: "tmp105", Input: "temp1"}}, 1},
		{"another input of it", sensors.Spec{Kind: sensors.Hwmon, Hwmon: hwmon.Match{Name: "tmp105", Input: "temp2"}}, 0},
		{"a name that two chips have", sensors.Spec{Kind: sensors.Hwmon, Hwmon: hwmon.Match{Name: "lm75", Input: "temp1"}}, 2},
		{"a device by its name", sensors.Spec{Kind: sensors.IIO, IIO: iio.Match{Name: "tmp117", Channel: "temp"}}, 1},
		{"a device by its label", sensors.Spec{Kind: sensors.IIO, IIO: iio.Match{Label: "lid", Channel: "temp"}}, 1},
		{"a device by another label", sensors.Spec{Kind: sensors.IIO, IIO: iio.Match{Label: "cone", Channel: "temp"}}, 0},
		{"another channel of it", sensors.Spec{Kind: sensors.IIO, IIO: iio.Match{Name: "tmp117", Channel: "temp0"}}, 0},
		{"a file", sensors.Spec{Kind: sensors.File, Path: "x"}, 0},
		{"nothing", sensors.Spec{}, 0},
		{"a thermistor on a channel", sensors.Spec{Kind: sensors.NTC, Thermistor: sensors.Thermistor{Input: ofKernel("voltage0")}}, 1},
		{"a thermistor on another channel", sensors.Spec{Kind: sensors.NTC, Thermistor: sensors.Thermistor{Input: ofKernel("voltage1")}}, 0},
		{"a supply on a channel", sensors.Spec{Kind: sensors.Pressure, Transducer: sensors.Transducer{Input: ofKernel("voltage1"), Supply: sensors.Supply{Measured: ofKernel("voltage0")}}}, 1},
		{"a channel of a chip that the kernel does not drive", sensors.Spec{Kind: sensors.NTC, Thermistor: sensors.Thermistor{Input: onChip()}}, 0},
	} {
		got := 0
		for _, f := range b.Found {
			if f.Is(row.spec) {
				got++
			}
		}
		if got != row.want {
			t.Errorf("%s: means %d, want %d", row.name, got, row.want)
		}
	}
}
