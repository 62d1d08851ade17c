package thermal_test

import (
	"testing"

	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

func shellAndCone() []thermal.Zone {
	return []thermal.Zone{{Name: "shell", Use: thermal.Above, At: 4}, {Name: "cone", Use: thermal.Below, At: 4}}
}

func TestZonesFollowTheBeer(t *testing.T) {
	const shell, cone thermal.Zones = 1, 2
	for _, c := range []struct {
		name  string
		zones []thermal.Zone
		was   thermal.Zones
		beer  units.Celsius
		want  thermal.Zones
	}{
		{"warm beer goes by the shell", shellAndCone(), 0, 19, shell},
		{"cold beer goes by the cone", shellAndCone(), 0, 2, cone},
		{"just above the border at the start", shellAndCone(), 0, 4.1, shell},
		{"just below the border at the start", shellAndCone(), 0, 3.9, cone},
		{"a step over the border changes nothing yet", shellAndCone(), shell, 3.8, shell},
		{"a quarter of a kelvin does", shellAndCone(), shell, 3.75, cone},
		{"and a step back changes nothing", shellAndCone(), cone, 4.2, cone},
		{"but a quarter does", shellAndCone(), cone, 4.3, shell},
		{"a zone for always is always used", append(shellAndCone(), thermal.Zone{Name: "coil", Use: thermal.Always}), cone, 2, cone | 4},
		{"where none is meant for it all are used", []thermal.Zone{{Use: thermal.Above, At: 10}, {Use: thermal.Below, At: 5}}, 0, 7, 3},
		{"a vessel without zones", nil, 0, 7, 0},
	} {
		if got := c.was.Choose(c.zones, c.beer); got != c.want {
			t.Errorf("%s: %b, want %b", c.name, got, c.want)
		}
	}
	if z := thermal.Zones(5); !z.Has(0) || z.Has(1) || !z.Has(2) {
		t.Error("the set 101 is not read as zones 0 and 2")
	}
}

// Whatever the beer does, a vessel that has zones is cooled by at least one.
func TestSomeZoneIsAlwaysChosen(t *testing.T) {
	z := thermal.Zones(0)
	for c := units.Celsius(25); c > -3; c -= 0.0625 {
		if z = z.Choose(shellAndCone(), c); z != 1 && z != 2 {
			t.Fatalf("at %v: %b", c, z)
		}
	}
	if z != 2 {
		t.Errorf("at the end of a crash %b", z)
	}
}
