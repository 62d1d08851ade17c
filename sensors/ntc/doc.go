// Package ntc reads thermistors whose resistance falls as they get warmer, each
// in a divider with a fixed resistor. It refuses to give a temperature for an
// open thermistor, which looks very cold, or for a shorted one, which looks very
// hot: a heater would run, or a chiller, for as long as the wire is broken.
package ntc
