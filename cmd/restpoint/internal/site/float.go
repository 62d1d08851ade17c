package site

import (
	"example.org/restpoint/controller/sense"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles/strict"
)

// farthestPoints is by how much a hydrometer may read wrong everywhere. One that
// is further off is broken, or something else was meant.
const farthestPoints units.Points = 20

// float reads the calibration of a hydrometer, in one of three forms:
//
//	calibration: {offset: -2 points}
//	calibration: {points: [{reads: 1.002, is: 1.000}, {reads: 1.052, is: 1.050}]}
//	calibration: {polynomial: [0.9302, 2.62e-3, -1.2e-5], from: 20, to: 80}
//
// It is applied to what is pushed, before any correction for temperature.
func float(v *strict.Value) sense.Calibration {
	var c sense.Calibration
	m := v.Map("how wrong it reads, such as {offset: -2 points}, {points: [{reads: 1.002, is: 1.000}, {reads: 1.052, is: 1.050}]} or {polynomial: [0.9302, 2.62e-3, -1.2e-5], from: 20, to: 80}")
	key, how := m.One(FloatForm, "offset", "points", "polynomial")
	switch key {
	case "offset":
		c = sense.OfOffset(how.Points(-farthestPoints, farthestPoints))
	case "points":
		c = pairs(how)
	case "polynomial":
		c = polynomial(m, how)
	}
	if on := m.Opt("on"); on.Given() {
		date(on)
	}
	m.Done()
	if doubt := c.Doubt(); doubt != "" && how.Good() && v.Good() {
		v.Warn(DoubtfulCalibration, "%s", doubt)
	}
	return c
}

// pairs reads two gravities and what the hydrometer read in them.
func pairs(v *strict.Value) sense.Calibration {
	items := v.List("two points such as [{reads: 1.002, is: 1.000}, {reads: 1.052, is: 1.050}]")
	if v.Good() && len(items) != 2 {
		v.Fail(CalibrationPoints, "two points make a line, and %d are given; what is bent needs a polynomial", len(items))
		return sense.Calibration{}
	}
	var of [2]sense.Pair
	good := len(items) == 2
	for i, item := range items {
		m := item.Map("a wort of a known gravity, such as {reads: 1.052, is: 1.050}")
		reads, is := m.Need("reads"), m.Need("is")
		of[i] = sense.Pair{Reads: reads.Gravity(units.LowestGravity, units.HighestGravity), Is: is.Gravity(units.LowestGravity, units.HighestGravity)}
		m.Done()
		good = good && reads.Good() && is.Good()
	}
	if !good {
		return sense.Calibration{}
	}
	c, err := sense.OfPairs(of[0], of[1])
	if err != nil {
		v.Fail(CalibrationPoints, "%v", err)
	}
	return c
}

// polynomial reads the coefficients of a gravity by the device's own number, and
// the numbers between which they were fitted. Those have no unit: theirs is the
// device's own.
func polynomial(m *strict.Map, v *strict.Value) sense.Calibration {
	const like = "2.62e-3"
	items := v.List("coefficients such as [0.9302, 2.62e-3, -1.2e-5]: of 1, of the number, of its square, and so on")
	if v.Good() && (len(items) < 2 || len(items) > sense.MostTerms) {
		v.Fail(Polynomial, "2 to %d coefficients are needed, of 1, of the number, of its square, and so on, and %d are given", sense.MostTerms, len(items))
		return sense.Calibration{}
	}
	var terms []float64
	good := len(items) > 0
	for _, item := range items {
		terms = append(terms, coefficient(item, Polynomial, like))
		good = good && item.Good()
	}
	var ends [2]float64
	from, to := m.Opt("from"), m.Opt("to")
	if from.Given() != to.Given() {
		v.Fail(Polynomial, "from and to go together: the numbers between which it was fitted")
		return sense.Calibration{}
	}
	if from.Given() {
		ends = [2]float64{coefficient(from, Polynomial, "20"), coefficient(to, Polynomial, "80")}
		good = good && from.Good() && to.Good()
	}
	if !good {
		return sense.Calibration{}
	}
	c := sense.OfTerms(terms, ends[0], ends[1])
	err := c.Check()
	switch {
	case from.Given() && !(ends[0] < ends[1]):
		to.Fail(Polynomial, "its numbers go from %g to %g, which is not up", ends[0], ends[1])
	case err != nil && !from.Given():
		v.Fail(Polynomial, "%v; a bend is no harm outside of the numbers that it was fitted to: give them as from and to", err)
	case err != nil:
		v.Fail(Polynomial, "between %g and %g %v", ends[0], ends[1], err)
	}
	return c
}
