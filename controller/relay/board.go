package relay

import (
	"errors"
	"fmt"
	"slices"

	"example.org/restpoint/controller"
)

// Board is all the lines of a site. It belongs to one goroutine.
type Board struct {
	channels []channel
	chiller  *output
}

// channel is what one vessel has. Without zones it has one output to cool, which
// may be a line that is not fitted.
type channel struct {
	heat *output
	cool []*output
}

// output is a line and what is known of it. Only a write that succeeded makes a
// level known; before the first one, and after one that failed, the relay may be
// on.
type output struct {
	line   Line // nil = not fitted
	vessel string
	role   Role
	zone   string
	on     bool
	known  bool
}

// NewBoard makes a board of lines that are claimed already. Nothing is driven: no
// level is known before the first Lower, Set or Off.
func NewBoard(channels []Channel, chiller Line) *Board {
	b := &Board{chiller: &output{line: chiller, role: Chiller}}
	for _, c := range channels {
		ch := channel{heat: &output{line: c.Heat, vessel: c.Vessel, role: Heat}}
		for _, z := range c.Zones {
			ch.cool = append(ch.cool, &output{line: z.Line, vessel: c.Vessel, role: Cool, zone: z.Name})
		}
		if ch.cool == nil {
			ch.cool = []*output{{line: c.Cool, vessel: c.Vessel, role: Cool}}
		}
		b.channels = append(b.channels, ch)
	}
	return b
}

// Set drives all levels: every OFF of the board first, then every ON.
func (b *Board) Set(want Levels) error {
	want, refused := b.check(want)
	return errors.Join(refused, b.lower(want), b.raise(want))
}

// Lower drives only what shall be off, and leaves the rest as it is. It needs
// nothing to have happened before. What is off already is driven off again: that
// costs little, and mends what another program did to a file.
func (b *Board) Lower(want Levels) error {
	want, refused := b.check(want)
	return errors.Join(refused, b.lower(want))
}

// Raise drives only what shall be on, and only where the vessel's other relay is
// known to be off. Where a line cannot be driven on it is driven off, and what is
// refused is driven off too.
func (b *Board) Raise(want Levels) error {
	want, refused := b.check(want)
	if refused != nil {
		refused = errors.Join(refused, b.lower(want))
	}
	return errors.Join(refused, b.raise(want))
}

// Off drives every line off, whatever fails on the way.
func (b *Board) Off() error {
	return b.lower(Levels{Vessels: make([]controller.Outputs, len(b.channels))})
}

// Close drives every line off and lets go of all of them.
func (b *Board) Close() error {
	errs := []error{b.Off()}
	for _, o := range b.outputs() {
		if o.line == nil {
			continue
		}
		if err := o.line.Close(); err != nil {
			errs = append(errs, fmt.Errorf("let go of %s: %w", o.name(), err))
		}
		o.known = false // whoever claims the line now may drive it
	}
	return errors.Join(errs...)
}

// Actual tells the levels to reckon with. A line whose level is not known counts
// as on: its relay may be.
func (b *Board) Actual() Levels {
	l := Levels{Vessels: make([]controller.Outputs, len(b.channels)), Chiller: b.chiller.mayBeOn()}
	for i, c := range b.channels {
		l.Vessels[i] = controller.Outputs{Heat: c.heat.mayBeOn(), Cool: c.mayCool()}
	}
	return l
}

// Unknown names the lines whose level is not known, such as "fv1 heat".
func (b *Board) Unknown() []string {
	var names []string
	for _, o := range b.outputs() {
		if o.line != nil && !o.known {
			names = append(names, o.name())
		}
	}
	return names
}

// outputs lists all lines in the order in which they go off: heaters first, for
// they do the most harm, and the chiller before the valves that it feeds.
func (b *Board) outputs() []*output {
	var all []*output
	for _, c := range b.channels {
		all = append(all, c.heat)
	}
	all = append(all, b.chiller)
	for _, c := range b.channels {
		all = append(all, c.cool...)
	}
	return all
}

func (o *output) name() string { return name(o.vessel, o.role, o.zone) }

// mayCool tells whether any zone of the vessel may be cooling.
func (c channel) mayCool() bool { return slices.ContainsFunc(c.cool, (*output).mayBeOn) }

// cools tells whether the vessel can be cooled at all.
func (c channel) cools() bool { return c.cool[0].line != nil }

func (o *output) fault(on bool, err error) error { return &Error{o.vessel, o.role, o.zone, on, err} }

// check gives the levels that may be driven. What cannot be meant is off.
func (b *Board) check(want Levels) (Levels, error) {
	ok := Levels{Vessels: make([]controller.Outputs, len(b.channels)), Zones: want.Zones, Chiller: want.Chiller}
	if len(want.Vessels) != len(b.channels) {
		ok.Chiller = false
		return ok, fmt.Errorf("levels of %d vessels for a board of %d; all stay off", len(want.Vessels), len(b.channels))
	}
	var errs []error
	for i, c := range b.channels {
		w := want.Vessels[i]
		if w.Heat && w.Cool {
			errs = append(errs, c.heat.fault(true, Together))
			continue
		}
		if w.Heat && c.heat.line == nil {
			errs = append(errs, c.heat.fault(true, NotFitted))
			w.Heat = false
		}
		if w.Cool && !c.cools() {
			errs = append(errs, c.cool[0].fault(true, NotFitted))
			w.Cool = false
		}
		ok.Vessels[i] = w
	}
	if b.chiller.line == nil {
		ok.Chiller = false // a chiller that runs by itself needs no line
	}
	return ok, errors.Join(errs...)
}

func (b *Board) lower(want Levels) error {
	var errs []error
	for i, c := range b.channels {
		errs = append(errs, c.heat.lower(want.Vessels[i].Heat))
	}
	errs = append(errs, b.chiller.lower(want.Chiller))
	for i, c := range b.channels {
		zones := want.zones(i)
		for z, o := range c.cool {
			errs = append(errs, o.lower(zones.Has(z)))
		}
	}
	return errors.Join(errs...)
}

func (b *Board) raise(want Levels) error {
	var errs []error
	for i, c := range b.channels {
		zones := want.zones(i)
		for z, o := range c.cool {
			errs = append(errs, o.raise(zones.Has(z), c.heat.mayBeOn()))
		}
	}
	errs = append(errs, b.chiller.raise(want.Chiller, false))
	for i, c := range b.channels {
		errs = append(errs, c.heat.raise(want.Vessels[i].Heat, c.mayCool()))
	}
	return errors.Join(errs...)
}

func (o *output) lower(want bool) error {
	if o.line == nil || want {
		return nil
	}
	return o.drive(false)
}

func (o *output) raise(want, partnerOn bool) error {
	if o.line == nil || !want {
		return nil
	}
	if partnerOn {
		return errors.Join(o.fault(true, PartnerOn), o.drive(false))
	}
	if err := o.drive(true); err != nil {
		return errors.Join(err, o.drive(false))
	}
	return nil
}

func (o *output) drive(on bool) error {
	if err := o.line.Set(on); err != nil {
		o.known = false
		return o.fault(on, err)
	}
	o.on, o.known = on, true
	return nil
}

func (o *output) mayBeOn() bool {
	return o.line != nil && (o.on || !o.known)
}
