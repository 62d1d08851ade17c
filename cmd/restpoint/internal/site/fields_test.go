package site_test

import (
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/site"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/sense"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles"
	"example.org/restpoint/profiles/strict"
	"example.org/restpoint/sensors"
)

// usual is a site of one vessel, with every default in its place.
func usual() *site.Site {
	return &site.Site{
		Name: "s", Listen: "127.0.0.1:8420", Record: "/var/lib/restpoint/record.db", Socket: "/run/restpoint/restpoint.sock",
		Sysfs: "/sys", Step: 5 * time.Second, Flush: 5 * time.Minute, Vessels: []site.Vessel{usualVessel()},
	}
}

func usualVessel() site.Vessel {
	return site.Vessel{
		Name: "fv1", Volume: 60, Thermowell: site.Probe{ID: "fv1/thermowell", Kind: site.InFile, Path: "/run/beer"},
		Cool:     site.Relay{Kind: site.Modelled, Guard: guard.Of(guard.Valve)},
		Limits:   controller.Limits{Lowest: -1, Highest: 30},
		SuckBack: controller.NoProtection,
	}
}

// head is a site with some keys of its own, vessel one with some keys of the vessel.
func head(more string) string {
	return "site: s\n" + more + "\nvessels:\n  - {name: fv1, volume: 60 L, thermowell: {file: /run/beer}, cool: {modelled: true, valve: {}}}\n"
}

func vessel(more string) string {
	return "site: s\nvessels:\n  - {name: fv1, volume: 60 L, thermowell: {file: /run/beer}, cool: {modelled: true, valve: {}}, " + more + "}\n"
}

// bare takes from a site what only says where it was written.
func bare(s *site.Site) *site.Site {
	c := *s
	c.File, c.Doc, c.Warnings = "", nil, nil
	return &c
}

