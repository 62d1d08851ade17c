package site_test

import (
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/site"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/profiles"
	"example.org/restpoint/profiles/strict"
	"example.org/restpoint/sensors"
)

func TestMain(m *testing.M) {
	flag.Bool("update", false, "write the golden files")
	os.Exit(m.Run())
}

// golden compares a text with a file that people have read, or writes it.
func golden(t *testing.T, name, got string) {
	t.Helper()
	if flag.Lookup("update").Value.String() == "true" {
		if err := os.WriteFile(name, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s:\n got\n%s\nwant\n%s", name, got, want)
	}
}

func TestEveryBadFileIsRefusedInItsWords(t *testing.T) {
	t.Parallel()
	names, err := filepath.Glob("testdata/invalid/*.yaml")
	if err != nil || len(names) == 0 {
		t.Fatalf("no bad files: %v", err)
	}
	seen := map[strict.Rule]bool{}
	for _, name := range names {
		src, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		s, err := site.Read(filepath.Base(name), src)
		var problems *strict.Problems
		if !errors.As(err, &problems) || s != nil {
			t.Errorf("%s is accepted: %v", name, err)
			continue
		}
		for _, p := range problems.List {
			seen[p.Rule] = true
		}
		golden(t, strings.TrimSuffix(name, ".yaml")+".want", problems.Render())
	}
	for _, rule := range site.Rules() {
		if !seen[rule] {
			t.Errorf("no bad file breaks the rule %q", rule)
		}
		delete(seen, rule)
	}
	for _, rule := range strict.Rules() {
		delete(seen, rule)
	}
	for rule := range seen {
		t.Errorf("the rule %q is not listed", rule)
	}
}

const example = "../../../../deploy/example-site.yaml"

func TestTheExampleIsReadAsItIsWritten(t *testing.T) {
	t.Parallel()
	s, err := site.Load(example)
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Warnings) > 0 {
		t.Errorf("warns %v", s.Warnings)
	}
	if s.Name != "north cellar" || s.Listen != "127.0.0.1:8420" || s.Public || s.Open || s.Hosts != nil ||
		s.Record != "/var/lib/restpoint/record.db" || s.Socket != "/run/restpoint/restpoint.sock" ||
		s.Step != 5*time.Second || s.Flush != 5*time.Minute || s.File != example {
		t.Errorf("read as %+v", s)
	}
	chiller := guard.Of(guard.Compressor)
	wantPlant := &controller.Plant{Serves: []bool{true, true}, Chiller: chiller, AtOnce: 2}
	if got := s.SharedPlant(); !reflect.DeepEqual(got, wantPlant) {
		t.Errorf("plant %+v, want %+v", got, wantPlant)
	}
	if want := []site.Source{{Name: "tank-1", TokenFile: "/etc/restpoint/tank-1.token"}}; !reflect.DeepEqual(s.Sources, want) {
		t.Errorf("sources %+v", s.Sources)
	}
	heat := guard.Of(guard.Heater)
	heat.Power = 80
	want := site.Vessel{
		Name: "fv1", Volume: 60,
		Thermowell: site.Probe{ID: "fv1/thermowell", Kind: site.OneWire, Device: "28-000001318252", Calibration: sensors.Calibration{Offset: -0.2}},
		Surround:   site.Probe{ID: "fv1/surround", Kind: site.OneWire, Device: "28-0000013182aa"},
		Around:     site.Jacket,
		Ambient:    site.Probe{ID: "fv1/ambient", Kind: site.OneWire, Device: "28-0000013183bb"},
		Loss:       2,
		Hydrometer: site.Hydrometer{ID: "fv1/hydrometer", Pushed: "tank-1", Gravity: "/sg", Temperature: "/temp_c", Corrected: true},
		Cool:       site.Relay{Kind: site.OnLine, Chip: "pinctrl-bcm2835", Line: "GPIO17", ActiveLow: true, Guard: guard.Of(guard.Valve)},
		Heat:       site.Relay{Kind: site.OnFile, Path: "/sys/class/leds/heat/brightness", Guard: heat},
		Limits:     controller.Limits{Lowest: -1, Highest: 30},
		SuckBack:   controller.CO2Supply,
	}
	if !reflect.DeepEqual(s.Vessels[0], want) {
		t.Errorf("fv1 read as\n%+v\nwant\n%+v", s.Vessels[0], want)
	}
	v := s.Vessel(0)
	wantVessel := &controller.Vessel{
		Name: "fv1", Step: 5 * time.Second, Volume: 60,
		Probes: controller.Probes{Thermowell: "fv1/thermowell", Surround: "fv1/surround", Ambient: "fv1/ambient", Hydrometer: "fv1/hydrometer"},
		Loss:   2,
		Heat:   heat, Cool: guard.Of(guard.Valve), Limits: controller.Limits{Lowest: -1, Highest: 30}, SuckBack: controller.CO2Supply,
	}
	if !reflect.DeepEqual(v, wantVessel) {
		t.Errorf("fv1 becomes\n%+v\nwant\n%+v", v, wantVessel)
	}
	w := s.Vessel(1)
	if w.Heat.Fitted || w.Probes.Hydrometer != "" || w.Probes.Surround != "" || w.SuckBack != controller.NoProtection ||
		w.Limits != (controller.Limits{Lowest: -1, Highest: 30}) {
		t.Errorf("fv2 becomes %+v", w)
	}
	if s.Find("fv2") != 1 || s.Find("fv3") != -1 {
		t.Error("vessels are not found by name")
	}
}

