package adc

import (
	"encoding/binary"
	"fmt"
	"time"

	"periph.io/x/conn/v3/i2c"

	"example.org/restpoint/controller"
	"example.org/restpoint/sensors/electric"
	"example.org/restpoint/sensors/internal/sysfs"
)

// The registers of the ADS1115 and the fields of its settings (from memory of
// the data sheet).
const (
	regResult   = 0x00
	regSettings = 0x01

	start      = 1 << 15 // written: convert now; read: nothing is being converted
	againstGND = 4 << 12 // + channel: one input against ground
	singleShot = 1 << 8
	slowest    = 0 << 5 // 8 a second, which evens the mains out best
	noAlert    = 3
)

// A conversion takes an eighth of a second, and the chip's own clock may be a
// tenth off (data sheet, from memory).
const (
	conversion = 140 * time.Millisecond
	extension  = 20 * time.Millisecond
)

// Beyond the ends of its count the chip cannot measure.
const (
	leastCount = -32768
	mostCount  = 32767
)

// ADS1115 is one channel of that chip, or of one with the same registers.
type ADS1115 struct {
	bus     i2c.Bus
	address uint16
	channel int
	gain    int            // its field in the settings
	full    electric.Volts // what the highest count means
}

// NewADS1115 makes channel 0 to 3 of the chip at an address, 0x48 to 0x4b. The
// range is the narrowest that holds the highest voltage to come; the chip cannot
// measure more than it is supplied with, whatever its range.
func NewADS1115(b i2c.Bus, address uint16, channel int, highest electric.Volts) (*ADS1115, error) {
	switch {
	case address < 0x48 || address > 0x4b:
		return nil, fmt.Errorf("an ADS1115 is at 0x48 to 0x4b, not at 0x%02x", address)
	case channel < 0 || channel > 3:
		return nil, fmt.Errorf("an ADS1115 has the channels 0 to 3, not %d", channel)
	}
	a := &ADS1115{bus: b, address: address, channel: channel, gain: -1}
	for gain, full := range []electric.Volts{6.144, 4.096, 2.048, 1.024, 0.512, 0.256} {
		if highest > 0 && highest <= full {
			a.gain, a.full = gain, full
		}
	}
	if a.gain < 0 {
		return nil, fmt.Errorf("an ADS1115 measures up to 6.144 V, not %s", highest)
	}
	return a, nil
}

// String names the channel.
func (a *ADS1115) String() string {
	return fmt.Sprintf("ads1115 %s 0x%02x channel %d", a.bus, a.address, a.channel)
}

// Bus names what cannot be read twice at a time: the whole bus, since another
// read of the chip would turn its one converter to another channel.
func (a *ADS1115) Bus() string { return a.bus.String() }

// Volts converts once and reads the result. The settings are read back first:
// they say whether the conversion has ended, and that it was this one.
func (a *ADS1115) Volts() (electric.Volts, controller.Fault) {
	settings := uint16(start | againstGND + a.channel<<12 | a.gain<<9 | singleShot | slowest | noAlert)
	if err := a.bus.Tx(a.address, []byte{regSettings, byte(settings >> 8), byte(settings)}, nil); err != nil {
		return 0, sysfs.FaultOf(err)
	}
	time.Sleep(conversion)
	got, err := a.register(regSettings)
	if err == nil && got == settings&^start {
		time.Sleep(extension)
		got, err = a.register(regSettings)
	}
	switch {
	case err != nil:
		return 0, sysfs.FaultOf(err)
	case got == settings&^start:
		return 0, controller.TimedOut
	case got != settings: // another chip, one that was reset, or a line that is stuck
		return 0, controller.BusError
	}
	result, err := a.register(regResult)
	if err != nil {
		return 0, sysfs.FaultOf(err)
	}
	count := int16(result)
	if count == leastCount || count == mostCount {
		return 0, controller.OutOfRange
	}
	return electric.Volts(count) * a.full / -leastCount, controller.NoFault
}

func (a *ADS1115) register(number byte) (uint16, error) {
	r := make([]byte, 2)
	err := a.bus.Tx(a.address, []byte{number}, r)
	return binary.BigEndian.Uint16(r), err
}
