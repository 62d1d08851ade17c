package relay_test

import (
	"errors"
	"testing"

	"pgregory.net/rapid"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/relay"
	"example.org/restpoint/controller/thermal"
)

// zoned is a board of one vessel with a heater and two cooling zones, its wires in
// the order heat, shell, cone.
func zoned() *rig {
	r := &rig{}
	add := func(name string) *wire {
		w := &wire{name: name, told: &r.told, fail: map[bool]error{}}
		r.wires = append(r.wires, w)
		return w
	}
	r.Board = relay.NewBoard([]relay.Channel{{
		Vessel: "fv1", Heat: add("fv1 heat"),
		Zones: []relay.Zone{{Name: "shell", Line: add("fv1 cool shell")}, {Name: "cone", Line: add("fv1 cool cone")}},
	}}, nil)
	return r
}

func by(z thermal.Zones, out controller.Outputs) relay.Levels {
	return relay.Levels{Vessels: []controller.Outputs{out}, Zones: []thermal.Zones{z}}
}

func TestCoolingGoesByTheZonesThatAreChosen(t *testing.T) {
	r := zoned()
	for _, c := range []struct {
		want relay.Levels
		told string
	}{
		{by(1, cooling()), "fv1 heat off, fv1 cool cone off, fv1 cool shell on"},
		{by(2, cooling()), "fv1 heat off, fv1 cool shell off, fv1 cool cone on"},
		{by(3, cooling()), "fv1 heat off, fv1 cool shell on, fv1 cool cone on"},
		{by(0, cooling()), "fv1 heat off, fv1 cool shell on, fv1 cool cone on"}, // not a word: all of them
		{by(1, none()), "fv1 heat off, fv1 cool shell off, fv1 cool cone off"},
		{by(1, heating()), "fv1 cool shell off, fv1 cool cone off, fv1 heat on"},
	} {
		r.since()
		if err := r.Set(c.want); err != nil {
			t.Fatal(err)
		}
		if got := r.since(); got != c.told {
			t.Errorf("%+v: told %q, want %q", c.want, got, c.told)
		}
		if got := r.Actual().Vessels[0]; got != c.want.Vessels[0] {
			t.Errorf("%+v: actual %+v", c.want, got)
		}
	}
}

func TestAZoneThatFailsCountsAsOnAndIsNamed(t *testing.T) {
	r := zoned()
	r.wires[2].fail[false] = errors.New("broken")
	err := r.Off()
	if err == nil || err.Error() != "switch fv1 cool cone off: broken" {
		t.Errorf("error %v", err)
	}
	if !r.Actual().Vessels[0].Cool {
		t.Error("a zone of which nobody knows counts as off")
	}
	if err := r.Raise(by(1, heating())); err == nil || r.wires[0].on {
		t.Errorf("heat beside a zone of which nobody knows: %v", err)
	}
	if !relay.Concerns(err, "fv1") || relay.Concerns(err, "fv2") {
		t.Error("it is not told whose line failed")
	}
}

// Whatever is asked and whatever fails, heat and a cooling zone are never on
// together, and what is on never counts as off.
func TestNoSequenceBreaksAZonedBoard(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, on := zoned(), map[string]bool{}
		for range rapid.IntRange(1, 30).Draw(t, "steps") {
			r.fault(t)
			want := by(thermal.Zones(rapid.IntRange(0, 3).Draw(t, "zones")), controller.Outputs{Heat: rapid.Bool().Draw(t, "heat"), Cool: rapid.Bool().Draw(t, "cool")})
			r.told = nil
			_ = rapid.SampledFrom([]func(relay.Levels) error{r.Set, r.Lower, r.Raise}).Draw(t, "call")(want)
			for _, told := range r.told {
				for _, w := range r.wires {
					switch told {
					case w.name + " on":
						on[w.name] = on[w.name] || w.fail[true] == nil || w.late
					case w.name + " off":
						on[w.name] = on[w.name] && w.fail[false] != nil && !w.late
					}
				}
				if on["fv1 heat"] && (on["fv1 cool shell"] || on["fv1 cool cone"]) {
					t.Fatalf("heat and cooling after %q of %v", told, r.told)
				}
			}
			if out := r.Actual().Vessels[0]; r.wires[0].on && !out.Heat || (r.wires[1].on || r.wires[2].on) && !out.Cool {
				t.Fatalf("on and counted as off: %+v", out)
			}
		}
	})
}

func TestZonesThatCannotBeABoard(t *testing.T) {
	spec := func(role relay.Role, zone string) relay.Spec {
		return relay.Spec{Vessel: "fv1", Role: role, Zone: zone, Kind: relay.InMemory, Modelled: &relay.Modelled{}}
	}
	for want, specs := range map[string][]relay.Spec{
		"fv1 cool has a line beside its zones":  {spec(relay.Cool, "shell"), spec(relay.Cool, "")},
		"fv1 cool cone has two lines":           {spec(relay.Cool, "cone"), spec(relay.Cool, "cone")},
		"fv1 heat cone: only cooling has zones": {spec(relay.Heat, "cone")},
	} {
		if _, err := relay.Open(nil, []string{"fv1"}, specs); err == nil || err.Error() != want {
			t.Errorf("error %v, want %q", err, want)
		}
	}
	b, err := relay.Open(nil, []string{"fv1"}, []relay.Spec{spec(relay.Cool, "shell"), spec(relay.Cool, "cone")})
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Set(by(2, cooling())); err != nil || !b.Actual().Vessels[0].Cool {
		t.Errorf("%v", err)
	}
}
