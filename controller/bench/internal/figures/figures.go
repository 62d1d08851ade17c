// Package figures counts many cases at once, and keeps the tables that come of it in
// DEVELOPERS.md at what is found today.
// It judges nothing.
package figures

import (
	"io"
	"os"
	"strings"
	"testing"
)

// Held compares the part of DEVELOPERS.md between the marks of this name with what
// is written now, or writes it anew.
func Held(t testing.TB, name string, update bool, write func(io.Writer) error) {
	t.Helper()
	const path = "../../../DEVELOPERS.md"
	begin, end := "<!-- "+name+": held by a test -->\n", "<!-- end of "+name+" -->"
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	before, rest, _ := strings.Cut(string(text), begin)
	got, after, ok := strings.Cut(rest, end)
	if !ok {
		t.Fatalf("DEVELOPERS.md has no place for the tables of %s", name)
	}
	var want strings.Builder
	if err := write(&want); err != nil {
		t.Fatal(err)
	}
	switch {
	case got == want.String():
	case update:
		if err := os.WriteFile(path, []byte(before+begin+want.String()+end+after), 0o644); err != nil { //nolint:gosec // a document
			t.Fatal(err)
		}
	default:
		t.Errorf("what DEVELOPERS.md tells of %s is not today's; run with -update\n%s", name, want.String())
	}
}
