// Package electric has the electrical quantities behind a probe, with the units
// in which people write them. It refuses a number without its unit: 10 may be
// ohms or thousands of them, and the beer's temperature hangs on it.
package electric

import (
	"errors"
	"strconv"
	"strings"

	"example.org/restpoint/controller/units"
)

// Ohms is a resistance.
type Ohms float64

// Volts is a voltage.
type Volts float64

// String shows the resistance with its unit.
func (o Ohms) String() string {
	switch {
	case o >= 1e6:
		return decimal(float64(o)/1e6) + " Mohm"
	case o >= 1e3:
		return decimal(float64(o)/1e3) + " kohm"
	}
	return decimal(float64(o)) + " ohm"
}

// String shows the voltage with its unit.
func (v Volts) String() string { return decimal(float64(v)) + " V" }

func decimal(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// ParseOhms reads "430 ohm" or "10 kohm".
func ParseOhms(text string) (Ohms, error) {
	v, err := parse(text, `a resistance such as "430 ohm" or "10 kohm"`, scale{"Mohm", 1e6}, scale{"kohm", 1e3}, scale{"ohm", 1})
	return Ohms(v), err
}

// ParseVolts reads "3.3 V" or "500 mV".
func ParseVolts(text string) (Volts, error) {
	v, err := parse(text, `a voltage such as "3.3 V" or "500 mV"`, scale{"mV", 1e-3}, scale{"V", 1})
	return Volts(v), err
}

// scale is one spelling of a unit. Of two spellings the one that ends in the
// other stands first.
type scale struct {
	unit   string
	factor float64
}

func parse(text, want string, scales ...scale) (float64, error) {
	for _, s := range scales {
		if number, found := strings.CutSuffix(strings.TrimSpace(text), s.unit); found {
			v, err := plain(number)
			if err != nil {
				return 0, &units.ParseError{Text: text, Want: want, Hint: hint(err)}
			}
			return v * s.factor, nil
		}
	}
	help := ""
	if _, err := plain(text); err == nil {
		help = "the unit is missing"
	}
	return 0, &units.ParseError{Text: text, Want: want, Hint: help}
}

// plain reads a bare number by the one reader for what a number may look like,
// which is that of every quantity.
func plain(text string) (float64, error) {
	v, err := units.ParseVolumes(strings.TrimSpace(text) + " volumes")
	return float64(v), err
}

func hint(err error) string {
	if p, ok := errors.AsType[*units.ParseError](err); ok {
		return p.Hint
	}
	return ""
}