func TestEveryKeyOfASiteIsReadToItsFieldAndNoOther(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name, more string
		want       func(s *site.Site)
	}{
		{"nothing: every default", "", func(*site.Site) {}},
		{"this machine by its address", "listen: 127.0.0.1:1", func(s *site.Site) { s.Listen = "127.0.0.1:1" }},
		{"this machine by another of its addresses", "listen: 127.8.8.8:80", func(s *site.Site) { s.Listen = "127.8.8.8:80" }},
		{"this machine by its name", "listen: localhost:65535", func(s *site.Site) { s.Listen = "localhost:65535" }},
		{"this machine by its long address", `listen: "[::1]:8420"`, func(s *site.Site) { s.Listen = "[::1]:8420" }},
		{"an address of the house is public", "listen: 192.168.1.4:8420", func(s *site.Site) { s.Listen, s.Public = "192.168.1.4:8420", true }},
		{"every address is public", "listen: 0.0.0.0:8420", func(s *site.Site) { s.Listen, s.Public = "0.0.0.0:8420", true }},
		{"every long address is public", `listen: "[::]:8420"`, func(s *site.Site) { s.Listen, s.Public = "[::]:8420", true }},
		{"no address is every address", `listen: ":8420"`, func(s *site.Site) { s.Listen, s.Public = ":8420", true }},
		{"an open page", "open: true", func(s *site.Site) { s.Open = true }},
		{"a page that is said to be closed", "open: false", func(*site.Site) {}},
		{"names of the machine, in the order written", "hosts: [z.local, a, 10.0.0.7]", func(s *site.Site) { s.Hosts = []string{"z.local", "a", "10.0.0.7"} }},
		{"where the record is", "record: /data/r.db", func(s *site.Site) { s.Record = "/data/r.db" }},
		{"where orders come in", "socket: /run/x.sock", func(s *site.Site) { s.Socket = "/run/x.sock" }},
		{"where the devices are", "sysfs: /tmp/sys", func(s *site.Site) { s.Sysfs = "/tmp/sys" }},
		{"the shortest step", "step: 1 s", func(s *site.Site) { s.Step = time.Second }},
		{"the longest step", "step: 1 min", func(s *site.Site) { s.Step = time.Minute }},
		{"the shortest flush", "flush: 10 s", func(s *site.Site) { s.Flush = 10 * time.Second }},
		{"the longest flush", "flush: 15 min", func(s *site.Site) { s.Flush = 15 * time.Minute }},
		{"a flush every step", "step: 30 s\nflush: 30 s", func(s *site.Site) { s.Step, s.Flush = 30*time.Second, 30*time.Second }},
		{"a plant of nothing but vessels", "plant: {serves: [fv1]}", func(s *site.Site) { s.Plant = site.Plant{Serves: []string{"fv1"}} }},
		{"a plant with a chiller", "plant: {serves: [fv1], at-once: 32, chiller: {line: {chip: c0, name: L1}, compressor: {rest: 3 min, run: 1 min}}}", func(s *site.Site) {
			g := guard.Of(guard.Compressor)
			g.MinOff, g.MinOn = 3*time.Minute, time.Minute
			s.Plant = site.Plant{Serves: []string{"fv1"}, AtOnce: 32, Chiller: site.Relay{Kind: site.OnLine, Chip: "c0", Line: "L1", Guard: g}}
		}},
		{"a plant of one group", "plant: [{serves: [fv1]}]", func(s *site.Site) { s.Plant = site.Plant{Serves: []string{"fv1"}} }},
		{"a fuse, a chiller and a pump", "plant: [{at-once: 1, serves: [fv1]}, {chiller: {modelled: true, pump: {}}, serves: [fv1]}, {at-once: 2, serves: [fv1]}]", func(s *site.Site) {
			s.Plant = site.Plant{Serves: []string{"fv1"}, Chiller: site.Relay{Kind: site.Modelled, Guard: guard.Of(guard.Pump)}}
			s.Fuses = []site.Plant{{Serves: []string{"fv1"}, AtOnce: 1}, {Serves: []string{"fv1"}, AtOnce: 2}}
		}},
		{"two fuses", "plant: [{at-once: 1, serves: [fv1]}, {at-once: 2, serves: [fv1]}]", func(s *site.Site) {
			s.Plant, s.Fuses = site.Plant{Serves: []string{"fv1"}, AtOnce: 1}, []site.Plant{{Serves: []string{"fv1"}, AtOnce: 2}}
		}},
		{"sources, in the order written", "sources: [{name: b, token: ABCDEFGH12345678}, {name: a, token-file: /etc/t}]", func(s *site.Site) {
			s.Sources = []site.Source{{Name: "b", Token: "ABCDEFGH12345678"}, {Name: "a", TokenFile: "/etc/t"}}
		}},
	} {
		s, err := site.Read("a.yaml", []byte(head(row.more)))
		if err != nil {
			t.Errorf("%s: %v", row.name, err)
			continue
		}
		want := usual()
		row.want(want)
		if got := bare(s); !reflect.DeepEqual(got, want) {
			t.Errorf("%s: read as\n%+v\nwant\n%+v", row.name, got, want)
		}
		wantPlant := &controller.Plant{Serves: []bool{want.Plant.Serves != nil}, Chiller: want.Plant.Chiller.Guard, AtOnce: want.Plant.AtOnce}
		for _, f := range want.Fuses {
			wantPlant.Before = append(wantPlant.Before, controller.Plant{Serves: []bool{true}, AtOnce: f.AtOnce})
		}
		if got := s.SharedPlant(); !reflect.DeepEqual(got, wantPlant) {
			t.Errorf("%s: becomes the plant %+v, want %+v", row.name, got, wantPlant)
		}
		if got := s.Vessel(0).Step; got != want.Step {
			t.Errorf("%s: the vessel's step is %v", row.name, got)
		}
	}
}

