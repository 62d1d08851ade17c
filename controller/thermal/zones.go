package thermal

import "example.org/restpoint/controller/units"

// Beer is densest between 2 and 3 C: above, the coldest beer sinks, and a jacket on
// the shell stirs the whole tank; below, it rises, and only one on the cone does.

// MostZones is how many cooling zones a vessel may have.
const MostZones = 4

// ZoneUse says when a cooling zone is used.
type ZoneUse string

// When a zone is used.
const (
	Always ZoneUse = "always"
	Above  ZoneUse = "above" // while the beer is warmer than At
	Below  ZoneUse = "below"
)

// Zone is a part of the vessel that is cooled by a valve of its own.
type Zone struct {
	Name string
	Use  ZoneUse
	At   units.Celsius
}

// Zones is a set of a vessel's zones, a bit each, the first one lowest. An empty
// set stands for a vessel without zones.
type Zones uint8

// Has tells whether a zone is in the set.
func (z Zones) Has(i int) bool { return z&(1<<i) != 0 }

// zoneBand is how far the beer must be beyond a border before the zone changes.
const zoneBand units.Kelvins = 0.25

// Choose gives the zones by which a beer is cooled. If none of them is meant for
// that temperature, all are.
func (z Zones) Choose(zones []Zone, beer units.Celsius) Zones {
	var out, all Zones
	for i, zone := range zones {
		all |= 1 << i
		band := zoneBand
		if z == 0 {
			band = 0 // nothing chosen yet
		} else if z.Has(i) {
			band = -zoneBand
		}
		switch zone.Use {
		case Always:
			out |= 1 << i
		case Above:
			if beer > zone.At.Plus(band) {
				out |= 1 << i
			}
		case Below:
			if beer <= zone.At.Plus(-band) {
				out |= 1 << i
			}
		}
	}
	if out == 0 {
		return all
	}
	return out
}
