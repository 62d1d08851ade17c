package site_test

import (
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"

	"example.org/restpoint/cmd/restpoint/internal/site"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles/strict"
	"example.org/restpoint/sensors"
	"example.org/restpoint/sensors/iio"
	"example.org/restpoint/sensors/ntc"
	"example.org/restpoint/sensors/pressure"
	"example.org/restpoint/sensors/rtd"
)

const (
	chip      = "adc: {ads1115: {i2c: 1, address: 0x4a, channel: 2}}"
	curve     = "steinhart-hart: [1.029194767e-3, 2.391275184e-4, 1.566277150e-7]"
	divider   = "supply: 3.3 V, resistor: 10 kohm, side: ground, " + curve
	gauge     = "adc: {ads1115: {i2c: 0, address: 0x48, channel: 0}}, from: {volts: 0.5 V, is: 0 bar}, to: {volts: 4.5 V, is: 2 bar}"
	thisProbe = controller.ProbeID("fv1/ambient")
)

func onChip(channel int) sensors.ADC {
	return sensors.ADC{Kind: sensors.ADS1115, Bus: 1, Address: 0x4a, Channel: channel}
}

func ofKernel(m iio.Match) sensors.ADC { return sensors.ADC{Kind: sensors.OfKernel, IIO: m} }

func thermistor(change func(*sensors.Thermistor)) site.Probe {
	p := site.Probe{ID: thisProbe, Kind: site.NTC, Thermistor: sensors.Thermistor{
		Input:  onChip(2),
		Supply: sensors.Supply{Nominal: 3.3},
		Divider: ntc.Divider{
			Resistor: 10000, Side: ntc.Ground, Curve: ntc.Curve{A: 1.029194767e-3, B: 2.391275184e-4, C: 1.566277150e-7},
		},
	}}
	change(&p.Thermistor)
	return p
}

func platinum(w rtd.Wiring) site.Probe {
	return site.Probe{ID: thisProbe, Kind: site.RTD, Platinum: sensors.Platinum{Wiring: w}}
}

func TestEveryFormOfAProbeIsReadToItsFieldsAndNoOther(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name, probe string
		want        site.Probe
	}{
		{"a device of the kernel by its name", "iio: {name: tmp117, channel: temp}", site.Probe{ID: thisProbe, Kind: site.IIO, Channel: iio.Match{Name: "tmp117", Channel: "temp"}}},
		{"a device of the kernel by its label", "iio: {label: cone probe, channel: temp12}, offset: 0.5 K", site.Probe{ID: thisProbe, Kind: site.IIO, Channel: iio.Match{Label: "cone probe", Channel: "temp12"}, Calibration: sensors.Calibration{Offset: 0.5}}},
		{"a channel with a word", "iio: {name: mlx90614, channel: temp_object}", site.Probe{ID: thisProbe, Kind: site.IIO, Channel: iio.Match{Name: "mlx90614", Channel: "temp_object"}}},
		{"a Pt100 of three wires", "rtd: {spi: 0.0, sensor: Pt100, wires: 3, reference: 430 ohm, mains: 50 Hz}", platinum(rtd.Wiring{Element: rtd.Pt100, Wires: 3, Mains: 50, Reference: 430})},
		{"a Pt1000 of two wires on another port", "rtd: {spi: 10.2, sensor: Pt1000, wires: 2, reference: 4.3 kohm, mains: 60 Hz}, offset: -0.1 K", site.Probe{
			ID: thisProbe, Kind: site.RTD, Calibration: sensors.Calibration{Offset: -0.1}, Platinum: sensors.Platinum{Bus: 10, Select: 2, Wiring: rtd.Wiring{Element: rtd.Pt1000, Wires: 2, Mains: 60, Reference: 4300}},
		}},
		{"a thermistor on a chip", "ntc: {" + chip + ", " + divider + "}", thermistor(func(*sensors.Thermistor) {})},
		{"a thermistor on the side of the supply", "ntc: {" + chip + ", " + strings.Replace(divider, "side: ground", "side: supply", 1) + "}", thermistor(func(t *sensors.Thermistor) { t.Divider.Side = ntc.Supply })},
		{"a thermistor on a converter of the kernel", "ntc: {adc: {iio: {name: ads1015, channel: voltage3}}, " + divider + "}", thermistor(func(t *sensors.Thermistor) {
			t.Input = ofKernel(iio.Match{Name: "ads1015", Channel: "voltage3"})
		})},
		{"a difference of two channels", "ntc: {adc: {iio: {label: adc, channel: voltage0-voltage1}}, " + divider + "}", thermistor(func(t *sensors.Thermistor) {
			t.Input = ofKernel(iio.Match{Label: "adc", Channel: "voltage0-voltage1"})
		})},
		{"a supply that the chip measures", "ntc: {" + chip + ", " + strings.Replace(divider, "3.3 V", "{nominal: 5 V, channel: 3}", 1) + "}", thermistor(func(t *sensors.Thermistor) {
			t.Supply = sensors.Supply{Nominal: 5, Measured: onChip(3)}
		})},
		{"a supply that the kernel measures", "ntc: {adc: {iio: {name: a, channel: voltage0}}, " + strings.Replace(divider, "3.3 V", "{nominal: 1.8 V, channel: voltage7}", 1) + "}", thermistor(func(t *sensors.Thermistor) {
			t.Input = ofKernel(iio.Match{Name: "a", Channel: "voltage0"})
			t.Supply = sensors.Supply{Nominal: 1.8, Measured: ofKernel(iio.Match{Name: "a", Channel: "voltage7"})}
		})},
	} {
		s, err := site.Read("a.yaml", []byte(vessel("ambient: {"+row.probe+"}")))
		if err != nil {
			t.Errorf("%s: %v", row.name, err)
			continue
		}
		want := usual()
		want.Vessels[0].Ambient = row.want
		if got := bare(s); !reflect.DeepEqual(got, want) || len(s.Warnings) > 0 {
			t.Errorf("%s: read as\n%+v\nwant\n%+v\nwarns %v", row.name, got, want, s.Warnings)
		}
	}
}