func TestEveryKeyOfAVesselIsReadToItsFieldAndNoOther(t *testing.T) {
	t.Parallel()
	heat := func(change func(r *site.Relay)) func(v *site.Vessel) {
		return func(v *site.Vessel) {
			v.Heat = site.Relay{Kind: site.Modelled, Guard: guard.Of(guard.Heater)}
			change(&v.Heat)
		}
	}
	for _, row := range []struct {
		name, more string
		want       func(v *site.Vessel)
	}{
		{"a jacket on one wire", "surround: {jacket: {one-wire: 28-0000013182aa}}", func(v *site.Vessel) {
			v.Around, v.Surround = site.Jacket, site.Probe{ID: "fv1/surround", Kind: site.OneWire, Device: "28-0000013182aa"}
		}},
		{"the air by a driver of the kernel", "surround: {air: {hwmon: {name: tmp105, input: temp12}}}", func(v *site.Vessel) {
			v.Around, v.Surround = site.Air, site.Probe{ID: "fv1/surround", Kind: site.HWMon, Device: "tmp105", Input: "temp12"}
		}},
		{"the room by a file, with the farthest offset", "ambient: {file: /run/room, offset: 5 K}", func(v *site.Vessel) {
			v.Ambient = site.Probe{ID: "fv1/ambient", Kind: site.InFile, Path: "/run/room", Calibration: sensors.Calibration{Offset: 5}}
		}},
		{"an offset in Fahrenheit", "ambient: {file: /run/room, offset: -9 F}", func(v *site.Vessel) {
			v.Ambient = site.Probe{ID: "fv1/ambient", Kind: site.InFile, Path: "/run/room", Calibration: sensors.Calibration{Offset: -5}}
		}},
		{"a hydrometer with nothing but what is needed", "hydrometer: {pushed: t-1, gravity: /sg, corrected: true}", func(v *site.Vessel) {
			v.Hydrometer = site.Hydrometer{ID: "fv1/hydrometer", Pushed: "t-1", Gravity: "/sg", Corrected: true}
		}},
		{"a hydrometer with everything", "hydrometer: {pushed: t-1, gravity: /a/0/~0b, temperature: /t~1c, time: /at, gravity-unit: P, temperature-unit: F, corrected: false}", func(v *site.Vessel) {
			v.Hydrometer = site.Hydrometer{ID: "fv1/hydrometer", Pushed: "t-1", Gravity: "/a/0/~0b", Temperature: "/t~1c", Time: "/at", Plato: true, Fahrenheit: true}
		}},
		{"a hydrometer that reads two points too high", "hydrometer: {pushed: t-1, gravity: /sg, corrected: true, calibration: {offset: -2 points, on: 2026-11-20}}", func(v *site.Vessel) {
			v.Hydrometer = site.Hydrometer{ID: "fv1/hydrometer", Pushed: "t-1", Gravity: "/sg", Corrected: true, Calibration: sense.OfOffset(-2)}
		}},
		{"a hydrometer by two points, one of them in Plato", "hydrometer: {pushed: t-1, gravity: /sg, corrected: true, calibration: {points: [{reads: 1.002, is: 0 P}, {reads: 1.062, is: 1.060}]}}", func(v *site.Vessel) {
			c, err := sense.OfPairs(sense.Pair{Reads: 1.002, Is: units.Plato(0).Gravity()}, sense.Pair{Reads: 1.062, Is: 1.060})
			if err != nil {
				t.Fatal(err)
			}
			v.Hydrometer = site.Hydrometer{ID: "fv1/hydrometer", Pushed: "t-1", Gravity: "/sg", Corrected: true, Calibration: c}
		}},
		{"a hydrometer that gives an angle", "hydrometer: {pushed: t-1, gravity: /angle, temperature: /t, corrected: false, calibration: {polynomial: [0.9302, 2.62e-3, -1.2e-5], from: 20, to: 80}}", func(v *site.Vessel) {
			v.Hydrometer = site.Hydrometer{
				ID: "fv1/hydrometer", Pushed: "t-1", Gravity: "/angle", Temperature: "/t",
				Calibration: sense.OfTerms([]float64{0.9302, 2.62e-3, -1.2e-5}, 20, 80),
			}
		}},
		{"a hydrometer that gives a count, anywhere", "hydrometer: {pushed: t-1, gravity: /n, corrected: true, calibration: {polynomial: [0.9, 2e-3]}}", func(v *site.Vessel) {
			v.Hydrometer = site.Hydrometer{ID: "fv1/hydrometer", Pushed: "t-1", Gravity: "/n", Corrected: true, Calibration: sense.OfTerms([]float64{0.9, 2e-3}, 0, 0)}
		}},
		{"a hydrometer with the usual units spelt out", "hydrometer: {pushed: t-1, gravity: /sg, temperature: /t, gravity-unit: SG, temperature-unit: C, corrected: false}", func(v *site.Vessel) {
			v.Hydrometer = site.Hydrometer{ID: "fv1/hydrometer", Pushed: "t-1", Gravity: "/sg", Temperature: "/t"}
		}},
		{"a heater", "heat: {modelled: true, heater: {}}", heat(func(*site.Relay) {})},
		{"a heater with a shorter rest than usual", "heat: {modelled: true, heater: {rest: 1 s}}", heat(func(r *site.Relay) { r.Guard.MinOff = time.Second })},
		{"a heater with the longest run", "heat: {modelled: true, heater: {run: 1 h}}", heat(func(r *site.Relay) { r.Guard.MinOn = time.Hour })},
		{"the weakest heater", "heat: {modelled: true, heater: {}, power: 1 W}", heat(func(r *site.Relay) { r.Guard.Power = 1 })},
		{"the strongest heater", "heat: {modelled: true, heater: {}, power: 20 kW}", heat(func(r *site.Relay) { r.Guard.Power = 20000 })},
		{"a solid-state heater", "heat: {modelled: true, ssr: {}}", heat(func(r *site.Relay) { r.Guard = guard.Of(guard.SSR) })},
		{"a heater on a file", "heat: {file: /sys/class/leds/h/brightness, heater: {}}", heat(func(r *site.Relay) { r.Kind, r.Path = site.OnFile, "/sys/class/leds/h/brightness" })},
		{"a heater on a line", "heat: {line: {chip: c0, name: GPIO4}, heater: {}}", heat(func(r *site.Relay) { r.Kind, r.Chip, r.Line = site.OnLine, "c0", "GPIO4" })},
		{"a line that is on when low", "heat: {line: {chip: c0, name: GPIO4, active: low}, heater: {}}", heat(func(r *site.Relay) { r.Kind, r.Chip, r.Line, r.ActiveLow = site.OnLine, "c0", "GPIO4", true })},
		{"a line that is on when high", "heat: {line: {chip: c0, name: GPIO4, active: high}, heater: {}}", heat(func(r *site.Relay) { r.Kind, r.Chip, r.Line = site.OnLine, "c0", "GPIO4" })},
		{"a pin", "heat: {pin: {name: GPIO0}, heater: {}}", heat(func(r *site.Relay) { r.Kind, r.Line = site.OnPin, "GPIO0" })},
		{"a pin that is on when low", "heat: {pin: {name: GPIO27, active: low}, heater: {}}", heat(func(r *site.Relay) { r.Kind, r.Line, r.ActiveLow = site.OnPin, "GPIO27", true })},
		{"a contact on a line", "heat: {modelled: true, heater: {}, contact: {line: {chip: c0, name: GPIO5}}}", heat(func(r *site.Relay) { r.Contact = site.Contact{Kind: site.OnLine, Chip: "c0", Line: "GPIO5"} })},
		{"a contact that is closed when low", "heat: {modelled: true, heater: {}, contact: {line: {chip: c0, name: GPIO5, active: low}}}", heat(func(r *site.Relay) {
			r.Contact = site.Contact{Kind: site.OnLine, Chip: "c0", Line: "GPIO5", ActiveLow: true}
		})},
		{"a contact in a file", "heat: {modelled: true, heater: {}, contact: {file: /run/heats}}", heat(func(r *site.Relay) { r.Contact = site.Contact{Kind: site.OnFile, Path: "/run/heats"} })},
		{"the widest limits", "limits: {lowest: -5 C, highest: 45 C}", func(v *site.Vessel) { v.Limits = controller.Limits{Lowest: -5, Highest: 45} }},
		{"the lowest alone", "limits: {lowest: 29.9 C}", func(v *site.Vessel) { v.Limits = controller.Limits{Lowest: 29.9, Highest: 30} }},
		{"the highest alone", "limits: {highest: -0.9 C}", func(v *site.Vessel) { v.Limits = controller.Limits{Lowest: -1, Highest: -0.9} }},
		{"limits of nothing", "limits: {}", func(*site.Vessel) {}},
		{"limits of zero are no default", "limits: {lowest: 0 C}", func(v *site.Vessel) { v.Limits.Lowest = 0 }},
		{"gas against suck-back", "suck-back: co2-supply", func(v *site.Vessel) { v.SuckBack = controller.CO2Supply }},
		{"a breaker against suck-back", "suck-back: vacuum-breaker", func(v *site.Vessel) { v.SuckBack = controller.VacuumBreaker }},
		{"the least loss", "loss: 0.1 W/K", func(v *site.Vessel) { v.Loss = 0.1 }},
		{"the greatest loss", "loss: 5000 W/K", func(v *site.Vessel) { v.Loss = 5000 }},
		{"nothing against suck-back, said", "suck-back: none", func(*site.Vessel) {}},
	} {
		s, err := site.Read("a.yaml", []byte(vessel(row.more)))
		if err != nil {
			t.Errorf("%s: %v", row.name, err)
			continue
		}
		want := usual()
		row.want(&want.Vessels[0])
		if got := bare(s); !reflect.DeepEqual(got, want) {
			t.Errorf("%s: read as\n%+v\nwant\n%+v", row.name, got, want)
		}
		w := want.Vessels[0]
		core := &controller.Vessel{
			Name: "fv1", Step: 5 * time.Second, Volume: 60, Heat: w.Heat.Guard, Cool: w.Cool.Guard, Limits: w.Limits, SuckBack: w.SuckBack,
			Loss: w.Loss, InAir: w.Around == site.Air,
			Probes:      controller.Probes{Thermowell: w.Thermowell.ID, Surround: w.Surround.ID, Ambient: w.Ambient.ID, Hydrometer: w.Hydrometer.ID},
			Calibration: w.Hydrometer.Calibration,
		}
		if got := s.Vessel(0); !reflect.DeepEqual(got, core) {
			t.Errorf("%s: becomes\n%+v\nwant\n%+v", row.name, got, core)
		}
	}
}