const small = `site: test
vessels:
  - name: fv1
    volume: 60 L
    thermowell: {file: /run/beer}
    cool: {modelled: true, compressor: {rest: 10 min}}
    heat: {modelled: true, ssr: {run: 20 s}}
`

func reading(t *testing.T, src string) *site.Site {
	t.Helper()
	s, err := site.Read("north.yaml", []byte(src))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestWhatIsAllowedIsRead(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name, old, now string
		holds          func(s *site.Site) bool
	}{
		{"relay times override those of the profile and no other", "", "", func(s *site.Site) bool {
			c, h := s.Vessels[0].Cool.Guard, s.Vessels[0].Heat.Guard
			return c.MinOff == 10*time.Minute && c.MinOn == 3*time.Minute && h.MinOn == 20*time.Second && h.MinOff == guard.Of(guard.SSR).MinOff
		}},
		{"an address that others can reach is marked", "site: test", "site: test\nlisten: 0.0.0.0:80", func(s *site.Site) bool { return s.Public && s.Listen == "0.0.0.0:80" }},
		{"every address is marked", "site: test", "site: test\nlisten: :8420", func(s *site.Site) bool { return s.Public }},
		{"this machine by name is not marked", "site: test", "site: test\nlisten: localhost:0", func(s *site.Site) bool { return !s.Public }},
		{"this machine by its long address is not marked", "site: test", "site: test\nlisten: \"[::1]:8420\"", func(s *site.Site) bool { return !s.Public }},
		{"hosts and the open page", "site: test", "site: test\nopen: true\nhosts: [cellar.local, 10.0.0.7]", func(s *site.Site) bool {
			return s.Open && reflect.DeepEqual(s.Hosts, []string{"cellar.local", "10.0.0.7"})
		}},
		{"times and paths", "site: test", "site: test\nstep: 1 s\nflush: 10 s\nrecord: /r.db\nsocket: /s.sock", func(s *site.Site) bool {
			return s.Step == time.Second && s.Flush == 10*time.Second && s.Record == "/r.db" && s.Socket == "/s.sock"
		}},
		{"a plant without a chiller of its own", "vessels:", "plant: {serves: [fv1]}\nvessels:", func(s *site.Site) bool {
			p := s.SharedPlant()
			return p.Serves[0] && !p.Chiller.Fitted && p.AtOnce == 0
		}},
		{"no plant", "", "", func(s *site.Site) bool { return !s.SharedPlant().Serves[0] }},
		{"air around and the room", "    cool:", "    surround: {air: {file: /run/air}}\n    ambient: {file: /run/room}\n    cool:", func(s *site.Site) bool {
			p := s.Vessel(0).Probes
			return s.Vessels[0].Around == site.Air && p.Surround == "fv1/surround" && p.Ambient == "fv1/ambient"
		}},
		{"a hydrometer in Plato and Fahrenheit", "vessels:\n  - name: fv1\n", `sources: [{name: t-1, token: abcdefghijklmnop}]
vessels:
  - name: fv1
    hydrometer: {pushed: t-1, gravity: /a~1b/0/~0c, temperature: /t, gravity-unit: P, temperature-unit: F, corrected: false}
`, func(s *site.Site) bool {
			h := s.Vessels[0].Hydrometer
			return h.Plato && h.Fahrenheit && !h.Corrected && h.Gravity == "/a~1b/0/~0c" && s.Sources[0].Token.Reveal() == "abcdefghijklmnop"
		}},
		{"limits of its own", "    cool:", "    limits: {highest: 24 C}\n    cool:", func(s *site.Site) bool {
			return s.Vessel(0).Limits == controller.Limits{Lowest: -1, Highest: 24}
		}},
	} {
		s, err := site.Read("a.yaml", []byte(strings.Replace(small, row.old, row.now, 1)))
		switch {
		case err != nil:
			t.Errorf("%s: %v", row.name, err)
		case len(s.Warnings) > 0:
			t.Errorf("%s: warns %v", row.name, s.Warnings)
		case !row.holds(s):
			t.Errorf("%s: read as %+v", row.name, s)
		}
	}
}

