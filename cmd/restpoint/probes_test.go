package main

import (
	"bytes"
	"context"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// probeBoard is a board as the kernel shows it: three 1-Wire probes, of which one
// has lost its power, two chips of one name, a device, a converter.
func probeBoard(t *testing.T) (root, sitePath string) {
	t.Helper()
	root = kernel(t, map[string]string{
		"bus/w1/devices/w1_bus_master1/w1_master_slaves":          "x",
		"bus/w1/devices/28-000001318252/hwmon/hwmon0/temp1_input": "18000",
		"bus/w1/devices/28-000001318252/ext_power":                "1",
		"bus/w1/devices/28-000001318252/features":                 "1",
		"bus/w1/devices/28-0000013182aa/hwmon/hwmon3/temp1_input": "85000",
		"bus/w1/devices/28-0000013182aa/w1_slave":                 "50 05 4b 46 7f ff 0c 10 1c : crc=1c YES\n50 05 4b 46 7f ff 0c 10 1c t=85000",
		"bus/w1/devices/28-0000013182aa/ext_power":                "0",
		"bus/w1/devices/28-0000013182aa/features":                 "0",
		"bus/w1/devices/28-0000013182cc/hwmon/hwmon5/temp1_input": "21437",
		"bus/w1/devices/00-800000000000/id":                       "",
		"class/hwmon/hwmon0/name":                                 "w1_slave_temp",
		"class/hwmon/hwmon0/temp1_input":                          "18000",
		"class/hwmon/hwmon1/name":                                 "cpu_thermal",
		"class/hwmon/hwmon1/temp1_input":                          "51540",
		"class/hwmon/hwmon2/name":                                 "tmp105",
		"class/hwmon/hwmon2/temp1_input":                          "4000",
		"class/hwmon/hwmon6/name":                                 "lm75",
		"class/hwmon/hwmon6/temp1_input":                          "5000",
		"class/hwmon/hwmon7/name":                                 "lm75",
		"class/hwmon/hwmon7/temp1_input":                          "hot",
		"bus/iio/devices/iio:device0/name":                        "tmp117",
		"bus/iio/devices/iio:device0/label":                       "lid",
		"bus/iio/devices/iio:device0/in_temp_raw":                 "2368",
		"bus/iio/devices/iio:device0/in_temp_scale":               "7.812500",
		"bus/iio/devices/iio:device1/name":                        "ads1015",
		"bus/iio/devices/iio:device1/in_voltage0_raw":             "825",
		"bus/iio/devices/iio:device1/in_voltage1_raw":             "1250",
		"bus/iio/devices/iio:device1/in_voltage_scale":            "2.0",
		"class/i2c-dev/i2c-1/name":                                "bcm2835 (i2c@7e804000)",
		"class/spidev/spidev0.0/uevent":                           "",
	})
	for name, device := range map[string]string{"hwmon1": "thermal_zone0", "hwmon6": "1-0048", "hwmon7": "1-0049"} {
		target := filepath.Join(root, device)
		if err := os.Mkdir(target, 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.Symlink(target, filepath.Join(root, "class/hwmon", name, "device")); err != nil {
			t.Fatal(err)
		}
	}
	sitePath = filepath.Join(root, "site.yaml")
	text := `site: x
sysfs: ` + root + `
record: ` + root + `/record.db
socket: ` + root + `/s
vessels:
  - name: fv1
    volume: 60 L
    thermowell: {top: {one-wire: 28-000001318252}, bottom: {iio: {label: lid, channel: temp}}}
    surround: {jacket: {one-wire: 28-0000013182aa}}
    pressure: {adc: {iio: {name: ads1015, channel: voltage1}}, from: {volts: 0.5 V, is: 0 bar}, to: {volts: 4.5 V, is: 2 bar}}
    cool: {modelled: true, valve: {}}
  - name: fv2
    volume: 60 L
    thermowell: {one-wire: 28-0000013182ff}
    surround: {air: {hwmon: {name: lm75, input: temp1}}}
    ambient: {rtd: {spi: 98.7, sensor: Pt100, wires: 3, reference: 430 ohm, mains: 50 Hz}}
    cool: {modelled: true, valve: {}}
calibrations:
  28-000001318252: {ice: 0.31 C, second: {reads: 25.94 C, is: 25.5 C}, on: 2026-11-20}
`
	if err := os.WriteFile(sitePath, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return root, sitePath
}

func TestTheListOfProbesIsReviewed(t *testing.T) {
	root, sitePath := probeBoard(t)
	for name, row := range map[string]struct {
		args []string
		code int
		says string
	}{
		"board": {[]string{"--sysfs", root}, exitOK, ""},
		"site":  {[]string{"-c", sitePath}, exitFailed, "restpoint: no reading of fv1/surround, fv2/surround, fv2/thermowell, fv2/ambient\n"},
	} {
		code, out, errs := talk(t, "", append([]string{"probes", "list"}, row.args...)...)
		if code != row.code || errs != row.says {
			t.Errorf("%s: exit %d, %s", name, code, errs)
		}
		for line := range strings.SplitSeq(out, "\n") {
			if n := len([]rune(line)); n > 80 {
				t.Errorf("%s: %d columns: %s", name, n, line)
			}
		}
		out = regexp.MustCompile(`(open spi 98.7: ).*`).ReplaceAllString(out, "$1...") // each system has its words
		golden(t, filepath.Join("probes", name+".txt"), out)
	}
}

// warm raises one probe after a time, as a hand does.
func warm(t *testing.T, root, probe string, after time.Duration) {
	t.Helper()
	go func() {
		select {
		case <-time.After(after):
			_ = os.WriteFile(filepath.Join(root, "bus/w1/devices", probe, "hwmon/hwmon5/temp1_input"), []byte("23000\n"), 0o600)
		case <-t.Context().Done():
		}
	}()
}

func TestAProbeIsFoundByTouch(t *testing.T) {
	root, sitePath := probeBoard(t)
	synctest.Test(t, func(t *testing.T) {
		warm(t, root, "28-0000013182cc", 20*time.Second)
		var out, errs bytes.Buffer
		code := run(t.Context(), env{in: strings.NewReader(""), out: &out, err: &errs}, []string{"probes", "touch", "-c", sitePath})
		want := "It is 28-0000013182cc, +1.56 K from its start; the next one, "
		if code != exitOK || !strings.Contains(out.String(), want) || !strings.Contains(out.String(), "In the site file:  {one-wire: 28-0000013182cc}\n") {
			t.Errorf("exit %d: %s\n%s", code, errs.String(), out.String())
		}
	})
	code, out, errs := talk(t, "", "probes", "touch", "--sysfs", root, "--for", "1 min")
	if code != exitFailed || !strings.Contains(errs, "no probe was found by touch") || !strings.Contains(out, "No probe rose by 1 K in 1 min") {
		t.Errorf("a cold hand: exit %d: %s\n%s", code, errs, out)
	}
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
		defer cancel()
		if code := run(ctx, env{in: strings.NewReader(""), out: io.Discard, err: &bytes.Buffer{}}, []string{"probes", "touch", "--sysfs", root}); code != exitOK {
			t.Errorf("ended by the person: exit %d", code)
		}
	})
}

// What the site file says of a probe that is found is said too, and what only the
// site file knows is read too.
func TestAPlaceIsFoundByTouch(t *testing.T) {
	root, sitePath := probeBoard(t)
	text, err := os.ReadFile(sitePath)
	if err != nil {
		t.Fatal(err)
	}
	changed := strings.NewReplacer("28-0000013182ff}", "28-0000013182cc}", "surround: {air: {hwmon: {name: lm75, input: temp1}}}", "surround: {air: {file: "+root+"/air}}").Replace(string(text))
	if err := os.WriteFile(sitePath, []byte(changed), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(root, "air"), []byte("18000\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	synctest.Test(t, func(t *testing.T) {
		warm(t, root, "28-0000013182cc", 20*time.Second)
		var out, errs bytes.Buffer
		code := run(t.Context(), env{in: strings.NewReader(""), out: &out, err: &errs}, []string{"probes", "touch", "-c", sitePath})
		if code != exitOK || !strings.Contains(out.String(), "There it is fv2/thermowell already.\n") || !strings.Contains(out.String(), "  fv2/surround: 18.00 C\n") ||
			strings.Contains(out.String(), "cpu_thermal") ||
			strings.Contains(out.String(), "fv1/pressure") {
			t.Errorf("exit %d: %s\n%s", code, errs.String(), out.String())
		}
	})
}

// bathe puts a probe into ice when the person says so, and into a bath later.
func bathe(t *testing.T, root, probe string, second time.Duration) {
	t.Helper()
	go func() {
		for _, step := range []struct {
			at    time.Duration
			milli string
		}{{time.Minute, "312\n"}, {second, "25937\n"}} {
			select {
			case <-time.After(step.at):
				_ = os.WriteFile(filepath.Join(root, "bus/w1/devices", probe, "hwmon/hwmon0/temp1_input"), []byte(step.milli), 0o600)
			case <-t.Context().Done():
			}
		}
	}()
}

// slowly gives one answer after another, each some minutes after the last.
type slowly struct{ answers []string }

func (s *slowly) Read(to []byte) (int, error) {
	if len(s.answers) == 0 {
		return 0, io.EOF
	}
	<-time.After(10 * time.Minute)
	n := copy(to, s.answers[0]+"\n")
	s.answers = s.answers[1:]
	return n, nil
}

func TestACalibrationGivesLinesThatTheSiteFileTakes(t *testing.T) {
	for _, name := range []string{"28-000001318252", "fv1/thermowell-top"} {
		root, sitePath := probeBoard(t)
		var said string
		synctest.Test(t, func(t *testing.T) {
			bathe(t, root, "28-000001318252", 14*time.Minute)
			var out, errs bytes.Buffer
			code := run(t.Context(), env{in: &slowly{[]string{"", "", "25.5 C"}}, out: &out, err: &errs}, []string{"probes", "calibrate", name, "-c", sitePath, "--second"})
			if said = out.String(); code != exitOK {
				t.Errorf("%s: exit %d: %s\n%s", name, code, errs.String(), said)
			}
			if !strings.Contains(said, name+" reads 18.00 C now, without a calibration.") {
				t.Errorf("%s: the old calibration is applied:\n%s", name, said)
			}
		})
		_, lines, found := strings.Cut(said, "calibrations:\n")
		text, err := os.ReadFile(sitePath)
		if !found || err != nil {
			t.Fatalf("%s: no lines, %v:\n%s", name, err, said)
		}
		site, _, _ := strings.Cut(string(text), "calibrations:\n")
		if err := os.WriteFile(sitePath, []byte(site+"calibrations:\n"+lines), 0o600); err != nil {
			t.Fatal(err)
		}
		if code, out, errs := try(t, "", "check", "-c", sitePath); code != exitOK || errs != "" {
			t.Errorf("%s: the lines are refused: exit %d: %s%s", name, code, out, errs)
		}
		if !strings.Contains(lines, "  28-000001318252: {ice: 0.31 C, second: {reads: 25.94 C, is: 25.5 C}, on: 2000-01-01}\n") {
			t.Errorf("%s: lines\n%s", name, lines)
		}
	}
}

func TestACalibrationThatCannotBeIsRefused(t *testing.T) {
	_, sitePath := probeBoard(t)
	for name, row := range map[string]struct {
		probe string
		code  int
		says  string
	}{
		"a probe that is nowhere": {"28-000001318255", exitUsage, `there is no thermometer "28-000001318255"; those of the site are fv1/thermowell-top, fv1/thermowell-bottom, fv1/surround`},
		"a pressure":              {"fv1/pressure", exitUsage, `there is no thermometer "fv1/pressure"`},
		"nothing":                 {"", exitUsage, "probes calibrate takes one argument"},
		"one without a reading":   {"fv1/surround", exitFailed, "read fv1/surround: 85 C or 127.9 C, which a chip holds that did not measure"},
		"one that is not there":   {"fv2/thermowell", exitFailed, "not there: unplugged, or a wire is broken; the kernel does not list it"},
		"one that nobody uses":    {"28-0000013182cc", exitFailed, "no answer"},
	} {
		code, out, errs := talk(t, "", "probes", "calibrate", row.probe, "-c", sitePath)
		if code != row.code || !strings.Contains(errs, row.says) {
			t.Errorf("%s: exit %d: %s\n%s", name, code, errs, out)
		}
	}
}

// A hand and a bath of ice are a beer to the program.
func TestNobodyWarmsOrIcesAProbeOfTheRunningProgram(t *testing.T) {
	_, sitePath := probeBoard(t)
	l, err := (&net.ListenConfig{}).Listen(t.Context(), "unix", filepath.Join(filepath.Dir(sitePath), "s"))
	if err != nil {
		t.Fatal(err)
	}
	server := &http.Server{ReadHeaderTimeout: time.Second, Handler: http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { _, _ = io.WriteString(w, "{}") })}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(l) }()
	for _, args := range [][]string{{"touch"}, {"calibrate", "28-000001318252"}} {
		code, _, errs := try(t, "", append([]string{"probes"}, append(args, "-c", sitePath)...)...)
		if code != exitFailed || !strings.Contains(errs, "the program is running and would take what you do for the beer; end it first") {
			t.Errorf("%v: exit %d: %s", args, code, errs)
		}
	}
	code, out, errs := try(t, "", "probes", "list", "-c", sitePath)
	if code != exitFailed || !strings.Contains(out, "fv2/ambient    not read\n      the running program has its chip") || strings.Contains(errs, "fv2/ambient") {
		t.Errorf("list: exit %d: %s\n%s", code, errs, out)
	}
	if err := server.Close(); err != nil {
		t.Error(err)
	}
	<-ended
}
