package pressure_test

import (
	"math"
	"testing"
	"testing/synctest"

	"periph.io/x/conn/v3/i2c/i2ctest"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors/adc"
	"example.org/restpoint/sensors/electric"
	"example.org/restpoint/sensors/pressure"
)

// usual is the transducer of the trade: 0.5 to 4.5 V for 0 to 200 kPa.
func usual() pressure.Span {
	return pressure.Span{From: pressure.Point{Volts: 0.5}, To: pressure.Point{Volts: 4.5, Is: 200_000}}
}

func TestAVoltageIsAPressureOrAFault(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name  string
		volts float64
		want  units.Pascals
		fault controller.Fault
	}{
		{"the pressure of the air", 0.5, 0, ""},
		{"half of the range", 2.5, 100_000, ""},
		{"the end of the range", 4.5, 200_000, ""},
		{"0.8 bar", 2.1, 80_000, ""},
		{"a little vacuum, as a crash draws", 0.4, -5_000, ""},
		{"the lowest that it can say", 0.25, -12_500, ""},
		{"the highest that it can say", 4.75, 212_500, ""},
		{"a broken wire", 0, 0, controller.Unplugged},
		{"hardly less than it can say", 0.2499, 0, controller.Unplugged},
		{"hardly more than it can say", 4.7501, 0, controller.OutOfRange},
		{"shorted to its supply", 5, 0, controller.OutOfRange},
		{"below ground", -3, 0, controller.Unplugged},
		{"no number", math.NaN(), 0, controller.OutOfRange},
		{"endless", math.Inf(1), 0, controller.OutOfRange},
		{"endless below", math.Inf(-1), 0, controller.Unplugged},
	} {
		got, fault := usual().Pressure(electric.Volts(row.volts))
		if math.Abs(float64(got-row.want)) > 1e-6 || fault != row.fault || fault != "" && got != 0 {
			t.Errorf("%s: %v, fault %q; want %v, fault %q", row.name, got, fault, row.want, row.fault)
		}
	}
	// The lowest pressure need not be that of the air.
	vacuum := pressure.Span{From: pressure.Point{Volts: 0, Is: -100_000}, To: pressure.Point{Volts: 3, Is: 100_000}}
	if got, fault := vacuum.Pressure(1.5); got != 0 || fault != "" {
		t.Errorf("half of a range around zero: %v, fault %q", got, fault)
	}
}

func played(settings uint16, count int16) []i2ctest.IO {
	s, c := []byte{byte(settings >> 8), byte(settings)}, []byte{byte(uint16(count) >> 8), byte(count)}
	return []i2ctest.IO{
		{Addr: 0x48, W: append([]byte{1}, s...)}, {Addr: 0x48, W: []byte{1}, R: s}, {Addr: 0x48, W: []byte{0}, R: c},
	}
}

