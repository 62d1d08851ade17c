package main

import (
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"example.org/restpoint/cmd/restpoint/internal/site"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
	"example.org/restpoint/controller/relay"
)

// kernel writes files as the kernel shows its devices.
func kernel(t *testing.T, files map[string]string) string {
	t.Helper()
	root := t.TempDir()
	for name, text := range files {
		path := filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return root
}

// Every form of a probe in a site becomes the probe that reads it, each from its
// own folder of the kernel's; a chip on a bus that is not there is a fault of its
// readings and holds nothing up.
func TestEveryProbeOfASiteIsOpenedAndRead(t *testing.T) {
	root := kernel(t, map[string]string{
		"bus/w1/devices/28-000001318252/hwmon/hwmon0/temp1_input": "19062",
		"class/hwmon/hwmon1/name":                                 "tmp105",
		"class/hwmon/hwmon1/temp1_input":                          "4000",
		"bus/iio/devices/iio:device0/name":                        "tmp117",
		"bus/iio/devices/iio:device0/in_temp_raw":                 "2368",
		"bus/iio/devices/iio:device0/in_temp_scale":               "7.812500",
		"bus/iio/devices/iio:device1/name":                        "ads1015",
		"bus/iio/devices/iio:device1/in_voltage0_raw":             "825",
		"bus/iio/devices/iio:device1/in_voltage1_raw":             "1250",
		"bus/iio/devices/iio:device1/in_voltage_scale":            "2.000000000",
		"room": "21500",
	})
	s, err := site.Read("site.yaml", []byte(`site: x
sysfs: `+root+`
vessels:
  - name: fv1
    volume: 60 L
    thermowell:
      top: {one-wire: 28-000001318252, offset: 1 K}
      middle: {iio: {name: tmp117, channel: temp}}
      bottom: {ntc: {adc: {iio: {name: ads1015, channel: voltage0}}, supply: 3.3 V, resistor: 10 kohm, side: ground, beta: {r25: 10 kohm, b: 3950 K}}, offset: -1 K}
    surround: {jacket: {hwmon: {name: tmp105, input: temp1}}}
    ambient: {file: `+root+`/room}
    pressure: {adc: {iio: {name: ads1015, channel: voltage1}}, from: {volts: 0.5 V, is: 0 bar}, to: {volts: 4.5 V, is: 2 bar}}
  - name: fv2
    volume: 60 L
    thermowell: {rtd: {spi: 98.7, sensor: Pt100, wires: 3, reference: 430 ohm, mains: 50 Hz}}
    ambient: {ntc: {adc: {ads1115: {i2c: 98, address: 0x48, channel: 0}}, supply: 3.3 V, resistor: 10 kohm, side: ground, beta: {r25: 10 kohm, b: 3950 K}}}
    pressure: {adc: {ads1115: {i2c: 98, address: 0x48, channel: 1}}, from: {volts: 0.5 V, is: 0 bar}, to: {volts: 4.5 V, is: 2 bar}}
`))
	if err != nil {
		t.Fatal(err)
	}
	probes, err := openProbes(s)
	if err != nil {
		t.Fatal(err)
	}
	type reading struct {
		value controller.Value
		fault controller.Fault
	}
	want := map[controller.ProbeID]reading{
		"fv1/thermowell-top":    {value: controller.OfTemperature(20.0625)},
		"fv1/thermowell-middle": {value: controller.OfTemperature(18.5)},
		"fv1/thermowell-bottom": {value: controller.OfTemperature(24)},
		"fv1/surround":          {value: controller.OfTemperature(4)},
		"fv1/ambient":           {value: controller.OfTemperature(21.5)},
		"fv1/pressure":          {value: controller.OfPressure(100_000)},
		"fv2/thermowell":        {fault: controller.Unplugged},
		"fv2/ambient":           {fault: controller.Unplugged},
		"fv2/pressure":          {fault: controller.Unplugged},
	}
	if len(probes) != len(want) {
		t.Errorf("%d probes, want %d", len(probes), len(want))
	}
	buses := map[controller.ProbeID]string{}
	for _, p := range probes {
		v, fault := p.Sensor.Read()
		v.Celsius = v.Celsius.Plus(0.00005) // a thermistor's curve is not exact to the last bit
		w := want[p.ID]
		w.value.Celsius = w.value.Celsius.Plus(0.00005)
		if fault != w.fault || v.Quantity != w.value.Quantity || v.Celsius.Fixed(3) != w.value.Celsius.Fixed(3) || v.Gauge != w.value.Gauge {
			t.Errorf("%s (%s): %+v, fault %q; want %+v", p.ID, p.Sensor, v, fault, w)
		}
		buses[p.ID] = p.Sensor.Bus()
	}
	if buses["fv2/ambient"] != buses["fv2/pressure"] || buses["fv1/thermowell-bottom"] != buses["fv1/pressure"] || buses["fv2/thermowell"] == buses["fv2/ambient"] {
		t.Errorf("probes of one converter may be read at once: %v", buses)
	}
}

func TestEveryRelayOfASiteIsWired(t *testing.T) {
	s, err := site.Read("site.yaml", []byte(`site: x
plant: {chiller: {modelled: true, compressor: {}}, serves: [fv1]}
vessels:
  - name: fv1
    volume: 60 L
    thermowell: {file: /run/beer}
    heat: {pin: {name: GPIO4, active: low}, heater: {}}
    cool:
      zones:
        - {name: shell, use: always, line: {chip: gpiochip0, name: GPIO17, active: low}, valve: {}}
        - {name: cone, use: always, file: /run/cone, valve: {}}
`))
	if err != nil {
		t.Fatal(err)
	}
	_, specs := relaySpecs(s)
	var got []string
	for _, r := range specs {
		got = append(got, r.String())
	}
	want := []string{
		"fv1 heat on the pin GPIO4, works at the low level", "fv1 cool shell on gpiochip0 GPIO17, works at the low level",
		"fv1 cool cone on /run/cone", "chiller in memory",
	}
	if !slices.Equal(got, want) {
		t.Errorf("wired %q\nwant  %q", got, want)
	}
}

// A vessel may hold a beer of which a record knew that is lost now: then a person is
// asked. Where there never was a record nobody is.
func TestAVesselWhoseRecordIsLostAsks(t *testing.T) {
	s, err := site.Read("site.yaml", []byte("site: x\nvessels:\n  - {name: fv1, volume: 60 L, thermowell: {file: /t}, cool: {modelled: true, valve: {}}, suck-back: none}\n"))
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		name     string
		restored record.Restored
		lost     bool
	}{
		{"no record yet", record.Restored{}, false},
		{"a record that was broken", record.Restored{MovedAside: "record.db.broken"}, true},
		{"a record that cannot be read", record.Restored{Unread: errors.New("the card is gone")}, true},
		{"a state that is known", record.Restored{MovedAside: "x", Vessels: map[string]record.Saved{"fv1": {State: controller.Fresh()}}}, false},
	} {
		c := cellar{site: s, log: slog.New(slog.DiscardHandler)}
		vessels, err := c.resume(row.restored)
		if err != nil || len(vessels) != 1 || vessels[0].State.Lost != row.lost {
			t.Errorf("%s: %+v (%v), want lost %v", row.name, vessels, err, row.lost)
		}
	}
}

