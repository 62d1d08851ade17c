package relay

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
)

// Kind is a way to reach a relay.
type Kind string

// The kinds of lines.
const (
	Pin      Kind = "gpio"
	HostPin  Kind = "pin" // of the processor, without a character device
	File     Kind = "file"
	InMemory Kind = "modelled"
)

// Kinds lists every kind.
func Kinds() []Kind { return []Kind{Pin, HostPin, File, InMemory} }

// Spec says which line a relay hangs on.
type Spec struct {
	Vessel    string // empty for the chiller
	Role      Role
	Zone      string // cool, where the vessel has several zones: in the order of the core
	Kind      Kind
	Chip      string    // gpio: label or name
	Line      string    // gpio: name, or number; pin: name
	ActiveLow bool      // gpio and pin: the relay works at the low level
	Path      string    // file
	Modelled  *Modelled // modelled
}

// Name is what people call the relay: "fv1 heat", "fv1 cool cone", "chiller".
func (s Spec) Name() string { return name(s.Vessel, s.Role, s.Zone) }

// Where tells where the relay hangs.
func (s Spec) Where() string {
	switch s.Kind {
	case Pin:
		return "on " + s.Chip + " " + s.Line + s.level()
	case HostPin:
		return "on the pin " + s.Line + s.level()
	case File:
		return "on " + s.Path
	case InMemory:
		return "in memory"
	}
	return "nowhere"
}

func (s Spec) level() string {
	if s.ActiveLow {
		return ", works at the low level"
	}
	return ""
}

func (s Spec) String() string { return s.Name() + " " + s.Where() }

// OpenOne claims one line and drives it off.
func OpenOne(gpio GPIO, vessels []string, s Spec) (Line, error) {
	if gpio == nil {
		gpio = Kernel()
	}
	if err := valid(vessels, []Spec{s}); err != nil {
		return nil, err
	}
	lines, err := openAll(gpio, []Spec{s})
	if err != nil {
		return nil, err
	}
	if err := lines[0].Set(false); err != nil {
		return nil, errors.Join(fmt.Errorf("claim %v: %w", s, err), lines[0].Close())
	}
	return lines[0], nil
}

// Open claims all lines, drives them off and gives the board, with a channel for
// every vessel in the order given. If one line cannot be had, those claimed
// already are let go of, switched off, and the error names the line and why. A
// nil gpio is this machine's.
func Open(gpio GPIO, vessels []string, specs []Spec) (*Board, error) {
	if gpio == nil {
		gpio = Kernel()
	}
	place := make([]Channel, len(vessels))
	for i, v := range vessels {
		place[i].Vessel = v
	}
	if err := valid(vessels, specs); err != nil {
		return nil, err
	}
	lines, err := openAll(gpio, specs)
	if err != nil {
		return nil, err
	}
	var chiller Line
	for i, s := range specs {
		at := slices.Index(vessels, s.Vessel)
		switch s.Role {
		case Heat:
			place[at].Heat = lines[i]
		case Cool:
			if s.Zone == "" {
				place[at].Cool = lines[i]
			} else {
				place[at].Zones = append(place[at].Zones, Zone{s.Zone, lines[i]})
			}
		case Chiller:
			chiller = lines[i]
		}
	}
	b := NewBoard(place, chiller)
	if err := b.Off(); err != nil {
		return nil, errors.Join(fmt.Errorf("claim the relays: %w", err), b.Close())
	}
	return b, nil
}

// valid refuses what cannot be a board: the wiring is not tried before it is
// understood.
func valid(vessels []string, specs []Spec) error {
	var errs []error
	roles, wires := map[string]bool{}, map[string]string{}
	for _, s := range specs {
		who := s.Name()
		if roles[who] {
			errs = append(errs, fmt.Errorf("%s has two lines", who))
		}
		roles[who] = true
		errs = append(errs, s.valid(vessels, specs))
		wire := ""
		switch s.Kind {
		case File:
			wire = filepath.Clean(s.Path)
		case HostPin:
			wire = "the pin " + s.Line
		case Pin, InMemory:
		}
		if other, used := wires[wire]; used && wire != "" {
			errs = append(errs, fmt.Errorf("%s and %s are both on %s", other, who, wire))
		}
		wires[wire] = who
	}
	return errors.Join(errs...)
}

// valid tells whether the relay has its place among the others.
func (s Spec) valid(vessels []string, all []Spec) error {
	switch who := s.Name(); {
	case s.Role != Heat && s.Role != Cool && s.Role != Chiller:
		return fmt.Errorf("%s: there is no role %q", who, s.Role)
	case s.Role == Chiller && s.Vessel != "":
		return fmt.Errorf("%s: the chiller belongs to no vessel", who)
	case s.Role != Chiller && !slices.Contains(vessels, s.Vessel):
		return fmt.Errorf("%s: there is no vessel %q", who, s.Vessel)
	case s.Role != Cool && s.Zone != "":
		return fmt.Errorf("%s: only cooling has zones", who)
	case s.Role == Cool && s.Zone == "" && zoned(all, s.Vessel):
		return fmt.Errorf("%s has a line beside its zones", who)
	}
	return nil
}

// zoned tells whether a vessel has cooling zones.
func zoned(specs []Spec, vessel string) bool {
	return slices.ContainsFunc(specs, func(s Spec) bool { return s.Vessel == vessel && s.Zone != "" })
}

// openAll gives a line for every spec, in their order, or none.
func openAll(gpio GPIO, specs []Spec) ([]Line, error) {
	lines := make([]Line, len(specs))
	pins := pins{gpio: gpio}
	var err error
	for i, s := range specs {
		if lines[i], err = openOne(&pins, i, s); err != nil {
			err = fmt.Errorf("claim %v: %w", s, err)
			break
		}
	}
	if err == nil {
		err = pins.claim(lines)
	}
	if err = errors.Join(err, pins.close()); err != nil {
		return nil, errors.Join(err, release(lines))
	}
	return lines, nil
}

// openOne gives the line of a spec. A pin comes later, with all of its chip.
func openOne(p *pins, at int, s Spec) (Line, error) {
	switch s.Kind {
	case Pin:
		return nil, p.add(at, s)
	case HostPin:
		l, err := openPin(p.gpio, s)
		if err != nil {
			return nil, err
		}
		return l, nil
	case File:
		l, err := openFile(s.Path)
		if err != nil {
			return nil, err
		}
		return l, nil
	case InMemory:
		if s.Modelled == nil {
			return nil, errors.New("the modelled line is missing")
		}
		return s.Modelled, nil
	}
	return nil, fmt.Errorf("there is no kind %q of line; kinds are %v", s.Kind, Kinds())
}

// release switches the lines off that were had, and lets go of them.
func release(lines []Line) error {
	var errs []error
	for _, l := range lines {
		if l != nil {
			errs = append(errs, l.Set(false), l.Close())
		}
	}
	return errors.Join(errs...)
}
