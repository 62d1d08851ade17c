package commission_test

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/commission"
	"example.org/restpoint/controller"
	"example.org/restpoint/sensors"
	"example.org/restpoint/sensors/hwmon"
	"example.org/restpoint/sensors/iio"
	"example.org/restpoint/sensors/ntc"
	"example.org/restpoint/sensors/pressure"
	"example.org/restpoint/sensors/rtd"
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

// list reads an inventory of the files and gives what is written, and what is missing.
func list(t *testing.T, files map[string]string, change func(root string, v *commission.Inventory)) (text string, missing []controller.ProbeID) {
	t.Helper()
	root := tree(t, files)
	t.Chdir(root)                         // so that no path is longer here than elsewhere
	synctest.Test(t, func(t *testing.T) { // chips take their time
		b, err := sensors.Look(root, nil)
		if err != nil {
			t.Fatal(err)
		}
		v := commission.Inventory{Board: b}
		change(root, &v)
		out := &strings.Builder{}
		if missing, err = v.List(t.Context(), out); err != nil {
			t.Fatal(err)
		}
		text = out.String()
	})
	for line := range strings.SplitSeq(text, "\n") {
		if n := len([]rune(line)); n > 80 {
			t.Errorf("%d columns: %s", n, line)
		}
	}
	return text, missing
}

func sited(places ...sensors.Spec) func(string, *commission.Inventory) {
	return func(_ string, v *commission.Inventory) { v.Sited, v.Places = true, places }
}

func oneWire(id string) map[string]string {
	return map[string]string{"bus/w1/devices/" + id + "/hwmon/hwmon0/temp1_input": "18000"}
}

const id = "28-000001318252"

func TestWhatAProbeSaysIsListedWithWhatIsDoubtful(t *testing.T) {
	for _, row := range []struct {
		name   string
		files  map[string]string
		change func(string, *commission.Inventory)
		says   []string
		not    string
		miss   []controller.ProbeID
	}{
		{"a board with nothing", nil, func(string, *commission.Inventory) {}, []string{"1-Wire: no bus\n  none\n", "Chips of the kernel (hwmon)\n  none\n"}, "warning", nil},
		{
			"a probe without a site: how to name it", oneWire(id), func(string, *commission.Inventory) {},
			[]string{"  28-000001318252  18.00 C  {one-wire: 28-000001318252}\n"},
			"warning", nil,
		},
		{
			"a probe of the site", oneWire(id), sited(sensors.Spec{Probe: "fv1/thermowell", Kind: sensors.OneWire, ID: id}),
			[]string{"  28-000001318252  18.00 C  fv1/thermowell\n", "Known to the site file alone\n  none\n"},
			"not there", nil,
		},
		{
			"a probe that the site corrects", oneWire(id), sited(sensors.Spec{Probe: "fv1/thermowell", Kind: sensors.OneWire, ID: id, Calibration: sensors.Calibration{Offset: -0.3}}),
			[]string{"18.00 C  fv1/thermowell, corrected 17.70 C\n"},
			"warning", nil,
		},
		{
			"a probe that the site does not know", oneWire(id), sited(sensors.Spec{Probe: "fv1/thermowell", Kind: sensors.OneWire, ID: "28-0000013182aa"}),
			[]string{"18.00 C  free: {one-wire: 28-000001318252}\n", "In the site file, and not there\n  fv1/thermowell  {one-wire: 28-0000013182aa}\n"},
			"fv1/thermowell,",
			[]controller.ProbeID{"fv1/thermowell"},
		},
		{
			"a chip that shows 85 C and means it",
			map[string]string{"class/hwmon/hwmon0/name": "tmp105", "class/hwmon/hwmon0/temp1_input": "85000"},
			func(string, *commission.Inventory) {},
			[]string{"85.00 C", "warning: outside of 0 C to 40 C, where beer is\n", "warning: 85 C is also what a chip shows that did not measure"},
			"no reading", nil,
		},
		{
			"a jacket below freezing",
			map[string]string{"class/hwmon/hwmon0/name": "tmp105", "class/hwmon/hwmon0/temp1_input": "-2500"},
			func(string, *commission.Inventory) {},
			[]string{"-2.50 C", "outside of 0 C to 40 C"},
			"85 C", nil,
		},
		{
			"chips of one name",
			map[string]string{"class/hwmon/hwmon0/name": "lm75", "class/hwmon/hwmon0/temp1_input": "5000", "class/hwmon/hwmon1/name": "lm75", "class/hwmon/hwmon1/temp1_input": "6000"},
			sited(sensors.Spec{Probe: "fv1/surround", Kind: sensors.Hwmon, Hwmon: hwmon.Match{Name: "lm75", Input: "temp1"}}),
			[]string{"no reading  fv1/surround\n      an error of the bus\n      several chips are called lm75\n      warning: another one has the same name; a site file that names it means"},
			"free",
			[]controller.ProbeID{"fv1/surround"},
		},
		{
			"devices of one name and two labels, named by the name",
			map[string]string{
				"bus/iio/devices/iio:device0/name": "tmp117", "bus/iio/devices/iio:device0/label": "lid", "bus/iio/devices/iio:device0/in_temp_input": "18500",
				"bus/iio/devices/iio:device1/name": "tmp117", "bus/iio/devices/iio:device1/label": "cone", "bus/iio/devices/iio:device1/in_temp_input": "17500",
			},
			sited(sensors.Spec{Probe: "fv1/thermowell", Kind: sensors.IIO, IIO: iio.Match{Name: "tmp117", Channel: "temp"}}),
			[]string{"  tmp117 lid temp   18.50 C  fv1/thermowell\n      warning: fv1/thermowell means several of these, and reads none\n"},
			"free",
			[]controller.ProbeID{"fv1/thermowell"},
		},
		{
			"a name that is too long for its column",
			map[string]string{"class/hwmon/hwmon0/name": strings.Repeat("x", 50), "class/hwmon/hwmon0/temp1_input": "18000"},
			func(string, *commission.Inventory) {},
			[]string{strings.Repeat("x", 50) + " temp1  18.00 C\n      {hwmon: {name: " + strings.Repeat("x", 50) + ", input:\n        temp1}}\n"},
			"", nil,
		},
	} {
		text, missing := list(t, row.files, row.change)
		for _, says := range row.says {
			if !strings.Contains(text, says) {
				t.Errorf("%s: lists\n%s\nand not\n%s", row.name, text, says)
			}
		}
		if row.not != "" && strings.Contains(text, row.not) {
			t.Errorf("%s: lists\n%s\nwith %q", row.name, text, row.not)
		}
		if !slices.Equal(missing, row.miss) {
			t.Errorf("%s: misses %q, want %q", row.name, missing, row.miss)
		}
	}
}

