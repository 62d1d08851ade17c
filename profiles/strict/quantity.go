package strict

import (
	"cmp"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"example.org/restpoint/controller/units"
)

// Measure reads a number with its unit, from the text as it is written, and holds it
// to a range that includes both ends.
func Measure[T cmp.Ordered](v *Value, parse func(string) (T, error), show func(T) string, lo, hi T) T {
	var none T
	text, ok := v.scalar(wanted(parse))
	if !ok {
		return none
	}
	q, err := parse(text)
	if err != nil {
		v.Fail(Quantity, "%v", err)
		return none
	}
	if inside := q >= lo && q <= hi; !inside { // which a NaN is not
		v.Fail(Range, "%s is out of range; allowed: %s to %s", quoted(text), show(lo), show(hi))
		return none
	}
	return q
}

// wanted says which forms a parser understands.
func wanted[T any](parse func(string) (T, error)) string {
	_, err := parse("")
	if p, ok := errors.AsType[*units.ParseError](err); ok {
		return p.Want
	}
	return "a value"
}

// Celsius reads a temperature.
func (v *Value) Celsius(lo, hi units.Celsius) units.Celsius {
	return Measure(v, units.ParseCelsius, units.Celsius.String, lo, hi)
}

// Kelvins reads a difference of temperatures.
func (v *Value) Kelvins(lo, hi units.Kelvins) units.Kelvins {
	return Measure(v, units.ParseKelvins, units.Kelvins.String, lo, hi)
}

// Rate reads how fast a temperature moves.
func (v *Value) Rate(lo, hi units.KelvinsPerHour) units.KelvinsPerHour {
	return Measure(v, units.ParseRate, units.KelvinsPerHour.String, lo, hi)
}

// Gravity reads a specific gravity, or one in Plato.
func (v *Value) Gravity(lo, hi units.Gravity) units.Gravity {
	show := func(g units.Gravity) string { return g.Fixed(3) }
	return Measure(v, units.ParseGravity, show, lo, hi)
}

// Points reads a difference of gravity with its unit.
func (v *Value) Points(lo, hi units.Points) units.Points {
	return Measure(v, units.ParsePoints, units.Points.String, lo, hi)
}

// BarePoints reads a difference of gravity whose key already says that it is in
// points, so that the unit may be left out.
func (v *Value) BarePoints(lo, hi units.Points) units.Points {
	parse := func(text string) (units.Points, error) {
		p, err := units.ParsePoints(text + " points")
		if err != nil {
			return units.ParsePoints(text)
		}
		return p, nil
	}
	return Measure(v, parse, units.Points.String, lo, hi)
}

// Duration reads a length of time.
func (v *Value) Duration(lo, hi time.Duration) time.Duration {
	return Measure(v, units.ParseDuration, units.Duration, lo, hi)
}

// Litres reads a volume.
func (v *Value) Litres(lo, hi units.Litres) units.Litres {
	return Measure(v, units.ParseLitres, units.Litres.String, lo, hi)
}

// WattsPerKelvin reads a loss of heat.
func (v *Value) WattsPerKelvin(lo, hi units.WattsPerKelvin) units.WattsPerKelvin {
	return Measure(v, units.ParseWattsPerKelvin, units.WattsPerKelvin.String, lo, hi)
}

// Watts reads a power.
func (v *Value) Watts(lo, hi units.Watts) units.Watts {
	return Measure(v, units.ParseWatts, units.Watts.String, lo, hi)
}

// Volumes reads a carbonation.
func (v *Value) Volumes(lo, hi units.Volumes) units.Volumes {
	return Measure(v, units.ParseVolumes, units.Volumes.String, lo, hi)
}

// Percent reads "70 %" as 0.7. The range is in per cent.
func (v *Value) Percent(lo, hi float64) float64 {
	show := func(p float64) string { return fmt.Sprintf("%g %%", p) }
	return Measure(v, parsePercent, show, lo, hi) / 100
}

// Count reads a whole number.
func (v *Value) Count(lo, hi int) int {
	return Measure(v, parseCount, strconv.Itoa, lo, hi)
}

func parsePercent(text string) (float64, error) {
	const want = `a share such as "70 %"`
	number, found := strings.CutSuffix(strings.TrimSpace(text), "%")
	if !found {
		hint := ""
		if _, err := units.ParsePoints(text + " points"); err == nil {
			hint = "the unit is missing"
		}
		return 0, &units.ParseError{Text: text, Want: want, Hint: hint}
	}
	// Points are plain numbers too: one reader for what a number may look like.
	p, err := units.ParsePoints(strings.TrimSpace(number) + " points")
	if err != nil {
		hint := ""
		if parse, ok := errors.AsType[*units.ParseError](err); ok {
			hint = parse.Hint
		}
		return 0, &units.ParseError{Text: text, Want: want, Hint: hint}
	}
	return float64(p), nil
}

func parseCount(text string) (int, error) {
	n, err := strconv.Atoi(text)
	if err != nil || strconv.Itoa(n) != text {
		return 0, &units.ParseError{Text: text, Want: "a whole number such as 2"}
	}
	return n, nil
}
