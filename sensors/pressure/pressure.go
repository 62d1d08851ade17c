// Package pressure reads pressure transducers that answer with a voltage. It only
// reads: nothing here opens or closes a vent. It refuses to give a pressure for a
// voltage beyond what the transducer can say, which is what a broken wire, a
// missing supply and a short look like.
package pressure

import (
	"errors"
	"fmt"
	"math"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors/adc"
	"example.org/restpoint/sensors/electric"
)

// margin is how far beyond the ends of its range a transducer still measures, as
// a share of the range. NAMUR NE 43 lets signals of 4 to 20 mA overrun a little
// and calls 21 mA, which is a sixteenth beyond the end, a failure. For 0.5 to
// 4.5 V the same sixteenth puts the failures below 0.25 V and above 4.75 V.
const margin = 1.0 / 16

// drift is how far a measured supply may be from what the transducer is made for,
// as a share (common practice: 5 V within a tenth).
const drift = 0.1

// Point is one end of a transducer's range.
type Point struct {
	Volts electric.Volts
	Is    units.Pascals // above the pressure of the air
}

// Span is the range of a transducer, from its lowest to its highest pressure.
type Span struct{ From, To Point }

// Check holds that the span rises from the one end to the other.
func (s Span) Check() error {
	if rises := s.From.Volts < s.To.Volts && s.From.Is < s.To.Is; !rises { // which a NaN is not
		return fmt.Errorf("a transducer must rise from %s at %s to %s at %s", s.From.Is, s.From.Volts, s.To.Is, s.To.Volts)
	}
	if math.IsInf(float64(s.To.Volts-s.From.Volts), 0) || math.IsInf(float64(s.To.Is-s.From.Is), 0) {
		return errors.New("a transducer has no endless range")
	}
	return nil
}

// Highest is the highest voltage that is still a pressure.
func (s Span) Highest() electric.Volts { return s.To.Volts + s.over() }

func (s Span) over() electric.Volts { return (s.To.Volts - s.From.Volts) * margin }

// Pressure gives the pressure at a voltage, or the fault that it shows.
func (s Span) Pressure(v electric.Volts) (units.Pascals, controller.Fault) {
	switch {
	case v < s.From.Volts-s.over(): // a broken wire, or no supply
		return 0, controller.Unplugged
	case v > s.Highest(), math.IsNaN(float64(v)): // shorted to its supply, or more than it can say
		return 0, controller.OutOfRange
	}
	share := (v - s.From.Volts) / (s.To.Volts - s.From.Volts)
	return s.From.Is + (s.To.Is-s.From.Is)*units.Pascals(share), controller.NoFault
}

// Supply is what a ratiometric transducer is fed with: its voltages are shares of
// it, as measured.
type Supply struct {
	Input   adc.Input      // nil = the transducer has a reference of its own
	Nominal electric.Volts // for which the span is given
}

// Gauge is one transducer, read by a converter.
type Gauge struct {
	span   Span
	input  adc.Input
	supply Supply
}

// New makes the gauge.
func New(s Span, input adc.Input, supply Supply) (*Gauge, error) {
	if input == nil {
		return nil, errors.New("a transducer needs the voltage that it answers with")
	}
	if err := s.Check(); err != nil {
		return nil, err
	}
	if supply.Input != nil {
		if fed := supply.Nominal > 0; !fed {
			return nil, fmt.Errorf("a transducer is not made for a supply of %s", supply.Nominal)
		}
		if supply.Input.Bus() != input.Bus() {
			return nil, fmt.Errorf("the supply of a transducer must be measured on its own bus, %s, not on %s", input.Bus(), supply.Input.Bus())
		}
	}
	return &Gauge{span: s, input: input, supply: supply}, nil
}

// String names the transducer.
func (g *Gauge) String() string { return "pressure on " + g.input.String() }

// Bus names what cannot be read twice at a time: that of the converter.
func (g *Gauge) Bus() string { return g.input.Bus() }

// Read measures the supply, where the answer depends on it, and then the answer.
func (g *Gauge) Read() (units.Pascals, controller.Fault) {
	fed := electric.Volts(1) // as a share of the nominal supply
	if g.supply.Input != nil {
		v, fault := g.supply.Input.Volts()
		if fault != controller.NoFault {
			return 0, fault
		}
		fed = v / g.supply.Nominal
		if near := fed >= 1-drift && fed <= 1+drift; !near {
			return 0, controller.BusError
		}
	}
	v, fault := g.input.Volts()
	if fault != controller.NoFault {
		return 0, fault
	}
	return g.span.Pressure(v / fed)
}

// Evidence measures the answer anew, and the supply where it counts, for a person
// who asks why a read failed.
func (g *Gauge) Evidence() string {
	said := "it answers " + adc.Say(g.input)
	if g.supply.Input != nil {
		said += ", its supply is " + adc.Say(g.supply.Input)
	}
	return said
}