func TestAPressureIsReadToItsFields(t *testing.T) {
	t.Parallel()
	span := pressure.Span{From: pressure.Point{Volts: 0.5}, To: pressure.Point{Volts: 4.5, Is: 200_000}}
	base := site.Pressure{ID: "fv1/pressure", Transducer: sensors.Transducer{Input: sensors.ADC{Kind: sensors.ADS1115, Address: 0x48}, Span: span}}
	for _, row := range []struct {
		name, more string
		want       func(*site.Pressure)
	}{
		{"nothing but what is needed", gauge, func(*site.Pressure) {}},
		{"an alarm", gauge + ", highest: 1 bar", func(p *site.Pressure) { p.Limits.Highest = 100_000 }},
		{"an alarm at the end of the range", gauge + ", highest: 200 kPa", func(p *site.Pressure) { p.Limits.Highest = 200_000 }},
		{"a vacuum of its own", gauge + ", lowest: -500 Pa", func(p *site.Pressure) { p.Limits.Lowest = -500 }},
		{"a measured supply", gauge + ", supply: {nominal: 5 V, channel: 3}", func(p *site.Pressure) {
			p.Transducer.Supply = sensors.Supply{Nominal: 5, Measured: sensors.ADC{Kind: sensors.ADS1115, Address: 0x48, Channel: 3}}
		}},
		{"the kernel's converter, and a range from a vacuum", "adc: {iio: {name: mcp3424, channel: voltage1}}, from: {volts: 0 V, is: -1 bar}, to: {volts: 5000 mV, is: 14.5 psi}", func(p *site.Pressure) {
			p.Transducer.Input = ofKernel(iio.Match{Name: "mcp3424", Channel: "voltage1"})
			p.Transducer.Span = pressure.Span{From: pressure.Point{Is: -100_000}, To: pressure.Point{Volts: 5, Is: 14.5 * units.PascalsPerPSI}}
		}},
	} {
		s, err := site.Read("a.yaml", []byte(vessel("pressure: {"+row.more+"}")))
		if err != nil {
			t.Errorf("%s: %v", row.name, err)
			continue
		}
		want := base
		row.want(&want)
		got := s.Vessels[0].Pressure
		if math.Abs(float64(got.Transducer.Span.To.Is-want.Transducer.Span.To.Is)) < 1e-6 {
			got.Transducer.Span.To.Is = want.Transducer.Span.To.Is // psi are rounded
		}
		if got != want || len(s.Warnings) > 0 {
			t.Errorf("%s: read as\n%+v\nwant\n%+v", row.name, got, want)
		}
		if v := s.Vessel(0); v.Probes.Pressure != "fv1/pressure" || v.Pressure != want.Limits {
			t.Errorf("%s: becomes %+v, %+v", row.name, v.Probes, v.Pressure)
		}
	}
	if v := reading(t, small).Vessel(0); v.Probes.Pressure != "" || v.Pressure != (controller.PressureLimits{}) {
		t.Errorf("without a transducer: %+v, %+v", v.Probes, v.Pressure)
	}
}