func TestEveryCoolerIsReadWithTheTimesOfItsProfile(t *testing.T) {
	t.Parallel()
	for _, p := range []guard.Profile{guard.Compressor, guard.Valve, guard.Pump} {
		for _, row := range []struct {
			times   string
			on, off time.Duration // 0 = of the profile
		}{
			{"{}", 0, 0},
			{"{rest: 7 min}", 0, 7 * time.Minute},
			{"{run: 2 min}", 2 * time.Minute, 0},
			{"{rest: 1 h, run: 1 h}", time.Hour, time.Hour},
		} {
			src := strings.Replace(vessel("suck-back: none"), "valve: {}", string(p)+": "+row.times, 1)
			s, err := site.Read("a.yaml", []byte(src))
			if err != nil {
				t.Errorf("%s %s: %v", p, row.times, err)
				continue
			}
			want := guard.Of(p)
			if row.on > 0 {
				want.MinOn = row.on
			}
			if row.off > 0 {
				want.MinOff = row.off
			}
			if got := s.Vessel(0).Cool; got != want {
				t.Errorf("%s %s: %+v, want %+v", p, row.times, got, want)
			}
		}
	}
}

// Just beyond each end is refused, by one problem at the value.
func TestJustBeyondEachEndIsRefused(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name, src string
		rule      strict.Rule
		path      string
	}{
		{"a step below a second", head("step: 999 ms"), strict.Range, "step"},
		{"a step above a minute", head("step: 61 s"), strict.Range, "step"},
		{"a flush below ten seconds", head("flush: 9 s"), strict.Range, "flush"},
		{"a flush above a quarter of an hour", head("flush: 901 s"), strict.Range, "flush"},
		{"a flush below the step", head("step: 31 s\nflush: 30 s"), site.FlushShort, "flush"},
		{"a port that is too large", head("listen: 127.0.0.1:65536"), site.ListenForm, "listen"},
		{"a port with a zero before it", head("listen: 127.0.0.1:080"), site.ListenForm, "listen"},
		{"an address without a port", head("listen: 127.0.0.1"), site.ListenForm, "listen"},
		{"another name than that of this machine", head("listen: brewery.local:80"), site.ListenForm, "listen"},
		{"a path that goes round", head("record: /data/../r.db"), site.PathForm, "record"},
		{"a path from the working folder", head("socket: r.sock"), site.PathForm, "socket"},
		{"a token of fifteen letters", head("sources: [{name: a, token: ABCDEFGH1234567}]"), site.TokenForm, "sources[1].token"},
		{"a token with a space", head("sources: [{name: a, token: ABCDEFGH 12345678}]"), site.TokenForm, "sources[1].token"},
		{"two tokens for one source", head("sources: [{name: a, token: ABCDEFGH12345678, token-file: /t}]"), site.TokenForm, "sources[1]"},
		{"more vessels at once than there may be", head("plant: {serves: [fv1], at-once: 33}"), strict.Range, "plant.at-once"},
		{"a vessel that is served twice", head("plant: {serves: [fv1, fv1]}"), site.UsedTwice, "plant.serves[2]"},
		{"an offset that is too far", vessel("ambient: {file: /r, offset: 5.01 K}"), strict.Range, "vessels[1].ambient.offset"},
		{"an offset that is too far below", vessel("ambient: {file: /r, offset: -5.01 K}"), strict.Range, "vessels[1].ambient.offset"},
		{"a power above the strongest", vessel("heat: {modelled: true, heater: {}, power: 20001 W}"), strict.Range, "vessels[1].heat.power"},
		{"a rest below a second", vessel("heat: {modelled: true, heater: {rest: 999 ms}}"), strict.Range, "vessels[1].heat.heater.rest"},
		{"limits that touch", vessel("limits: {lowest: 20 C, highest: 20 C}"), site.LimitOrder, "vessels[1].limits"},
		{"a lowest that is the usual highest", vessel("limits: {lowest: 30 C}"), site.LimitOrder, "vessels[1].limits"},
		{"a lowest below the coldest", vessel("limits: {lowest: -5.1 C}"), strict.Range, "vessels[1].limits.lowest"},
		{"a highest above the warmest", vessel("limits: {highest: 45.1 C}"), strict.Range, "vessels[1].limits.highest"},
		{"a volume below a litre", strings.Replace(vessel("suck-back: none"), "60 L", "0.9 L", 1), strict.Range, "vessels[1].volume"},
		{"a volume of no tank", strings.Replace(vessel("suck-back: none"), "60 L", "2001 hL", 1), strict.Range, "vessels[1].volume"},
		{"a compressor with less rest than it needs", strings.Replace(vessel("suck-back: none"), "valve: {}", "compressor: {rest: 179 s}", 1), strict.Range, "vessels[1].cool.compressor.rest"},
		{"a compressor with less run than it needs", strings.Replace(vessel("suck-back: none"), "valve: {}", "compressor: {run: 59 s}", 1), strict.Range, "vessels[1].cool.compressor.run"},
		{"the file of the beer for the room", vessel("ambient: {file: /run/beer}"), site.UsedTwice, "vessels[1].ambient.file"},
		{"the record for a relay", "record: /data/r\n" + vessel("heat: {file: /data/r, heater: {}}"), site.UsedTwice, "vessels[1].heat.file"},
		{"the usual record for a relay", vessel("heat: {file: /var/lib/restpoint/record.db, heater: {}}"), site.UsedTwice, "vessels[1].heat.file"},
		{"the usual socket for a probe", vessel("ambient: {file: /run/restpoint/restpoint.sock}"), site.UsedTwice, "vessels[1].ambient.file"},
		{"the usual socket for the record", head("record: /run/restpoint/restpoint.sock"), site.UsedTwice, "record"},
		{"an input numbered from zero", vessel("ambient: {hwmon: {name: a, input: temp0}}"), site.InputForm, "vessels[1].ambient.hwmon.input"},
		{"an id in capitals", vessel("ambient: {one-wire: 28-0000013182AA}"), site.OneWireForm, "vessels[1].ambient.one-wire"},
	} {
		s, err := site.Read("a.yaml", []byte(row.src))
		problems, ok := errors.AsType[*strict.Problems](err)
		if !ok || s != nil || len(problems.List) != 1 || problems.List[0].Rule != row.rule || problems.List[0].Path != row.path {
			t.Errorf("%s: %v, want the rule %s at %s", row.name, err, row.rule, row.path)
		}
	}
}

