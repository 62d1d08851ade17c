package main

import (
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/alarms"
)

const guidePath = "../../deploy/GUIDE.md"

// held compares the part of a document between two remarks with what the program
// has, or writes it anew with -update.
func held(t *testing.T, path, what, want string) {
	t.Helper()
	begin, end := "<!-- "+what+": held by a test -->\n", "<!-- end of "+what+" -->"
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	before, rest, ok := strings.Cut(string(text), begin)
	got, after, ok2 := strings.Cut(rest, end)
	if !ok || !ok2 {
		t.Fatalf("%s has no place for the %s", path, what)
	}
	if got == want {
		return
	}
	if !*update {
		t.Errorf("the %s in %s are not the program's; run with -update", what, path)
		return
	}
	if err := os.WriteFile(path, []byte(before+begin+want+end+after), 0o644); err != nil {
		t.Fatal(err)
	}
}

func TestTheGuideListsEveryMarkAndAlarm(t *testing.T) {
	var marks, table strings.Builder
	marks.WriteString("\n| mark | expected end | its spread | the gravity | why |\n|---|---|---|---|---|\n")
	for _, k := range controller.MarkKinds() {
		e, _ := k.Does()
		lower, wider, moves := "stays", "stays", "goes on"
		if e.Lower > 0 {
			lower = fmt.Sprintf("%g points lower", e.Lower)
		}
		if e.Wider != 1 {
			wider = fmt.Sprintf("%g times", e.Wider)
		}
		if e.Moves {
			moves = "is read anew"
		}
		fmt.Fprintf(&marks, "| `%s` | %s | %s | %s | %s |\n", k, lower, wider, moves, e.Why)
	}
	marks.WriteString("\n")
	table.WriteString("\n| alarm | priority | cause | if nothing is done | do | there is |\n|---|---|---|---|---|---|\n")
	for _, r := range alarms.Table() {
		wakes := ""
		if r.Wakes {
			wakes = ", wakes"
		}
		fmt.Fprintf(&table, "| `%s` | %s%s | %s | %s | %s | %s |\n", r.ID, r.Priority, wakes, r.Cause, r.Consequence, r.Do, r.Time)
	}
	table.WriteString("\n")
	held(t, guidePath, "marks", marks.String())
	held(t, guidePath, "alarms", table.String())
}

// Every command line that a document shows is one: the verb is there, its flags
// are, and an order can be understood.
func TestEveryCommandOfTheDocumentsIsOne(t *testing.T) {
	shown := regexp.MustCompile("(?m)^ {4,}(restpoint .*)$|`(restpoint [^`]*)`")
	for _, path := range []string{readmePath, guidePath} {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		found := 0
		for _, m := range shown.FindAllStringSubmatch(string(text), -1) {
			line, _, _ := strings.Cut(m[1]+m[2], "   ")
			found++
			cmd, rest, err := NewRoot(env{}).Find(strings.Fields(line)[1:])
			if err != nil || !cmd.HasParent() {
				t.Errorf("%s: %q is no command: %v", path, line, err)
				continue
			}
			if err := cmd.ParseFlags(rest); err != nil {
				t.Errorf("%s: %q: %v", path, line, err)
			}
			if words := cmd.Flags().Args(); cmd.Name() == "tell" && !strings.Contains(line, "KIND") && !strings.Contains(line, "...") {
				if _, err := controller.ParseVerb(strings.Fields(strings.ReplaceAll(strings.Join(words[1:], " "), `"`, ""))); err != nil {
					t.Errorf("%s: %q: %v", path, line, err)
				}
			}
		}
		if found < 10 {
			t.Errorf("%s shows %d commands only", path, found)
		}
	}
}

// The schedule of the guide is sound, and nothing in it is doubtful.
func TestTheGuidesScheduleIsSound(t *testing.T) {
	text, err := os.ReadFile(guidePath)
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(text), "```yaml\n")
	schedule, _, ok := strings.Cut(rest, "```")
	if !ok {
		t.Fatal("the guide shows no schedule")
	}
	path := t.TempDir() + "/my-ale.yaml"
	if err := os.WriteFile(path, []byte(schedule), 0o600); err != nil {
		t.Fatal(err)
	}
	if code, out, errs := try(t, "", "check", path); code != exitOK || errs != "" {
		t.Errorf("exit %d\n%s%s", code, out, errs)
	}
}
