package ntc_test

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"

	"periph.io/x/conn/v3/i2c/i2ctest"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors/adc"
	"example.org/restpoint/sensors/electric"
	"example.org/restpoint/sensors/iio"
	"example.org/restpoint/sensors/ntc"
)

func divider(side ntc.Side) ntc.Divider {
	return ntc.Divider{Curve: long(), Resistor: 10000, Side: side}
}

// Kirchhoff gives the voltage that a divider shows; the resistances are those of
// the published curve.
func shown(side ntc.Side, thermistor, resistor electric.Ohms, supply electric.Volts) electric.Volts {
	part := thermistor
	if side == ntc.Supply {
		part = resistor
	}
	return supply * electric.Volts(part/(thermistor+resistor))
}

func TestADividerShowsTheTemperatureOnEitherSide(t *testing.T) {
	t.Parallel()
	for _, side := range ntc.Sides() {
		for _, supply := range []electric.Volts{1.8, 3.3, 5} {
			for ohms, want := range map[electric.Ohms]float64{29490: 0, 18790: 9.996, 10000: 25} {
				got, fault := divider(side).Temperature(shown(side, ohms, 10000, supply), supply)
				if fault != "" || math.Abs(float64(got)-want) > 0.0005 {
					t.Errorf("%v on the side of the %s at %v: %v, fault %q; want %g C", ohms, side, supply, got, fault, want)
				}
			}
		}
	}
	// An error of a hundredth in the supply is half a kelvin at 20 C.
	right := shown(ntc.Ground, 12255, 10000, 3.3)
	got, _ := divider(ntc.Ground).Temperature(right, 3.3*1.01)
	if off := float64(got) - 20; off < 0.4 || off > 0.6 {
		t.Errorf("a supply that is a hundredth higher than said moves 20 C by %.2f K", off)
	}
}

func TestAnOpenOrShortedThermistorIsNeverATemperature(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name string
		ohms electric.Ohms
		want controller.Fault
	}{
		{"open: a resistance without end", 1e15, controller.Unplugged},
		{"a wet connector, which is nearly open", 500000, controller.Unplugged},
		{"shorted", 0, controller.OutOfRange},
		{"a wire through water, which is nearly shorted", 200, controller.OutOfRange},
	} {
		for _, side := range ntc.Sides() {
			if got, fault := divider(side).Temperature(shown(side, row.ohms, 10000, 3.3), 3.3); got != 0 || fault != row.want {
				t.Errorf("%s on the side of the %s: %v, fault %q; want fault %q", row.name, side, got, fault, row.want)
			}
		}
	}
	nan, inf := electric.Volts(math.NaN()), electric.Volts(math.Inf(1))
	for _, row := range []struct {
		name          string
		shown, supply electric.Volts
		want          controller.Fault
	}{
		{"all of the supply", 3.3, 3.3, controller.Unplugged},
		{"a little more, by the error of two channels", 3.35, 3.3, controller.Unplugged},
		{"much more", 4, 3.3, controller.BusError},
		{"a little below ground", -0.02, 3.3, controller.OutOfRange},
		{"far below ground", -0.2, 3.3, controller.BusError},
		{"no supply", 0, 0, controller.BusError},
		{"hardly any supply", 0.4, 0.8, controller.BusError},
		{"a supply below ground", -1, -3.3, controller.BusError},
		{"no number", nan, 3.3, controller.BusError},
		{"no number for a supply", 1, nan, controller.BusError},
		{"an endless voltage", inf, 3.3, controller.BusError},
		{"an endless supply", inf, inf, controller.BusError},
	} {
		if got, fault := divider(ntc.Ground).Temperature(row.shown, row.supply); got != 0 || fault != row.want {
			t.Errorf("%s: %v, fault %q; want fault %q", row.name, got, fault, row.want)
		}
	}
	// On the side of the supply the ends change places.
	for volts, want := range map[electric.Volts]controller.Fault{3.3: controller.OutOfRange, 0: controller.Unplugged, 4: controller.BusError, -0.2: controller.BusError} {
		if got, fault := divider(ntc.Supply).Temperature(volts, 3.3); got != 0 || fault != want {
			t.Errorf("%v on the side of the supply: %v, fault %q; want fault %q", volts, got, fault, want)
		}
	}
}

// ask and answer are a conversation with channel 0 of an ADS1115 up to 3.3 V;
// supply and volts with its channel 3 (data sheet, from memory).
func played(settings uint16, count int16) []i2ctest.IO {
	s, c := []byte{byte(settings >> 8), byte(settings)}, []byte{byte(uint16(count) >> 8), byte(count)}
	return []i2ctest.IO{
		{Addr: 0x48, W: append([]byte{1}, s...)}, {Addr: 0x48, W: []byte{1}, R: s}, {Addr: 0x48, W: []byte{0}, R: c},
	}
}

