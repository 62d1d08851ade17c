package site_test

import (
	"errors"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"example.org/restpoint/cmd/restpoint/internal/site"
	"example.org/restpoint/profiles/strict"
	"example.org/restpoint/sensors"
)

// calibrated is a site of two 1-Wire probes and one in a file.
func calibrated(beside, top string) string {
	return `site: s
vessels:
  - name: fv1
    volume: 60 L
    thermowell: {one-wire: 28-000001318252}
    surround: {jacket: {one-wire: 28-0000013182aa}}
    ambient: {file: /run/room` + beside + `}
    cool: {modelled: true, valve: {}}
` + top
}

const twoPoints = "{ice: 0.31 C, second: {reads: 25.94 C, is: 25.5 C}, on: 2026-11-20}"

// The numbers of the two points are a worked example of the project's own.
func TestACalibrationGoesWithTheIdentityOfItsProbe(t *testing.T) {
	t.Parallel()
	none := sensors.Calibration{}
	for _, row := range []struct {
		name, beside, top string
		want              [3]sensors.Calibration // thermowell, surround, ambient
	}{
		{"none", "", "", [3]sensors.Calibration{}},
		{"two points of one id", "", "calibrations: {28-000001318252: " + twoPoints + "}\n", [3]sensors.Calibration{{Offset: -0.308, Gain: 0.99493}, none, none}},
		{"ice alone, of the other id", "", "calibrations:\n  28-0000013182aa: {ice: -0.25 C, on: 2026-11-20}\n", [3]sensors.Calibration{none, {Offset: 0.25}, none}},
		{"both ids, in any order", "", "calibrations:\n  28-0000013182aa: {ice: -0.25 C, on: 2026-11-20}\n  28-000001318252: {ice: 0.5 C, on: 2026-11-20}\n", [3]sensors.Calibration{{Offset: -0.5}, {Offset: 0.25}, none}},
		{"beside a probe without an id", ", calibration: " + twoPoints, "", [3]sensors.Calibration{none, none, {Offset: -0.308, Gain: 0.99493}}},
		{"an offset without a bath", ", offset: 0.4 K", "", [3]sensors.Calibration{none, none, {Offset: 0.4}}},
		{"in degrees Fahrenheit", ", calibration: {ice: 32.9 F, on: 2026-11-20}", "", [3]sensors.Calibration{none, none, {Offset: -0.5}}},
	} {
		s, err := site.Read("a.yaml", []byte(calibrated(row.beside, row.top)))
		if err != nil || len(s.Warnings) > 0 {
			t.Errorf("%s: %v, warns %v", row.name, err, s.Warnings)
			continue
		}
		v := s.Vessels[0]
		for i, p := range []site.Probe{v.Thermowell, v.Surround, v.Ambient} {
			got, want := p.Calibration, row.want[i]
			if math.Abs(float64(got.Offset-want.Offset)) > 5e-4 || math.Abs(got.Gain-want.Gain) > 5e-6 {
				t.Errorf("%s: %s has %+v, want %+v", row.name, p.ID, got, want)
			}
		}
	}
}

func TestADoubtfulCalibrationIsWarnedOf(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ name, beside, top, want string }{
		{
			"of a probe that no vessel uses", "", "calibrations: {28-00000131bbbb: " + twoPoints + "}\n",
			"a.yaml:9:33: calibrations.28-00000131bbbb: no vessel of this site uses the probe 28-00000131bbbb, so its calibration changes nothing",
		},
		{
			"an ice bath that was none", "", "calibrations: {28-000001318252: {ice: 1.06 C, on: 2026-11-20}}\n",
			"a.yaml:9:33: calibrations.28-000001318252: an offset of -1.06 K is beyond 1 K: a wrong probe or a bad bath",
		},
		{
			"a gain that no probe has", ", calibration: {ice: 0 C, second: {reads: 25 C, is: 26 C}, on: 2026-11-20}", "",
			"a.yaml:7:45: vessels[1].ambient.calibration: a gain of 1.0400 is beyond 2 %: a wrong probe or a bad bath",
		},
	} {
		s, err := site.Read("a.yaml", []byte(calibrated(row.beside, row.top)))
		if err != nil {
			t.Errorf("%s: %v", row.name, err)
			continue
		}
		if got := lines(s.Warnings); !slices.Equal(got, []string{row.want}) {
			t.Errorf("%s: warns %q\nwant  %q", row.name, got, row.want)
		}
	}
}

