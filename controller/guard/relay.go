package guard

import (
	"time"

	"example.org/restpoint/controller/units"
)

// Profile is what hangs on a relay.
type Profile string

// The profiles, by what the contact switches.
const (
	Compressor Profile = "compressor" // needs its rest, whatever happens
	Valve      Profile = "valve"
	Pump       Profile = "pump"
	Heater     Profile = "heater" // a heater on a mechanical contact
	SSR        Profile = "ssr"    // a heater on a solid-state relay
)

// Relay is one relay and how it may be used.
type Relay struct {
	Fitted  bool
	Profile Profile
	MinOn   time.Duration
	MinOff  time.Duration
	MaxRun  time.Duration // 0 = no limit
	Power   units.Watts   // of what it switches; 0 = not known
}

// changeOver is the dead time between cooling and heating: the jacket is still
// cold, or warm (10 to 30 min is common practice).
const changeOver = 20 * time.Minute

// Of gives the usual times of a profile. Compressor: 5 min of rest, as in
// common air-conditioning practice, and 3 min of run; a commercial
// refrigerator's own control is found with 2.5 min of each. Mechanical contacts
// live about 1e5 operations (from memory), so a heater runs at least a minute.
func Of(p Profile) Relay {
	r := Relay{Fitted: true, Profile: p}
	switch p {
	case Compressor:
		r.MinOn, r.MinOff = 3*time.Minute, 5*time.Minute
	case Valve, Pump:
		r.MinOn, r.MinOff = 15*time.Second, 30*time.Second
	case Heater:
		r.MinOn, r.MinOff, r.MaxRun = time.Minute, time.Minute, 4*time.Hour
	case SSR:
		r.MinOn, r.MinOff, r.MaxRun = 5*time.Second, 5*time.Second, 4*time.Hour
	}
	return r
}

// Profiles lists every profile.
func Profiles() []Profile { return []Profile{Compressor, Valve, Pump, Heater, SSR} }
