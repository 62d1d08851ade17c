package main

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write golden files anew")

// try runs one command line and gives exit code, output and errors.
func try(t *testing.T, in string, args ...string) (code int, out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	code = run(t.Context(), env{in: strings.NewReader(in), out: &o, err: &e}, args)
	return code, o.String(), e.String()
}

// golden holds text against a file of testdata.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs; run with -update and review\ngot\n%s", path, got)
	}
}

// The help of every verb is reviewed like code: a flag that comes or goes shows.
func TestHelp(t *testing.T) {
	lines := 0
	for _, args := range [][]string{
		{},
		{"simulate"},
		{"replay"},
		{"backup"},
		{"archive"},
		{"step"},
		{"check"},
		{"explain"},
		{"batches"},
		{"export"},
		{"report"},
		{"version"},
		{"demo"},
		{"run"},
		{"tell"},
		{"status"},
		{"relays"},
		{"relays", "off"},
		{"relays", "list"},
		{"relays", "try"},
		{"probes"},
		{"probes", "list"},
		{"probes", "touch"},
		{"probes", "calibrate"},
		{"calc"},
		{"calc", "gravity"},
		{"calc", "hydrometer"},
		{"calc", "refractometer"},
		{"calc", "attenuation"},
		{"calc", "freezing"},
		{"calc", "carbonation"},
		{"calc", "residual"},
		{"calc", "blend"},
		{"calc", "convert"},
	} {
		code, out, errs := try(t, "", append(args, "--help")...)
		if code != exitOK || errs != "" {
			t.Errorf("%v --help: exit %d, %s", args, code, errs)
		}
		for line := range strings.SplitSeq(out, "\n") {
			if len(line) > 100 {
				t.Errorf("%v --help: %d columns: %s", args, len(line), line)
			}
			lines++
		}
		name := strings.Join(append([]string{"help"}, args...), "-") + ".txt"
		golden(t, filepath.Join("help", name), out)
	}
	if lines < 100 {
		t.Errorf("only %d lines of help", lines)
	}
}

func TestExitCodes(t *testing.T) {
	bad := filepath.Join(t.TempDir(), "bad.yaml")
	empty := t.TempDir()
	if err := os.WriteFile(bad, []byte("schedule: x\nwort:\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		name string
		args []string
		code int
		says string
	}{
		{"no verb shows help", []string{}, exitOK, "Begin with:  restpoint demo"},
		{"a verb that is not there", []string{"sing"}, exitUsage, `no verb "sing"`},
		{"a flag that is not there", []string{"demo", "--loud"}, exitUsage, "--loud"},
		{"too many arguments", []string{"version", "now"}, exitUsage, "version"},
		{"simulate without a schedule", []string{"simulate"}, exitUsage, "simulate --help"},
		{"a schedule that is not there", []string{"simulate", "pale-ale-with-rset"}, exitConfig, `"pale-ale-with-rest" is probably meant`},
		{"a bad schedule", []string{"explain", bad}, exitConfig, "bad.yaml:2:6: wort: has no value"},
		{"check without anything", []string{"check"}, exitUsage, "needs a site file"},
		{"a site that is not there", []string{"check", "-c", "/no/such"}, exitConfig, "/no/such"},
		{"run without a site", []string{"run"}, exitUsage, "-c SITE"},
		{"step without a schedule", []string{"step"}, exitUsage, "--schedule"},
		{"replay without a schedule", []string{"replay", "x.csv"}, exitUsage, "--schedule"},
		{"replay of a file that is not there", []string{"replay", "/no/such.csv", "--schedule", "cool-lager"}, exitFailed, "/no/such.csv"},
		{"a gravity that is none", []string{"replay", "x.csv", "--schedule", "cool-lager", "--og", "12"}, exitUsage, `"12 P"`},
		{"gravities the wrong way", []string{"replay", "x.csv", "--schedule", "cool-lager", "--og", "1.008"}, exitUsage, "not above"},
		{"a vessel that is not modelled", []string{"simulate", "cool-lager", "--vessel", "barrel"}, exitUsage, `"barrel"`},
		{"a noise that is not modelled", []string{"simulate", "cool-lager", "--noise", "loud"}, exitUsage, `"loud"`},
		{"a room without a unit", []string{"simulate", "cool-lager", "--ambient", "18"}, exitUsage, "18 C"},
		{"an end above the start", []string{"simulate", "cool-lager", "--ends-at", "1.060"}, exitUsage, "1.048"},
		{"a search for no time", []string{"probes", "touch", "--for", "2"}, exitUsage, `--for "2": a time from 10 s to 30 min is needed`},
		{"a search for ever", []string{"probes", "touch", "--for", "2 h"}, exitUsage, "10 s to 30 min"},
		{"a calibration of nothing", []string{"probes", "calibrate"}, exitUsage, "probes calibrate takes one argument"},
		{"a list of something", []string{"probes", "list", "fv1"}, exitUsage, "probes list takes no argument"},
		{"a calibration for no site", []string{"probes", "calibrate", "28-000001318252"}, exitUsage, "-c SITE"},
		{"probes of a site that is not there", []string{"probes", "list", "-c", "/no/such"}, exitConfig, "/no/such"},
		{"a hand on no board", []string{"probes", "touch", "--sysfs", empty}, exitFailed, "there is no thermometer below " + empty},
		{"a board with nothing", []string{"probes", "list", "--sysfs", empty}, exitOK, "1-Wire: no bus"},
		{"a word too many for a part of a verb", []string{"relays", "off", "now"}, exitUsage, "restpoint relays off --help"},
		{"probes of a folder that is not there", []string{"probes", "list", "--sysfs", "/no/such"}, exitUsage, "no such folder"},
		{"relays of no site", []string{"relays", "try"}, exitUsage, "-c SITE"},
		{"a speed of nothing", []string{"demo", "--speed", "0"}, exitUsage, "--speed"},
		{"an order without words", []string{"tell", "fv1"}, exitUsage, "tell"},
		{"an order that is none", []string{"tell", "fv1", "sing"}, exitUsage, `no order "sing"`},
		{"a target without a unit", []string{"tell", "fv1", "target", "20"}, exitUsage, "unit is missing"},
		{"nobody at the socket", []string{"status", "--socket", "/no/such.sock"}, exitFailed, "is it running"},
	} {
		code, out, errs := try(t, "", row.args...)
		if code != row.code || !strings.Contains(out+errs, row.says) {
			t.Errorf("%s: exit %d (want %d), said %q, want %q", row.name, code, row.code, out+errs, row.says)
		}
	}
}
