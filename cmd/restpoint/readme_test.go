package main

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"example.org/restpoint/metrics"
)

const readmePath = "../../README.md"

// The table of metrics in the README is the program's own. With -update it is
// written anew.
func TestReadmeListsEveryMetric(t *testing.T) {
	var want strings.Builder
	want.WriteString("\n| metric | type | unit | labels | meaning |\n|---|---|---|---|---|\n")
	for _, r := range metrics.Table() {
		fmt.Fprintf(&want, "| `%s` | %s | %s | %s | %s |\n", strings.TrimPrefix(r.Name, "restpoint_"), r.Type, r.Unit, strings.Join(r.Labels, ", "), r.Help)
	}
	want.WriteString("\n")
	held(t, readmePath, "metrics", want.String())
}

// The schedule that the README shows is sound.
func TestReadmeIsTrue(t *testing.T) {
	text, err := os.ReadFile(readmePath)
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(text), "```yaml\n")
	schedule, _, ok := strings.Cut(rest, "```")
	if !ok {
		t.Fatal("the README shows no schedule")
	}
	path := t.TempDir() + "/my-ale.yaml"
	if err := os.WriteFile(path, []byte(schedule), 0o600); err != nil {
		t.Fatal(err)
	}
	if code, out, errs := try(t, "", "check", path); code != exitOK {
		t.Errorf("the README's schedule: exit %d\n%s%s", code, out, errs)
	}
}
