package site

import (
	"strconv"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles/strict"
	"example.org/restpoint/sensors"
	"example.org/restpoint/sensors/electric"
	"example.org/restpoint/sensors/pressure"
)

// What a transducer on a fermenter may say, above the pressure of the air.
const (
	leastPressure units.Pascals  = -1 * units.PascalsPerBar // nothing is below a vacuum
	mostPressure  units.Pascals  = 20 * units.PascalsPerBar // pressed kegs and their gas have less
	leastAlarm    units.Pascals  = units.PascalsPerKilo     // less is within the error of a transducer
	leastVacuum   units.Pascals  = -units.PascalsPerBar
	mostVacuum    units.Pascals  = -units.PascalsPerKilo / 10
	leastAnswer   electric.Volts = 0
	mostAnswer    electric.Volts = 5.5
)

// Pressure is the transducer in the head of a vessel, and when it calls for a
// person. An empty ID is none.
type Pressure struct {
	ID         controller.ProbeID // "fv1/pressure"
	Transducer sensors.Transducer
	Limits     controller.PressureLimits
}

// pressure reads a transducer, by the ends of its range:
//
//	pressure: {adc: ..., from: {volts: 0.5 V, is: 0 bar}, to: {volts: 4.5 V, is: 2 bar}, highest: 1 bar}
func (r *reader) pressure(v *strict.Value, id string) Pressure {
	p := Pressure{ID: controller.ProbeID(id)}
	m := v.Map("a transducer such as {adc: {ads1115: {i2c: 1, address: 0x48, channel: 0}}, from: {volts: 0.5 V, is: 0 bar}, to: {volts: 4.5 V, is: 2 bar}}")
	t := &p.Transducer
	t.Input = r.adc(m.Need("adc"))
	from, to := m.Need("from"), m.Need("to")
	var known [2]bool
	t.Span.From, known[0] = point(from)
	t.Span.To, known[1] = point(to)
	if s := m.Opt("supply"); s.Given() {
		t.Supply = measured(s, &t.Input, "what measures the supply, such as {nominal: 5 V, channel: 3},")
	}
	low, high := m.Opt("lowest"), m.Opt("highest")
	if low.Given() {
		p.Limits.Lowest = pascals(low, leastVacuum, mostVacuum)
	}
	if high.Given() {
		p.Limits.Highest = pascals(high, leastAlarm, mostPressure)
	}
	m.Done()
	if !known[0] || !known[1] {
		return p
	}
	if err := t.Span.Check(); err != nil {
		to.Fail(SpanOrder, "the end of the range, %s at %s, is not above its beginning, %s at %s", bar(t.Span.To.Is), t.Span.To.Volts, bar(t.Span.From.Is), t.Span.From.Volts)
	} else if high.Good() && p.Limits.Highest > t.Span.To.Is {
		high.Fail(BeyondSpan, "the transducer, in line %d, sees no more than %s, so nothing would ever be said", to.Place().Line, bar(t.Span.To.Is))
	}
	return p
}

// point reads one end of a range, and tells whether it is known.
func point(v *strict.Value) (p pressure.Point, known bool) {
	m := v.Map("one end of the range such as {volts: 0.5 V, is: 0 bar}")
	at, is := m.Need("volts"), m.Need("is")
	p = pressure.Point{Volts: volts(at, leastAnswer, mostAnswer), Is: pascals(is, leastPressure, mostPressure)}
	m.Done()
	return p, at.Good() && is.Good()
}

func pascals(v *strict.Value, lo, hi units.Pascals) units.Pascals {
	return strict.Measure(v, units.ParsePascals, bar, lo, hi)
}

// bar shows a pressure as people write it.
func bar(p units.Pascals) string { return strconv.FormatFloat(p.Bar(), 'f', -1, 64) + " bar" }
