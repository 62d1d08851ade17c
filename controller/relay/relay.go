// Package relay drives the lines of relays. It refuses to have heat and cool of
// one vessel on together, to switch anything on before all that must go off has
// been told to, to read an output back (on some drivers that turns it into an
// input), and to call a line off that it could not drive.
package relay

import (
	"fmt"

	"example.org/restpoint/controller"
)

// Line is one output. On means that the relay works, whatever level that takes.
type Line interface {
	Set(on bool) error
	Close() error // lets go of the line; it must have been switched off before
}

// Channel is what one vessel has. A nil line is not fitted.
type Channel struct {
	Vessel string
	Heat   Line
	Cool   Line
}

// Levels are the levels of all lines of a board: one a vessel, in the order of
// its channels, and the chiller that they share.
type Levels struct {
	Vessels []controller.Outputs
	Chiller bool
}

// Error says which line failed, or what was refused.
type Error struct {
	Vessel string // empty = the chiller
	Role   Role
	On     bool // what was to be driven
	Err    error
}

func (e *Error) Error() string {
	level := "off"
	if e.On {
		level = "on"
	}
	return fmt.Sprintf("switch %s %s: %v", name(e.Vessel, e.Role), level, e.Err)
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Err }

// Refusal is a cause of an Error that lies in what was asked, not in a line.
type Refusal string

func (r Refusal) Error() string { return string(r) }

// The refusals.
const (
	Together  Refusal = "heat and cool were asked for together; both stay off"
	PartnerOn Refusal = "the vessel's other relay is not known to be off"
	NotFitted Refusal = "there is no such relay"
)

// Role is what a line is for.
type Role string

// The roles of lines.
const (
	Heat    Role = "heat"
	Cool    Role = "cool"
	Chiller Role = "chiller"
)

func name(vessel string, role Role) string {
	if vessel == "" {
		return string(role)
	}
	return vessel + " " + string(role)
}
