package site_test

import (
	"path/filepath"
	"testing"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/site"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/sense"
	"example.org/restpoint/controller/thermal"
)

func one(t *testing.T, vessel string) (*site.Site, *controller.Vessel) {
	t.Helper()
	s, err := site.Read("test.yaml", []byte("site: x\nquiet: {from: \"22:30\", to: \"07:00\"}\nvessels:\n  - name: fv1\n    volume: 60 L\n"+vessel))
	if err != nil {
		t.Fatal(err)
	}
	return s, s.Vessel(0)
}

func TestSeveralThermowells(t *testing.T) {
	const top, bottom = "fv1/thermowell-top", "fv1/thermowell-bottom"
	for text, want := range map[string]controller.Probes{
		"{one-wire: 28-000001318252}":                                                              {Thermowell: "fv1/thermowell"},
		"{top: {one-wire: 28-000001318252}}":                                                       {Thermowell: top},
		"{top: {one-wire: 28-000001318252}, bottom: {one-wire: 28-000001318253}}":                  {Thermowell: top, More: [sense.MostWells - 1]controller.ProbeID{bottom}, Mean: true},
		"{top: {one-wire: 28-000001318252}, bottom: {one-wire: 28-000001318253}, control: mean}":   {Thermowell: top, More: [sense.MostWells - 1]controller.ProbeID{bottom}, Mean: true},
		"{top: {one-wire: 28-000001318252}, bottom: {one-wire: 28-000001318253}, control: bottom}": {Thermowell: bottom, More: [sense.MostWells - 1]controller.ProbeID{top}},
		"{top: {file: /a}, middle: {file: /b, offset: -0.2 K}, bottom: {file: /c}, control: top}":  {Thermowell: top, More: [sense.MostWells - 1]controller.ProbeID{"fv1/thermowell-middle", bottom}},
	} {
		s, v := one(t, "    thermowell: "+text+"\n")
		if v.Probes != want {
			t.Errorf("%s:\n got %+v\nwant %+v", text, v.Probes, want)
		}
		ids := 0
		for _, p := range s.Vessels[0].Thermometers() {
			if p.Kind != site.NoProbe {
				ids++
			}
		}
		if ids != len(v.Probes.All()) {
			t.Errorf("%s: %d thermometers for %d probes", text, ids, len(v.Probes.All()))
		}
	}
}

func TestCoolingZones(t *testing.T) {
	s, v := one(t, `    thermowell: {one-wire: 28-000001318252}
    cool:
      zones:
        - {name: shell, use: above 4 C, line: {chip: gpiochip0, name: GPIO17}, valve: {rest: 1 min}}
        - {name: cone, use: below 39.2 F, line: {chip: gpiochip0, name: GPIO27}, pump: {run: 40 s}, power: 60 W}
`)
	z := v.Zones
	if len(z) != 2 || z[0] != (thermal.Zone{Name: "shell", Use: thermal.Above, At: 4}) || z[1].Use != thermal.Below || z[1].At-4 > 1e-9 || 4-z[1].At > 1e-9 {
		t.Errorf("%+v", z)
	}
	want := guard.Relay{Fitted: true, Profile: guard.Valve, MinOn: 40 * time.Second, MinOff: time.Minute, Power: 60}
	if v.Cool != want {
		t.Errorf("guard %+v, want the strictest times of both, %+v", v.Cool, want)
	}
	if s.Vessels[0].Zones[1].Relay.Line != "GPIO27" {
		t.Errorf("%+v", s.Vessels[0].Zones[1])
	}
	if s.Quiet.From != 22*time.Hour+30*time.Minute || s.Quiet.To != 7*time.Hour {
		t.Errorf("quiet %+v", s.Quiet)
	}
}

// The examples that users copy are sound, and nothing in them is doubtful.
func TestEveryExampleIsSound(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob("../../../../deploy/example-*.yaml")
	if err != nil || len(files) < 2 {
		t.Fatalf("%d examples, %v", len(files), err)
	}
	for _, file := range files {
		s, err := site.Load(file)
		if err != nil || len(s.Warnings) > 0 {
			t.Errorf("%s: %v, warns %v", file, err, s)
		}
	}
}

func TestTheTallTankHasEverything(t *testing.T) {
	t.Parallel()
	s, err := site.Load("../../../../deploy/example-tall-tank.yaml")
	if err != nil {
		t.Fatal(err)
	}
	v := s.Vessel(0)
	want := controller.Probes{
		Thermowell: "tank-1/thermowell-bottom", More: [sense.MostWells - 1]controller.ProbeID{"tank-1/thermowell-top"},
		Surround: "tank-1/surround", Ambient: "tank-1/ambient", Hydrometer: "tank-1/hydrometer", Pressure: "tank-1/pressure",
	}
	if v.Probes != want || v.Pressure != (controller.PressureLimits{Lowest: -3000, Highest: 100000}) || len(v.Zones) != 2 || v.Volume != 1000 {
		t.Errorf("%+v", v)
	}
}