// A schedule up to the very limits of a vessel fits; a tenth beyond does not,
// and the lines of both files are named.
func TestAScheduleFitsUpToTheLimitsOfItsVessel(t *testing.T) {
	t.Parallel()
	src := "site: s\nvessels:\n  - name: fv1\n    volume: 60 L\n    thermowell: {file: /run/beer}\n    cool: {modelled: true, valve: {}}\n    heat: {modelled: true, heater: {}}\n" +
		"    limits:\n      lowest: 2 C\n      highest: 24 C\n    suck-back: co2-supply\n"
	s, err := site.Read("site.yaml", []byte(src))
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct{ name, fits, beyond, want string }{
		{"held cold", "{at: 2 C}", "{at: 1.9 C}", "6:18: stages[1].target.at: 1.9 C is below the lowest temperature of the vessel fv1, 2.0 C (site.yaml:9)"},
		{"held warm", "{at: 24 C}", "{at: 24.1 C}", "6:18: stages[1].target.at: 24.1 C is above the highest temperature of the vessel fv1, 24.0 C (site.yaml:10)"},
		{"led to the cold", "{ramp: {to: 2 C, rate: 1 K/h}}", "{ramp: {to: 1.9 C, rate: 1 K/h}}", "6:25: stages[1].target.ramp.to: 1.9 C is below the lowest temperature of the vessel fv1, 2.0 C (site.yaml:9)"},
		{"led to the warm", "{ramp: {rate: 1 K/h, to: 24 C}}", "{ramp: {rate: 1 K/h, to: 24.1 C}}", "6:38: stages[1].target.ramp.to: 24.1 C is above the highest temperature of the vessel fv1, 24.0 C (site.yaml:10)"},
		{"risen to the warm", "{free-rise: {to: 24 C}}", "{free-rise: {to: 24.1 C}}", "6:30: stages[1].target.free-rise.to: 24.1 C is above the highest temperature of the vessel fv1, 24.0 C (site.yaml:10)"},
	} {
		for _, target := range []string{row.fits, row.beyond} {
			text := "schedule: x\nwort: {original-gravity: 1.052, final-gravity: 1.010}\nstages:\n  - name: one\n    kind: hold\n    target: " + target + "\n"
			f, err := profiles.Read("ale.yaml", []byte(text))
			if err != nil {
				t.Fatal(err)
			}
			warnings, err := s.CheckFit(0, f)
			if len(warnings) > 0 {
				t.Errorf("%s, %s: warns %v", row.name, target, warnings)
			}
			switch {
			case target == row.fits && err != nil:
				t.Errorf("%s does not fit: %v", row.name, err)
			case target == row.beyond && (err == nil || err.Error() != "ale.yaml:"+row.want):
				t.Errorf("%s:\n got %v\nwant ale.yaml:%s", row.name, err, row.want)
			}
		}
	}
}