func TestWhatIsDoubtfulIsWarnedOf(t *testing.T) {
	t.Parallel()
	s := reading(t, `site: test
vessels:
  - name: fv1
    volume: 60 L
    thermowell: {file: /run/beer}
    hydrometer: {pushed: tank-9, gravity: /sg, corrected: true}
  - name: fv2
    volume: 60 L
    thermowell: {file: /run/other}
    heat: {pin: {name: GPIO4}, heater: {}}
`)
	want := []string{
		"north.yaml:3:11: vessels[1].name: the vessel has neither cool nor heat, so it is only watched",
		"north.yaml:6:26: vessels[1].hydrometer.pushed: no source of this name has a token, so nothing can be pushed; add it to sources",
		"north.yaml:10:17: vessels[2].heat.pin: nothing happens to this pin when the program dies: it stays as it was driven last, on or off, until \"relays off\" has run, " +
			"and no other program is kept from driving it; use line on a board that has /dev/gpiochip0",
	}
	if got := lines(s.Warnings); !reflect.DeepEqual(got, want) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
}

func lines(list []strict.Problem) []string {
	var out []string
	for _, p := range list {
		out = append(out, p.String())
	}
	return out
}

func TestASecretIsNeverPrinted(t *testing.T) {
	t.Parallel()
	s := reading(t, "sources: [{name: t, token: abcdefghijklmnop}]\n"+small)
	text, err := json.Marshal(s.Sources)
	if err != nil {
		t.Fatal(err)
	}
	all := string(text) + fmt.Sprintf("%v %+v %#v %s", s.Sources, s.Sources, s.Sources, s.Sources[0].Token)
	if strings.Contains(all, "abcdef") {
		t.Error(all)
	}
	_, err = site.Read("a.yaml", []byte("sources: [{name: t, token: abcdefghijklmnop, tokn: 3}]\n"+small))
	var problems *strict.Problems
	if !errors.As(err, &problems) {
		t.Fatalf("accepted: %v", err)
	}
	if strings.Contains(problems.Render(), "abcdef") {
		t.Error(problems.Render())
	}
}

func TestAMissingFileIsNoSite(t *testing.T) {
	t.Parallel()
	if _, err := site.Load("/nowhere/site.yaml"); err == nil || err.Error() != "read site: open /nowhere/site.yaml: no such file or directory" {
		t.Error(err)
	}
}

func ale(t *testing.T) *profiles.File {
	t.Helper()
	f, err := profiles.Load("pale-ale-with-rest")
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func TestAFittingScheduleIsTaken(t *testing.T) {
	t.Parallel()
	s, err := site.Load(example)
	if err != nil {
		t.Fatal(err)
	}
	if warnings, err := s.CheckFit(0, ale(t)); err != nil || len(warnings) > 0 {
		t.Errorf("%v, %v", warnings, err)
	}
}

func TestAScheduleBeyondTheLimitsIsRefusedNamingBothLines(t *testing.T) {
	t.Parallel()
	s := reading(t, strings.Replace(small, "    cool:", "    limits:\n      lowest: 2 C\n      highest: 20 C\n    cool:", 1))
	_, err := s.CheckFit(0, ale(t))
	var problems *strict.Problems
	if !errors.As(err, &problems) {
		t.Fatalf("accepted: %v", err)
	}
	golden(t, "testdata/fit-limits.txt", problems.Render())
	for _, want := range []string{"north.yaml:7", "north.yaml:8"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%s is not named", want)
		}
	}

	s = reading(t, small) // the default limits stand at the vessel
	hot := strings.NewReplacer("{at: 19 C}", "{at: 31 C}", "{free-rise: {to: 21 C, heat-after: 8 h}}", "{at: 29 C}").Replace(string(ale(t).Source))
	f, err := profiles.Read("hot.yaml", []byte(hot))
	if err != nil {
		t.Fatal(err)
	}
	_, err = s.CheckFit(0, f)
	if want := "hot.yaml:14:18: stages[2].target.at: 31.0 C is above the highest temperature of the vessel fv1, 30.0 C (north.yaml:3)"; err == nil || err.Error() != want {
		t.Errorf("got  %v\nwant %s", err, want)
	}
}

