package site

import "example.org/restpoint/profiles/strict"

// places of thermowells, from the lid down.
func places() []string { return []string{"top", "middle", "bottom"} }

// byMean is what control goes by where nothing else is said.
const byMean = "mean"

// thermowells reads one probe, or several by their place:
//
//	thermowell: {top: {one-wire: ...}, bottom: {one-wire: ...}, control: bottom}
//
// That which control goes by becomes the first.
func (r *reader) thermowells(v *strict.Value, to *Vessel) {
	if v.IsText() || !v.Good() {
		to.Thermowell = r.probe(v, to.Name+"/thermowell")
		return
	}
	m := v.Map("a probe such as {one-wire: 28-000001318252}, or several such as {top: {one-wire: ...}, bottom: {one-wire: ...}}")
	given := m.Which(places()...)
	if len(given) == 0 && !m.Misspelt(places()...) {
		to.Thermowell = r.probe(v, to.Name+"/thermowell")
		return
	}
	var wells []Probe
	for _, place := range given {
		wells = append(wells, r.probe(m.Opt(place), to.Name+"/thermowell-"+place))
	}
	control := m.Opt("control")
	by := byMean
	if control.Given() {
		by = control.Word(append(append([]string(nil), given...), byMean)...)
	}
	m.Done()
	if len(wells) == 0 {
		return // the place is misspelt, and said to be
	}
	for i, place := range given {
		if place == by {
			wells[0], wells[i] = wells[i], wells[0]
		}
	}
	to.Thermowell, to.More, to.Mean = wells[0], wells[1:], by == byMean && len(wells) > 1
}

// Thermometers lists every thermometer of the vessel; some may not be fitted.
func (v *Vessel) Thermometers() []*Probe {
	list := []*Probe{&v.Thermowell}
	for i := range v.More {
		list = append(list, &v.More[i])
	}
	return append(list, &v.Surround, &v.Ambient)
}
