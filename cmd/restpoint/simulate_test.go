package main

import (
	"context"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"example.org/restpoint/cmd/restpoint/internal/table"
	"example.org/restpoint/profiles"
)

// jsonLines reads one JSON object a line.
func jsonLines(t *testing.T, text string) []line {
	t.Helper()
	var list []line
	for row := range strings.Lines(text) {
		var l line
		d := json.NewDecoder(strings.NewReader(row))
		d.DisallowUnknownFields()
		if err := d.Decode(&l); err != nil {
			t.Fatalf("%q: %v", row, err)
		}
		list = append(list, l)
	}
	return list
}

// entries tells when each stage begins, in hours.
func entries(lines []line) (names []string, hours map[string]float64) {
	hours = map[string]float64{}
	for _, l := range lines {
		if l.Event == "stage-entered" {
			names = append(names, l.Stage)
			hours[l.Stage] = l.Hours
		}
	}
	return names, hours
}

func TestSimulateTellsTheWholeBatch(t *testing.T) {
	for _, name := range several() {
		t.Run(name, func(t *testing.T) {
			file, err := profiles.Load(name)
			if err != nil {
				t.Fatal(err)
			}
			code, text, errs := try(t, "", "simulate", name)
			if code != exitOK {
				t.Fatalf("exit %d: %s", code, errs)
			}
			golden(t, filepath.Join("simulate", name+".txt"), text)
			for row := range strings.Lines(text) {
				if width := len(strings.TrimRight(row, "\n")); width > 80 {
					t.Errorf("%d columns: %s", width, row)
				}
			}
			code, out, errs := try(t, "", "simulate", name, "--json")
			if code != exitOK {
				t.Fatalf("exit %d: %s", code, errs)
			}
			golden(t, filepath.Join("simulate", name+".jsonl"), out)
			names, _ := entries(jsonLines(t, out))
			var want []string
			for i := range file.Schedule.Stages {
				want = append(want, file.Schedule.Stages[i].Name)
			}
			if !slices.Equal(names, want) {
				t.Errorf("stages %q, the schedule has %q", names, want)
			}
		})
	}
}

// The same seed is the same batch, another one is another.
func TestASeedIsABatch(t *testing.T) {
	run := func(seed string) string {
		code, out, errs := try(t, "", "simulate", "pale-ale-with-rest", "--json", "--seed", seed)
		if code != exitOK {
			t.Fatalf("exit %d: %s", code, errs)
		}
		return out
	}
	first := run("7")
	if again := run("7"); again != first {
		t.Error("the same seed gave two batches")
	}
	if run("8") == first {
		t.Error("another seed gave the same batch")
	}
}

// Each flag changes the batch, and in the direction that it names.
func TestFlagsOfTheModelMatter(t *testing.T) {
	run := func(args ...string) []line {
		code, out, errs := try(t, "", append([]string{"simulate", "pale-ale-with-rest", "--json"}, args...)...)
		if code != exitOK {
			t.Fatalf("%v: exit %d: %s", args, code, errs)
		}
		return jsonLines(t, out)
	}
	_, usual := entries(run("--noise", "quiet"))
	for _, vessel := range []string{"bucket", "tank"} {
		if _, h := entries(run("--noise", "quiet", "--vessel", vessel)); h["cold hold"] == usual["cold hold"] || h["cold hold"] == 0 {
			t.Errorf("%s: %v, a conical %v", vessel, h, usual)
		}
	}
	stuck := run("--noise", "quiet", "--ends-at", "1.020")
	found := slices.ContainsFunc(stuck, func(l line) bool { return l.Event == "stuck" })
	if names, _ := entries(stuck); !found || slices.Contains(names, "crash") {
		t.Errorf("a beer that stops at 1.020 for an expected 1.010: found stuck %v, stages %q", found, names)
	}
	dry := run("--noise", "quiet", "--ends-at", "1.006")
	last := dry[len(dry)-1]
	if last.FinalGravity == nil || *last.FinalGravity > 1.008 {
		t.Errorf("a beer that ends at 1.006 is believed to end at %v", last.FinalGravity)
	}
	if _, h := entries(run("--noise", "quiet", "--ambient", "4 C")); h["cold hold"] == usual["cold hold"] {
		t.Error("the room makes no difference")
	}
	for _, noise := range []string{"nasty"} {
		names, h := entries(run("--noise", noise))
		t.Logf("noise %-8s rest after %5.1f h, crash after %5.1f h (quiet: %5.1f h, %5.1f h)", noise, h["diacetyl rest"], h["crash"], usual["diacetyl rest"], usual["crash"])
		if !slices.Contains(names, "diacetyl rest") {
			t.Errorf("%s: no rest in %q", noise, names)
		}
	}
}

