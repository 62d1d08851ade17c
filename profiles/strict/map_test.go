package strict_test

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"example.org/restpoint/profiles/strict"
)

// The cursor's answers, one file and one way of asking a row.
func TestTheKeysOfAMapAreAskedForAndAnswered(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name, src string
		ask       func(m *strict.Map) any
		want      any
		problems  string
	}{
		{"a key that must be there and is", "a: x\n", func(m *strict.Map) any { return m.Need("a").Line(9) }, "x", ""},
		{"a key that must be there and is not", "a: x\n", func(m *strict.Map) any { m.Opt("a"); return m.Need("b").Line(9) }, "", `1:1: the key "b" is missing`},
		{"a key that must be there and is empty is not missing too", "a:\n", func(m *strict.Map) any { return m.Need("a").Line(9) }, "", "1:3: a: has no value; needed is a text"},
		{"a key that may be there and is not", "a: x\n", func(m *strict.Map) any { m.Opt("a"); return m.Opt("b").Line(9) }, "", ""},
		{"a missing key that is misspelt is said once", "pints: 3\n", func(m *strict.Map) any { return m.Need("points").Given() }, false, `1:1: unknown key "pints"; "points" is probably meant; allowed: points`},
		{"two missing keys are both said", "a: x\n", func(m *strict.Map) any { m.Opt("a"); m.Need("bbbb"); m.Need("cccc"); return nil }, nil, "1:1: the key \"bbbb\" is missing\n1:1: the key \"cccc\" is missing"},
		{"a key asked for twice is read twice and known once", "a: x\nz: y\n", func(m *strict.Map) any { return m.Need("a").Line(9) + m.Opt("a").Line(9) }, "xx", `2:1: unknown key "z"; allowed: a`},
		{"every unknown key is said", "y: 1\nz: 2\n", func(m *strict.Map) any { m.Opt("aaa"); return nil }, nil, "1:1: unknown key \"y\"; allowed: aaa\n2:1: unknown key \"z\"; allowed: aaa"},
		{"a very long unknown key is cut", strings.Repeat("k", 60) + ": 1\n", func(m *strict.Map) any { m.Opt("a"); return nil }, nil, `1:1: unknown key "` + strings.Repeat("k", 40) + `..."; allowed: a`},
		{"keys in capitals are other keys", "A: x\n", func(m *strict.Map) any { return m.Opt("a").Given() }, false, `1:1: unknown key "A"; "a" is probably meant; allowed: a`},
		{"a quoted key is the same key", "\"a\": x\n", func(m *strict.Map) any { return m.Need("a").Line(9) }, "x", ""},
		{"a key that YAML takes for a number is a word", "12: x\n", func(m *strict.Map) any { return m.Need("12").Line(9) }, "x", ""},
		{"a key that YAML takes for true is a word", "yes: x\n", func(m *strict.Map) any { return m.Need("yes").Line(9) }, "x", ""},
		{"which keys are given, in the order of the file", "c: 1\na: 2\n", func(m *strict.Map) any { return m.Which("a", "b", "c") }, []string{"c", "a"}, ""},
		{"which keys are given when none is", "z: 1\n", func(m *strict.Map) any { m.Opt("z"); return len(m.Which("a", "b")) }, 0, ""},
		{"the one key that is given", "b: 2\n", func(m *strict.Map) any { k, v := m.One("mine", "a", "b"); return k + v.Line(9) }, "b2", ""},
		{"one key without a value is still the one", "b:\n", func(m *strict.Map) any { k, v := m.One("mine", "a", "b"); return k + v.Line(9) }, "b", "1:3: b: has no value; needed is a text"},
		{"two where one is needed", "b: 2\na: 1\n", func(m *strict.Map) any { k, v := m.One("mine", "a", "b"); return k + v.Line(9) }, "", "1:1: only one of a or b is allowed, and b and a are given"},
		{"three where one is needed", "{c: 1, b: 2, a: 3}\n", func(m *strict.Map) any { k, _ := m.One("mine", "a", "b", "c"); return k }, "", "1:1: only one of a, b or c is allowed, and c and b and a are given"},
		{"none where one is needed", "z: 1\n", func(m *strict.Map) any { m.Opt("z"); k, _ := m.One("mine", "aaa", "bbb"); return k }, "", "1:1: one of aaa or bbb is needed"},
		{"a misspelt one where one is needed is said by Done", "pints: 1\n", func(m *strict.Map) any { k, v := m.One("mine", "points", "share"); return k + v.Line(9) }, "", `1:1: unknown key "pints"; "points" is probably meant; allowed: points, share`},
		{"a key that is refused has its own words", "old: 1\n", func(m *strict.Map) any { return m.Refuse("old", "mine", "write %s", "new") }, true, "1:1: write new"},
		{"a key that is refused and not there", "a: 1\n", func(m *strict.Map) any { m.Opt("a"); return m.Refuse("old", "mine", "write new") }, false, ""},
		{"a refused key is not offered", "zzz: 1\n", func(m *strict.Map) any { m.Opt("a"); return m.Refuse("old", "mine", "write new") }, false, `1:1: unknown key "zzz"; allowed: a`},
		{"a key that nobody asked for may be misspelt", "untli: 1\n", func(m *strict.Map) any { got := m.Misspelt("until"); m.Opt("untli"); return got }, true, ""},
		{"a key that is known is not misspelt", "untli: 1\n", func(m *strict.Map) any { m.Opt("untli"); return m.Misspelt("until") }, false, ""},
		{"a key that is far is not misspelt", "target: 1\n", func(m *strict.Map) any { got := m.Misspelt("until"); m.Opt("target"); return got }, false, ""},
		{"a problem of the whole map stands where it begins", "\n\na: 1\n", func(m *strict.Map) any { m.Opt("a"); m.Fail("mine", "is %s", "odd"); return m.Path() }, "", "3:1: is odd"},
		{"a second copy of a key is neither read nor unknown", "a: x\na: y\n", func(m *strict.Map) any { return m.Need("a").Line(9) }, "x", "2:1: a: the key is given twice; it stands in line 1 already"},
		{"a third copy names the first", "a: x\na: y\n'a': z\n", func(m *strict.Map) any { return m.Need("a").Line(9) }, "x", "2:1: a: the key is given twice; it stands in line 1 already\n3:1: a: the key is given twice; it stands in line 1 already"},
	} {
		d := strict.Open("a.yaml", []byte(row.src))
		m := d.Root()
		if !m.Given() {
			t.Errorf("%s: no map: %s", row.name, said(d))
			continue
		}
		if got := row.ask(m); !reflect.DeepEqual(got, row.want) {
			t.Errorf("%s: answered %#v, want %#v", row.name, got, row.want)
		}
		m.Done()
		first, again := strings.ReplaceAll(said(d), "a.yaml:", ""), strings.ReplaceAll(said(d), "a.yaml:", "")
		if first != row.problems || again != first {
			t.Errorf("%s: problems\n%s\nwant\n%s", row.name, first, row.problems)
		}
	}
}

