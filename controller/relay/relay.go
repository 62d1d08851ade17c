// Package relay drives the lines of relays. It refuses to have heat and cool of
// one vessel on together, to switch anything on before all that must go off has
// been told to, to read an output back (on some drivers that turns it into an
// input), and to call a line off that it could not drive.
package relay

import (
	"fmt"
	"slices"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/thermal"
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
	Zones  []Zone // instead of Cool: the valves of its cooling zones
}

// Zone is the valve of one cooling zone.
type Zone struct {
	Name string
	Line Line
}

// Levels are the levels of all lines of a board: one a vessel, in the order of
// its channels, and the chiller that they share. Zones says which cooling zones of
// a vessel follow its Cool, where it has any; without a word all of them do.
type Levels struct {
	Vessels []controller.Outputs
	Zones   []thermal.Zones
	Chiller bool
}

// zones gives the cooling zones of a vessel that are to be on.
func (l Levels) zones(vessel int) thermal.Zones {
	switch {
	case !l.Vessels[vessel].Cool:
		return 0
	case vessel < len(l.Zones) && l.Zones[vessel] != 0:
		return l.Zones[vessel]
	}
	return ^thermal.Zones(0)
}

// Error says which line failed, or what was refused.
type Error struct {
	Vessel string // empty = the chiller
	Role   Role
	Zone   string // of cooling, where there are several
	On     bool   // what was to be driven
	Err    error
}

func (e *Error) Error() string {
	level := "off"
	if e.On {
		level = "on"
	}
	return fmt.Sprintf("switch %s %s: %v", name(e.Vessel, e.Role, e.Zone), level, e.Err)
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Err }

// Concerns tells whether an error of a board is about a line of that vessel, or
// about the chiller, which is everybody's.
func Concerns(err error, vessel string) bool {
	switch e := err.(type) { //nolint:errorlint // joined errors are taken apart one by one
	case *Error:
		return e.Vessel == vessel || e.Vessel == ""
	case interface{ Unwrap() []error }:
		return slices.ContainsFunc(e.Unwrap(), func(one error) bool { return Concerns(one, vessel) })
	}
	return false
}

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

func name(vessel string, role Role, zone string) string {
	text := string(role)
	if vessel != "" {
		text = vessel + " " + text
	}
	if zone != "" {
		text += " " + zone
	}
	return text
}