// The secret shows in no way of printing, right or wrong, but for the verb for
// pointers, which asks no type and which go vet refuses for a text.
func TestNoVerbPrintsASecret(t *testing.T) {
	t.Parallel()
	const secret = "abcdefghijklmnop"
	s := reading(t, "sources: [{name: t, token: "+secret+"}]\n"+small)
	hex := fmt.Sprintf("%x", secret)
	for _, verb := range "vsqxXdtTgeboOcU" {
		for _, flag := range []string{"", "+", "#", "-40", "#+", "0"} {
			format := "%" + flag + string(verb)
			for _, v := range []any{s.Sources[0].Token, &s.Sources[0].Token, s.Sources[0], &s.Sources[0], s.Sources, s, *s} {
				if got := fmt.Sprintf(format, v); strings.Contains(got, secret) || strings.Contains(strings.ToLower(got), hex) || strings.Contains(got, "97 98 99") {
					t.Errorf("%s of a %T prints %.200s", format, v, got)
				}
			}
		}
	}
	if err := fmt.Errorf("push from %v: %w", s.Sources[0], errors.New("refused")); strings.Contains(err.Error(), secret) {
		t.Error(err)
	}
	if got := s.Sources[0].Token.Reveal(); got != secret {
		t.Errorf("revealed as %q", got)
	}
}

