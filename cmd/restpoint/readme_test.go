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
	const begin, end = "<!-- metrics: held by a test -->\n", "<!-- end of metrics -->"
	text, err := os.ReadFile(readmePath)
	if err != nil {
		t.Fatal(err)
	}
	before, rest, ok := strings.Cut(string(text), begin)
	got, after, ok2 := strings.Cut(rest, end)
	if !ok || !ok2 {
		t.Fatal("the README has no place for the metrics")
	}
	var want strings.Builder
	want.WriteString("\n| metric | type | unit | labels | meaning |\n|---|---|---|---|---|\n")
	for _, r := range metrics.Table() {
		fmt.Fprintf(&want, "| `%s` | %s | %s | %s | %s |\n", strings.TrimPrefix(r.Name, "restpoint_"), r.Type, r.Unit, strings.Join(r.Labels, ", "), r.Help)
	}
	want.WriteString("\n")
	if got == want.String() {
		return
	}
	if !*update {
		t.Fatal("the table of metrics in the README is not the program's; run with -update")
	}
	if err := os.WriteFile(readmePath, []byte(before+begin+want.String()+end+after), 0o644); err != nil {
		t.Fatal(err)
	}
}

// The schedule that the README shows is sound, and every verb it names exists.
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
	verbs := map[string]bool{}
	for _, c := range NewRoot(env{}).Commands() {
		verbs[c.Name()] = true
	}
	for line := range strings.SplitSeq(string(text), "\n") {
		if words := strings.Fields(line); len(words) > 1 && words[0] == "restpoint" && strings.HasPrefix(line, "    ") && !verbs[words[1]] {
			t.Errorf("the README names the verb %q", words[1])
		}
	}
}
