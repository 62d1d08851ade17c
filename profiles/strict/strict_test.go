package strict_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles/strict"
)

// brew is everything that the reader can read, once.
type brew struct {
	name, note, token, kind string
	ready                   bool
	at                      units.Celsius
	within                  units.Kelvins
	rate                    units.KelvinsPerHour
	gravity                 units.Gravity
	spread, left            units.Points
	wait                    time.Duration
	volume                  units.Litres
	power                   units.Watts
	gas                     units.Volumes
	share                   float64
	count                   int
	steps                   []string
}

func read(d *strict.Doc) brew {
	var b brew
	m := d.Root()
	b.name = m.Need("name").Line(20)
	b.note = m.Opt("note").Text(40)
	b.token = m.Opt("token").Secret(20)
	b.kind = m.Opt("kind").Word("primary", "rest", "crash")
	b.ready = m.Opt("ready").Flag()
	b.at = m.Opt("at").Celsius(-3, 45)
	b.within = m.Opt("within").Kelvins(-5, 5)
	b.rate = m.Opt("rate").Rate(0.1, 10)
	b.gravity = m.Opt("gravity").Gravity(1, 1.12)
	b.spread = m.Opt("spread").Points(0.5, 10)
	b.left = m.Opt("left").BarePoints(0.5, 60)
	b.wait = m.Opt("wait").Duration(time.Hour, 10*units.Day)
	b.volume = m.Opt("volume").Litres(1, 1000)
	b.power = m.Opt("power").Watts(1, 1000)
	b.gas = m.Opt("gas").Volumes(0.5, 5)
	b.share = m.Opt("share").Percent(10, 110)
	b.count = m.Opt("count").Count(1, 9)
	if v := m.Opt("steps"); v.Given() {
		for _, item := range v.List("a list of steps") {
			s := item.Map("a step such as {do: wait}")
			b.steps = append(b.steps, s.Need("do").Line(20))
			s.Done()
		}
	}
	if v := m.Opt("lead"); v.Given() {
		lead := v.Map("a lead such as {ramp: 1 K/h}")
		if !lead.Refuse("raise", "lead", "write %s, not raise", "ramp") {
			lead.One("lead", "ramp", "hold", "free-rise")
		} else {
			lead.Which("ramp", "hold", "free-rise")
		}
		lead.Done()
	}
	m.Done()
	return b
}

const good = `# a comment
name: "first" # quoted
note: |
  two
  lines
token: abcdef
kind: rest
ready: true
at: 66 F
within: 2 K
rate: 1 C/h
gravity: 1.048
spread: 2 points
left: 6
wait: 1 d 12 h
volume: 1 hL
power: 1 kW
gas: 2.5 volumes
share: 70 %
count: 3
steps: [{do: wait}, {do: taste}]
lead: {hold: 1 h}
`

func TestReadsEveryKindOfValueFromItsSourceText(t *testing.T) {
	t.Parallel()
	for name, src := range map[string]string{
		"with line feeds":           good,
		"with carriage returns too": strings.ReplaceAll(good, "\n", "\r\n"),
		"with a byte order mark":    "\ufeff" + good,
	} {
		d := strict.Open("a.yaml", []byte(src))
		b := read(d)
		if err := d.Err(); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if b.name != "first" || b.note != "two\nlines" || b.token != "abcdef" || b.kind != "rest" || !b.ready {
			t.Errorf("%s: texts read as %+v", name, b)
		}
		if b.at.Fixed(2) != "18.89 C" || b.within != 2 || b.rate != 1 || b.gravity != 1.048 || b.spread != 2 || b.left != 6 {
			t.Errorf("%s: beer read as %+v", name, b)
		}
		if b.wait != 36*time.Hour || b.volume != 100 || b.power != 1000 || b.gas != 2.5 || b.share != 0.7 || b.count != 3 {
			t.Errorf("%s: numbers read as %+v", name, b)
		}
		if strings.Join(b.steps, " ") != "wait taste" {
			t.Errorf("%s: steps read as %q", name, b.steps)
		}
	}
}