// What goes into a record can be read again, and no token is in it, however it is
// written.
func TestTheSiteOfARecordHasNoToken(t *testing.T) {
	t.Parallel()
	const secret, other = "abcdefghijklmnop", "ABCDEFGH12345678"
	for _, c := range []struct {
		name, sources string
		whole         bool // it is kept, but for the tokens
	}{
		{"none", "", true},
		{"in a file", "sources: [{name: t, token-file: /etc/t}]\n", true},
		{"in one line", "sources: [{name: t, token: " + secret + "}, {name: u, token: " + other + "}]\n", true},
		{"in quotes", "sources: [{name: t, token: '" + secret + "'}, {name: u, \"token\": \"" + other + "\"}]\n", true},
		{"each in its line", "sources:\n  - name: t\n    token: " + secret + " # mine\n  - token: " + other + "\n    name: u\n", true},
		{"as a block", "sources:\n  - name: t\n    token: >-\n      " + secret + "\n", true},
		{"in escapes, which hide it from the search", "sources: [{name: t, token: \"\\x61bcdefghijklmnop\"}]\n", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s := reading(t, c.sources+small)
			recorded := site.Withhold([]byte(c.sources+small), s.Sources)
			if strings.Contains(recorded, secret) || strings.Contains(recorded, other) || strings.Contains(recorded, "bcdefghijklmnop") {
				t.Fatalf("a token is in it:\n%s", recorded)
			}
			if !c.whole {
				if recorded != "" {
					t.Errorf("it is kept:\n%s", recorded)
				}
				return
			}
			again, err := site.Read("again", []byte(recorded))
			if err != nil {
				t.Fatalf("it cannot be read again: %v\n%s", err, recorded)
			}
			if len(again.Sources) != len(s.Sources) || !reflect.DeepEqual(again.Vessels, s.Vessels) {
				t.Errorf("it is another site: %+v", again)
			}
		})
	}
}
