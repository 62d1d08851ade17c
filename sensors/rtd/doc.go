// Package rtd reads platinum thermometers. It refuses to take the ratio of an
// open or shorted element, of a broken wire or of a silent bus for a
// temperature: what the converter says about its inputs is looked at in every
// reading, and its settings are read back before its number is believed.
package rtd