func onI2C(t *testing.T, b *i2ctest.Playback, channel int) adc.Input {
	t.Helper()
	in, err := adc.NewADS1115(b, 0x48, channel, 5.5)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

// The conversations are with an ADS1115 in its widest range, where one count is
// 0.1875 mV (data sheet, from memory).
func TestATransducerIsReadByAConverter(t *testing.T) {
	const millivolt = 1 / 0.1875
	for _, row := range []struct {
		name          string
		supply, volts float64 // mV; supply 0 = not measured
		want          float64
		fault         controller.Fault
	}{
		{"with a reference of its own", 0, 2500, 100_000, ""},
		{"a broken wire", 0, 0, 0, controller.Unplugged},
		{"a short", 0, 5000, 0, controller.OutOfRange},
		{"beyond the converter", 0, 32767 * 0.1875, 0, controller.OutOfRange},
		{"at its nominal supply", 5000, 2500, 100_000, ""},
		{"at a lower supply, which lowers its answer", 4750, 2375, 100_000, ""},
		{"at a higher supply", 5250, 4725, 200_000, ""},
		{"at hardly any supply", 2500, 1250, 0, controller.BusError},
		{"at too much supply", 5600, 1250, 0, controller.BusError},
		{"at a supply beyond the converter", 32767 * 0.1875, 1250, 0, controller.OutOfRange},
	} {
		synctest.Test(t, func(t *testing.T) {
			b := &i2ctest.Playback{DontPanic: true}
			var supply pressure.Supply
			if row.supply > 0 {
				b.Ops = played(0xf103, int16(math.Round(row.supply*millivolt)))
				supply = pressure.Supply{Input: onI2C(t, b, 3), Nominal: 5}
			}
			b.Ops = append(b.Ops, played(0xc103, int16(math.Round(row.volts*millivolt)))...)
			if row.name == "a broken wire" {
				b.Ops = append(b.Ops, b.Ops...)
			}
			g, err := pressure.New(usual(), onI2C(t, b, 0), supply)
			if err != nil {
				t.Fatal(err)
			}
			got, fault := g.Read()
			if math.Abs(float64(got)-row.want) > 20 || fault != row.fault || fault != "" && got != 0 { // one count is 9 Pa
				t.Errorf("%s: %v, fault %q; want %g Pa, fault %q", row.name, got, fault, row.want, row.fault)
			}
			if row.name == "a broken wire" && g.Evidence() != "it answers 0.000 V" {
				t.Error(g.Evidence())
			}
		})
	}
	synctest.Test(t, func(t *testing.T) {
		b := &i2ctest.Playback{DontPanic: true, Ops: append(played(0xc103, 13333), played(0xf103, 26667)...)}
		g, err := pressure.New(usual(), onI2C(t, b, 0), pressure.Supply{Input: onI2C(t, b, 3), Nominal: 5})
		if err != nil {
			t.Fatal(err)
		}
		if got := g.Evidence(); got != "it answers 2.500 V, its supply is 5.000 V" {
			t.Error(got)
		}
	})
	synctest.Test(t, func(t *testing.T) {
		g, err := pressure.New(usual(), onI2C(t, &i2ctest.Playback{DontPanic: true}, 1), pressure.Supply{})
		if err != nil {
			t.Fatal(err)
		}
		if got, fault := g.Read(); got != 0 || fault != controller.BusError {
			t.Errorf("a converter that says nothing: %v, fault %q", got, fault)
		}
		if g.String() != "pressure on ads1115 playback 0x48 channel 1" || g.Bus() != "playback" {
			t.Errorf("named %q on bus %q", g, g.Bus())
		}
	})
}

func TestATransducerThatCannotBeIsRefused(t *testing.T) {
	t.Parallel()
	in, inf := adc.Fixed(1), math.Inf(1)
	for name, row := range map[string]struct {
		from, to pressure.Point
		input    adc.Input
		supply   pressure.Supply
	}{
		"no input":                  {pressure.Point{}, pressure.Point{Volts: 1, Is: 1}, nil, pressure.Supply{}},
		"no range":                  {pressure.Point{}, pressure.Point{}, in, pressure.Supply{}},
		"no range of volts":         {pressure.Point{Volts: 1}, pressure.Point{Volts: 1, Is: 5}, in, pressure.Supply{}},
		"no range of pressure":      {pressure.Point{Is: 5}, pressure.Point{Volts: 1, Is: 5}, in, pressure.Supply{}},
		"a falling range":           {pressure.Point{Is: 5}, pressure.Point{Volts: 1}, in, pressure.Supply{}},
		"an endless range of volts": {pressure.Point{}, pressure.Point{Volts: electric.Volts(inf), Is: 1}, in, pressure.Supply{}},
		"an endless range":          {pressure.Point{}, pressure.Point{Volts: 1, Is: units.Pascals(inf)}, in, pressure.Supply{}},
		"a range of no number":      {pressure.Point{}, pressure.Point{Volts: 1, Is: units.Pascals(math.NaN())}, in, pressure.Supply{}},
		"no nominal supply":         {pressure.Point{}, pressure.Point{Volts: 1, Is: 1}, in, pressure.Supply{Input: in}},
		"a supply of another board": {pressure.Point{}, pressure.Point{Volts: 1, Is: 1}, in, pressure.Supply{Input: onI2C(t, &i2ctest.Playback{}, 0), Nominal: 5}},
	} {
		if g, err := pressure.New(pressure.Span{From: row.from, To: row.to}, row.input, row.supply); err == nil {
			t.Errorf("%s is taken: %v", name, g)
		}
	}
}

// FuzzPressure holds that any voltage over any range is a finite pressure within
// a sixteenth of that range or a fault, and that more volts are never less
// pressure.
func FuzzPressure(f *testing.F) {
	for _, v := range []float64{0, 0.25, 2.5, 4.75, 5, math.NaN()} {
		f.Add(v, 0.1, 0.5, 4.5, 0.0, 200_000.0)
	}
	f.Fuzz(func(t *testing.T, v, more, low, high, least, most float64) {
		s := pressure.Span{
			From: pressure.Point{Volts: electric.Volts(low), Is: units.Pascals(least)},
			To:   pressure.Point{Volts: electric.Volts(high), Is: units.Pascals(most)},
		}
		if s.Check() != nil {
			return
		}
		got, fault := s.Pressure(electric.Volts(v))
		if fault != "" && got != 0 {
			t.Fatalf("%+v: %g V is %v beside the fault %q", s, v, got, fault)
		}
		if fault != "" || math.Abs(high) > 1e6 || math.Abs(most) > 1e12 || high-low < 1e-6 || most-least < 1e-6 {
			return // no transducer; rounding alone may then leave the range
		}
		over := (most - least) / 16 * 1.0001
		if inside := float64(got) >= least-over-1e-3 && float64(got) <= most+over+1e-3; !inside {
			t.Fatalf("%+v: %g V is %v", s, v, got)
		}
		if next, after := s.Pressure(electric.Volts(v + math.Abs(more))); after == "" && next < got-1e-3 {
			t.Fatalf("%+v: %g V is %v, and %v with %g V more", s, v, got, next, more)
		}
	})
}