// names asks for all keys of a map and says what was answered.
func names(m *strict.Map) (said []string) {
	for _, e := range m.All() {
		said = append(said, e.Key+"="+e.Value.Line(9)+" at "+e.Value.Path())
	}
	return said
}

func TestKeysThatAreNamesAreGivenInTheOrderOfTheFile(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name, src string
		known     []string
		want      []string
		problems  string
	}{
		{"all of them", "28-b: x\n10-a: y\n", nil, []string{"28-b=x at 28-b", "10-a=y at 10-a"}, ""},
		{"but for those that are asked for", "on: z\n28-b: x\n", []string{"on"}, []string{"28-b=x at 28-b"}, ""},
		{"none", "on: z\n", []string{"on"}, nil, ""},
		{"one that is given twice comes once", "a: x\nb: y\na: z\n", nil, []string{"a=x at a", "b=y at b"}, "3:1: a: the key is given twice; it stands in line 1 already"},
		{"one without a value", "a:\n", nil, []string{"a= at a"}, "1:3: a: has no value; needed is a text"},
	} {
		d := strict.Open("a.yaml", []byte(row.src))
		m := d.Root()
		for _, k := range row.known {
			m.Opt(k)
		}
		if got := names(m); !slices.Equal(got, row.want) {
			t.Errorf("%s: %q, want %q", row.name, got, row.want)
		}
		if again := m.All(); len(again) > 0 {
			t.Errorf("%s: asked again, %d are not known", row.name, len(again))
		}
		m.Done()
		if got := strings.ReplaceAll(said(d), "a.yaml:", ""); got != row.problems {
			t.Errorf("%s: problems %q, want %q", row.name, got, row.problems)
		}
	}
	none := strict.Open("a.yaml", []byte("- a\n")).Root()
	if len(none.All()) > 0 {
		t.Error("a list has keys")
	}
}

