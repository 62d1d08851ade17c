package relay

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"example.org/restpoint/controller"
)

// ContactSpec says where it is measured whether the contact of a vessel's relay is
// closed: an auxiliary contact or a current sensor on a line, or a file that holds 0
// or 1.
type ContactSpec struct {
	Vessel    string
	Role      Role   // heat or cool
	Kind      Kind   // gpio or file
	Chip      string // gpio: label or name
	Line      string // gpio: name, or number
	ActiveLow bool   // gpio: the contact is closed at the low level
	Path      string // file
}

func (s ContactSpec) String() string { return "the contact of " + name(s.Vessel, s.Role, "") }

// Input is a line that is read: 1 for active.
type Input interface {
	Value() (int, error)
	Close() error
}

// Contacts reads what is measured of the relays. It decides nothing, and what it
// cannot read it does not guess. It is not safe for use from several goroutines.
type Contacts struct {
	vessels []string
	all     []contact
}

type contact struct {
	ContactSpec
	line Input // nil where it could not be had
}

// OpenContacts claims the lines as inputs. Where one cannot be had the error says so,
// and its contact stays unmeasured; the others are read all the same. A nil gpio is
// this machine's.
func OpenContacts(gpio GPIO, vessels []string, specs []ContactSpec) (*Contacts, error) {
	if gpio == nil {
		gpio = Kernel()
	}
	c := &Contacts{vessels: vessels}
	var errs []error
	for _, s := range specs {
		line, err := openContact(gpio, s)
		if err != nil {
			errs = append(errs, fmt.Errorf("open %v: %w", s, err))
		}
		c.all = append(c.all, contact{s, line})
	}
	return c, errors.Join(errs...)
}

func openContact(gpio GPIO, s ContactSpec) (Input, error) {
	switch s.Kind {
	case File:
		return fileContact(filepath.Clean(s.Path)), nil
	case Pin:
		chip, err := findChip(gpio, s.Chip)
		if err != nil {
			return nil, err
		}
		offset, err := findLine(chip, s.Line)
		if err != nil {
			return nil, errors.Join(err, chip.Close())
		}
		line, err := chip.Input(Request{offset, s.ActiveLow})
		if err != nil {
			return nil, errors.Join(err, chip.Close())
		}
		return line, chip.Close()
	case HostPin, InMemory:
	}
	return nil, fmt.Errorf("no contact is read by the kind %q", s.Kind)
}

// Read gives what is measured, a vessel each, in their order. What cannot be read is
// unmeasured, and the error says why.
func (c *Contacts) Read() ([]controller.Contacts, error) {
	list := make([]controller.Contacts, len(c.vessels))
	var errs []error
	for i := range c.all {
		at, err := c.all[i].read()
		if err != nil {
			errs = append(errs, fmt.Errorf("read %v: %w", c.all[i].ContactSpec, err))
		}
		for v, vessel := range c.vessels {
			switch {
			case vessel != c.all[i].Vessel:
			case c.all[i].Role == Heat:
				list[v].Heat = at
			case c.all[i].Role == Cool:
				list[v].Cool = at
			}
		}
	}
	return list, errors.Join(errs...)
}

func (c *contact) read() (controller.Contact, error) {
	if c.line == nil {
		return controller.Unmeasured, nil // which was said when it was opened
	}
	switch n, err := c.line.Value(); {
	case err != nil:
		return controller.Unmeasured, err
	case n == 0:
		return controller.Open, nil
	case n == 1:
		return controller.Closed, nil
	default:
		return controller.Unmeasured, fmt.Errorf("%d is neither 0 nor 1", n)
	}
}

// Close lets go of the lines.
func (c *Contacts) Close() error {
	var errs []error
	for i := range c.all {
		if c.all[i].line != nil {
			errs = append(errs, c.all[i].line.Close())
		}
	}
	return errors.Join(errs...)
}

// fileContact is a file that holds 0 or 1.
type fileContact string

// Value reads it.
func (f fileContact) Value() (int, error) {
	text, err := os.ReadFile(string(f))
	if err != nil {
		return 0, err
	}
	switch t := strings.TrimSpace(string(text)); t {
	case "0":
		return 0, nil
	case "1":
		return 1, nil
	default:
		return 0, fmt.Errorf("%s holds %.20q, and neither 0 nor 1", string(f), t)
	}
}

// Close has nothing to let go of.
func (fileContact) Close() error { return nil }
