package strict_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"example.org/restpoint/profiles/strict"
)

// problems gives what is wrong with a document, to be looked at one by one.
func problems(t *testing.T, d *strict.Doc) *strict.Problems {
	t.Helper()
	var list *strict.Problems
	if !errors.As(d.Err(), &list) {
		t.Fatal("no problem found")
	}
	return list
}

// wrongEverywhere reports every value of a file by its path, whatever it is, so
// that each place can be compared with what an editor shows.
func wrongEverywhere(m *strict.Map, lists, keys map[string][]string) {
	for _, key := range keys[m.Path()] {
		at := m.Opt(key)
		path := at.Path()
		switch {
		case keys[path] != nil:
			wrongEverywhere(at.Map("keys"), lists, keys)
		case lists[path] != nil:
			for _, item := range at.List("a list") {
				item.Fail("mine", "item")
			}
		default:
			at.Fail("mine", "value")
		}
	}
}

func TestAPlaceIsWhatAnEditorShows(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ name, src, want string }{
		{"keys of a block", "a: 1\ngroup:\n  b:   2\n", "1:4 a\n3:8 group.b"},
		{"keys deeper in a block", "group:\n  deep:\n      c: 3\n", "3:10 group.deep.c"},
		{"keys in flow style", "group: {b: 2, deep: {c: 3}}\n", "1:12 group.b\n1:25 group.deep.c"},
		{"keys in flow style over several lines", "group: {b: 2,\n  deep: {\n c: 3}}\n", "1:12 group.b\n3:5 group.deep.c"},
		{"keys of JSON", `{"group":{"b": 2}}` + "\n", "1:16 group.b"},
		{"items of a block", "list:\n  - 4\n  -   5\n", "2:5 list[1]\n3:7 list[2]"},
		{"items without an indent", "list:\n- 4\n- 5\n", "2:3 list[1]\n3:3 list[2]"},
		{"items in flow style", "list: [4,   5,\n 6]\n", "1:8 list[1]\n1:13 list[2]\n2:2 list[3]"},
		{"lines that end as on other systems", "a: 1\r\ngroup:\r\n  b: 2\r\n", "1:4 a\n3:6 group.b"},
		{"comments and empty lines before", "# one\n\n# two\n\na: 1 # three\n", "5:4 a"},
		{"a document mark before", "---\na: 1\n", "2:4 a"},
		{"a value on the line below", "a:\n  1\n", "2:3 a"},
		{"a text in quotes begins at the quote", "a: \"x\"\ngroup: {b: 'y'}\n", "1:4 a\n2:12 group.b"},
		{"a text of several lines begins at its sign", "a: |\n  x\n  y\ngroup: {b: 2}\n", "1:4 a\n4:12 group.b"},
		{"letters of two bytes before count once", "{ö: ü, a: 1}\n", "1:11 a"},
		{"letters of three bytes before count once", "{ビール: 酵母, a: 1}\n", "1:14 a"},
		{"signs of four bytes before count once", "{x: 🍺🍺, a: 1}\n", "1:12 a"},
		{"a mark of the order of bytes is no column", "\ufeffa: 1\n", "1:4 a"},
		{"a mark of the order of bytes before flow style", "\ufeff{a: 1, group: {b: 2}}\n", "1:5 a\n1:19 group.b"},
		{"a very long line", "{" + strings.Repeat(" ", 3000) + "a: 1}\n", "1:3005 a"},
		{"no line end at the end", "a: 1", "1:4 a"},
	} {
		d := strict.Open("a.yaml", []byte(row.src))
		wrongEverywhere(d.Root(), map[string][]string{"list": {}}, map[string][]string{
			"": {"a", "group", "list"}, "group": {"b", "deep"}, "group.deep": {"c"},
		})
		if d.Err() == nil {
			t.Errorf("%s: nothing was found", row.name)
			continue
		}
		var got []string
		for _, p := range problems(t, d).List {
			got = append(got, fmt.Sprintf("%d:%d %s", p.Line, p.Column, p.Path))
			if at := d.Where(p.Path); at.Line != p.Line || at.Column != p.Column {
				t.Errorf("%s: %s is said to be at %v:%d", row.name, p.Path, at, at.Column)
			}
		}
		if s := strings.Join(got, "\n"); s != row.want {
			t.Errorf("%s:\n got %s\nwant %s", row.name, s, row.want)
		}
	}
}