// What stands in place of a map reads as nothing, and its keys are not missing.
func TestWhatIsNoMapIsSaidOnceAndReadsAsNothing(t *testing.T) {
	t.Parallel()
	for name, row := range map[string][2]string{
		"a text":        {"g: x\n", `a.yaml:1:4: g: "x" stands where a pair is needed`},
		"a number":      {"g: 12\n", `a.yaml:1:4: g: "12" stands where a pair is needed`},
		"a long text":   {"g: " + strings.Repeat("x", 60) + "\n", `a.yaml:1:4: g: "` + strings.Repeat("x", 40) + `..." stands where a pair is needed`},
		"a list":        {"g: [1]\n", `a.yaml:1:4: g: a list stands where a pair is needed`},
		"nothing":       {"g:\n", `a.yaml:1:3: g: has no value; needed is a pair`},
		"null":          {"g: null\n", `a.yaml:1:4: g: "null" is no value; needed is a pair`},
		"an empty text": {"g: ''\n", `a.yaml:1:4: g: "" stands where a pair is needed`},
	} {
		d := strict.Open("a.yaml", []byte(row[0]))
		root := d.Root()
		g := root.Need("g").Map("a pair")
		key, v := g.One("mine", "a", "b")
		g.Fail("mine", "unheard")
		if g.Given() || key != "" || v.Given() || g.Need("c").Given() || g.Which("a") != nil || g.Misspelt("a") || g.Refuse("a", "mine", "unheard") {
			t.Errorf("%s: something was read", name)
		}
		g.Done()
		root.Done()
		if got := said(d); got != row[1] {
			t.Errorf("%s: got %s\nwant %s", name, got, row[1])
		}
	}
}

func TestAListIsReadOrRefused(t *testing.T) {
	t.Parallel()
	for name, row := range map[string]struct {
		src, want string
		items     int
	}{
		"one item":      {"l: [1]\n", "", 1},
		"three items":   {"l:\n- 1\n- 2\n- 3\n", "", 3},
		"no items":      {"l: []\n", "a.yaml:1:4: l: the list is empty; needed is a list", 0},
		"a text":        {"l: 1, 2\n", `a.yaml:1:4: l: "1, 2" stands where a list is needed`, 0},
		"a map":         {"l: {a: 1}\n", "a.yaml:1:4: l: a group of keys stands where a list is needed", 0},
		"nothing":       {"l:\n", "a.yaml:1:3: l: has no value; needed is a list", 0},
		"null":          {"l: ~\n", `a.yaml:1:4: l: "~" is no value; needed is a list`, 0},
		"an empty item": {"l:\n- 1\n-\n", "a.yaml:3:2: l[2]: has no value; needed is a text", 2},
	} {
		d := strict.Open("a.yaml", []byte(row.src))
		items := d.Root().Need("l").List("a list")
		for _, v := range items {
			v.Line(9)
		}
		if got := said(d); got != row.want || len(items) != row.items {
			t.Errorf("%s: %d items, %s\nwant %d, %s", name, len(items), got, row.items, row.want)
		}
	}
}

