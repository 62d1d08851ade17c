package site

import (
	"strings"

	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles/strict"
)

// Zone is a part of a vessel that is cooled by a valve of its own.
type Zone struct {
	thermal.Zone
	Relay Relay
}

// cooling reads the relay that cools a vessel, or its zones:
//
//	cool:
//	  zones:
//	    - {name: shell, use: above 4 C, line: {chip: gpiochip0, name: GPIO17}, valve: {}}
//	    - {name: cone, use: below 4 C, line: {chip: gpiochip0, name: GPIO27}, valve: {}}
func (r *reader) cooling(v *strict.Value, to *Vessel) {
	if v.IsText() || !v.Good() {
		to.Cool = r.measured(v, cooling())
		return
	}
	m := v.Map("a relay such as {line: {chip: gpiochip0, name: GPIO17}, valve: {}}, or {zones: [...]}")
	zones := m.Opt("zones")
	if !zones.Given() {
		to.Cool = r.measured(v, cooling())
		return
	}
	m.Done()
	items := zones.List("a list of zones, each such as {name: cone, use: below 4 C, line: {...}, valve: {}}")
	if len(items) > thermal.MostZones {
		zones.Fail(ManyZones, "there are %d zones, and %d are allowed", len(items), thermal.MostZones)
		return
	}
	to.Cool = Relay{Kind: InZones, Guard: guard.Relay{Fitted: true, Profile: guard.Valve}}
	for _, item := range items {
		z := r.zone(item)
		for _, other := range to.Zones {
			if z.Name == other.Name && z.Name != "" {
				item.Fail(NameTwice, "another zone of this vessel is called %s already", z.Name)
			}
		}
		// One guard looks after all of them: the strictest times count.
		g := &to.Cool.Guard
		g.MinOn, g.MinOff = max(g.MinOn, z.Relay.Guard.MinOn), max(g.MinOff, z.Relay.Guard.MinOff)
		g.Power = max(g.Power, z.Relay.Guard.Power)
		to.Zones = append(to.Zones, z)
	}
	if zones.Good() && len(items) == len(to.Zones) {
		checkCovered(zones, to.Zones)
	}
}

func (r *reader) zone(item *strict.Value) Zone {
	m := item.Map("a zone such as {name: cone, use: below 4 C, line: {chip: gpiochip0, name: GPIO27}, valve: {}}")
	z := Zone{Zone: thermal.Zone{Name: name(m.Need("name")), Use: thermal.Always}}
	if use := m.Opt("use"); use.Given() {
		z.Use, z.At = zoneUse(use)
	}
	// What is left is a relay, which has no compressor: the zones change while the
	// beer is cooled.
	z.Relay = r.relayOf(m, []guard.Profile{guard.Valve, guard.Pump})
	m.Done()
	return z
}

// zoneUse reads "always", "above 4 C" or "below 4 C".
func zoneUse(v *strict.Value) (thermal.ZoneUse, units.Celsius) {
	text := v.Line(nameLength)
	word, rest, _ := strings.Cut(text, " ")
	use := thermal.ZoneUse(word)
	switch {
	case use == thermal.Always && rest == "":
		return use, 0
	case use == thermal.Above || use == thermal.Below:
		at, err := units.ParseCelsius(rest)
		if err == nil && at >= lowest && at <= highest {
			return use, at
		}
	}
	if v.Good() {
		v.Fail(ZoneUse, `%q is no use of a zone such as "above 4 C", "below 4 C" or "always"`, text)
	}
	return thermal.Always, 0
}

// checkCovered holds that there is a zone for every temperature.
func checkCovered(v *strict.Value, zones []Zone) {
	above, below := highest+1, lowest-1
	for _, z := range zones {
		switch z.Use {
		case thermal.Always:
			return
		case thermal.Above:
			above = min(above, z.At)
		case thermal.Below:
			below = max(below, z.At)
		}
	}
	if above > below {
		v.Fail(ZoneGap, "no zone cools a beer between %s and %s; add one, or let one be used always",
			max(below, lowest).Fixed(1), min(above, highest).Fixed(1))
	}
}