// places are probes that no board shows by itself.
func places(root string) []sensors.Spec {
	onChip := sensors.ADC{Kind: sensors.ADS1115, Bus: 98, Address: 0x48}
	ofKernel := sensors.ADC{Kind: sensors.OfKernel, IIO: iio.Match{Name: "ads1015", Channel: "voltage0"}}
	divider := ntc.Divider{Curve: ntc.OfBeta(10000, 3950), Resistor: 10000, Side: ntc.Ground}
	devices := filepath.Join(root, "bus/iio/devices")
	return []sensors.Spec{
		{Probe: "fv1/thermowell", Kind: sensors.RTD, Platinum: sensors.Platinum{Bus: 98, Wiring: rtd.Wiring{Element: rtd.Pt100, Wires: 3, Mains: 50, Reference: 430}}},
		{Probe: "fv1/surround", Kind: sensors.NTC, Root: devices, Thermistor: sensors.Thermistor{Input: onChip, Divider: divider, Supply: sensors.Supply{Nominal: 3.3}}},
		{Probe: "fv1/ambient", Kind: sensors.NTC, Root: devices, Thermistor: sensors.Thermistor{Input: ofKernel, Divider: divider, Supply: sensors.Supply{Nominal: 3.3}}, Calibration: sensors.Calibration{Offset: 1}},
		{Probe: "fv1/pressure", Kind: sensors.Pressure, Root: devices, Transducer: sensors.Transducer{Input: ofKernel, Span: pressure.Span{From: pressure.Point{Volts: 0.5}, To: pressure.Point{Volts: 4.5, Is: 200_000}}}},
		{Probe: "fv2/thermowell", Kind: sensors.File, Path: "beer"},
	}
}

func TestProbesThatOnlyTheSiteFileKnowsAreRead(t *testing.T) {
	files := map[string]string{
		"bus/iio/devices/iio:device0/name": "ads1015", "bus/iio/devices/iio:device0/in_voltage0_raw": "825", "bus/iio/devices/iio:device0/in_voltage_scale": "2.0",
		"bus/iio/devices/iio:device0/in_voltage1_raw": "odd", "beer": "18.5",
	}
	text, missing := list(t, files, func(root string, v *commission.Inventory) { v.Sited, v.Places = true, places(root) })
	for _, says := range []string{
		"  ads1015 voltage0     1.650 V  fv1/ambient, fv1/pressure\n",
		"  ads1015 voltage1  no reading  adc: {iio: {name: ads1015, channel: voltage1}}\n      what came is no number\n      in_voltage1_raw: \"odd\"\n",
		"  fv1/thermowell  no reading  Pt100 with 3 wires on spi 98.0\n      not there: unplugged, or a wire is broken\n      open spi 98.0: ",
		"  fv1/surround    no reading  thermistor on ads1115 i2c 98 0x48 channel 0\n      not there: unplugged, or a wire is broken\n      the divider shows not known (unplugged), its supply is 3.300 V\n",
		"  fv1/ambient        25.00 C\n      thermistor on iio ads1015 voltage0, corrected 26.00 C\n",
		"  fv1/pressure     0.575 bar  pressure on iio ads1015 voltage0\n",
		"  fv2/thermowell  no reading  file beer\n      what came is no number\n      it says \"18.5\"\n",
	} {
		if !strings.Contains(text, says) {
			t.Errorf("lists\n%s\nand not\n%s", text, says)
		}
	}
	if want := []controller.ProbeID{"fv1/thermowell", "fv1/surround", "fv2/thermowell"}; !slices.Equal(missing, want) {
		t.Errorf("misses %q", missing)
	}
}

