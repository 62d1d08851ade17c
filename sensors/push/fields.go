package push

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"example.org/restpoint/controller/units"
)

// What a temperature can be at all: nothing is colder, and no hydrometer reports
// from a furnace. What a beer can be is judged elsewhere.
const (
	absoluteZero units.Celsius = -273.15
	furnace      units.Celsius = 1000
)

// fields is what one body says, by the pointers of its source.
type fields struct {
	gravity    units.Gravity
	number     float64 // of a source that gives its own
	celsius    units.Celsius
	hasCelsius bool
	at         time.Time // zero = not said
	battery    float64
	hasBattery bool
}

// decode reads exactly one JSON value and keeps its numbers as written.
func decode(body []byte) (any, error) {
	d := json.NewDecoder(bytes.NewReader(body))
	d.UseNumber()
	var doc any
	if err := d.Decode(&doc); err != nil {
		if errors.Is(err, io.EOF) {
			return nil, errors.New("the body is empty")
		}
		return nil, fmt.Errorf("the body is not JSON: %w", err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return nil, errors.New("the body has more than one JSON value")
	}
	return doc, nil
}

// pick takes the fields of a source out of a document. Gravity must be there. The
// others may be missing or null; if they are there they must be right.
func (s *source) pick(doc any) (fields, error) {
	var f fields
	if err := s.pickGravity(doc, &f); err != nil {
		return f, err
	}
	err := s.pickTemperature(doc, &f)
	if err != nil {
		return f, fmt.Errorf("temperature at %q: %w", s.TemperaturePointer, err)
	}
	if s.TimePointer != "" {
		if f.at, err = moment(doc, s.time); err != nil {
			return f, fmt.Errorf("time at %q: %w", s.TimePointer, err)
		}
	}
	if s.BatteryPointer != "" {
		if f.battery, f.hasBattery, err = number(doc, s.battery); err != nil {
			return f, fmt.Errorf("battery at %q: %w", s.BatteryPointer, err)
		}
	}
	return f, nil
}

// pickGravity takes the gravity, or the number that a gravity is made of: what that
// one means is judged elsewhere.
func (s *source) pickGravity(doc any, f *fields) error {
	g, found, err := number(doc, s.gravity)
	switch {
	case err != nil:
		return fmt.Errorf("gravity at %q: %w", s.GravityPointer, err)
	case !found:
		return fmt.Errorf("gravity: there is nothing at %q", s.GravityPointer)
	case s.OwnNumber:
		f.number = g
		return nil
	case s.GravityUnit == UnitPlato:
		f.gravity = units.Plato(g).Gravity()
	default:
		f.gravity = units.Gravity(g)
	}
	if !f.gravity.Plausible() {
		return fmt.Errorf("gravity at %q: %v %s cannot be in a fermenter, only %v to %v can",
			s.GravityPointer, g, s.GravityUnit, units.LowestGravity, units.HighestGravity)
	}
	return nil
}

func (s *source) pickTemperature(doc any, f *fields) error {
	if s.TemperaturePointer == "" {
		return nil
	}
	t, found, err := number(doc, s.temperature)
	if err != nil || !found {
		return err
	}
	f.celsius, f.hasCelsius = units.Celsius(t), true
	if s.TemperatureUnit == UnitFahrenheit {
		f.celsius = units.Fahrenheit(t)
	}
	if f.celsius < absoluteZero || f.celsius > furnace {
		return fmt.Errorf("%v %s is no temperature of a hydrometer", t, s.TemperatureUnit)
	}
	return nil
}

// number reads a number, or a text that is one.
func number(doc any, at pointer) (value float64, found bool, err error) {
	v, found := at.in(doc)
	switch v := v.(type) {
	case nil:
		return 0, false, nil
	case json.Number:
		value, err = finite(v.String())
		return value, found, err
	case string:
		value, err = written(v)
		return value, found, err
	default:
		return 0, found, fmt.Errorf("%s is not a number", kind(v))
	}
}

// written reads a decimal number out of a text. A text may hold no exponent, no
// hexadecimal, no "inf" and no comma: 1,012 is one to some and a thousand to
// others.
func written(text string) (float64, error) {
	s := strings.TrimSpace(text)
	if strings.Contains(s, ",") {
		return 0, fmt.Errorf("%.40q is not a number: write a decimal point, not a comma", text)
	}
	if s == "" || strings.Trim(s, "+-.0123456789") != "" {
		return 0, fmt.Errorf("%.40q is not a number", text)
	}
	return finite(s)
}

func finite(s string) (float64, error) {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, fmt.Errorf("%.40q is not a number", s)
	}
	return v, nil
}

// latest is the last second that RFC 3339 can write, year 9999.
const latest = 253402300799

// moment reads a time as RFC 3339 writes it, or as seconds since 1970.
func moment(doc any, at pointer) (time.Time, error) {
	v, _ := at.in(doc)
	if text, ok := v.(string); ok {
		if t, err := time.Parse(time.RFC3339, strings.TrimSpace(text)); err == nil {
			return t, nil
		}
	}
	seconds, found, err := number(doc, at)
	switch {
	case err != nil:
		return time.Time{}, fmt.Errorf("neither RFC 3339, such as 2026-03-01T12:00:00Z, nor seconds since 1970: %w", err)
	case !found:
		return time.Time{}, nil
	case seconds <= 0 || seconds > latest:
		return time.Time{}, fmt.Errorf("%v is not in seconds since 1970", seconds)
	}
	whole, part := math.Modf(seconds)
	return time.Unix(int64(whole), int64(part*1e9)).UTC(), nil
}

func kind(v any) string {
	switch v.(type) {
	case bool:
		return "a truth value"
	case []any:
		return "an array"
	default:
		return "an object"
	}
}
