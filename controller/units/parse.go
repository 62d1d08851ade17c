package units

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// ParseError says what was read and what would have been understood.
type ParseError struct {
	Text string // as it was written
	Want string // the forms that are allowed
	Hint string // what the writer probably meant; may be empty
}

func (e *ParseError) Error() string {
	text := e.Text
	if len(text) > 40 {
		text = strings.ToValidUTF8(text[:40], "") + "..." // not half a letter
	}
	msg := fmt.Sprintf("%q is not %s", text, e.Want)
	if e.Hint != "" {
		msg += "; " + e.Hint
	}
	return msg
}

// split cuts "12.5 C" into 12.5 and "C". Only plain decimal numbers are
// numbers: no exponent, no hexadecimal, no digit separators, no "inf".
func split(text, want string) (float64, string, error) {
	s := strings.TrimSpace(text)
	end := 0
	for end < len(s) && strings.IndexByte("+-.0123456789", s[end]) >= 0 {
		end++
	}
	number, unit := s[:end], strings.TrimSpace(s[end:])
	if strings.HasPrefix(unit, ",") && number != "" {
		return 0, "", &ParseError{text, want, "write a decimal point, not a comma"}
	}
	if !plainDecimal(number) {
		return 0, "", &ParseError{Text: text, Want: want}
	}
	v, err := strconv.ParseFloat(number, 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, "", &ParseError{Text: text, Want: want}
	}
	return v, unit, nil
}

func plainDecimal(s string) bool {
	s = strings.TrimPrefix(strings.TrimPrefix(s, "-"), "+")
	whole, fraction, dotted := strings.Cut(s, ".")
	if whole == "" || len(s) > 24 || (dotted && fraction == "") {
		return false
	}
	return strings.Trim(whole+fraction, "0123456789") == ""
}

// scaled looks the unit up in a table of factors.
func scaled(text, want, hint string, factors map[string]float64) (float64, error) {
	v, unit, err := split(text, want)
	if err != nil {
		return 0, err
	}
	f, ok := factors[unit]
	if !ok {
		if unit == "" {
			hint = "the unit is missing"
		}
		return 0, &ParseError{text, want, hint}
	}
	return v * f, nil
}

// exact prints the shortest decimal that reads back as the same number.
func exact(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// fixed prints for people, and never "-0.0".
func fixed(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.HasPrefix(s, "-") && strings.Trim(s, "-0.") == "" {
		return s[1:]
	}
	return s
}