func TestItemsOfListsInListsAreCountedFromOne(t *testing.T) {
	t.Parallel()
	for name, src := range map[string]string{
		"in flow style":  "all: [[x, y], [z, [u, v]]]\n",
		"in block style": "all:\n  - - x\n    - y\n  - - z\n    - - u\n      - v\n",
	} {
		d := strict.Open("a.yaml", []byte(src))
		m := d.Root()
		outer := m.Need("all").List("a list")
		inner := outer[1].List("a list")
		innermost := inner[1].List("a list")
		if len(outer) != 2 || len(inner) != 2 || len(innermost) != 2 {
			t.Fatalf("%s: %d, %d and %d items", name, len(outer), len(inner), len(innermost))
		}
		innermost[1].Fail("mine", "this one")
		if p := problems(t, d).List[0]; p.Path != "all[2][2][2]" {
			t.Errorf("%s: the path is %s", name, p.Path)
		}
		at := d.Where("all[2][2][2]")
		if line := strings.Split(src, "\n")[at.Line-1]; []rune(line)[at.Column-1] != 'v' {
			t.Errorf("%s: found at %v:%d", name, at, at.Column)
		}
		if around := d.Where("all[2][2][9].x"); around != d.Where("all[2][2]") {
			t.Errorf("%s: what is not there is found at %v", name, around)
		}
	}
}

func TestAPlaceIsFoundInAnEmptyOrBrokenFile(t *testing.T) {
	t.Parallel()
	for name, src := range map[string]string{"empty": "", "broken": "a: [", "a tab": "a:\tb", "a single text": "hello"} {
		d := strict.Open("a.yaml", []byte(src))
		if got := d.Where("stages[1].name"); got != (strict.Place{File: "a.yaml", Line: 1, Column: 1}) {
			t.Errorf("%s: found at %v", name, got)
		}
		m := d.Root()
		v := m.Need("stages")
		if v.Given() || m.Given() && name != "a single text" || v.List("a list") != nil || v.Map("keys").Given() {
			t.Errorf("%s: something was read", name)
		}
		m.Done()
		if n := len(problems(t, d).List); n != 1 {
			t.Errorf("%s: %d problems, want the one of the file", name, n)
		}
	}
}