func TestWhatTheVesselLacksIsSaid(t *testing.T) {
	t.Parallel()
	bare := reading(t, "site: test\nvessels:\n  - name: fv1\n    volume: 60 L\n    thermowell: {file: /run/beer}\n")
	warnings, err := bare.CheckFit(0, ale(t))
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "testdata/fit-bare-vessel.txt", strings.Join(lines(warnings), "\n")+"\n")
	seen := map[strict.Rule]bool{}
	for _, w := range warnings {
		seen[w.Rule] = true
	}
	for _, rule := range []strict.Rule{site.NoHeater, site.NoCooler, site.NeedsArming, site.NoHydrometer} {
		if !seen[rule] {
			t.Errorf("nothing warns by the rule %q", rule)
		}
	}
}

// FuzzRead holds that any text is either refused with its reasons or read to a
// site in which nothing is used twice and no relay is on the wrong side.
func FuzzRead(f *testing.F) {
	f.Add([]byte(small))
	names, err := filepath.Glob("testdata/invalid/*.yaml")
	if err != nil {
		f.Fatal(err)
	}
	for _, name := range append(names, example) {
		src, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(src)
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		s, err := site.Read("f.yaml", src)
		if problems, ok := errors.AsType[*strict.Problems](err); ok {
			if s != nil || len(problems.List) == 0 || problems.Render() == "" {
				t.Fatal("refused without a reason, or half")
			}
			return
		}
		sound(t, s)
	})
}

// sound looks at a site without the checker's own code.
func sound(t *testing.T, s *site.Site) {
	t.Helper()
	if s.Name == "" || len(s.Vessels) == 0 || s.Step < time.Second || s.Flush < s.Step {
		t.Fatalf("accepted %+v", s)
	}
	used := map[string]bool{}
	for i := range s.Vessels {
		v := &s.Vessels[i]
		soundVessel(t, v)
		for _, key := range inUse(v) {
			if used[key] {
				t.Fatalf("%s is used twice", key)
			}
			used[key] = true
		}
	}
}

func soundVessel(t *testing.T, v *site.Vessel) {
	t.Helper()
	if v.Name == "" || v.Thermowell.Kind == site.NoProbe || v.Limits.Lowest >= v.Limits.Highest || v.Volume < 1 {
		t.Fatalf("accepted vessel %+v", v)
	}
	if p := v.Heat.Guard.Profile; v.Heat.Guard.Fitted && p != guard.Heater && p != guard.SSR {
		t.Fatalf("heat hangs on a %s", p)
	}
	if c := v.Cool.Guard; c.Profile == guard.Compressor && c.MinOff < 3*time.Minute {
		t.Fatalf("a compressor rests %s", c.MinOff)
	}
	for _, p := range v.Thermometers() {
		if p.Kind == site.NTC && p.Thermistor.Divider.Curve.Check() != nil || p.Kind == site.RTD && p.Platinum.Wiring.Check() != nil {
			t.Fatalf("accepted probe %+v", p)
		}
		if c := p.Calibration; c.Check() != nil || c.Apply(20) < 5 || c.Apply(20) > 35 { // each point may be off by 5 K, and 10 K apart
			t.Fatalf("accepted calibration %+v", c)
		}
	}
	if p := v.Pressure; p.ID != "" && (p.Transducer.Span.Check() != nil || p.Limits.Highest < 0 || p.Limits.Lowest > 0) {
		t.Fatalf("accepted pressure %+v", p)
	}
	for _, r := range []site.Relay{v.Heat, v.Cool} {
		if (r.Kind == site.NoRelayFitted) == r.Guard.Fitted {
			t.Fatalf("half a relay: %+v", r)
		}
	}
}

// input names what a probe hangs on.
func input(p *site.Probe) string {
	switch p.Kind {
	case site.RTD:
		return fmt.Sprint("spi ", p.Platinum.Bus, ".", p.Platinum.Select)
	case site.NTC:
		return fmt.Sprintf("adc %+v", p.Thermistor.Input)
	case site.IIO:
		return fmt.Sprintf("iio %+v", p.Channel)
	case site.NoProbe, site.OneWire, site.HWMon, site.InFile:
	}
	return fmt.Sprint("probe ", p.Device, " ", p.Input, " ", p.Path)
}

// inUse lists what a vessel has for itself.
func inUse(v *site.Vessel) []string {
	out := []string{"vessel " + v.Name}
	for _, p := range []site.Probe{v.Thermowell, v.Surround, v.Ambient} {
		if p.Kind != site.NoProbe {
			out = append(out, input(&p))
		}
	}
	if v.Pressure.ID != "" {
		out = append(out, fmt.Sprintf("adc %+v", v.Pressure.Transducer.Input))
	}
	for _, r := range []site.Relay{v.Heat, v.Cool} {
		if r.Kind == site.OnLine || r.Kind == site.OnPin || r.Kind == site.OnFile {
			out = append(out, fmt.Sprint("relay ", r.Chip, " ", r.Line, " ", r.Path))
		}
	}
	return out
}
