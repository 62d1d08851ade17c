package relay

import (
	"errors"
	"fmt"

	"example.org/restpoint/controller"
)

// Board is all the lines of a site. It belongs to one goroutine.
type Board struct {
	channels []channel
	chiller  *output
}

type channel struct{ heat, cool *output }

// output is a line and what is known of it. Only a write that succeeded makes a
// level known; before the first one, and after one that failed, the relay may be
// on.
type output struct {
	line   Line // nil = not fitted
	vessel string
	role   Role
	on     bool
	known  bool
}

// NewBoard makes a board of lines that are claimed already. Nothing is driven: no
// level is known before the first Lower, Set or Off.
func NewBoard(channels []Channel, chiller Line) *Board {
	b := &Board{chiller: &output{line: chiller, role: Chiller}}
	for _, c := range channels {
		b.channels = append(b.channels, channel{
			heat: &output{line: c.Heat, vessel: c.Vessel, role: Heat},
			cool: &output{line: c.Cool, vessel: c.Vessel, role: Cool},
		})
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
			errs = append(errs, fmt.Errorf("let go of %s: %w", name(o.vessel, o.role), err))
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
		l.Vessels[i] = controller.Outputs{Heat: c.heat.mayBeOn(), Cool: c.cool.mayBeOn()}
	}
	return l
}

// Unknown names the lines whose level is not known, such as "fv1 heat".
func (b *Board) Unknown() []string {
	var names []string
	for _, o := range b.outputs() {
		if o.line != nil && !o.known {
			names = append(names, name(o.vessel, o.role))
		}
	}
	return names
}

// outputs lists all lines in the order in which they go off: heaters first, for
// they do the most harm, and the chiller before the valves that it feeds.
func (b *Board) outputs() []*output {
	all := make([]*output, 0, 2*len(b.channels)+1)
	for _, c := range b.channels {
		all = append(all, c.heat)
	}
	all = append(all, b.chiller)
	for _, c := range b.channels {
		all = append(all, c.cool)
	}
	return all
}

// check gives the levels that may be driven. What cannot be meant is off.
func (b *Board) check(want Levels) (Levels, error) {
	ok := Levels{Vessels: make([]controller.Outputs, len(b.channels)), Chiller: want.Chiller}
	if len(want.Vessels) != len(b.channels) {
		ok.Chiller = false
		return ok, fmt.Errorf("levels of %d vessels for a board of %d; all stay off", len(want.Vessels), len(b.channels))
	}
	var errs []error
	for i, c := range b.channels {
		w := want.Vessels[i]
		if w.Heat && w.Cool {
			errs = append(errs, &Error{c.heat.vessel, Heat, true, Together})
			continue
		}
		if w.Heat && c.heat.line == nil {
			errs = append(errs, &Error{c.heat.vessel, Heat, true, NotFitted})
			w.Heat = false
		}
		if w.Cool && c.cool.line == nil {
			errs = append(errs, &Error{c.cool.vessel, Cool, true, NotFitted})
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
		errs = append(errs, c.cool.lower(want.Vessels[i].Cool))
	}
	return errors.Join(errs...)
}

func (b *Board) raise(want Levels) error {
	var errs []error
	for i, c := range b.channels {
		errs = append(errs, c.cool.raise(want.Vessels[i].Cool, c.heat))
	}
	errs = append(errs, b.chiller.raise(want.Chiller, nil))
	for i, c := range b.channels {
		errs = append(errs, c.heat.raise(want.Vessels[i].Heat, c.cool))
	}
	return errors.Join(errs...)
}

func (o *output) lower(want bool) error {
	if o.line == nil || want {
		return nil
	}
	return o.drive(false)
}

func (o *output) raise(want bool, partner *output) error {
	if o.line == nil || !want {
		return nil
	}
	if partner.mayBeOn() {
		return errors.Join(&Error{o.vessel, o.role, true, PartnerOn}, o.drive(false))
	}
	if err := o.drive(true); err != nil {
		return errors.Join(err, o.drive(false))
	}
	return nil
}

func (o *output) drive(on bool) error {
	if err := o.line.Set(on); err != nil {
		o.known = false
		return &Error{o.vessel, o.role, on, err}
	}
	o.on, o.known = on, true
	return nil
}

func (o *output) mayBeOn() bool {
	return o != nil && o.line != nil && (o.on || !o.known)
}