func TestProblemsOfOneLineStandInTheOrderOfColumns(t *testing.T) {
	t.Parallel()
	d := strict.Open("a.yaml", []byte("{a: 1, b: 2, c: 3}\n"))
	m := d.Root()
	c, a, b := m.Need("c"), m.Need("a"), m.Need("b")
	c.Fail("mine", "third")
	a.Fail("mine", "first")
	b.Fail("mine", "second")
	b.Fail("mine", "second again") // of one value the first counts
	m.Fail("mine", "whole")
	m.Fail("mine", "whole again") // of one place the first found comes first
	m.Done()
	want := "a.yaml:1:1: whole\na.yaml:1:1: whole again\na.yaml:1:5: a: first\na.yaml:1:11: b: second\na.yaml:1:17: c: third"
	if got := said(d); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

func TestALineIsShownWithTheCaretUnderTheCharacter(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ name, src, line, under string }{
		{"at the beginning", "zzz: 1\n", "    1 | zzz: 1", "      | ^"},
		{"behind letters of two bytes", "{ö: ü, zzz: 1}\n", "    1 | {ö: ü, zzz: 1}", "      |        ^"},
		{"behind letters of three bytes", "{ビ: 酵, zzz: 1}\n", "    1 | {ビ: 酵, zzz: 1}", "      |        ^"},
		{"behind a mark of the order of bytes", "\ufeff{ö: ü, zzz: 1}\n", "    1 | {ö: ü, zzz: 1}", "      |        ^"},
		{"behind the sign of a composed letter", "{x: e\u0301, zzz: 1}\n", "    1 | {x: e\u0301, zzz: 1}", "      |         ^"},
		{"with spaces at the end of the line", "{x: 1, zzz: 1}   \n", "    1 | {x: 1, zzz: 1}", "      |        ^"},
		{"with another line end", "x: 1\r\nzzz: 1\r\n", "    2 | zzz: 1", "      | ^"},
		{"in line 12", strings.Repeat("#\n", 11) + "zzz: 1\n", "   12 | zzz: 1", "      | ^"},
		{"in line 30000", strings.Repeat("#\n", 29999) + "zzz: 1\n", "30000 | zzz: 1", "      | ^"},
		{"with a character without a shape", "{x: a\u200bb, zzz: 1}\n", "    1 | {x: a?b, zzz: 1}", "      |          ^"},
	} {
		d := strict.Open("a.yaml", []byte(row.src))
		m := d.Root()
		m.Opt("x")
		m.Opt("ö")
		m.Opt("ビ")
		m.Done()
		list := problems(t, d)
		out := strings.Split(strings.TrimSuffix(list.Render(), "\n"), "\n")
		if len(out) != 3 || out[1] != row.line || out[2] != row.under {
			t.Errorf("%s: shown as\n%s\nwant\n%s\n%s", row.name, list.Render(), row.line, row.under)
		}
	}
}

func TestAProblemOfTextItselfIsShownWithItsLine(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ name, src, want string }{
		{"a tab between words", "name:\tx\n", "a.yaml:1:6: there is a tab; write spaces, also between words\n    1 | name:?x\n      |      ^\n"},
		{"a tab before a key", "a:\n\tb: 1\n", "a.yaml:2:1: there is a tab; write spaces, also between words\n    2 | ?b: 1\n      | ^\n"},
		{"a tab behind letters of two bytes", "ö: ü\tx\n", "a.yaml:1:5: there is a tab; write spaces, also between words\n    1 | ö: ü?x\n      |     ^\n"},
		{"a terminal escape is not sent to the terminal", "a: 1\nb: \x1b[2J\n", "a.yaml:2:4: there is a character that cannot be seen (U+001B); only text and line ends are allowed\n    2 | b: ?[2J\n      |    ^\n"},
		{"another encoding", "a: Br\xe4u\n", "a.yaml:1:6: the file is not text in UTF-8; save it as UTF-8\n    1 | a: Br?u\n      |      ^\n"},
		{"a byte of nothing", "a: \x00\n", "a.yaml:1:4: there is a character that cannot be seen (U+0000); only text and line ends are allowed\n    1 | a: ?\n      |    ^\n"},
		{"an empty file has no line to show but its first", "", "a.yaml:1:1: the file is empty\n"},
	} {
		got := problems(t, strict.Open("a.yaml", []byte(row.src))).Render()
		if row.src == "" {
			if !strings.HasPrefix(got, row.want) {
				t.Errorf("%s: %s", row.name, got)
			}
			continue
		}
		if got != row.want {
			t.Errorf("%s:\n got %q\nwant %q", row.name, got, row.want)
		}
	}
}

// The cut of a long line always shows the place, in at most 80 columns, whatever
// the column is.
func TestEveryPlaceOfALongLineIsShown(t *testing.T) {
	t.Parallel()
	for before := 1; before < 300; before++ {
		src := "{" + strings.Repeat("ü", before) + ": 1, zzz: 2, " + strings.Repeat("y", 100) + ": 3}\n"
		d := strict.Open("a.yaml", []byte(src))
		m := d.Root()
		if v := m.Opt("zzz"); v.Given() {
			v.FailKey("mine", "here")
		}
		out := strings.Split(problems(t, d).Render(), "\n")
		line, caret := []rune(out[1]), []rune(out[2])
		if len(line) > 80 || len(caret) > 80 {
			t.Fatalf("%d before: %d and %d columns", before, len(line), len(caret))
		}
		if at := len(caret) - 1; caret[at] != '^' || at >= len(line) || string(line[at-1:at+1]) != " z" {
			t.Fatalf("%d before:\n%s\n%s", before, out[1], out[2])
		}
	}
}

