package iio_test

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors/electric"
	"example.org/restpoint/sensors/iio"
)

// device writes one device of the class: its name and further attributes.
func device(t *testing.T, root, number, name string, attributes ...string) {
	t.Helper()
	dir := filepath.Join(root, number)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	attributes = append(attributes, "name", name+"\n")
	for i := 0; i < len(attributes); i += 2 {
		if err := os.WriteFile(filepath.Join(dir, attributes[i]), []byte(attributes[i+1]), 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

func thermometer(t *testing.T, m iio.Match) *iio.Thermometer {
	t.Helper()
	th, err := iio.NewThermometer(m, nil)
	if err != nil {
		t.Fatal(err)
	}
	return th
}

func check(t *testing.T, th *iio.Thermometer, want units.Celsius, fault controller.Fault) {
	t.Helper()
	got, gotFault := th.Read()
	if math.Abs(float64(got-want)) > 1e-12 || gotFault != fault || fault != controller.NoFault && got != 0 {
		t.Errorf("%s: read %v, fault %q; want %v, fault %q", th, got, gotFault, want, fault)
	}
}

func TestADeviceIsFoundByNameOrLabelWhateverItsNumber(t *testing.T) {
	root := t.TempDir()
	device(t, root, "iio:device0", "adc", "in_temp_input", "51000\n")
	device(t, root, "iio:device1", "chip", "in_temp_input", "18500\n", "label", "beer\n")
	device(t, root, "trigger0", "chip", "in_temp_input", "4000\n")
	device(t, root, "iio_sysfs_trigger", "chip", "in_temp_input", "4000\n")
	byName := thermometer(t, iio.Match{Root: root, Name: "chip", Channel: "temp"})
	byLabel := thermometer(t, iio.Match{Root: root, Label: "beer", Channel: "temp"})
	both := thermometer(t, iio.Match{Root: root, Name: "chip", Label: "beer", Channel: "temp"})
	for _, th := range []*iio.Thermometer{byName, byLabel, both} {
		check(t, th, 18.5, controller.NoFault)
	}
	if err := os.Rename(filepath.Join(root, "iio:device1"), filepath.Join(root, "iio:device7")); err != nil {
		t.Fatal(err)
	}
	for _, th := range []*iio.Thermometer{byName, byLabel, both} {
		check(t, th, 18.5, controller.NoFault)
	}
	check(t, thermometer(t, iio.Match{Root: root, Name: "none", Channel: "temp"}), 0, controller.Unplugged)
	check(t, thermometer(t, iio.Match{Root: root, Name: "adc", Label: "beer", Channel: "temp"}), 0, controller.Unplugged)
	check(t, thermometer(t, iio.Match{Root: filepath.Join(root, "none"), Name: "chip", Channel: "temp"}), 0, controller.Unplugged)

	device(t, root, "iio:device2", "chip", "in_temp_input", "19000\n", "label", "room\n")
	check(t, byName, 0, controller.BusError) // two fit, and one of them is in the wrong tank
	check(t, byLabel, 18.5, controller.NoFault)
}

func TestAChannelIsReadInMilliDegrees(t *testing.T) {
	for _, row := range []struct {
		name, channel string
		attributes    []string
		want          units.Celsius
		fault         controller.Fault
	}{
		{"a processed value", "temp", []string{"in_temp_input", "19062\n"}, 19.062, ""},
		{"a processed value with decimals", "temp0", []string{"in_temp0_input", "19062.500000\n"}, 19.0625, ""},
		{"raw 401 of scale 62.5, which is 25062.5", "temp", []string{"in_temp_raw", "401\n", "in_temp_scale", "62.500000\n"}, 25.0625, ""},
		{"an offset that comes before the scale", "temp", []string{"in_temp_raw", "-100\n", "in_temp_offset", "501\n", "in_temp_scale", "62.5\n"}, 25.0625, ""},
		{"an offset with decimals", "temp", []string{"in_temp_raw", "40\n", "in_temp_offset", "-0.500000\n", "in_temp_scale", "1000\n"}, 39.5, ""},
		{"a negative value", "temp", []string{"in_temp_raw", "-16\n", "in_temp_scale", "62.5\n"}, -1, ""},
		{"a scale that all channels share", "temp1", []string{"in_temp1_raw", "401\n", "in_temp_scale", "62.5\n"}, 25.0625, ""},
		{"a scale of its own before the shared one", "temp1", []string{"in_temp1_raw", "401\n", "in_temp1_scale", "62.5\n", "in_temp_scale", "1\n"}, 25.0625, ""},
		{"an offset that all channels share", "temp1", []string{"in_temp1_raw", "0\n", "in_temp_offset", "20\n", "in_temp_scale", "1000\n"}, 20, ""},
		{"a channel with a word", "temp_object", []string{"in_temp_object_raw", "1000\n", "in_temp_scale", "20\n"}, 20, ""},
		{"the processed value before the raw one", "temp", []string{"in_temp_input", "19000\n", "in_temp_raw", "1\n", "in_temp_scale", "1\n"}, 19, ""},
		{"the channel of another", "temp2", []string{"in_temp1_raw", "401\n", "in_temp_scale", "62.5\n"}, 0, controller.Unplugged},
		{"a raw value without a scale", "temp", []string{"in_temp_raw", "19000\n"}, 0, controller.Unreadable},
		{"an empty value", "temp", []string{"in_temp_input", ""}, 0, controller.EmptyRead},
		{"an empty raw value", "temp", []string{"in_temp_raw", "", "in_temp_scale", "62.5\n"}, 0, controller.EmptyRead},
		{"an empty offset", "temp", []string{"in_temp_raw", "401\n", "in_temp_offset", "", "in_temp_scale", "62.5\n"}, 0, controller.EmptyRead},
		{"an empty scale", "temp", []string{"in_temp_raw", "401\n", "in_temp_scale", ""}, 0, controller.EmptyRead},
		{"a value cut short", "temp", []string{"in_temp_input", "190"}, 0, controller.Unreadable},
		{"words", "temp", []string{"in_temp_input", "hot\n"}, 0, controller.Unreadable},
		{"a scale in words", "temp", []string{"in_temp_raw", "401\n", "in_temp_scale", "one\n"}, 0, controller.Unreadable},
		{"two numbers", "temp", []string{"in_temp_input", "19 62\n"}, 0, controller.Unreadable},
		{"the warmest", "temp", []string{"in_temp_input", "150000\n"}, 150, ""},
		{"warmer than that", "temp", []string{"in_temp_input", "150001\n"}, 0, controller.OutOfRange},
		{"colder than any tank", "temp", []string{"in_temp_input", "-60001\n"}, 0, controller.OutOfRange},
		{"a product beyond every number", "temp", []string{"in_temp_raw", "1" + strings.Repeat("0", 200) + "\n", "in_temp_scale", "1" + strings.Repeat("0", 200) + "\n"}, 0, controller.OutOfRange},
	} {
		t.Run(row.name, func(t *testing.T) {
			root := t.TempDir()
			device(t, root, "iio:device0", "chip", row.attributes...)
			check(t, thermometer(t, iio.Match{Root: root, Name: "chip", Channel: row.channel}), row.want, row.fault)
		})
	}
}

// A driver that gives degrees, or millionths, gives a first reading that no
// probe in a fermenter has.
func TestAUnitThatSlipsIsNeverATemperature(t *testing.T) {
	for _, row := range []struct {
		name  string
		scale string
		raw   []string // readings of one thermometer, one after another
		want  []units.Celsius
		fault []controller.Fault
	}{
		{"a thousandfold too much", "62500", []string{"320\n"}, []units.Celsius{0}, []controller.Fault{controller.OutOfRange}},
		{"a thousandfold too little", "0.0625", []string{"320\n", "64\n", "2000\n"}, []units.Celsius{0, 0, 0}, []controller.Fault{controller.OutOfRange, controller.OutOfRange, controller.OutOfRange}},
		{"a beer at freezing, which must leave it first", "62.5", []string{"0\n", "-2\n", "3\n", "2\n", "0\n"}, []units.Celsius{0, 0, 0.1875, 0.125, 0}, []controller.Fault{controller.OutOfRange, controller.OutOfRange, "", "", ""}},
		{"a beer that freezes under our eyes", "62.5", []string{"320\n", "0\n", "-1\n"}, []units.Celsius{20, 0, -0.0625}, []controller.Fault{"", "", ""}},
	} {
		t.Run(row.name, func(t *testing.T) {
			root := t.TempDir()
			device(t, root, "iio:device0", "chip", "in_temp_scale", row.scale+"\n")
			th := thermometer(t, iio.Match{Root: root, Name: "chip", Channel: "temp"})
			for i, raw := range row.raw {
				device(t, root, "iio:device0", "chip", "in_temp_raw", raw)
				check(t, th, row.want[i], row.fault[i])
			}
		})
	}
}

func TestErrorsOfTheKernelAreNamed(t *testing.T) {
	root := t.TempDir()
	device(t, root, "iio:device0", "chip", "in_temp_raw", "320\n", "in_temp_offset", "0\n", "in_temp_scale", "62.5\n")
	for _, file := range []string{"in_temp_input", "in_temp_raw", "in_temp_offset", "in_temp_scale"} {
		for err, want := range map[error]controller.Fault{
			syscall.EIO: controller.BusError, syscall.ENODEV: controller.Unplugged, syscall.EBUSY: controller.BusError,
			syscall.ENODATA: controller.EmptyRead, syscall.ETIMEDOUT: controller.TimedOut, syscall.EACCES: controller.BusError,
		} {
			th, _ := iio.NewThermometer(iio.Match{Root: root, Name: "chip", Channel: "temp"}, func(path string) ([]byte, error) {
				if filepath.Base(path) == file {
					return nil, &os.PathError{Op: "read", Path: path, Err: err}
				}
				return os.ReadFile(path)
			})
			if got, fault := th.Read(); fault != want || got != 0 {
				t.Errorf("%v of %s: read %v, fault %q; want fault %q", err, file, got, fault, want)
			}
		}
	}
}

func TestAVoltageIsReadInMillivolts(t *testing.T) {
	for _, row := range []struct {
		name, channel string
		attributes    []string
		want          electric.Volts
		fault         controller.Fault
	}{
		{"a scale that all channels share", "voltage0", []string{"in_voltage0_raw", "13200\n", "in_voltage_scale", "0.125000000\n"}, 1.65, ""},
		{"a scale of its own", "voltage3", []string{"in_voltage3_raw", "1000\n", "in_voltage3_scale", "3\n", "in_voltage_scale", "9\n"}, 3, ""},
		{"a difference", "voltage0-voltage1", []string{"in_voltage0-voltage1_raw", "-100\n", "in_voltage-voltage_scale", "0.5\n"}, -0.05, ""},
		{"no voltage at all", "voltage0", []string{"in_voltage0_raw", "0\n", "in_voltage0_scale", "3\n"}, 0, ""},
		{"no such channel", "voltage1", []string{"in_voltage0_raw", "0\n", "in_voltage0_scale", "3\n"}, 0, controller.Unplugged},
		{"no scale", "voltage0", []string{"in_voltage0_raw", "1000\n"}, 0, controller.Unreadable},
		{"an empty value", "voltage0", []string{"in_voltage0_raw", "", "in_voltage0_scale", "3\n"}, 0, controller.EmptyRead},
		{"words", "voltage0", []string{"in_voltage0_raw", "high\n", "in_voltage0_scale", "3\n"}, 0, controller.Unreadable},
		{"a product beyond every number", "voltage0", []string{"in_voltage0_raw", "1" + strings.Repeat("0", 200) + "\n", "in_voltage_scale", "1" + strings.Repeat("0", 200) + "\n"}, 0, controller.OutOfRange},
	} {
		t.Run(row.name, func(t *testing.T) {
			root := t.TempDir()
			device(t, root, "iio:device0", "adc", row.attributes...)
			v, err := iio.NewVoltage(iio.Match{Root: root, Name: "adc", Channel: row.channel}, nil)
			if err != nil {
				t.Fatal(err)
			}
			got, fault := v.Volts()
			if math.Abs(float64(got-row.want)) > 1e-12 || fault != row.fault || fault != "" && got != 0 {
				t.Errorf("read %v, fault %q; want %v, fault %q", got, fault, row.want, row.fault)
			}
		})
	}
	v, _ := iio.NewVoltage(iio.Match{Root: t.TempDir(), Name: "adc", Channel: "voltage0"}, nil)
	if got, fault := v.Volts(); got != 0 || fault != controller.Unplugged {
		t.Errorf("no device: read %v, fault %q", got, fault)
	}
}

func TestAMatchThatNamesNothingIsRefused(t *testing.T) {
	for _, m := range []iio.Match{
		{},
		{Channel: "temp"},
		{Name: "chip"},
		{Name: "chip", Channel: "voltage0"},
		{Name: "chip", Channel: "temp_input"},
		{Name: "chip", Channel: "temp/../x"},
		{Name: "chip", Channel: "temp0\n"},
	} {
		if _, err := iio.NewThermometer(m, nil); err == nil {
			t.Errorf("%+v was taken for a thermometer", m)
		}
	}
	for _, m := range []iio.Match{{}, {Name: "adc", Channel: "temp"}, {Name: "adc", Channel: "voltage"}, {Name: "adc", Channel: "voltage0_raw"}, {Channel: "voltage0"}} {
		if _, err := iio.NewVoltage(m, nil); err == nil {
			t.Errorf("%+v was taken for a voltage", m)
		}
	}
	th, err := iio.NewThermometer(iio.Match{Name: "chip", Channel: "temp"}, nil)
	if err != nil || th.String() != "iio chip temp" || th.Bus() != "iio chip " {
		t.Errorf("named %q on bus %q, error %v", th, th.Bus(), err)
	}
}