func TestADoubtfulHydrometerIsWarnedOf(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ name, calibration, want string }{
		{"five points off", "{offset: -5 points}", ""},
		{"twelve points off", "{offset: 12 points}", "12.0 points in water are beyond 10 points: another device, or no water"},
		{"of a slope that no glass has", "{points: [{reads: 1.000, is: 1.000}, {reads: 1.050, is: 1.040}]}", "a slope of 0.800 is beyond 15 % of 1: look at what was read"},
	} {
		s, err := site.Read("a.yaml", []byte("sources: [{name: t, token: abcdefghijklmnop}]\n"+vessel("hydrometer: {pushed: t, gravity: /sg, corrected: true, calibration: "+row.calibration+"}")))
		if err != nil {
			t.Errorf("%s: %v", row.name, err)
			continue
		}
		got := lines(s.Warnings)
		if row.want == "" && len(got) == 0 {
			continue
		}
		if len(got) != 1 || !strings.HasSuffix(got[0], ": vessels[1].hydrometer.calibration: "+row.want) {
			t.Errorf("%s: warns %q, want %q", row.name, got, row.want)
		}
	}
}

// Just beyond each end is refused, by one problem at the value.
func TestJustBeyondTheEndsOfACalibrationIsRefused(t *testing.T) {
	t.Parallel()
	const at = "calibrations.28-000001318252"
	for _, row := range []struct {
		name, old, now string
		rule           strict.Rule
		path           string
	}{
		{"ice too warm", "0.31 C", "5.01 C", strict.Range, at + ".ice"},
		{"ice too cold", "0.31 C", "-5.01 C", strict.Range, at + ".ice"},
		{"a second bath too cold", "25.5 C", "9.9 C", strict.Range, at + ".second.is"},
		{"a second bath too warm", "25.5 C", "45.1 C", strict.Range, at + ".second.is"},
		{"a probe that reads too little", "25.94 C", "20.4 C", site.CalibrationPoints, at + ".second.reads"},
		{"a probe that reads too much", "25.94 C", "30.6 C", site.CalibrationPoints, at + ".second.reads"},
		{"points too near", "{reads: 25.94 C, is: 25.5 C}", "{reads: 10.3 C, is: 10 C}", site.CalibrationPoints, at + ".second"},
		{"a day without its year", "2026-11-20", "11-20", site.DateForm, at + ".on"},
		{"a day with an hour", "2026-11-20", "2026-11-20T10:00:00Z", site.DateForm, at + ".on"},
		{"a difference for a temperature", "0.31 C", "0.31 K", strict.Quantity, at + ".ice"},
		{"no bath at all", twoPoints, "{on: 2026-11-20}", strict.MissingKey, at},
		{"a number alone", twoPoints, "0.31 C", strict.NotAMap, at},
		{"an id in capitals", "28-000001318252", "28-00000131825A", site.OneWireForm, "calibrations.28-00000131825A"},
	} {
		top := strings.Replace("calibrations: {28-000001318252: "+twoPoints+"}\n", row.old, row.now, 1)
		s, err := site.Read("a.yaml", []byte(calibrated("", top)))
		problems, ok := errors.AsType[*strict.Problems](err)
		if !ok || s != nil || len(problems.List) != 1 || problems.List[0].Rule != row.rule || problems.List[0].Path != row.path {
			t.Errorf("%s: %v, want the rule %s at %s", row.name, err, row.rule, row.path)
		}
	}
}

// A probe that takes another's place must not be corrected by it.
func TestProbesThatChangePlacesTakeTheirCalibrationsAlong(t *testing.T) {
	t.Parallel()
	text := calibrated("", "calibrations: {28-000001318252: "+twoPoints+"}\n")
	swapped := strings.NewReplacer("one-wire: 28-000001318252", "one-wire: 28-0000013182aa", "one-wire: 28-0000013182aa", "one-wire: 28-000001318252").Replace(text)
	before, after := reading(t, text), reading(t, swapped)
	b, a := before.Vessels[0], after.Vessels[0]
	if !reflect.DeepEqual(a.Surround.Calibration, b.Thermowell.Calibration) || a.Thermowell.Calibration.Given() || !a.Surround.Calibration.Given() {
		t.Errorf("thermowell %+v, surround %+v", a.Thermowell, a.Surround)
	}
}