func TestWhatIsPoorAtAProbeIsWarnedOf(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{
		"rtd: {spi: 0.0, sensor: Pt100, wires: 2, reference: 430 ohm, mains: 50 Hz}": "a.yaml:3:145: vessels[1].ambient.rtd.wires: 0.1 ohm in two wires reads as 0.26 K on a Pt100; a third wire takes that away, or set it right by offset",
		"ntc: {" + chip + ", supply: 3.3 V, resistor: 10 kohm, side: ground, beta: {r25: 10 kohm, b: 3950 K}}": "a.yaml:3:220: vessels[1].ambient.ntc.beta: " +
			"a B value is poor near freezing, where it may be off by 0.7 K; steinhart-hart is better, and the data sheet has its three coefficients or the table to get them from",
	} {
		s, err := site.Read("a.yaml", []byte(vessel("ambient: {"+text+"}")))
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		if got := lines(s.Warnings); len(got) != 1 || got[0] != want {
			t.Errorf("warns %q\nwant  %q", got, want)
		}
		if beta := s.Vessels[0].Ambient.Thermistor.Divider.Curve; strings.HasPrefix(text, "ntc") && beta != ntc.OfBeta(10000, 3950) {
			t.Errorf("read as %+v", beta)
		}
	}
}

// Just beyond each end is refused, by one problem at the value.
func TestJustBeyondTheEndsOfAProbeIsRefused(t *testing.T) {
	t.Parallel()
	probe := func(old, now string) string {
		return vessel("ambient: {ntc: {" + strings.Replace(chip+", "+divider, old, now, 1) + "}}")
	}
	platinum := func(old, now string) string {
		return vessel("ambient: {rtd: {" + strings.Replace("spi: 0.0, sensor: Pt100, wires: 3, reference: 430 ohm, mains: 50 Hz", old, now, 1) + "}}")
	}
	top := func(old, now string) string {
		return vessel("pressure: {" + strings.Replace(gauge, old, now, 1) + "}")
	}
	const at = "vessels[1].ambient."
	for _, row := range []struct {
		name, src string
		rule      strict.Rule
		path      string
	}{
		{"a bus that is none", probe("i2c: 1", "i2c: 100"), strict.Range, at + "ntc.adc.ads1115.i2c"},
		{"an address in capitals", probe("0x4a", "0x4A"), strict.UnknownWord, at + "ntc.adc.ads1115.address"},
		{"an address as a plain number", probe("0x4a", "72"), strict.UnknownWord, at + "ntc.adc.ads1115.address"},
		{"a supply below any", probe("3.3 V", "1.79 V"), strict.Range, at + "ntc.supply"},
		{"a supply above any", probe("3.3 V", "5.51 V"), strict.Range, at + "ntc.supply"},
		{"a supply in two words", probe("3.3 V", "[3.3 V]"), strict.NotAMap, at + "ntc.supply"},
		{"a nominal supply above any", probe("3.3 V", "{nominal: 9 V, channel: 3}"), strict.Range, at + "ntc.supply.nominal"},
		{"a supply of another converter's form", probe("3.3 V", "{nominal: 3 V, channel: voltage3}"), strict.Quantity, at + "ntc.supply.channel"},
		{"a resistor below any", probe("10 kohm", "99 ohm"), strict.Range, at + "ntc.resistor"},
		{"a resistor above any", probe("10 kohm", "1.01 Mohm"), strict.Range, at + "ntc.resistor"},
		{"a coefficient that is endless", probe("1.029194767e-3", "1e999"), site.Coefficients, at + "ntc.steinhart-hart[1]"},
		{"a coefficient without a number", probe("1.029194767e-3", "x"), site.Coefficients, at + "ntc.steinhart-hart[1]"},
		{"a coefficient in hexadecimal", probe("1.029194767e-3", "0x1p-10"), site.Coefficients, at + "ntc.steinhart-hart[1]"},
		{"coefficients that are no list", probe("[1.029194767e-3, 2.391275184e-4, 1.566277150e-7]", "1.0e-3"), strict.NotAList, at + "ntc.steinhart-hart"},
		{"four coefficients", probe("1.566277150e-7]", "0, 1.566277150e-7]"), site.Coefficients, at + "ntc.steinhart-hart"},
		{"a thermistor that nobody makes", probe(curve, "beta: {r25: 100 ohm, b: 8000 K}"), site.Coefficients, at + "ntc.beta.b"},
		{"no converter", vessel("ambient: {ntc: {" + divider + "}}"), strict.MissingKey, at + "ntc"},
		{"a converter of nothing", probe(chip, "adc: {}"), site.ADCForm, at + "ntc.adc"},
		{"no converter for a measured supply", vessel("ambient: {ntc: {" + strings.Replace(divider, "3.3 V", "{nominal: 3 V, channel: 3}", 1) + "}}"), strict.MissingKey, at + "ntc"},
		{"a port without its select", platinum("0.0", "0"), site.SPIForm, at + "rtd.spi"},
		{"a port with a zero before it", platinum("0.0", "00.0"), site.SPIForm, at + "rtd.spi"},
		{"one wire", platinum("wires: 3", "wires: 1"), strict.Range, at + "rtd.wires"},
		{"a reference that the element outgrows", platinum("430 ohm", "150 ohm"), site.Reference, at + "rtd.reference"},
		{"a channel of a filter", vessel("ambient: {iio: {name: a, channel: temp_raw}}"), site.ChannelForm, at + "iio.channel"},
		{"no name and no label", vessel("ambient: {iio: {channel: temp}}"), site.DeviceForm, at + "iio"},
		{"an answer below ground", top("0.5 V", "-1 mV"), strict.Range, "vessels[1].pressure.from.volts"},
		{"an answer above any supply", top("4.5 V", "5.51 V"), strict.Range, "vessels[1].pressure.to.volts"},
		{"less than nothing", top("0 bar", "-1.01 bar"), strict.Range, "vessels[1].pressure.from.is"},
		{"more than any fermenter", top("2 bar", "20.1 bar"), strict.Range, "vessels[1].pressure.to.is"},
		{"a range that falls", top("4.5 V", "0.4 V"), site.SpanOrder, "vessels[1].pressure.to"},
		{"an alarm that cannot come", vessel("pressure: {" + gauge + ", highest: 2.01 bar}"), site.BeyondSpan, "vessels[1].pressure.highest"},
		{"an alarm at nothing", vessel("pressure: {" + gauge + ", highest: 0.9 kPa}"), strict.Range, "vessels[1].pressure.highest"},
		{"a vacuum of nothing", vessel("pressure: {" + gauge + ", lowest: -90 Pa}"), strict.Range, "vessels[1].pressure.lowest"},
		{"the channel of the supply for the pressure", vessel("pressure: {" + gauge + ", supply: {nominal: 5 V, channel: 0}}"), site.UsedTwice, "vessels[1].pressure.supply.channel"},
	} {
		s, err := site.Read("a.yaml", []byte(row.src))
		problems, ok := errors.AsType[*strict.Problems](err)
		if !ok || s != nil || len(problems.List) != 1 || problems.List[0].Rule != row.rule || problems.List[0].Path != row.path {
			t.Errorf("%s: %v, want the rule %s at %s", row.name, err, row.rule, row.path)
		}
	}
}
