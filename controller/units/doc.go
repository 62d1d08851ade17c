// Package units holds the quantities of the brew house as types that cannot be
// mistaken for one another: a temperature is not a difference of temperatures,
// and gravity points are not degrees Plato.
//
// Every quantity is parsed from text with its unit, prints with its unit, and
// survives the round trip exactly. A number without a unit, where one is
// needed, is an error and never a guess. No value made here is NaN or infinite.
package units