func TestEveryRuleHasAFileThatBreaksIt(t *testing.T) {
	t.Parallel()
	seen := map[strict.Rule]bool{}
	for _, row := range rows() {
		d := strict.Open("a.yaml", []byte(row.src))
		read(d)
		var problems *strict.Problems
		if !errors.As(d.Err(), &problems) {
			t.Errorf("%s: no problem found", row.name)
			continue
		}
		if got := problems.Error(); got != row.want {
			t.Errorf("%s:\n got %s\nwant %s", row.name, got, row.want)
		}
		for _, p := range problems.List {
			seen[p.Rule] = true
		}
	}
	for _, rule := range strict.Rules() {
		if !seen[rule] {
			t.Errorf("no row breaks the rule %q", rule)
		}
		delete(seen, rule)
	}
	delete(seen, "lead")
	for rule := range seen {
		t.Errorf("the rule %q is not listed", rule)
	}
}

func TestProblemsAreShownWithTheirLineAndACaret(t *testing.T) {
	t.Parallel()
	d := strict.Open("a.yaml", []byte("name: x\ntoken: geheim-geheim-geheim-geheim\nnote: Bräu, at: 3\nat: 12,5 C\n"))
	read(d)
	var problems *strict.Problems
	if !errors.As(d.Err(), &problems) {
		t.Fatal("no problem found")
	}
	want := `a.yaml:3:1: the file is not YAML: `
	if !strings.HasPrefix(problems.Error(), want) {
		t.Fatalf("got %s", problems.Error())
	}

	d = strict.Open("a.yaml", []byte("name: x\ntoken: geheim-geheim-geheim-geheim\n{at: 3}: 4\nat: 12,5 C\n"))
	read(d)
	if !errors.As(d.Err(), &problems) {
		t.Fatal("no problem found")
	}
	want = `a.yaml:2:8: token: the text has 27 characters, and 20 are allowed
    2 | token: ***************************
      |        ^
a.yaml:3:1: a key must be a word
    3 | {at: 3}: 4
      | ^
a.yaml:4:5: at: "12,5 C" is not a temperature such as "19 C" or "66 F"; write a decimal point, not a comma
    4 | at: 12,5 C
      |     ^
`
	if got := problems.Render(); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

func TestALongLineIsCutAroundTheCaret(t *testing.T) {
	t.Parallel()
	d := strict.Open("a.yaml", []byte("name: x\nlead: {"+strings.Repeat(" ", 200)+"hold: 3, hodl: 3}\n"))
	read(d)
	var problems *strict.Problems
	if !errors.As(d.Err(), &problems) {
		t.Fatal("no problem found")
	}
	out := strings.Split(problems.Render(), "\n")
	if len(out) < 3 || len(out[1]) > 80 || out[1][strings.Index(out[2], "^"):][:4] != "hodl" {
		t.Errorf("got\n%s", problems.Render())
	}
}

func TestAPathIsFoundOrTheNearestThingAroundIt(t *testing.T) {
	t.Parallel()
	d := strict.Open("a.yaml", []byte("name: x\nsteps:\n  - do: wait\n  - {do: taste}\n"))
	for path, want := range map[string]strict.Place{
		"steps[2].do":      {File: "a.yaml", Line: 4, Column: 10},
		"steps[1]":         {File: "a.yaml", Line: 3, Column: 5},
		"steps[1].until":   {File: "a.yaml", Line: 3, Column: 5},
		"steps[9].x[1].y":  {File: "a.yaml", Line: 3, Column: 3},
		"nothing":          {File: "a.yaml", Line: 1, Column: 1},
		"nothing.whatever": {File: "a.yaml", Line: 1, Column: 1},
	} {
		if got := d.Where(path); got != want {
			t.Errorf("%s is at %v, want %v", path, got, want)
		}
	}
	p := d.Problem("steps[2].do", "mine", "%d is odd", 3)
	if got := p.String(); got != "a.yaml:4:10: steps[2].do: 3 is odd" {
		t.Errorf("got %s", got)
	}
}

func TestWarningsAreNoErrors(t *testing.T) {
	t.Parallel()
	d := strict.Open("a.yaml", []byte("name: x\nnote: y\n"))
	m := d.Root()
	m.Need("note").Warn("mine", "is %s", "doubtful")
	m.Need("name").Warn("mine", "is short")
	m.Opt("at").Warn("mine", "is not there")
	m.Done()
	if err := d.Err(); err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, w := range d.Warnings() {
		out = append(out, w.String())
	}
	want := "a.yaml:1:1: at: is not there\na.yaml:1:7: name: is short\na.yaml:2:7: note: is doubtful"
	if got := strings.Join(out, "\n"); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

func TestAMissingKeyIsReportedEvenIfNobodySaysDone(t *testing.T) {
	t.Parallel()
	d := strict.Open("a.yaml", []byte("nam: x\n"))
	d.Root().Need("name").Line(9)
	if err := d.Err(); err == nil || err.Error() != `a.yaml:1:1: the key "name" is missing` {
		t.Errorf("got %v", err)
	}
}

func TestTheNearestWordIsNeverFarAway(t *testing.T) {
	t.Parallel()
	known := []string{"at", "to", "for", "target", "points-left", "free-rise"}
	for word, want := range map[string]string{
		"targt": "target", "Target": "target", "tagret": "target", "points_left": "points-left", "freerise": "free-rise",
		"fro": "for", "att": "at", "ta": "at", "it": "at", "by": "", "temperature": "", "": "", "rate": "", "frames": "",
	} {
		if got := strict.Nearest(word, known); got != want {
			t.Errorf("%q is near %q, want %q", word, got, want)
		}
	}
}

// FuzzOpen holds that a file is read to a value or refused with a reason, and
// that no file whatever makes a number out of its range or a missing name.
func FuzzOpen(f *testing.F) {
	f.Add([]byte(good))
	for _, row := range rows() {
		f.Add([]byte(row.src))
	}
	bad, err := filepath.Glob("../testdata/invalid/*.yaml")
	if err != nil {
		f.Fatal(err)
	}
	for _, name := range bad {
		src, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(src)
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		d := strict.Open("f.yaml", src)
		b := read(d)
		if problems, ok := errors.AsType[*strict.Problems](d.Err()); ok {
			wellFormed(t, problems)
			return
		}
		if b.name == "" || b.at < -3 || b.at > 45 || (b.gravity != 0 && (b.gravity < 1 || b.gravity > 1.12)) {
			t.Fatalf("accepted %+v", b)
		}
	})
}

func wellFormed(t *testing.T, problems *strict.Problems) {
	t.Helper()
	if len(problems.List) == 0 || problems.Render() == "" {
		t.Fatal("refused without a reason")
	}
	for i, p := range problems.List {
		if p.Line < 1 || p.Column < 1 || p.Message == "" || p.Rule == "" || p.File != "f.yaml" {
			t.Fatalf("bad problem %+v", p)
		}
		if i > 0 && p.Line < problems.List[i-1].Line {
			t.Fatalf("not in the order of lines: %v", problems)
		}
	}
}

func TestAFileOfManyProblemsListsTheFirst(t *testing.T) {
	t.Parallel()
	d := strict.Open("a.yaml", []byte("{"+strings.Repeat("a,", 30000)+"}"))
	read(d)
	var problems *strict.Problems
	if !errors.As(d.Err(), &problems) {
		t.Fatal("no problem found")
	}
	if len(problems.List) != 100 || problems.More < 29000 {
		t.Errorf("%d listed, %d more", len(problems.List), problems.More)
	}
	for _, text := range []string{problems.Error(), problems.Render()} {
		if !strings.HasSuffix(strings.TrimSpace(text), " more problems") {
			t.Errorf("ends with %q", text[len(text)-80:])
		}
	}
}