func TestATextIsReadUpToItsLength(t *testing.T) {
	t.Parallel()
	const most = 6
	for _, row := range []struct{ name, src, text, line, wrong string }{
		{"exactly as long as allowed", "sixsix", "sixsix", "sixsix", ""},
		{"one letter more", "sevens7", "", "", `the text has 7 characters, and 6 are allowed`},
		{"as long in letters of two bytes", "üüüüüü", "üüüüüü", "üüüüüü", ""},
		{"one more in letters of two bytes", "üüüüüüü", "", "", `the text has 7 characters, and 6 are allowed`},
		{"spaces around do not count", "'  six   '", "six", "six", ""},
		{"nothing but spaces", "'   '", "", "", "the text is empty"},
		{"nothing but a line end", `"\n"`, "", "", "the text is empty"},
		{"two lines", `"a\nb"`, "a\nb", "", "the text must stand in one line"},
		{"a number is a text too", "12", "12", "12", ""},
		{"true is a text too", "true", "true", "true", ""},
		{"a quoted null is a text", "'null'", "null", "null", ""},
		{"a carriage return", `"a\rb"`, "", "", "the text holds a character that cannot be seen"},
		{"a tab that is escaped", `"a\tb"`, "", "", "the text holds a character that cannot be seen"},
		{"a bell", `"a\ab"`, "", "", "the text holds a character that cannot be seen"},
		{"a hash inside a word is no comment", "a#b", "a#b", "a#b", ""},
	} {
		d := strict.Open("a.yaml", []byte("x: "+row.src+"\n"))
		if got := d.Root().Need("x").Text(most); got != row.text {
			t.Errorf("%s: text %q, want %q (%s)", row.name, got, row.text, said(d))
		}
		d = strict.Open("a.yaml", []byte("x: "+row.src+"\n"))
		v := d.Root().Need("x")
		if got := v.Line(most); got != row.line || v.Good() != (row.wrong == "") {
			t.Errorf("%s: line %q, want %q", row.name, got, row.line)
		}
		if got := strings.TrimPrefix(said(d), "a.yaml:1:4: x: "); got != row.wrong {
			t.Errorf("%s: got %s, want %s", row.name, got, row.wrong)
		}
	}
}

func TestAWordOrFlagIsOneOfThoseAllowed(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ name, src, word, flag string }{
		{"exactly", "true", "true", "true"},
		{"the other", "false", "false", "false"},
		{"with a capital", "True", "", ""},
		{"in quotes", "'true'", "true", ""},
		{"another word for it", "on", "", ""},
		{"a number for it", "1", "", ""},
	} {
		d := strict.Open("a.yaml", []byte("w: "+row.src+"\nf: "+row.src+"\n"))
		m := d.Root()
		if got := m.Need("w").Word("true", "false"); got != row.word {
			t.Errorf("%s: word %q, want %q", row.name, got, row.word)
		}
		f := m.Need("f")
		if got := f.Flag(); got != (row.flag == "true") || f.Good() != (row.flag != "") {
			t.Errorf("%s: flag %v, good %v", row.name, got, f.Good())
		}
		m.Done()
	}
}

func TestAProblemOfAKeyStandsAtTheKey(t *testing.T) {
	t.Parallel()
	d := strict.Open("a.yaml", []byte("a:   [x]\n"))
	v := d.Root().Need("a")
	item := v.List("a list")[0]
	v.FailKey("mine", "not here")
	v.Fail("mine", "said already")
	item.FailKey("mine", "an item has no key") // so it stands at the item itself
	item.Warn("mine", "doubtful")
	if got, want := said(d), "a.yaml:1:1: a: not here\na.yaml:1:7: a[1]: an item has no key"; got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	if w := d.Warnings(); len(w) != 1 || w[0].Column != 7 || w[0].Rule != "mine" {
		t.Errorf("warnings %v", w)
	}
	none := d.Root().Opt("b")
	none.Fail("mine", "unheard")
	none.FailKey("mine", "unheard")
	if got := said(d); strings.Contains(got, "unheard") {
		t.Error(got)
	}
}

func TestRulesAreListedOnce(t *testing.T) {
	t.Parallel()
	rules := strict.Rules()
	slices.Sort(rules)
	if n := len(slices.Compact(rules)); n != 30 || n != len(strict.Rules()) {
		t.Errorf("%d rules, %d of them different", len(strict.Rules()), n)
	}
}
