package commission

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors"
)

// Where beer is. A probe outside of it is somewhere else, or something is wrong
// (common practice; a jacket may be colder).
const (
	coldest units.Celsius = 0
	hottest units.Celsius = 40
	powerOn units.Celsius = 85 // of a DS18B20 that did not measure (data sheet)
)

// Inventory is what a board has, and what a site file wants of it.
type Inventory struct {
	Board   sensors.Board
	Sited   bool           // there is a site file
	Places  []sensors.Spec // its probes
	Running bool           // the program runs: it has the chips that only one may ask
}

// item is a probe with what it said.
type item struct {
	found  *sensors.Found // that the board shows
	place  *sensors.Spec  // or that only the site file knows
	sensor sensors.Sensor // nil = it cannot be read, or must not be
	taken  sensors.Taken
}

// List reads every probe once and writes what came. It gives the places of the site
// that have no reading.
func (v *Inventory) List(ctx context.Context, w io.Writer) (missing []controller.ProbeID, err error) {
	items, err := v.items()
	if err != nil {
		return nil, err
	}
	if err := read(ctx, items); err != nil {
		return nil, err
	}
	l := list{Inventory: v}
	for _, g := range l.groups(items) {
		if err := g.write(w); err != nil {
			return nil, fmt.Errorf("write: %w", err)
		}
	}
	return l.missing, nil
}

// items opens all that can be read.
func (v *Inventory) items() ([]item, error) {
	var all []item
	for i := range v.Board.Found {
		it := item{found: &v.Board.Found[i]}
		if it.found.Spec.Kind != "" {
			sensor, err := sensors.Open(it.found.Spec)
			if err != nil {
				return nil, fmt.Errorf("open %s: %w", it.found.Name, err)
			}
			it.sensor = sensor
		}
		all = append(all, it)
	}
	for i := range v.Places {
		it := item{place: &v.Places[i]}
		switch {
		case shown(it.place.Kind) && v.meant(*it.place) > 0:
			continue // it is among those above
		case !shown(it.place.Kind) && (!v.Running || !it.place.Alone()):
			bare := *it.place
			bare.Calibration = sensors.Calibration{} // a list shows what the probe itself says
			sensor, err := sensors.Open(bare)
			if err != nil {
				return nil, fmt.Errorf("open: %w", err)
			}
			it.sensor = sensor
		}
		all = append(all, it)
	}
	return all, nil
}

// read reads what was opened, each probe once.
func read(ctx context.Context, items []item) error {
	var open []sensors.Sensor
	var at []*item
	for i := range items {
		if s := items[i].sensor; s != nil {
			open, at = append(open, s), append(at, &items[i])
		}
	}
	taken, err := sensors.Once(ctx, open)
	if err != nil {
		return fmt.Errorf("read the probes: %w", err)
	}
	for i, t := range taken {
		at[i].taken = t
	}
	return nil
}

// shown tells whether a board shows probes of a kind.
func shown(k sensors.Kind) bool {
	return slices.Contains([]sensors.Kind{sensors.OneWire, sensors.Hwmon, sensors.IIO}, k)
}

// meant tells how many on the board a place of the site means.
func (v *Inventory) meant(p sensors.Spec) (n int) {
	for i := range v.Board.Found {
		if v.Board.Found[i].Is(p) {
			n++
		}
	}
	return n
}

// list is what is written of an inventory.
type list struct {
	*Inventory
	missing []controller.ProbeID
}

// groups sorts what was read by its kind.
func (l *list) groups(items []item) []group {
	oneWire := group{title: "1-Wire: " + counted(l.Board.OneWire, "bus", "buses")}
	hwmon, iio := group{title: "Chips of the kernel (hwmon)"}, group{title: "Devices of the kernel's industrial I/O"}
	own, gone := group{title: "Known to the site file alone"}, group{title: "In the site file, and not there"}
	for _, it := range items {
		switch {
		case it.found == nil && shown(it.place.Kind):
			gone.rows = append(gone.rows, row{name: string(it.place.Probe), use: Form(*it.place)})
			l.lacks(*it.place)
		case it.found == nil:
			own.rows = append(own.rows, l.own(it))
		case it.found.Voltage != nil || it.found.Spec.Kind == sensors.IIO:
			iio.rows = append(iio.rows, l.shown(it))
		case it.found.Spec.Kind == sensors.Hwmon:
			hwmon.rows = append(hwmon.rows, l.shown(it))
		default:
			oneWire.rows = append(oneWire.rows, l.shown(it))
		}
	}
	buses := group{title: "Buses for programs; only chips of the site file are asked"}
	for _, b := range l.Board.Buses {
		buses.rows = append(buses.rows, row{name: b.Path, use: b.Name})
	}
	groups := []group{oneWire, hwmon, iio, buses}
	if l.Sited {
		groups = append(groups, own)
	}
	if len(gone.rows) > 0 {
		groups = append(groups, gone)
	}
	return groups
}

// lacks notes that a place has no reading.
func (l *list) lacks(p sensors.Spec) {
	if !slices.Contains(l.missing, p.Probe) {
		l.missing = append(l.missing, p.Probe)
	}
}

// shown is the row of what the board shows.
func (l *list) shown(it item) row {
	f := it.found
	r := row{name: f.Name}
	good := false
	switch {
	case f.Voltage != nil:
		good = r.volts(f)
	case it.sensor != nil:
		good = r.take(it.taken)
	}
	for _, d := range f.Doubts {
		r.warn(doubted(d))
	}
	var uses []string
	for _, p := range l.Places {
		if !f.Is(p) {
			continue
		}
		uses = append(uses, use(p, it.taken, good && f.Voltage == nil))
		if shown(p.Kind) && (!good || l.meant(p) > 1) {
			l.lacks(p)
		}
		if shown(p.Kind) && l.meant(p) > 1 && !slices.Contains(f.Doubts, sensors.Twin) {
			r.warn(string(p.Probe) + " means several of these, and reads none")
		}
	}
	switch form := formOf(f); {
	case len(uses) > 0:
		r.use = strings.Join(uses, ", ")
	case slices.Contains(f.Doubts, sensors.Inner): // nobody wants it in a tank
	case l.Sited && Form(f.Spec) != "":
		r.use = "free: " + form
	default:
		r.use = form
	}
	return r
}

// formOf is how a site file would name what was found.
func formOf(f *sensors.Found) string {
	if f.Voltage != nil {
		return "adc: " + channelForm(f.Spec.IIO)
	}
	return Form(f.Spec)
}

// own is the row of a probe that only the site file knows.
func (l *list) own(it item) row {
	r := row{name: string(it.place.Probe)}
	if it.sensor == nil {
		r.reads = "not read"
		r.note("the running program has its chip; ask it: restpoint status")
		return r
	}
	name, _, _ := strings.Cut(it.sensor.String(), ": ") // what follows is evidence
	r.use = name
	if !r.take(it.taken) {
		l.lacks(*it.place)
		return r
	}
	if it.place.Calibration.Given() {
		r.use += ", corrected " + it.place.Calibration.Apply(it.taken.Value.Celsius).Fixed(2)
	}
	return r
}

// use names a place, and what it makes of the reading.
func use(p sensors.Spec, t sensors.Taken, good bool) string {
	if good && p.Calibration.Given() {
		return string(p.Probe) + ", corrected " + p.Calibration.Apply(t.Value.Celsius).Fixed(2)
	}
	return string(p.Probe)
}