func onI2C(t *testing.T, b *i2ctest.Playback, channel int) adc.Input {
	t.Helper()
	in, err := adc.NewADS1115(b, 0x48, channel, 3.3)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

func TestAThermistorIsReadByAConverterOnI2C(t *testing.T) {
	for _, row := range []struct {
		name          string
		supply, count int16 // of 0.125 mV
		want          float64
		fault         controller.Fault
	}{
		{"half the supply: 10 kohm", 26400, 13200, 25, ""},
		{"a supply that is lower, measured too", 24000, 12000, 25, ""},
		{"open", 26400, 26400, 0, controller.Unplugged},
		{"shorted", 26400, 0, 0, controller.OutOfRange},
		{"no supply", 0, 0, 0, controller.BusError},
		{"a supply beyond the converter", 32767, 0, 0, controller.OutOfRange},
		{"a divider beyond the converter", 26400, 32767, 0, controller.OutOfRange},
	} {
		synctest.Test(t, func(t *testing.T) {
			b := &i2ctest.Playback{DontPanic: true, Ops: append(played(0xf303, row.supply), played(0xc303, row.count)...)}
			th, err := ntc.New(divider(ntc.Ground), onI2C(t, b, 0), onI2C(t, b, 3))
			if err != nil {
				t.Fatal(err)
			}
			got, fault := th.Read()
			if math.Abs(float64(got)-row.want) > 0.0005 || fault != row.fault || fault != "" && got != 0 {
				t.Errorf("%s: %v, fault %q; want %g C, fault %q", row.name, got, fault, row.want, row.fault)
			}
		})
	}
	synctest.Test(t, func(t *testing.T) {
		th, err := ntc.New(divider(ntc.Ground), onI2C(t, &i2ctest.Playback{DontPanic: true}, 0), adc.Fixed(3.3))
		if err != nil {
			t.Fatal(err)
		}
		if got, fault := th.Read(); got != 0 || fault != controller.BusError {
			t.Errorf("a converter that says nothing: %v, fault %q", got, fault)
		}
		if th.String() != "thermistor on ads1115 playback 0x48 channel 0" || th.Bus() != "playback" {
			t.Errorf("named %q on bus %q", th, th.Bus())
		}
	})
}

func TestAThermistorIsReadByAConverterOfTheKernel(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	dir := filepath.Join(root, "iio:device3")
	if err := os.Mkdir(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	write := func(name, text string) {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write("name", "ads1115")
	write("in_voltage0_scale", "0.125")
	in, err := iio.NewVoltage(iio.Match{Root: root, Name: "ads1115", Channel: "voltage0"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	th, err := ntc.New(divider(ntc.Ground), in, adc.Fixed(3.3))
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		raw   string
		want  units.Celsius
		fault controller.Fault
	}{
		{"13200", 25, ""}, {"26399", 0, controller.Unplugged}, {"3", 0, controller.OutOfRange}, {"x", 0, controller.Unreadable},
	} {
		write("in_voltage0_raw", row.raw)
		if got, want := th.Evidence(), map[string]string{"13200": "1.650 V", "26399": "3.300 V", "3": "0.000 V", "x": "not known (unreadable)"}[row.raw]; got != "the divider shows "+want+", its supply is 3.300 V" {
			t.Errorf("raw %s: %s", row.raw, got)
		}
		if got, fault := th.Read(); math.Abs(float64(got-row.want)) > 0.0005 || fault != row.fault {
			t.Errorf("raw %s: %v, fault %q; want %v, fault %q", row.raw, got, fault, row.want, row.fault)
		}
	}
	if th.Bus() != "iio ads1115 " {
		t.Errorf("on bus %q", th.Bus())
	}
}

func TestAThermistorThatCannotBeIsRefused(t *testing.T) {
	t.Parallel()
	in := adc.Fixed(1)
	for name, row := range map[string]struct {
		divider       ntc.Divider
		input, supply adc.Input
	}{
		"no divider":                {ntc.Divider{}, in, in},
		"no input":                  {divider(ntc.Ground), nil, in},
		"no supply":                 {divider(ntc.Ground), in, nil},
		"a side that is none":       {divider("left"), in, in},
		"no resistor":               {ntc.Divider{Curve: long(), Side: ntc.Ground}, in, in},
		"a resistor of no number":   {ntc.Divider{Curve: long(), Side: ntc.Ground, Resistor: electric.Ohms(math.NaN())}, in, in},
		"no curve":                  {ntc.Divider{Resistor: 10000, Side: ntc.Ground}, in, in},
		"a supply of another board": {divider(ntc.Ground), in, onI2C(t, &i2ctest.Playback{}, 0)},
	} {
		if th, err := ntc.New(row.divider, row.input, row.supply); err == nil || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s is taken: %v, %v", name, th, err)
		}
	}
}

// FuzzDivider holds that no voltages give anything but a temperature within what
// a thermistor at a fermenter may have, or a fault and no temperature; and that
// at one supply more volts across it are never warmer.
func FuzzDivider(f *testing.F) {
	for _, volts := range []float64{0, 1.65, 3.3, -1, 9, math.NaN(), math.Inf(-1)} {
		f.Add(volts, 3.3, 0.01)
	}
	f.Fuzz(func(t *testing.T, volts, supply, more float64) {
		for _, side := range ntc.Sides() {
			got, fault := divider(side).Temperature(electric.Volts(volts), electric.Volts(supply))
			if fault != "" && got != 0 || math.IsNaN(float64(got)) || got < -40.0001 || got > 110.0001 {
				t.Fatalf("%g V of %g V: %v, fault %q", volts, supply, got, fault)
			}
			next, after := divider(side).Temperature(electric.Volts(volts+math.Abs(more)), electric.Volts(supply))
			if fault != "" || after != "" {
				continue
			}
			if warmer := next > got+1e-9; warmer && side == ntc.Ground {
				t.Fatalf("%g V of %g V: %v, and %v with %g V more", volts, supply, got, next, more)
			}
			if colder := next < got-1e-9; colder && side == ntc.Supply {
				t.Fatalf("%g V of %g V: %v, and %v with %g V more", volts, supply, got, next, more)
			}
		}
	})
}
