package main

import (
	"encoding/json"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

func TestCheckFindsEveryFault(t *testing.T) {
	site := put(t, "site.yaml", stepSite)
	small := put(t, "small.yaml", strings.Replace(stepSite, "    suck-back: co2-supply", "    limits: {lowest: 4 C, highest: 30 C}", 1))
	dir := t.TempDir()
	twice := filepath.Join(dir, "two.yaml")
	if err := os.WriteFile(twice, []byte("schedule: x\nwort: {original-gravity: 1.0, final-gravity: 1.010}\nstages:\n  - name: a\n    knd: fill\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		name string
		args []string
		code int
		says []string
	}{
		{"a sound site", []string{"-c", site}, exitOK, []string{`site "pipe" is sound: 1 vessels`}},
		{"sound schedules", []string{"pale-ale-with-rest", "cool-lager"}, exitOK, []string{`schedule "pale-ale-with-rest" is sound: 5 stages`, `schedule "cool-lager" is sound`}},
		{"both together", []string{"-c", site, "pale-ale-with-rest"}, exitOK, []string{"site", "schedule"}},
		{"a schedule too cold for a vessel", []string{"-c", small, "pale-ale-with-rest"}, exitConfig, []string{"1.0 C is below the lowest temperature of the vessel fv1", "small.yaml:9"}},
		{"many faults are said at once", []string{twice}, exitConfig, []string{"two.yaml:5:5", `"kind" is probably meant`, "two.yaml:2"}},
		{"a site file for a schedule", []string{site}, exitConfig, []string{"schedule"}},
		{"a folder for a file", []string{"-c", dir}, exitConfig, []string{dir}},
	} {
		code, out, errs := try(t, "", append([]string{"check"}, row.args...)...)
		if code != row.code {
			t.Errorf("%s: exit %d, want %d: %s%s", row.name, code, row.code, out, errs)
		}
		for _, says := range row.says {
			if !strings.Contains(out+errs, says) {
				t.Errorf("%s: did not say %q: %s%s", row.name, says, out, errs)
			}
		}
	}
}

func TestExplainSaysEveryStage(t *testing.T) {
	code, out, errs := try(t, "", "explain", "pale-ale-with-rest")
	if code != exitOK || !strings.Contains(errs, "warning: pale-ale-with-rest:22:30") {
		t.Errorf("exit %d, %s", code, errs)
	}
	for _, says := range []string{"fill", "primary", "diacetyl rest", "crash", "cold hold", "6 points or fewer"} {
		if !strings.Contains(out, says) {
			t.Errorf("it does not say %q:\n%s", says, out)
		}
	}
	if code, other, _ := try(t, "", "explain", put(t, "own.yaml", schedule(t))); code != exitOK || other != out {
		t.Errorf("the same schedule from a file: exit %d\n%s", code, other)
	}
}

func TestVersionSaysWhichProgramThisIs(t *testing.T) {
	code, out, _ := try(t, "", "version", "--json")
	var v map[string]string
	if err := json.Unmarshal([]byte(out), &v); err != nil || code != exitOK {
		t.Fatalf("exit %d, %v, %s", code, err, out)
	}
	if v["os"] != runtime.GOOS || v["arch"] != runtime.GOARCH || v["go"] != runtime.Version() || v["version"] == "" || v["revision"] == "" || len(v) != 5 {
		t.Errorf("%v", v)
	}
	code, text, _ := try(t, "", "version")
	if want := fmt.Sprintf("restpoint %s (revision %s, %s, %s/%s)\n", v["version"], v["revision"], v["go"], v["os"], v["arch"]); code != exitOK || text != want {
		t.Errorf("exit %d, %q, want %q", code, text, want)
	}
}

// relayFiles is a site with a relay in a file for each name, all of them on.
func relayFiles(t *testing.T, vessels int) (site string, files []string) {
	t.Helper()
	dir := t.TempDir()
	var b strings.Builder
	b.WriteString("site: files\nvessels:\n")
	for i := range vessels {
		for _, role := range []string{"cool", "heat"} {
			path := filepath.Join(dir, fmt.Sprintf("fv%d-%s", i+1, role))
			if err := os.WriteFile(path, []byte("1\n"), 0o600); err != nil {
				t.Fatal(err)
			}
			files = append(files, path)
		}
		fmt.Fprintf(&b, "  - name: fv%d\n    volume: 60 L\n    thermowell: {file: %s/temp%d}\n    cool: {file: %s, valve: {}}\n    heat: {file: %s, ssr: {}}\n    suck-back: co2-supply\n",
			i+1, dir, i, files[2*i], files[2*i+1])
	}
	site = filepath.Join(dir, "site.yaml")
	if err := os.WriteFile(site, []byte(b.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	return site, files
}

func content(t *testing.T, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return strings.TrimSpace(string(text))
}

func TestRelaysOff(t *testing.T) {
	site, files := relayFiles(t, 2)
	code, out, errs := try(t, "", "relays", "off", "-c", site)
	if code != exitOK || !strings.HasPrefix(out, "4 relays are off.") {
		t.Errorf("exit %d, %s%s", code, out, errs)
	}
	for _, f := range files {
		if got := content(t, f); got != "0" {
			t.Errorf("%s is %q", f, got)
		}
	}
}

// One relay that cannot be reached must not leave the others on.
func TestRelaysOffGoesOnPastABrokenOne(t *testing.T) {
	for gone := range 4 {
		site, files := relayFiles(t, 2)
		if err := os.Remove(files[gone]); err != nil {
			t.Fatal(err)
		}
		code, out, errs := try(t, "", "relays", "off", "-c", site)
		if code != exitFailed || !strings.Contains(errs, files[gone]) || strings.Contains(out, "4 relays") {
			t.Errorf("%s is gone: exit %d, %q, %q", files[gone], code, out, errs)
		}
		for i, f := range files {
			if i != gone && content(t, f) != "0" {
				t.Errorf("%s is gone, and %s stays on", files[gone], f)
			}
		}
	}
}

// A socket of an earlier run gives way; anything else at its place is not ours to
// remove.
func TestOnlyAnOldSocketGivesWay(t *testing.T) {
	path := filepath.Join(t.TempDir(), "s")
	for range 2 { // the second finds the first one's
		l, err := listenSocket(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		if u, ok := l.(*net.UnixListener); ok {
			u.SetUnlinkOnClose(false)
		}
		info, err := os.Stat(path)
		if err != nil || info.Mode().Perm() != 0o660 {
			t.Errorf("%v %v", info.Mode(), err)
		}
		if err := l.Close(); err != nil {
			t.Error(err)
		}
	}
	notes := put(t, "notes.txt", "all my recipes")
	if l, err := listenSocket(t.Context(), notes); err == nil {
		t.Errorf("a file of somebody else's was taken: %v", l.Close())
	}
	if got := content(t, notes); got != "all my recipes" {
		t.Errorf("the file holds %q now", got)
	}
	if _, err := listenSocket(t.Context(), "/no/such/folder/s"); err == nil || !strings.Contains(err.Error(), "/no/such/folder/s") {
		t.Errorf("a folder that is not there: %v", err)
	}
}