// Every form of a contact in a site becomes one that is read, for its own vessel and
// relay.
func TestEveryContactOfASiteIsRead(t *testing.T) {
	root := kernel(t, map[string]string{"heat": "1", "cool": "0"})
	s, err := site.Read("site.yaml", []byte(`site: x
vessels:
  - name: fv1
    volume: 60 L
    thermowell: {file: /run/fv1}
    cool: {modelled: true, valve: {}, contact: {line: {chip: gpiochip99, name: GPIO5, active: low}}}
    heat: {modelled: true, heater: {}}
  - name: fv2
    volume: 60 L
    thermowell: {file: /run/fv2}
    cool: {modelled: true, valve: {}, contact: {file: `+root+`/cool}}
    heat: {modelled: true, heater: {}, contact: {file: `+root+`/heat}}
`))
	if err != nil {
		t.Fatal(err)
	}
	vessels, specs := contactSpecs(s)
	want := []relay.ContactSpec{
		{Vessel: "fv1", Role: relay.Cool, Kind: relay.Pin, Chip: "gpiochip99", Line: "GPIO5", ActiveLow: true},
		{Vessel: "fv2", Role: relay.Heat, Kind: relay.File, Path: root + "/heat"},
		{Vessel: "fv2", Role: relay.Cool, Kind: relay.File, Path: root + "/cool"},
	}
	if !slices.Equal(specs, want) || !slices.Equal(vessels, []string{"fv1", "fv2"}) {
		t.Fatalf("%v %+v", vessels, specs)
	}
	c, err := relay.OpenContacts(nil, vessels, specs)
	if err == nil {
		t.Error("a chip that is not there is said to be")
	}
	got, err := c.Read()
	if err != nil || got[0] != (controller.Contacts{}) || got[1] != (controller.Contacts{Heat: controller.Closed, Cool: controller.Open}) {
		t.Errorf("%+v, %v", got, err)
	}
	if err := c.Close(); err != nil {
		t.Error(err)
	}
}
