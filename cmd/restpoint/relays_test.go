package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
)

// wired writes a site whose relays are files, and gives its path and folder.
func wired(t *testing.T) (sitePath, folder string) {
	t.Helper()
	folder = t.TempDir()
	for _, name := range []string{"heat", "shell", "cone", "chiller"} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte("1\n"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	sitePath = filepath.Join(folder, "site.yaml")
	text := fmt.Sprintf(`site: x
record: %[1]s/record.db
socket: %[1]s/socket
plant: {chiller: {file: %[1]s/chiller, compressor: {}}, serves: [fv1]}
vessels:
  - name: fv1
    volume: 60 L
    thermowell: {file: %[1]s/beer}
    heat: {file: %[1]s/heat, heater: {}}
    cool:
      zones:
        - {name: shell, use: above 4 C, file: %[1]s/shell, valve: {}}
        - {name: cone, use: below 4 C, file: %[1]s/cone, pump: {}}
`, folder)
	if err := os.WriteFile(sitePath, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return sitePath, folder
}

// talk runs one command line with an answering person, in a time that passes by
// itself.
func talk(t *testing.T, answers string, args ...string) (code int, out, errs string) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		var o, e bytes.Buffer
		code = run(t.Context(), env{in: strings.NewReader(answers), out: &o, err: &e}, args)
		out, errs = o.String(), e.String()
	})
	return code, out, errs
}

func TestEveryRelayHasItsTurnAndIsOffAfterwards(t *testing.T) {
	sitePath, folder := wired(t)
	code, out, errs := talk(t, "yes\nright\nyes\nright\nno\nunplugged\nright\n", "relays", "try", "-c", sitePath, "--for", "1 s")
	if code != exitOK {
		t.Fatalf("exit %d: %s\n%s", code, errs, out)
	}
	for _, name := range []string{"heat", "shell", "chiller"} {
		if text, err := os.ReadFile(filepath.Join(folder, name)); err != nil || string(text) != "0\n" {
			t.Errorf("%s holds %q, %v", name, text, err)
		}
	}
	record, err := os.ReadFile(filepath.Join(folder, "commissioning.csv"))
	if err != nil || strings.Count(string(record), ",right\n") != 3 || strings.Contains(string(record), "cone") {
		t.Errorf("the record:\n%s", record)
	}
	code, out, _ = try(t, "", "relays", "list", "-c", sitePath)
	if code != exitOK || strings.Count(out, "never tried") != 1 || strings.Count(out, ": right") != 3 ||
		!strings.Contains(out, "fv1 cool cone\n  on "+folder+"/cone; pump, rests 30 s, runs 15 s at least\n  never tried\n") {
		t.Errorf("list, exit %d:\n%s", code, out)
	}
}

func TestATrialThatGoesWrongIsSaid(t *testing.T) {
	sitePath, folder := wired(t)
	for name, row := range map[string]struct {
		answers string
		args    []string
		code    int
		says    string
	}{
		"another relay":                   {"yes\nother\n", []string{"fv1", "heat"}, exitFailed, "not as the site file says: fv1 heat (other)"},
		"a relay that is not there":       {"", []string{"fv9 heat"}, exitUsage, `there is no relay "fv9 heat"; relays are fv1 heat, fv1 cool shell, fv1 cool cone, chiller`},
		"a pulse that is none":            {"", []string{"--for", "2"}, exitUsage, `--for "2": a time from 1 s to 30 s is needed`},
		"a pulse that cooks":              {"", []string{"--for", "10 min"}, exitUsage, "1 s to 30 s"},
		"nobody is there":                 {"", nil, exitFailed, "no answer"},
		"a record that cannot be written": {"yes\nright\n", []string{"fv1 heat", "--record", folder + "/heat/x"}, exitFailed, "commissioning record"},
	} {
		code, out, errs := talk(t, row.answers, append([]string{"relays", "try", "-c", sitePath}, row.args...)...)
		if code != row.code || !strings.Contains(errs, row.says) {
			t.Errorf("%s: exit %d, %s\n%s", name, code, errs, out)
		}
	}
	if text, _ := os.ReadFile(filepath.Join(folder, "heat")); string(text) != "0\n" {
		t.Errorf("the heater holds %q", text)
	}
}
