package sysfs

import (
	"bytes"
	"regexp"
	"strconv"

	"example.org/restpoint/controller"
)

// ParseDecimal reads a number that may have decimals, as the kernel's industrial
// I/O class writes it: "401", "-273.15" or "62.500000", and a line end. Other
// spellings of numbers are refused, and several numbers too.
func ParseDecimal(data []byte) (float64, controller.Fault) {
	switch {
	case len(data) == 0:
		return 0, controller.EmptyRead
	case data[len(data)-1] != '\n': // it may be cut short
		return 0, controller.Unreadable
	}
	text := bytes.TrimSpace(data)
	if !regexp.MustCompile(`^-?[0-9]+(\.[0-9]+)?$`).Match(text) {
		return 0, controller.Unreadable
	}
	v, err := strconv.ParseFloat(string(text), 64)
	if err != nil { // too large for any number
		return 0, controller.OutOfRange
	}
	return v, controller.NoFault
}