// Of two programs that ask one chip, the one takes the other's answer.
func TestChipsOfTheRunningProgramAreLeftAlone(t *testing.T) {
	text, missing := list(t, map[string]string{"beer": "18500"}, func(root string, v *commission.Inventory) {
		v.Sited, v.Running, v.Places = true, true, places(root)
	})
	for _, says := range []string{
		"  fv1/thermowell    not read\n      the running program has its chip; ask it: restpoint status\n",
		"  fv1/surround      not read\n", "  fv2/thermowell     18.50 C",
	} {
		if !strings.Contains(text, says) {
			t.Errorf("lists\n%s\nand not\n%s", text, says)
		}
	}
	if want := []controller.ProbeID{"fv1/ambient", "fv1/pressure"}; !slices.Equal(missing, want) { // the kernel's converter is not there
		t.Errorf("misses %q", missing)
	}
}

func TestAListEndsWithItsContextItsWriterAndItsNonsense(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		v := commission.Inventory{}
		if _, err := v.List(t.Context(), full{}); !errors.Is(err, io.ErrShortWrite) {
			t.Errorf("into nothing: %v", err)
		}
		v.Places, v.Sited = []sensors.Spec{{Probe: "fv1/ambient", Kind: "pyrometer"}}, true
		if _, err := v.List(t.Context(), io.Discard); err == nil || !strings.Contains(err.Error(), "fv1/ambient") {
			t.Errorf("a kind that is none: %v", err)
		}
		v.Places = []sensors.Spec{{Probe: "fv1/ambient", Kind: sensors.File, Path: "x", Read: func(string) ([]byte, error) {
			<-time.After(5 * time.Second)
			return nil, nil
		}}}
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		if _, err := v.List(ctx, io.Discard); !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("after its end: %v", err)
		}
	})
}

func TestEveryFaultAndEveryDoubtHasItsOwnWords(t *testing.T) {
	said := map[string]controller.Fault{}
	for _, f := range append(controller.Faults(), controller.NoFault, "new") {
		why := commission.Why(f)
		if other, twice := said[why]; twice || why == "" || (why == string(f)) != (f == "new") {
			t.Errorf("%q and %q are both %q", f, other, why)
		}
		said[why] = f
	}
	for _, row := range []struct {
		spec sensors.Spec
		want string
	}{
		{sensors.Spec{Kind: sensors.OneWire, ID: id}, "{one-wire: 28-000001318252}"},
		{sensors.Spec{Kind: sensors.Hwmon, Hwmon: hwmon.Match{Name: "tmp105", Device: "1-0048", Input: "temp1"}}, "{hwmon: {name: tmp105, input: temp1}}"},
		{sensors.Spec{Kind: sensors.IIO, IIO: iio.Match{Name: "tmp117", Channel: "temp"}}, "{iio: {name: tmp117, channel: temp}}"},
		{sensors.Spec{Kind: sensors.IIO, IIO: iio.Match{Name: "tmp117", Label: "lid", Channel: "temp"}}, "{iio: {label: lid, channel: temp}}"},
		{sensors.Spec{Kind: sensors.File, Path: "x"}, ""},
	} {
		if got := commission.Form(row.spec); got != row.want {
			t.Errorf("%+v: %s", row.spec, got)
		}
	}
	ghosts, _ := list(t, map[string]string{
		"bus/w1/devices/00-800000000000/id": "", "bus/w1/devices/10-000801b5a7c2/id": "",
		"bus/w1/devices/" + id + "/ext_power": "0", "bus/w1/devices/" + id + "/features": "2",
		"bus/w1/devices/w1_bus_master1/x": "", "bus/w1/devices/w1_bus_master2/x": "",
	}, func(string, *commission.Inventory) {})
	for _, says := range []string{
		"1-Wire: 2 buses\n", "  00-800000000000\n      warning: no device: the bus floats", "  10-000801b5a7c2\n      warning: no thermometer that can be read here",
		"      warning: it takes its power from the data line (ext_power is 0)", "      warning: bit 0 of its features is not set",
	} {
		if !strings.Contains(ghosts, says) {
			t.Errorf("lists\n%s\nand not %q", ghosts, says)
		}
	}
}