func TestExactlyAHundredProblemsAreListed(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ wrong, listed, more int }{{1, 1, 0}, {99, 99, 0}, {100, 100, 0}, {101, 100, 1}, {250, 100, 150}} {
		var src strings.Builder
		for i := range row.wrong {
			fmt.Fprintf(&src, "k%d: x\n", i)
		}
		d := strict.Open("a.yaml", []byte(src.String()))
		d.Root().Done()
		list := problems(t, d)
		if len(list.List) != row.listed || list.More != row.more {
			t.Errorf("%d wrong: %d listed, %d more", row.wrong, len(list.List), list.More)
		}
		if list.List[row.listed-1].Line != row.listed {
			t.Errorf("%d wrong: the last listed stands in line %d", row.wrong, list.List[row.listed-1].Line)
		}
		said := fmt.Sprintf("and %d more problems", row.more)
		if strings.HasSuffix(list.Error(), said) != (row.more > 0) || strings.HasSuffix(list.Render(), said+"\n") != (row.more > 0) {
			t.Errorf("%d wrong: ends with %q", row.wrong, list.Error()[max(0, len(list.Error())-40):])
		}
	}
}

func TestASecretIsStarredOutWhereverItIsShown(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ name, src string }{
		{"plain", "{token: geheim77, zzz: 1}\n"},
		{"in double quotes", "{token: \"geheim77\", zzz: 1}\n"},
		{"in single quotes", "{token: 'geheim77', zzz: 1}\n"},
		{"after the problem", "{zzz: 1, token: geheim77}\n"},
		{"twice on the line", "{token: geheim77, zzz: geheim77}\n"},
		{"on another line as well", "token: geheim77\nzzz: geheim77\n"},
		{"too long", "token: geheim77geheim77geheim77\n"},
		{"with a space around", "{token: \" geheim77 \", zzz: 1}\n"},
		{"written with an escape", "{token: \"gehei\\u006d77\", zzz: 1}\n"},
		{"written with a doubled quote", "{token: 'it''s-geheim77', zzz: 1}\n"},
		{"folded over two lines", "{token: \"geheim77\n  geheim77\", zzz: 1}\n"},
		{"as a block", "token: |\n  geheim77\n  geheim77\nzzz: geheim77\n"},
	} {
		d := strict.Open("a.yaml", []byte(row.src))
		m := d.Root()
		m.Need("token").Secret(20)
		m.Done()
		shown := problems(t, d).Render()
		if strings.Contains(shown, "geheim") || strings.Contains(shown, "gehei") || strings.Contains(shown, "77") {
			t.Errorf("%s: shown as\n%s", row.name, shown)
		}
		if !strings.Contains(shown, "*") {
			t.Errorf("%s: nothing is starred out:\n%s", row.name, shown)
		}
	}
}

func TestStarsKeepTheCaretInItsPlace(t *testing.T) {
	t.Parallel()
	d := strict.Open("a.yaml", []byte("{token: geheimnüs, zzz: 1}\n"))
	m := d.Root()
	if got := m.Need("token").Secret(20); got != "geheimnüs" {
		t.Errorf("read as %q", got)
	}
	m.Done()
	want := "a.yaml:1:20: unknown key \"zzz\"; allowed: token\n    1 | {token: *********, zzz: 1}\n      |                    ^\n"
	if got := problems(t, d).Render(); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

func TestABareTagIsFoundBehindAMarkOfTheOrderOfBytes(t *testing.T) {
	t.Parallel()
	d := strict.Open("a.yaml", []byte("\ufeff{x: ! 1, y: 2!}\n"))
	if got, want := said(d), `a.yaml:1:5: x: a tag ("!") is not allowed; put a text in quotes`; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}