// What simulate writes down replay takes, with the same decisions. The record has
// a row each 15 min and the replay steps each minute, so hours differ a little. It
// has no marks: a schedule that lives by them, such as a hopped ale, differs by days.
func TestReplayOfASimulationDecidesAlike(t *testing.T) {
	// Hours by which a stage may begin apart. Measured with seeds 1 to 4 of both
	// schedules: rests 0.2 to 7.3 h (points left lie near their limit for hours),
	// every crash and hold 2.0 h or less.
	const allowed, allowedLater = 8.0, 2.1
	worst := 0.0
	for _, name := range []string{"cool-lager", "pale-ale-with-rest"} {
		for _, seed := range []string{"1", "2"} {
			path := filepath.Join(t.TempDir(), "batch.csv")
			code, out, errs := try(t, "", "simulate", name, "--json", "--seed", seed, "--csv", path)
			if code != exitOK {
				t.Fatalf("exit %d: %s", code, errs)
			}
			names, simulated := entries(jsonLines(t, out))
			code, out, errs = try(t, "", "replay", path, "--schedule", name, "--json", "--assume-confirmed")
			if code != exitOK {
				t.Fatalf("exit %d: %s", code, errs)
			}
			again, replayed := entries(jsonLines(t, out))
			if !slices.Equal(names, again) {
				t.Errorf("%s, seed %s: replay went through %q, the simulation through %q", name, seed, again, names)
			}
			for _, st := range names[2:] { // pitching counts from the first row
				apart := replayed[st] - simulated[st]
				t.Logf("%s, seed %s: %-13s simulated %6.1f h, replayed %6.1f h, %+.1f h", name, seed, st, simulated[st], replayed[st], apart)
				worst = max(worst, apart, -apart)
				if st != "diacetyl rest" && max(apart, -apart) > allowedLater {
					t.Errorf("%s, seed %s: %s begins %.1f h apart, %.1f h are allowed", name, seed, st, apart, allowedLater)
				}
			}
		}
	}
	t.Logf("furthest apart: %.1f h", worst)
	if worst > allowed {
		t.Errorf("a stage of a replay began %.1f h apart from its simulation, %.0f h are allowed", worst, allowed)
	}
}

func TestTheDrawingIsWellFormed(t *testing.T) {
	evil := filepath.Join(t.TempDir(), "evil.yaml")
	f, err := profiles.Load("pale-ale-with-rest")
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Replace(string(f.Source), "name: cold hold", `name: "cold <hold> & \"keep\""`, 1)
	if err := os.WriteFile(evil, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, schedule := range []string{"pale-ale-with-rest", evil} {
		path := filepath.Join(t.TempDir(), "batch.svg")
		code, _, errs := try(t, "", "simulate", schedule, "--svg", path)
		if code != exitOK {
			t.Fatalf("%s: exit %d: %s", schedule, code, errs)
		}
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		d := xml.NewDecoder(strings.NewReader(string(data)))
		var words strings.Builder
		elements := map[string]int{}
		for {
			token, err := d.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v", schedule, err)
			}
			switch x := token.(type) {
			case xml.StartElement:
				elements[x.Name.Local]++
				if x.Name.Local == "script" || x.Name.Local == "foreignObject" {
					t.Errorf("the drawing has a %s", x.Name.Local)
				}
			case xml.CharData:
				words.Write(x)
				words.WriteString("|")
			}
		}
		if elements["svg"] != 1 || elements["polyline"] != 2 || elements["path"] != 2 || elements["line"] != 5 {
			t.Errorf("%s: drawn %v", schedule, elements)
		}
		for _, says := range []string{"beer, C", "gravity", "heat", "cool", "diacetyl rest", "7 d"} {
			if !strings.Contains(words.String(), says) {
				t.Errorf("%s: the drawing does not say %q", schedule, says)
			}
		}
		if schedule == evil && !strings.Contains(words.String(), `cold <hold> & "keep"`) {
			t.Errorf("the name is drawn otherwise: %s", words.String())
		}
	}
}

// The record that is written has every row of the batch, in the form that its
// help promises.
func TestTheWrittenRecordIsWhole(t *testing.T) {
	path := filepath.Join(t.TempDir(), "batch.csv")
	code, out, _ := try(t, "", "simulate", "pale-ale-with-rest", "--json", "--csv", path)
	if code != exitOK {
		t.Fatalf("exit %d", code)
	}
	_, hours := entries(jsonLines(t, out))
	in, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	rec, err := table.Read(path, in)
	if err != nil {
		t.Fatal(err)
	}
	end := hours["cold hold"] + 24
	if got := rec.Length().Hours(); got < end-0.25 || got > end {
		t.Errorf("the record is %.2f h long, the batch %.2f h", got, end)
	}
	if n := int(rec.Length()/sampleEvery) + 1; len(rec.Rows) != n || !rec.HasBeer || !rec.HasGravity {
		t.Errorf("%d rows, want %d", len(rec.Rows), n)
	}
}

func TestWhatCannotBeWrittenIsSaid(t *testing.T) {
	for _, flag := range []string{"--csv", "--svg"} {
		code, _, errs := try(t, "", "simulate", "pale-ale-with-rest", flag, "/no/such/folder/x")
		if code != exitFailed || !strings.Contains(errs, "/no/such/folder/x") {
			t.Errorf("%s: exit %d, %q", flag, code, errs)
		}
	}
}

func TestASimulationCanBeInterrupted(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	var errs strings.Builder
	code := run(ctx, env{in: strings.NewReader(""), out: io.Discard, err: &errs}, []string{"simulate", "cool-lager"})
	if code != exitFailed || !strings.Contains(errs.String(), "simulation ended after") {
		t.Errorf("exit %d, %q", code, errs.String())
	}
}

// A person who watches sees it go on; a file gets no such signs.
func TestProgressIsForTerminalsOnly(t *testing.T) {
	var errs strings.Builder
	e := env{in: strings.NewReader(""), out: io.Discard, err: &errs, terminal: true}
	if code := run(t.Context(), e, []string{"simulate", "pale-ale-with-rest"}); code != exitOK || !strings.Contains(errs.String(), "simulated, in primary") {
		t.Errorf("exit %d, %q", code, errs.String())
	}
	if _, _, quiet := try(t, "", "simulate", "pale-ale-with-rest"); strings.Contains(quiet, "\r") {
		t.Errorf("%q", quiet)
	}
	null, err := os.OpenFile(os.DevNull, os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if isTerminal(null) {
		t.Error("nothing is taken for a terminal")
	}
	if err := null.Close(); err != nil {
		t.Error(err)
	}
}
