package ntc

import (
	"errors"
	"fmt"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors/adc"
	"example.org/restpoint/sensors/electric"
)

// Side is where in its divider the thermistor stands.
type Side string

// The sides of a divider. The voltage is measured between thermistor and
// resistor.
const (
	Ground Side = "ground" // the resistor hangs on the supply
	Supply Side = "supply" // the resistor hangs on ground
)

// Sides lists the sides.
func Sides() []Side { return []Side{Ground, Supply} }

// leastSupply is below what a divider is not supplied at all: the lowest supply
// in use is 1.8 V (common practice).
const leastSupply electric.Volts = 1

// noise is how far beyond its ends a divider may seem to be: converters have an
// offset, and two channels differ by a gain error of at most a hundredth (common
// practice).
const noise = 0.02

// Divider is how a thermistor is wired.
type Divider struct {
	Curve    Curve
	Resistor electric.Ohms
	Side     Side
}

// Temperature gives what the thermistor says when the divider shows a voltage,
// or the fault that it shows.
func (d Divider) Temperature(shown, supply electric.Volts) (units.Celsius, controller.Fault) {
	if fed := supply >= leastSupply; !fed { // which a NaN is not
		return 0, controller.BusError
	}
	share := float64(shown / supply) // of the supply, across the thermistor
	if d.Side == Supply {
		share = 1 - share
	}
	switch between := share >= -noise && share <= 1+noise; {
	case !between: // no divider shows that: the supply is another, or the wire is
		return 0, controller.BusError
	case share >= 1:
		return 0, controller.Unplugged
	case share <= 0:
		return 0, controller.OutOfRange
	}
	r := d.Resistor * electric.Ohms(share/(1-share))
	t, ok := d.Curve.Temperature(r)
	switch {
	case r > d.Curve.Resistance(coldest):
		return 0, controller.Unplugged // open, as far as anyone can tell
	case r < d.Curve.Resistance(hottest), !ok:
		return 0, controller.OutOfRange // shorted
	}
	return t, controller.NoFault
}

// Thermometer is one thermistor, read by a converter.
type Thermometer struct {
	divider       Divider
	input, supply adc.Input
}

// New makes the thermometer. The supply may be known, an adc.Fixed, or measured
// by another channel of the same converter; a supply that is off by a hundredth
// moves 20 C by half a kelvin.
func New(d Divider, input, supply adc.Input) (*Thermometer, error) {
	switch {
	case input == nil || supply == nil:
		return nil, errors.New("a thermistor needs the voltage of its divider and that of its supply")
	case supply.Bus() != "" && supply.Bus() != input.Bus():
		return nil, fmt.Errorf("the supply of a thermistor must be measured on its own bus, %s, not on %s", input.Bus(), supply.Bus())
	case d.Side != Ground && d.Side != Supply:
		return nil, fmt.Errorf("a divider has no side %q; sides are %v", d.Side, Sides())
	}
	if sound := d.Resistor >= least && d.Resistor <= most; !sound {
		return nil, fmt.Errorf("a divider has no resistor of %s", d.Resistor)
	}
	if err := d.Curve.Check(); err != nil {
		return nil, err
	}
	return &Thermometer{divider: d, input: input, supply: supply}, nil
}

// String names the thermometer.
func (t *Thermometer) String() string { return "thermistor on " + t.input.String() }

// Bus names what cannot be read twice at a time: that of the converter.
func (t *Thermometer) Bus() string { return t.input.Bus() }

// Read measures the supply and then the divider.
func (t *Thermometer) Read() (units.Celsius, controller.Fault) {
	supply, fault := t.supply.Volts()
	if fault != controller.NoFault {
		return 0, fault
	}
	shown, fault := t.input.Volts()
	if fault != controller.NoFault {
		return 0, fault
	}
	return t.divider.Temperature(shown, supply)
}

// Evidence measures supply and divider anew, for a person who asks why a read
// failed.
func (t *Thermometer) Evidence() string {
	return "the divider shows " + adc.Say(t.input) + ", its supply is " + adc.Say(t.supply)
}
