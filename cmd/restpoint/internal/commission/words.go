package commission

import (
	"fmt"

	"example.org/restpoint/controller"
	"example.org/restpoint/sensors"
	"example.org/restpoint/sensors/iio"
)

// Why says a fault in words, and where to look for its cause.
func Why(f controller.Fault) string {
	switch f {
	case controller.NoFault:
		return "all is well"
	case controller.TimedOut:
		return "no answer in time: the bus hangs, or another program keeps it busy"
	case controller.BadChecksum:
		return "the answer was damaged (checksum): look at cable, plugs and pull-up resistor"
	case controller.PowerOnValue:
		return "85 C or 127.9 C, which a chip holds that did not measure: it lost its power, or has too little"
	case controller.EmptyRead:
		return "the kernel gave nothing: no answer, a damaged one, or a channel that is switched off"
	case controller.Unplugged:
		return "not there: unplugged, or a wire is broken"
	case controller.BusError:
		return "an error of the bus"
	case controller.Unreadable:
		return "what came is no number"
	case controller.OutOfRange:
		return "beyond what the sensor can measure, or a unit that cannot be told"
	case controller.MovedAway:
		return "it moved further within minutes than beer can: is it out of its well?"
	case controller.Contradicted:
		return "two others in the same beer agree on another temperature"
	}
	return string(f)
}

// doubted says a doubt in words.
func doubted(d sensors.Doubt) string {
	switch d {
	case sensors.Parasite:
		return "it takes its power from the data line (ext_power is 0): over a long cable it will show 85 C; connect its supply"
	case sensors.Unchecked:
		return "bit 0 of its features is not set: the kernel hands on 85 C of a chip that lost its power; as root, write 1 to its file features after each start"
	case sensors.Twin:
		return "another one has the same name; a site file that names it means both, and reads neither"
	case sensors.Foreign:
		return "no thermometer that can be read here; those of 1-Wire begin with 28-"
	case sensors.Inner:
		return "the temperature of the board itself"
	case sensors.Ghost:
		return "no device: the bus floats; look at its pull-up resistor and its wires"
	}
	return string(d)
}

// Form is how a site file names a thermometer, where the kernel shows it by name.
func Form(s sensors.Spec) string {
	switch s.Kind {
	case sensors.OneWire:
		return "{one-wire: " + s.ID + "}"
	case sensors.Hwmon:
		return fmt.Sprintf("{hwmon: {name: %s, input: %s}}", s.Hwmon.Name, s.Hwmon.Input)
	case sensors.IIO:
		return channelForm(s.IIO)
	case sensors.File, sensors.RTD, sensors.NTC, sensors.Pressure:
	}
	return ""
}

// channelForm names a channel by the label of its device, which is the board's own,
// or else by the name that its driver gives.
func channelForm(m iio.Match) string {
	by := "name: " + m.Name
	if m.Label != "" {
		by = "label: " + m.Label
	}
	return fmt.Sprintf("{iio: {%s, channel: %s}}", by, m.Channel)
}

// reads shows what was measured.
func reads(v controller.Value) string {
	switch v.Quantity {
	case controller.Temperature:
		return v.Celsius.Fixed(2)
	case controller.GaugePressure:
		return fmt.Sprintf("%.3f bar", v.Gauge.Bar())
	case controller.SpecificGravity, controller.OwnNumber:
	}
	return "?"
}
