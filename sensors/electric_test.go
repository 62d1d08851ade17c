package sensors_test

import (
	"os"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"

	"go.uber.org/goleak"
	"periph.io/x/conn/v3/conntest"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2ctest"
	"periph.io/x/conn/v3/spi"
	"periph.io/x/conn/v3/spi/spitest"

	"example.org/restpoint/controller"
	"example.org/restpoint/sensors"
	"example.org/restpoint/sensors/iio"
	"example.org/restpoint/sensors/ntc"
	"example.org/restpoint/sensors/port"
	"example.org/restpoint/sensors/pressure"
	"example.org/restpoint/sensors/rtd"
)

// chip writes one device of the kernel's I/O class.
func chip(t *testing.T, root string, attributes ...string) {
	t.Helper()
	dir := filepath.Join(root, "iio:device0")
	if err := os.MkdirAll(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(attributes); i += 2 {
		if err := os.WriteFile(filepath.Join(dir, attributes[i]), []byte(attributes[i+1]), 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

func pt100() rtd.Wiring {
	return rtd.Wiring{Element: rtd.Pt100, Wires: 3, Mains: 50, Reference: 430}
}

// played is an SPI port with one conversation, at 20 C (the registers of the
// MAX31865, from memory of its data sheet).
func played(int, int) (spi.PortCloser, error) {
	return &spitest.Playback{Playback: conntest.Playback{DontPanic: true, Ops: []conntest.IO{
		{W: []byte{0x80, 0x93}},
		{W: []byte{0x83, 0x5d, 0xa8, 0x2d, 0x70}},
		{W: []byte{0x80, 0x95}},
		{W: []byte{0x80, 0xb1}},
		{W: make([]byte, 9), R: []byte{0, 0x91, 0x40, 0x2c, 0x5d, 0xa8, 0x2d, 0x70, 0}},
		{W: []byte{0x80, 0x11}},
	}}}, nil
}

// onChip is channel 0 of an ADS1115.
func onChip() sensors.ADC { return sensors.ADC{Kind: sensors.ADS1115, Bus: 1, Address: 0x48} }

func thermistor() sensors.Thermistor {
	return sensors.Thermistor{
		Input:   onChip(),
		Divider: ntc.Divider{Curve: ntc.OfBeta(10000, 3977), Resistor: 10000, Side: ntc.Ground},
		Supply:  sensors.Supply{Nominal: 3.3},
	}
}

func transducer() sensors.Transducer {
	return sensors.Transducer{
		Input: onChip(),
		Span:  pressure.Span{From: pressure.Point{Volts: 0.5}, To: pressure.Point{Volts: 4.5, Is: 200_000}},
	}
}

// conversation is one with an ADS1115 at 0x48 (registers from memory of its data
// sheet): its settings and the count that it gives.
func conversation(settings, count uint16) []i2ctest.IO {
	s := []byte{byte(settings >> 8), byte(settings)}
	return []i2ctest.IO{
		{Addr: 0x48, W: append([]byte{1}, s...)}, {Addr: 0x48, W: []byte{1}, R: s}, {Addr: 0x48, W: []byte{0}, R: []byte{byte(count >> 8), byte(count)}},
	}
}

// converter is an I2C bus on which a chip answers once, in the range of 4.096 V for
// a thermistor at 3.3 V and of 6.144 V for a transducer.
func converter(count uint16) port.OpenI2C {
	settings := uint16(0xc303)
	if count == 13333 {
		settings = 0xc103
	}
	return func(int) (i2c.BusCloser, error) {
		return &i2ctest.Playback{DontPanic: true, Ops: conversation(settings, count)}, nil
	}
}

func TestASupplyIsMeasuredWhereItIsSaid(t *testing.T) {
	bus := func(supply, answer uint16, range4 bool) port.OpenI2C {
		ops := append(conversation(0xf103, supply), conversation(0xc103, answer)...)
		if range4 {
			ops = append(conversation(0xf303, supply), conversation(0xc303, answer)...)
		}
		both := &i2ctest.Playback{DontPanic: true, Ops: ops} // one player for both channels
		return func(int) (i2c.BusCloser, error) { return both, nil }
	}
	measured := sensors.Supply{Nominal: 3.3, Measured: sensors.ADC{Kind: sensors.ADS1115, Bus: 1, Address: 0x48, Channel: 3}}
	cold, ratio := thermistor(), transducer()
	cold.Supply, ratio.Supply = measured, measured
	ratio.Supply.Nominal = 5
	for name, row := range map[string]struct {
		spec sensors.Spec
		want controller.Value
	}{
		"of a thermistor, 3 V: half of it is 25 C": {
			sensors.Spec{Kind: sensors.NTC, Thermistor: cold, OpenI2C: bus(24000, 12000, true)}, controller.OfTemperature(25),
		},
		"of a transducer, 4.75 V: half of it is half of the range": {
			sensors.Spec{Kind: sensors.Pressure, Transducer: ratio, OpenI2C: bus(25333, 12667, false)}, controller.OfPressure(100_000),
		},
	} {
		synctest.Test(t, func(t *testing.T) {
			s, err := sensors.Open(row.spec)
			if err != nil {
				t.Fatal(err)
			}
			if got, fault := s.Read(); fault != "" || !near(got, row.want) {
				t.Errorf("%s: %+v, fault %q", name, got, fault)
			}
		})
	}
}

func TestAConverterOfTheKernelIsReadToo(t *testing.T) {
	root := t.TempDir()
	chip(t, root, "name", "ads1015\n", "in_voltage0_raw", "825\n", "in_voltage1_raw", "1250\n", "in_voltage_scale", "2\n")
	in := func(channel string) sensors.ADC {
		return sensors.ADC{Kind: sensors.OfKernel, IIO: iio.Match{Name: "ads1015", Channel: channel}}
	}
	warm, gauge := thermistor(), transducer()
	warm.Input, gauge.Input = in("voltage0"), in("voltage1")
	for kind, want := range map[sensors.Kind]controller.Value{sensors.NTC: controller.OfTemperature(25), sensors.Pressure: controller.OfPressure(100_000)} {
		s, err := sensors.Open(sensors.Spec{Kind: kind, Thermistor: warm, Transducer: gauge, Root: root})
		if err != nil {
			t.Fatal(err)
		}
		if got, fault := s.Read(); fault != "" || !near(got, want) || s.Bus() != "iio ads1015 " {
			t.Errorf("%s: %+v, fault %q, on bus %q; want %+v", s, got, fault, s.Bus(), want)
		}
	}
}

func TestABusThatIsUnpluggedIsAFaultOfReadings(t *testing.T) {
	absent := func(sensors.Kind) sensors.Spec {
		return sensors.Spec{
			Platinum: sensors.Platinum{Wiring: pt100()}, Thermistor: thermistor(), Transducer: transducer(),
			OpenI2C: func(int) (i2c.BusCloser, error) { return nil, os.ErrNotExist },
			OpenSPI: func(int, int) (spi.PortCloser, error) { return nil, os.ErrNotExist },
		}
	}
	for kind, bus := range map[sensors.Kind]string{sensors.RTD: "spi 0", sensors.NTC: "i2c 1", sensors.Pressure: "i2c 1"} {
		spec := absent(kind)
		spec.Kind = kind
		s, err := sensors.Open(spec)
		if err != nil {
			t.Fatal(err)
		}
		for range 2 {
			if got, fault := s.Read(); got != (controller.Value{}) || fault != controller.Unplugged || s.Bus() != bus {
				t.Errorf("%s: %+v, fault %q, on bus %q", s, got, fault, s.Bus())
			}
		}
	}
}

func TestAConverterThatCannotBeIsRefused(t *testing.T) {
	for name, change := range map[string]func(*sensors.ADC){
		"none":                     func(a *sensors.ADC) { a.Kind = sensors.NoADC },
		"one of no known kind":     func(a *sensors.ADC) { a.Kind = "ads9" },
		"one of the kernel's":      func(a *sensors.ADC) { a.Kind = sensors.OfKernel },
		"an address of no ADS1115": func(a *sensors.ADC) { a.Address = 0x20 },
		"a channel of no ADS1115":  func(a *sensors.ADC) { a.Channel = 4 },
	} {
		for _, kind := range []sensors.Kind{sensors.NTC, sensors.Pressure} {
			input := sensors.Spec{Kind: kind, Thermistor: thermistor(), Transducer: transducer()}
			change(&input.Thermistor.Input)
			change(&input.Transducer.Input)
			supply := sensors.Spec{Kind: kind, Thermistor: thermistor(), Transducer: transducer()}
			supply.Thermistor.Supply.Measured, supply.Transducer.Supply = onChip(), sensors.Supply{Nominal: 5, Measured: onChip()}
			change(&supply.Thermistor.Supply.Measured)
			change(&supply.Transducer.Supply.Measured)
			if s, err := sensors.Open(input); err == nil {
				t.Errorf("%s: %s on %s is taken: %v", kind, "input", name, s)
			}
			if s, err := sensors.Open(supply); err == nil && name != "none" { // where none is said, none is measured
				t.Errorf("%s: %s on %s is taken: %v", kind, "supply", name, s)
			}
		}
	}
}

// A thermistor and a transducer on one converter would turn it away from each
// other: they are read one after another, and both come in.
func TestAPressureComesInBesideATemperature(t *testing.T) {
	defer goleak.VerifyNone(t)
	synctest.Test(t, func(t *testing.T) {
		warm, err := sensors.Open(sensors.Spec{Kind: sensors.NTC, Thermistor: thermistor(), OpenI2C: converter(13200)})
		if err != nil {
			t.Fatal(err)
		}
		gauge, err := sensors.Open(sensors.Spec{Kind: sensors.Pressure, Transducer: transducer(), OpenI2C: converter(13333)})
		if err != nil {
			t.Fatal(err)
		}
		got, stop := start(sensors.Poll{Interval: interval, Probes: []sensors.Probe{{"fv1/thermowell", warm}, {"fv1/pressure", gauge}}})
		after(time.Second)
		if err := stop(); err != nil {
			t.Error(err)
		}
		all := got()
		if len(all) != 2 || all[0].at != 140*time.Millisecond || all[1].at != 280*time.Millisecond {
			t.Fatalf("%+v, want one after another", all)
		}
		if !near(all[0].Value, controller.OfTemperature(25)) || !near(all[1].Value, controller.OfPressure(100_000)) || all[1].Probe != "fv1/pressure" {
			t.Errorf("%+v", all)
		}
	})
}
