package units

import (
	"math"
	"strings"
	"time"
)

const (
	// Day is twenty-four hours of counted time.
	Day          = 24 * time.Hour
	wantDuration = `a duration such as "36 h", "2 d", "90 min" or "5 s"`
	longest      = 10 * 365 * Day
)

// ParseDuration reads "36 h", "2 d", "90 min", "5 s" or a sum such as "1 d 12 h".
func ParseDuration(text string) (time.Duration, error) {
	fields := strings.Fields(text)
	if len(fields) == 1 {
		// "36h": the number and its unit written together.
		_, unit, err := split(text, wantDuration)
		if err != nil {
			return 0, err
		}
		if unit == "" {
			return 0, &ParseError{text, wantDuration, "the unit is missing"}
		}
		fields = []string{strings.TrimSuffix(fields[0], unit), unit}
	}
	if len(fields) == 0 || len(fields)%2 != 0 {
		return 0, &ParseError{Text: text, Want: wantDuration}
	}
	var sum time.Duration
	for i := 0; i < len(fields); i += 2 {
		v, rest, err := split(fields[i], wantDuration)
		if err != nil {
			return 0, &ParseError{Text: text, Want: wantDuration, Hint: hint(err)}
		}
		unit, ok := durationUnit(fields[i+1])
		if rest != "" || !ok || v < 0 || v > float64(longest)/float64(unit) {
			return 0, &ParseError{Text: text, Want: wantDuration}
		}
		sum += time.Duration(math.Round(v * float64(unit)))
	}
	if sum > longest {
		return 0, &ParseError{Text: text, Want: wantDuration}
	}
	return sum, nil
}

func hint(err error) string {
	if p, ok := err.(*ParseError); ok { //nolint:errorlint // split returns exactly this type
		return p.Hint
	}
	return ""
}

func durationUnit(s string) (time.Duration, bool) {
	switch s {
	case "d":
		return Day, true
	case "h":
		return time.Hour, true
	case "min":
		return time.Minute, true
	case "s":
		return time.Second, true
	case "ms":
		return time.Millisecond, true
	default:
		return 1, false
	}
}

// Duration prints as brewers write: "2 d 6 h", "90 s" as "1 min 30 s".
// At most the two largest units are shown when rounding is asked for by Rough.
func Duration(d time.Duration) string { return spell(d, 5) }

// Rough prints the two largest units and drops the rest: "3 d 5 h".
func Rough(d time.Duration) string { return spell(d, 2) }

func spell(d time.Duration, most int) string {
	sign := ""
	if d < 0 {
		sign, d = "-", -d
	}
	var parts []string
	for _, u := range [...]struct {
		size time.Duration
		name string
	}{{Day, "d"}, {time.Hour, "h"}, {time.Minute, "min"}, {time.Second, "s"}, {time.Millisecond, "ms"}} {
		n := d / u.size
		d %= u.size
		if n > 0 {
			parts = append(parts, exact(float64(n))+" "+u.name)
		}
		if len(parts) == most || (len(parts) > 0 && n == 0 && most == 2) {
			break
		}
	}
	if len(parts) == 0 {
		return "0 s"
	}
	return sign + strings.Join(parts, " ")
}
