package strict_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"example.org/restpoint/profiles/strict"
)

// written is a value with the way it is written in a file.
type written struct{ value, yaml string }

// double writes a text in double quotes, every letter but the plain ones escaped.
func double(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		if r < ' ' || r == '"' || r == '\\' || r > '~' {
			fmt.Fprintf(&b, `\U%08X`, r)
		} else {
			b.WriteRune(r)
		}
	}
	return b.String() + `"`
}

func anyWritten() *rapid.Generator[written] {
	return rapid.Custom(func(t *rapid.T) written {
		s := rapid.StringOfN(rapid.RuneFrom([]rune("abcXYZ09 .:#'\"-[]{},&*!|>%@~üß酵🍺\\")), 1, 20, -1).Draw(t, "value")
		switch rapid.IntRange(0, 2).Draw(t, "style") {
		case 0:
			return written{s, "'" + strings.ReplaceAll(s, "'", "''") + "'"}
		case 1:
			return written{s, `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(s) + `"`}
		}
		return written{s, double(s)}
	})
}

// Any keys with any texts read back as what was meant, in block and flow style.
func TestAnyMapReadsBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		entries := rapid.MapOfN(rapid.StringMatching(`[a-z][a-z0-9-]{0,12}`), anyWritten(), 1, 8).Draw(t, "entries")
		flow, end := rapid.Bool().Draw(t, "flow"), rapid.SampledFrom([]string{"\n", "\r\n"}).Draw(t, "line end")
		var parts []string
		for k, w := range entries {
			parts = append(parts, k+": "+w.yaml)
		}
		src := strings.Join(parts, end) + end
		if flow {
			src = "{" + strings.Join(parts, ","+end+"  ") + "}" + end
		}
		d := strict.Open("f.yaml", []byte(src))
		m := d.Root()
		for k, w := range entries {
			v := m.Need(k)
			if got, want := v.Text(20), strings.TrimSpace(w.value); got != want && want != "" {
				t.Fatalf("%s in %q: read %q, want %q", k, src, got, want)
			}
			p := v.Place()
			line := []rune(strings.Split(src, "\n")[p.Line-1])
			if q := line[p.Column-1]; q != '"' && q != '\'' {
				t.Fatalf("%s in %q is said to stand at %d:%d, where %q is", k, src, p.Line, p.Column, q)
			}
		}
		m.Done()
		for _, w := range entries {
			if strings.TrimSpace(w.value) == "" {
				return // an empty text is refused
			}
		}
		if err := d.Err(); err != nil {
			t.Fatalf("%q: %v", src, err)
		}
	})
}

// Whatever is written, every problem lies inside the file, is shown with its
// line, and its caret stands within what is shown.
func TestAnyProblemLiesInsideTheFile(t *testing.T) {
	t.Parallel()
	words := []string{
		"name", "at", "steps", "lead", "token", "geheimnis", "19 C", "12,5 C", "x", "ü", "酵母", "null", "~", "true", "&a", "*a", "!", "!!str", "<<",
		":", ": ", ":\n", "- ", "\n", "\r\n", "\n  ", "\n- ", ", ", "{", "}", "[", "]", "'", `"`, "|\n  ", "#", " # ", "---\n", "\ufeff", "\t", "\x00", "\xe4", "%",
	}
	rapid.Check(t, func(t *rapid.T) {
		src := strings.Join(rapid.SliceOfN(rapid.SampledFrom(words), 0, 40).Draw(t, "words"), "")
		d := strict.Open("f.yaml", []byte(src))
		read(d)
		var list *strict.Problems
		if !errors.As(d.Err(), &list) {
			return
		}
		lines := strings.Split(strings.TrimPrefix(src, "\ufeff"), "\n")
		last := strict.Problem{}
		for _, p := range list.List {
			if p.Line < 1 || p.Line > len(lines) {
				t.Fatalf("%q: %v lies outside of its %d lines", src, p, len(lines))
			}
			if most := utf8.RuneCountInString(lines[p.Line-1]) + 1; p.Column < 1 || p.Column > most {
				t.Fatalf("%q: %v lies outside of its line of %d columns", src, p, most)
			}
			if p.Line < last.Line || p.Line == last.Line && p.Column < last.Column {
				t.Fatalf("%q: %v comes behind %v", src, p, last)
			}
			if p.Message == "" || p.Rule == "" || strings.ContainsAny(p.String(), "\n\x1b") {
				t.Fatalf("%q: bad problem %q", src, p.String())
			}
			last = p
		}
		if shown := list.Render(); !utf8.ValidString(shown) || strings.ContainsAny(shown, "\x00\t\r\x1b") {
			t.Fatalf("%q: shown as %q", src, shown)
		}
	})
}
