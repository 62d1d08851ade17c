package sensors_test

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"testing/synctest"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors"
	"example.org/restpoint/sensors/hwmon"
	"example.org/restpoint/sensors/iio"
)

func TestEveryKindOpensAndReads(t *testing.T) {
	plain := filepath.Join(t.TempDir(), "beer")
	if err := os.WriteFile(plain, []byte("18500"), 0o600); err != nil {
		t.Fatal(err)
	}
	devices := t.TempDir()
	chip(t, devices, "name", "tmp117\n", "in_temp_raw", "2368\n", "in_temp_scale", "7.812500\n")
	answer := func(text string) sensors.ReadFile {
		return func(string) ([]byte, error) { return []byte(text), nil }
	}
	specs := map[sensors.Kind]sensors.Spec{
		sensors.OneWire:  {ID: "28-000001318252", Root: t.TempDir(), Read: answer("91 01 4b 46 7f ff 0f 10 25 : crc=25 YES\n91 01 4b 46 7f ff 0f 10 25 t=25062\n")},
		sensors.Hwmon:    {Hwmon: hwmon.Match{Name: "tmp105", Root: t.TempDir()}},
		sensors.File:     {Path: plain},
		sensors.IIO:      {IIO: iio.Match{Name: "tmp117", Channel: "temp"}, Root: devices},
		sensors.RTD:      {Platinum: sensors.Platinum{Wiring: pt100()}, OpenSPI: played},
		sensors.NTC:      {Thermistor: thermistor(), OpenI2C: converter(13200)},
		sensors.Pressure: {Transducer: transducer(), OpenI2C: converter(13333)},
	}
	want := map[sensors.Kind]controller.Value{
		sensors.OneWire:  controller.OfTemperature(25.0625),
		sensors.File:     controller.OfTemperature(18.5),
		sensors.IIO:      controller.OfTemperature(18.5),
		sensors.RTD:      controller.OfTemperature(20),
		sensors.NTC:      controller.OfTemperature(25),
		sensors.Pressure: controller.OfPressure(100_000),
	}
	for _, kind := range sensors.Kinds() {
		synctest.Test(t, func(t *testing.T) { // the chips take their time
			spec := specs[kind]
			spec.Kind, spec.Probe = kind, "fv1/thermowell"
			s, err := sensors.Open(spec)
			if err != nil {
				t.Fatalf("%s: %v", kind, err)
			}
			got, fault := s.Read()
			switch {
			case kind == sensors.Hwmon:
				if fault != controller.Unplugged {
					t.Errorf("%s: fault %q of a chip that is not there", kind, fault)
				}
			case fault != controller.NoFault || !near(got, want[kind]):
				t.Errorf("%s: read %+v, fault %q; want %+v", kind, got, fault, want[kind])
			}
		})
	}
}

// near tells whether two values are the same quantity, and equal but for what a
// converter rounds.
func near(a, b controller.Value) bool {
	return a.Quantity == b.Quantity && a.HasCelsius == b.HasCelsius &&
		math.Abs(float64(a.Celsius-b.Celsius)) < 0.02 && math.Abs(float64(a.Gauge-b.Gauge)) < 20
}

func TestTheCalibrationMovesValuesAndNoFault(t *testing.T) {
	text, failure := "18500\n", error(nil)
	th, err := sensors.Open(sensors.Spec{
		Kind: sensors.File, Path: "x", Calibration: sensors.Calibration{Offset: -0.25, Gain: 1.01},
		Read: func(string) ([]byte, error) { return []byte(text), failure },
	})
	if err != nil {
		t.Fatal(err)
	}
	if got, fault := th.Read(); got != controller.OfTemperature(18.435) || fault != controller.NoFault {
		t.Errorf("read %v, fault %q; want 18.435", got, fault)
	}
	for _, row := range []struct {
		text string
		err  error
		want controller.Fault
	}{
		{"", nil, controller.EmptyRead},
		{"x\n", nil, controller.Unreadable},
		{"", syscall.EIO, controller.BusError},
		{"", syscall.ENOENT, controller.Unplugged},
	} {
		text, failure = row.text, row.err
		if got, fault := th.Read(); got != (controller.Value{}) || fault != row.want {
			t.Errorf("%q, %v: read %v, fault %q; want fault %q", row.text, row.err, got, fault, row.want)
		}
	}
	if th.String() != "file x" || th.Bus() != "file x" {
		t.Errorf("named %q on bus %q", th, th.Bus())
	}
}

func TestASpecThatCannotBeIsRefusedWithItsProbe(t *testing.T) {
	for _, spec := range []sensors.Spec{
		{},
		{Kind: "pyrometer"},
		{Kind: sensors.OneWire, ID: "28"},
		{Kind: sensors.Hwmon},
		{Kind: sensors.File},
		{Kind: sensors.File, Path: "x", Calibration: sensors.Calibration{Offset: units.Kelvins(math.NaN())}},
		{Kind: sensors.IIO},
		{Kind: sensors.RTD},
		{Kind: sensors.NTC},
		{Kind: sensors.Pressure},
	} {
		spec.Probe = "fv1/thermowell"
		th, err := sensors.Open(spec)
		if err == nil || th != nil || !strings.Contains(err.Error(), "fv1/thermowell") {
			t.Errorf("%+v: opened %v, error %v", spec, th, err)
		}
	}
}
