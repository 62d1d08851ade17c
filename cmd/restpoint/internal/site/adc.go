package site

import (
	"fmt"
	"regexp"

	"example.org/restpoint/profiles/strict"
	"example.org/restpoint/sensors"
	"example.org/restpoint/sensors/iio"
)

// adc reads which channel of which converter measures a voltage. Any probe that
// answers with a voltage is read with it.
func (r *reader) adc(v *strict.Value) sensors.ADC {
	var a sensors.ADC
	m := v.Map("a converter such as {ads1115: {i2c: 1, address: 0x48, channel: 0}} or {iio: {name: ads1115, channel: voltage0}}")
	key, at := m.One(ADCForm, string(sensors.ADS1115), string(sensors.OfKernel))
	a.Kind = sensors.ADCKind(key)
	switch a.Kind {
	case sensors.ADS1115:
		c := at.Map("a chip such as {i2c: 1, address: 0x48, channel: 0}")
		bus, where, channel := c.Need("i2c"), c.Need("address"), c.Need("channel")
		a.Bus, a.Address, a.Channel = bus.Count(0, mostBus), address(where), channel.Count(0, 3)
		c.Done()
		if bus.Good() && where.Good() && channel.Good() {
			r.claim(at, fmt.Sprintf("channel %d of the converter at 0x%02x of i2c %d", a.Channel, a.Address, a.Bus))
		}
	case sensors.OfKernel:
		a.IIO = r.device(at, "a channel such as {name: ads1115, channel: voltage0}", voltageChannel)
	case sensors.NoADC:
	}
	m.Done()
	return a
}

// device reads which channel of which device of the kernel's industrial I/O class
// is meant: the driver names the device, and the board's description may label it.
func (r *reader) device(at *strict.Value, example string, channel func(*strict.Value) string) iio.Match {
	var d iio.Match
	m := at.Map(example)
	switch key, v := m.One(DeviceForm, "name", "label"); key {
	case "name":
		d.Name = v.Line(nameLength)
	case "label":
		d.Label = v.Line(nameLength)
	}
	d.Channel = channel(m.Need("channel"))
	m.Done()
	if d.Name+d.Label != "" && d.Channel != "" {
		r.claim(at, "the channel "+d.Channel+" of "+d.Name+d.Label)
	}
	return d
}

func temperatureChannel(v *strict.Value) string {
	return channel(v, `^temp([0-9]+|_ambient|_object)?$`, "temp", "temp0")
}

func voltageChannel(v *strict.Value) string {
	return channel(v, `^voltage[0-9]+(-voltage[0-9]+)?$`, "voltage0", "voltage0-voltage1")
}

func channel(v *strict.Value, form, one, other string) string {
	text := v.Line(nameLength)
	if v.Good() && !regexp.MustCompile(form).MatchString(text) {
		v.Fail(ChannelForm, `%q is no channel such as %q or %q`, text, one, other)
		return ""
	}
	return text
}
