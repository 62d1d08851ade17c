// Package units holds the quantities of the brew house as types that cannot be
// mistaken for one another: a temperature is not a difference of temperatures,
// gravity points are not degrees Plato, and alcohol by mass is not by volume. With
// them go the rules of the trade that turn one into another, a file each, with the
// source of every equation and how good it is.
//
// Every quantity that people write is parsed from text with its unit, prints with
// its unit, and survives the round trip exactly. A number without a unit, where one
// is needed, is an error and never a guess. No value read here is NaN or infinite.
package units
