package profiles_test

import (
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.org/restpoint/profiles"
	"example.org/restpoint/profiles/strict"
)

// updating is set by -update: the golden files are then written, not read.
func updating() bool { return flag.Lookup("update").Value.String() == "true" }

func TestMain(m *testing.M) {
	flag.Bool("update", false, "write the golden files")
	os.Exit(m.Run())
}

// golden compares a text with a file that people have read.
func golden(t *testing.T, name, got string) {
	t.Helper()
	if updating() {
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

func files(t *testing.T, pattern string) []string {
	t.Helper()
	names, err := filepath.Glob(pattern)
	if err != nil || len(names) == 0 {
		t.Fatalf("no files %s: %v", pattern, err)
	}
	return names
}

// TestEveryBadFileIsRefusedInItsWords runs one file a mistake. What each says
// stands beside it, and every rule that the package has must be met by one.
func TestEveryBadFileIsRefusedInItsWords(t *testing.T) {
	t.Parallel()
	seen := map[strict.Rule]bool{}
	for _, name := range files(t, "testdata/invalid/*.yaml") {
		src, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		s, warnings, err := profiles.Parse(filepath.Base(name), src)
		var problems *strict.Problems
		if !errors.As(err, &problems) {
			t.Errorf("%s is accepted: %v", name, err)
			continue
		}
		if s != nil || warnings != nil {
			t.Errorf("%s: half a schedule came with the problems", name)
		}
		for _, p := range problems.List {
			seen[p.Rule] = true
		}
		golden(t, strings.TrimSuffix(name, ".yaml")+".want", problems.Render())
	}
	for _, rule := range profiles.Rules() {
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

func TestEveryWantHasItsFile(t *testing.T) {
	t.Parallel()
	for _, name := range files(t, "testdata/invalid/*.want") {
		if _, err := os.Stat(strings.TrimSuffix(name, ".want") + ".yaml"); err != nil {
			t.Error(err)
		}
	}
}
