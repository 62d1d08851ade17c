package site_test

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/restpoint/cmd/restpoint/internal/site"
	"example.org/restpoint/controller"
	"example.org/restpoint/profiles"
	"example.org/restpoint/profiles/strict"
)

// What a vessel lacks is said where it is lacking, and nowhere else.
func TestEachLackOfAVesselHasTwoSides(t *testing.T) {
	t.Parallel()
	const (
		cool  = "cool: {modelled: true, valve: {}}"
		heat  = "heat: {modelled: true, heater: {}}"
		both  = cool + ", " + heat
		meter = "hydrometer: {pushed: t-1, gravity: /sg, corrected: true}"
	)
	for _, row := range []struct {
		name, vessel, first, second string
		want                        []strict.Rule
	}{
		{"a beer that stays needs nothing", meter, "{at: 18 C}", "{at: 18 C}", nil},
		{"a beer that is warmed needs a heater", cool, "{at: 18 C}", "{at: 18.1 C}", []strict.Rule{site.NoHeater}},
		{"a beer that is warmed by a heater", heat, "{at: 18 C}", "{at: 18.1 C}", nil},
		{"a beer that is led up needs a heater", cool, "{at: 18 C}", "{ramp: {to: 19 C, rate: 1 K/h}}", []strict.Rule{site.NoHeater}},
		{"a beer that is cooled needs cooling", heat, "{at: 18 C}", "{at: 17.9 C}", []strict.Rule{site.NoCooler}},
		{"a beer that is cooled by a cooler", cool, "{at: 18 C}", "{at: 17.9 C}", nil},
		{"a free rise without a heater is a wish", cool, "{at: 18 C}", "{free-rise: {to: 19 C}}", []strict.Rule{site.NoHeater}},
		{"a free rise with a heater", heat, "{at: 18 C}", "{free-rise: {to: 19 C}}", nil},
		{"a free rise at the very beginning without a heater", cool, "{free-rise: {to: 18 C}}", "{at: 18 C}", []strict.Rule{site.NoHeater}},
		{"the first temperature is where the beer is filled in", "suck-back: none", "{at: 30 C}", "{at: 30 C}", nil},
		{"a vessel with both can do both", both, "{at: 18 C}", "{ramp: {to: 9 C, rate: 1 K/h}}", nil},
	} {
		s, err := site.Read("site.yaml", fmt.Appendf(nil, "site: s\nvessels:\n  - {name: fv1, volume: 60 L, thermowell: {file: /run/beer}, %s}\n", row.vessel))
		if err != nil {
			t.Fatal(err)
		}
		f, err := profiles.Read("ale.yaml", fmt.Appendf(nil, `schedule: x
wort: {original-gravity: 1.052, final-gravity: 1.010}
stages:
  - {name: one, kind: rest, target: %s, until: {confirmed: go}}
  - {name: two, kind: rest, target: %s}
`, row.first, row.second))
		if err != nil {
			t.Fatal(err)
		}
		warnings, err := s.CheckFit(0, f)
		var got []strict.Rule
		for _, w := range warnings {
			got = append(got, w.Rule)
			if !strings.Contains(w.Message, "fv1 has no ") || !strings.Contains(w.Message, "(site.yaml:3)") {
				t.Errorf("%s: says %s", row.name, w)
			}
		}
		if err != nil || !reflect.DeepEqual(got, row.want) {
			t.Errorf("%s: %v, warns %v, want %v", row.name, err, warnings, row.want)
		}
	}
}

func TestACrashIsArmedAndGravityIsAskedOfWhoHasIt(t *testing.T) {
	t.Parallel()
	for _, suckBack := range []controller.SuckBack{controller.CO2Supply, controller.VacuumBreaker, controller.NoProtection} {
		for _, until := range []string{"{points-left: 3}", "{apparent-attenuation: 70 %}", "{gravity-at-most: 1.012}", "{terminal: {within: 1 point, over: 48 h}}", "{confirmed: go}", "{any: [{confirmed: go}, {all: [{points-left: 3}]}]}"} {
			s, err := site.Read("site.yaml", []byte(vessel("suck-back: "+string(suckBack))))
			if err != nil {
				t.Fatal(err)
			}
			f, err := profiles.Read("ale.yaml", fmt.Appendf(nil, "schedule: x\nwort: {original-gravity: 1.052, final-gravity: 1.010}\nstages:\n"+
				"  - {name: one, kind: primary, target: {at: 9 C}, until: %s}\n  - {name: two, kind: rest, target: {at: 9 C}, until: {confirmed: go}}\n  - {name: three, kind: crash, target: {at: 9 C}}\n", until))
			if err != nil {
				t.Fatal(err)
			}
			warnings, err := s.CheckFit(0, f)
			seen := map[strict.Rule]int{}
			for _, w := range warnings {
				seen[w.Rule] = w.Line
			}
			want := map[strict.Rule]int{}
			if suckBack != controller.CO2Supply {
				want[site.NeedsArming] = 6
			}
			if until != "{confirmed: go}" {
				want[site.NoHydrometer] = 4
			}
			if err != nil || !reflect.DeepEqual(seen, want) {
				t.Errorf("%s, %s: %v, warns %v, want the lines %v", suckBack, until, err, warnings, want)
			}
		}
	}
}

func TestASiteInJSONHoldsNoSecret(t *testing.T) {
	t.Parallel()
	s := reading(t, "sources: [{name: t, token: abcdefghijklmnop}]\n"+small)
	for _, v := range []any{s, *s, s.Sources, map[string]any{"token": s.Sources[0].Token}} {
		text, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(string(text), "abcdef") || !strings.Contains(string(text), "(hidden)") {
			t.Errorf("%T in JSON: %s", v, text)
		}
	}
}

// Of any vessels on any lines, a site is taken exactly if no line serves two.
func TestNoLineServesTwoWhateverTheSite(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var src strings.Builder
		src.WriteString("site: s\nvessels:\n")
		used, twice := map[string]bool{}, false
		for i := range rapid.IntRange(1, 5).Draw(t, "vessels") {
			fmt.Fprintf(&src, "  - {name: fv%d, volume: 60 L, thermowell: {file: /run/beer%d}", i, i)
			for _, side := range []string{"cool: {%s, valve: {}}", "heat: {%s, heater: {}}"} {
				chip, line := rapid.IntRange(0, 1).Draw(t, "chip"), rapid.IntRange(1, 12).Draw(t, "line")
				at := fmt.Sprintf("line: {chip: c%d, name: GPIO%d}", chip, line)
				if rapid.IntRange(0, 3).Draw(t, "on a file") == 0 {
					at = fmt.Sprintf("file: /sys/relay%d", line)
				}
				twice = twice || used[at]
				used[at] = true
				src.WriteString(", " + fmt.Sprintf(side, at))
			}
			src.WriteString("}\n")
		}
		s, err := site.Read("a.yaml", []byte(src.String()))
		if (err != nil) != twice || (s == nil) != twice {
			t.Fatalf("%s\nused twice: %v, and %v", src.String(), twice, err)
		}
	})
}
