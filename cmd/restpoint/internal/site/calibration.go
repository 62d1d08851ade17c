package site

import (
	"time"

	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles/strict"
	"example.org/restpoint/sensors"
)

// Where the second point of a calibration may be: near use, and warm enough that
// the two readings are far enough apart.
const (
	coldestSecond units.Celsius = 10
	warmestSecond units.Celsius = 45
	coldestBath   units.Celsius = coldestSecond - units.Celsius(farthestOffset)
	warmestBath   units.Celsius = warmestSecond + units.Celsius(farthestOffset)
)

const likeCalibration = "what the probe read, such as {ice: 0.31 C, second: {reads: 25.94 C, is: 25.5 C}, on: 2026-11-20}"

// calibrations reads what probes read at known temperatures, by the identity of
// each, so that no other probe in its place is corrected by it:
//
//	calibrations:
//	  28-000001318252: {ice: 0.31 C, second: {reads: 25.94 C, is: 25.5 C}, on: 2026-11-20}
func (r *reader) calibrations(v *strict.Value) {
	if !v.Given() {
		return
	}
	m := v.Map("calibrations by the id of their probe, such as {28-000001318252: {ice: 0.31 C, on: 2026-11-20}}")
	for _, e := range m.All() {
		if !isOneWire(e.Key) {
			e.Value.FailKey(OneWireForm, `%q is no id such as "28-000001318252": two and twelve digits of 0 to 9 and a to f; a probe of another kind has its calibration beside it`, e.Key)
			continue
		}
		c := calibration(e.Value)
		p := r.oneWire(e.Key)
		if p == nil {
			e.Value.Warn(NotUsed, "no vessel of this site uses the probe %s, so its calibration changes nothing", e.Key)
			continue
		}
		if offset := r.offsets[e.Key]; offset.Given() {
			e.Value.Fail(TwoCalibrations, "the probe has an offset too, %s in line %d; take one of them out", offset.Path(), offset.Place().Line)
		}
		p.Calibration = c
	}
	m.Done()
}

// oneWire finds the thermometer with an id.
func (r *reader) oneWire(id string) *Probe {
	for i := range r.site.Vessels {
		for _, p := range r.site.Vessels[i].Thermometers() {
			if p.Kind == OneWire && p.Device == id {
				return p
			}
		}
	}
	return nil
}

// corrected reads the offset or the calibration of a probe that stands with it.
func (r *reader) corrected(m *strict.Map, p *Probe) {
	offset, c := m.Opt("offset"), m.Opt("calibration")
	if offset.Given() {
		p.Calibration.Offset = offset.Kelvins(-farthestOffset, farthestOffset)
	}
	switch {
	case !c.Given():
	case p.Kind == OneWire:
		c.FailKey(CalibrationPlace, "the calibration of a 1-Wire probe stands under its id, at the top of the file: {calibrations: {%s: ...}}", p.Device)
	case offset.Given():
		c.Fail(TwoCalibrations, "the probe has an offset too, in line %d; take one of them out", offset.Place().Line)
	default:
		p.Calibration = calibration(c)
	}
	if p.Kind == OneWire {
		r.offsets[p.Device] = offset
	}
}

// calibration reads what a probe read in melting ice, and in a bath of a known
// temperature.
func calibration(v *strict.Value) sensors.Calibration {
	m := v.Map(likeCalibration)
	ice, second, on := m.Need("ice"), m.Opt("second"), m.Need("on")
	cold := sensors.Point{Reads: ice.Celsius(-units.Celsius(farthestOffset), units.Celsius(farthestOffset)), Is: sensors.Ice}
	date(on)
	c := sensors.OfIce(cold.Reads)
	if second.Given() {
		c = twoPoints(ice, second, cold)
	}
	m.Done()
	if doubt := c.Doubt(); doubt != "" && v.Good() {
		v.Warn(DoubtfulCalibration, "%s", doubt)
	}
	return c
}

func twoPoints(ice, second *strict.Value, cold sensors.Point) sensors.Calibration {
	m := second.Map("a bath of a known temperature, such as {reads: 25.94 C, is: 25.5 C}")
	reads, is := m.Need("reads"), m.Need("is")
	warm := sensors.Point{Reads: reads.Celsius(coldestBath, warmestBath), Is: is.Celsius(coldestSecond, warmestSecond)}
	m.Done()
	if !ice.Good() || !reads.Good() || !is.Good() {
		return sensors.Calibration{}
	}
	if off := warm.Reads.Minus(warm.Is); off < -farthestOffset || off > farthestOffset {
		reads.Fail(CalibrationPoints, "the probe is off by %s; beyond %s it is broken, or something else was meant", off.Fixed(2), farthestOffset)
		return sensors.Calibration{}
	}
	c, err := sensors.OfTwo(cold, warm)
	if err != nil {
		second.Fail(CalibrationPoints, "%v", err)
		return sensors.Calibration{}
	}
	return c
}

// date reads a day such as 2026-11-20. It is for people: a probe drifts, and one
// that was calibrated long ago is due.
func date(v *strict.Value) {
	text := v.Line(nameLength)
	if _, err := time.Parse(time.DateOnly, text); err != nil && v.Good() {
		v.Fail(DateForm, `%q is no day such as "2026-11-20"`, text)
	}
}
