package sensors

import (
	"fmt"

	"example.org/restpoint/sensors/adc"
	"example.org/restpoint/sensors/electric"
	"example.org/restpoint/sensors/iio"
	"example.org/restpoint/sensors/ntc"
	"example.org/restpoint/sensors/port"
	"example.org/restpoint/sensors/pressure"
	"example.org/restpoint/sensors/rtd"
)

// ADCKind is a way to reach a converter of voltages.
type ADCKind string

// The ways to reach a converter. NoADC is none.
const (
	NoADC       ADCKind = ""
	OfKernel    ADCKind = "iio"     // a converter that the kernel drives
	ADS1115     ADCKind = "ads1115" // that chip on I2C, which the kernel does not drive
	supplySlack         = 1.1       // supplies are within a tenth of what is written on them (common practice)
)

// ADC is one channel of a converter. Which fields count follows from the kind.
type ADC struct {
	Kind    ADCKind
	IIO     iio.Match // of the kernel; its root is the spec's
	Bus     int       // ADS1115: the N of /dev/i2c-N
	Address uint16    // ADS1115
	Channel int       // ADS1115
}

// Supply feeds a divider or a transducer. Where it is not measured, the nominal
// voltage is believed.
type Supply struct {
	Nominal  electric.Volts
	Measured ADC
}

// Platinum is an element on a MAX31865 behind /dev/spidevBus.Select.
type Platinum struct {
	Bus, Select int
	Wiring      rtd.Wiring
}

// Thermistor is an NTC in a divider that a converter measures.
type Thermistor struct {
	Input   ADC
	Divider ntc.Divider
	Supply  Supply
}

// Transducer is a pressure transducer that a converter measures. Its supply
// counts where it is measured: its voltages are then shares of that.
type Transducer struct {
	Input  ADC
	Span   pressure.Span
	Supply Supply
}

func (s Spec) platinum() (Thermometer, error) {
	p := s.Platinum
	conn := port.NewSPI(p.Bus, p.Select, rtd.Settings(), s.OpenSPI)
	return rtd.New(conn, fmt.Sprintf("spi %d", p.Bus), p.Wiring) // the chips of a bus share its wires
}

func (s Spec) thermistor() (Thermometer, error) {
	n := s.Thermistor
	highest := n.Supply.Nominal * supplySlack
	input, err := s.input(n.Input, highest)
	if err != nil {
		return nil, err
	}
	var supply adc.Input = adc.Fixed(n.Supply.Nominal)
	if n.Supply.Measured.Kind != NoADC {
		if supply, err = s.input(n.Supply.Measured, highest); err != nil {
			return nil, err
		}
	}
	return ntc.New(n.Divider, input, supply)
}

func (s Spec) gauge() (*pressure.Gauge, error) {
	t := s.Transducer
	input, err := s.input(t.Input, t.Span.Highest())
	if err != nil {
		return nil, err
	}
	var supply pressure.Supply
	if t.Supply.Measured.Kind != NoADC {
		supply.Nominal = t.Supply.Nominal
		if supply.Input, err = s.input(t.Supply.Measured, t.Supply.Nominal*supplySlack); err != nil {
			return nil, err
		}
	}
	return pressure.New(t.Span, input, supply)
}

// input makes a channel that may show up to the highest voltage.
func (s Spec) input(a ADC, highest electric.Volts) (adc.Input, error) {
	switch a.Kind {
	case OfKernel:
		m := a.IIO
		m.Root = s.Root
		return iio.NewVoltage(m, s.Read)
	case ADS1115:
		return adc.NewADS1115(port.NewI2C(a.Bus, s.OpenI2C), a.Address, a.Channel, highest)
	case NoADC:
	}
	return nil, fmt.Errorf("there is no converter %q", a.Kind)
}
