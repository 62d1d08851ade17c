// Package adc reads voltages by converters. It refuses to give the end of a
// converter's range for a voltage, and a number that was converted for another
// channel or before the question.
package adc

import (
	"strconv"

	"example.org/restpoint/controller"
	"example.org/restpoint/sensors/electric"
)

// Input is a voltage that can be read. The kernel's converters, of package iio,
// are inputs too.
type Input interface {
	Volts() (electric.Volts, controller.Fault) // may take a second, or hang
	String() string                            // names it for people
	Bus() string                               // inputs of one bus are never read at the same time
}

// Say measures a voltage and puts it in words.
func Say(in Input) string {
	v, fault := in.Volts()
	if fault != controller.NoFault {
		return "not known (" + string(fault) + ")"
	}
	return strconv.FormatFloat(float64(v), 'f', 3, 64) + " V" // converters here show less than a millivolt of truth
}

// Fixed is a voltage that is known and not measured.
type Fixed electric.Volts

// Volts gives the voltage.
func (f Fixed) Volts() (electric.Volts, controller.Fault) {
	return electric.Volts(f), controller.NoFault
}

// String shows the voltage.
func (f Fixed) String() string { return electric.Volts(f).String() }

// Bus is none.
func (f Fixed) Bus() string { return "" }
