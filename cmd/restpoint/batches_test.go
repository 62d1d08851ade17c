package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/history/historytest"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/units"
)

// turns are the changes of stage in lines of JSON, with their hours and reasons.
func turns(t *testing.T, text string) (hours []float64, reasons []string) {
	t.Helper()
	for raw := range strings.Lines(text) {
		var l line
		if err := json.Unmarshal([]byte(raw), &l); err != nil {
			t.Fatalf("%q: %v", raw, err)
		}
		if l.Event == "stage-entered" || l.Event == "terminal" || l.Event == "stuck" {
			hours, reasons = append(hours, l.Hours), append(reasons, l.Event+" "+l.Stage+": "+l.Reason)
		}
	}
	return hours, reasons
}

// What was exported replays to the same decisions, at the same step and for the same
// numbers: the export has all that they hang on.
func TestAnExportReplaysToTheSameDecisions(t *testing.T) {
	if testing.Short() {
		t.Skip("it simulates weeks")
	}
	for _, c := range []struct{ schedule, noise string }{{"pale-ale-with-rest", "typical"}, {"hopped-ale", "nasty"}} {
		t.Run(c.schedule, func(t *testing.T) {
			dir := t.TempDir()
			db, csv := filepath.Join(dir, "b.db"), filepath.Join(dir, "b.csv")
			code, simulated, errs := try(t, "", "simulate", c.schedule, "--noise", c.noise, "--seed", "3", "--json", "--record", db)
			if code != exitOK {
				t.Fatal(errs)
			}
			if code, _, errs := try(t, "", "export", "--record", db, "-o", csv); code != exitOK {
				t.Fatal(errs)
			}
			code, replayed, errs := try(t, "", "replay", csv, "--schedule", c.schedule, "--json")
			if code != exitOK {
				t.Fatal(errs)
			}
			wantAt, want := turns(t, simulated)
			gotAt, got := turns(t, replayed)
			if len(want) < 5 || len(got) != len(want) {
				t.Fatalf("replayed %q\nsimulated %q", got, want)
			}
			for i := range want {
				if math.Abs(gotAt[i]-wantAt[i]) > 0.0002 || got[i] != want[i] && i > 0 { // the first: the name of the batch
					t.Errorf("replayed at %v h: %s\nsimulated at %v h: %s", gotAt[i], got[i], wantAt[i], want[i])
				}
			}
		})
	}
}

// The same of an export as JSON, which needs no flags, and where gas keeps the air out,
// so that nobody arms the crash.
func TestAnExportAsJSONBringsItsSchedule(t *testing.T) {
	if testing.Short() {
		t.Skip("it simulates weeks")
	}
	for _, gas := range []controller.SuckBack{controller.CO2Supply, controller.VacuumBreaker} {
		t.Run(string(gas), func(t *testing.T) {
			b := bench.Brew{Kind: bench.Conical, Seed: 4, Noise: plant.Typical(), Wort: plant.Wort{Original: 1.050, Final: 1.011}, Ambient: plant.Ambient{Mean: 18, Swing: 3}}
			db := historytest.Brew(t, "fast-warm-ale", b, time.Hour, 6*units.Day, func(s *bench.Simulated) {
				s.Tank.Vessel.SuckBack = gas
			})
			code, recorded, errs := try(t, "", "replay", db, "--json")
			if code != exitOK {
				t.Fatal(errs)
			}
			wantAt, want := turns(t, recorded)
			if len(want) < 4 {
				t.Fatalf("recorded %q", want)
			}
			for _, form := range []string{"--json", "--csv"} {
				out := filepath.Join(t.TempDir(), "b")
				if code, _, errs := try(t, "", "export", "--record", db, "-o", out, form); code != exitOK {
					t.Fatal(errs)
				}
				args := []string{"replay", out, "--json"}
				if form == "--csv" {
					args = append(args, "--schedule", "fast-warm-ale")
				}
				code, replayed, errs := try(t, "", args...)
				if code != exitOK {
					t.Fatal(errs)
				}
				gotAt, got := turns(t, replayed)
				if len(got) != len(want) {
					t.Fatalf("%s: replayed %q\nrecorded %q", form, got, want)
				}
				for i := range want {
					if math.Abs(gotAt[i]-wantAt[i]) > 0.0002 || got[i] != want[i] && i > 0 {
						t.Errorf("%s: replayed at %v h: %s\nrecorded at %v h: %s", form, gotAt[i], got[i], wantAt[i], want[i])
					}
				}
			}
		})
	}
}

// The bars: a batch of 21 days at 10 s is exported in under 3 s, told in under 2 s,
// and its record has less than 25 MB. The race detector and a machine at work with
// other things make times long, so they are held with room and printed.
func TestAThreeWeekBatchIsReadInNoTime(t *testing.T) {
	if testing.Short() {
		t.Skip("it simulates weeks")
	}
	db := historytest.Brew(t, "pale-ale-with-rest", bench.Brew{Kind: bench.Conical, Seed: 2, Noise: plant.Typical(), Wort: plant.PaleAle(), Ambient: plant.Ambient{Mean: 20, Swing: 3}}, 5*time.Minute, 21*units.Day, nil)
	size := int64(0)
	for _, end := range []string{"", "-wal"} {
		if info, err := os.Stat(db + end); err == nil {
			size += info.Size()
		}
	}
	if size > 25_000_000 {
		t.Errorf("the record has %d bytes", size)
	}
	for _, c := range []struct {
		verb string
		most time.Duration
	}{{"export", 3 * time.Second}, {"report", 2 * time.Second}} {
		began := time.Now()
		code, out, errs := try(t, "", c.verb, "--record", db)
		took := time.Since(began)
		t.Logf("%s: %d bytes in %s, from a record of %d", c.verb, len(out), took.Round(time.Millisecond), size)
		if code != exitOK || len(out) < 50_000 {
			t.Fatalf("%s: %d bytes, %s", c.verb, len(out), errs)
		}
		if took > 3*c.most {
			t.Errorf("%s took %s", c.verb, took)
		}
	}
}

func TestTheRecordIsToldByItsVerbs(t *testing.T) {
	dir := t.TempDir()
	db := filepath.Join(dir, "b.db")
	if code, _, errs := try(t, "", "simulate", "fast-warm-ale", "--record", db); code != exitOK {
		t.Fatal(errs)
	}
	for _, c := range []struct {
		name string
		args []string
		want []string
	}{
		{"batches", []string{"batches", "--record", db}, []string{"simulated    fv1     2026-03-02", "% "}},
		{"batches as JSON", []string{"batches", "--record", db, "--json"}, []string{`"batch":"simulated"`, `"apparent_attenuation_percent":`}},
		{"an export", []string{"export", "simulated", "--record", db}, []string{"time,hours,stage,beer_celsius", "\r\n", "pitched"}},
		{"an export as JSON", []string{"export", "--record", db, "--json"}, []string{`"schedule":"fast-warm-ale"`, `"columns":["time","hours"`}},
		{"its schedule", []string{"export", "--record", db, "--schedule"}, []string{"schedule: fast-warm-ale"}},
		{"a report", []string{"report", "simulated", "--record", db}, []string{"<!doctype html>", "Batch simulated"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			code, out, errs := try(t, "", c.args...)
			if code != exitOK {
				t.Fatal(errs)
			}
			for _, want := range c.want {
				if !strings.Contains(out, want) {
					t.Errorf("%q is not in it: %.300s", want, out)
				}
			}
			if c.name == "batches" {
				for l := range strings.Lines(out) {
					if n := len([]rune(strings.TrimRight(l, "\n"))); n > 80 {
						t.Errorf("%d columns: %s", n, l)
					}
				}
			}
		})
	}
	to := filepath.Join(dir, "out.html")
	if code, out, errs := try(t, "", "report", "--record", db, "-o", to); code != exitOK || out != "" {
		t.Fatalf("%q %s", out, errs)
	}
	page, err := os.ReadFile(to)
	if err != nil || !bytes.Contains(page, []byte("</html>")) {
		t.Errorf("%d bytes, %v", len(page), err)
	}
	if _, err := os.Stat(to + ".part"); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("left behind: %v", err)
	}
}

func TestVerbsOfTheRecordSayWhatIsWrong(t *testing.T) {
	dir := t.TempDir()
	db := filepath.Join(dir, "b.db")
	if code, _, errs := try(t, "", "simulate", "fast-warm-ale", "--record", db); code != exitOK {
		t.Fatal(errs)
	}
	text := put(t, "no.db", "hours,beer_celsius\n")
	for _, c := range []struct {
		name string
		args []string
		code int
		want string
	}{
		{"no such batch", []string{"report", "b-12", "--record", db}, exitFailed, `there is no batch "b-12"; the record holds simulated`},
		{"no such record", []string{"batches", "--record", filepath.Join(dir, "none.db")}, exitFailed, "no such file"},
		{"a file that is no record", []string{"export", "--record", text}, exitFailed, "it is no record: it is no SQLite database"},
		{"no such site", []string{"batches", "-c", filepath.Join(dir, "none.yaml")}, exitConfig, "no such file"},
		{"a device that takes nothing", []string{"export", "--record", db, "-o", "/dev/full"}, exitFailed, "no space left"},
		{"a folder for a file", []string{"export", "--record", db, "-o", dir}, exitFailed, "is a directory"},
		{"two forms at once", []string{"export", "--csv", "--json"}, exitUsage, "one thing at a time"},
		{"two batches", []string{"report", "a", "b"}, exitUsage, "at most 1"},
		{"a place that is not there", []string{"report", "--record", db, "-o", filepath.Join(dir, "no", "r.html")}, exitFailed, "no such file"},
		{"a backup of no record", []string{"backup", filepath.Join(dir, "c.db"), "--record", filepath.Join(dir, "none.db")}, exitFailed, "no such file"},
		{"an archive of no batch", []string{"archive", "b-12", "--record", db, "-o", filepath.Join(dir, "c.db")}, exitFailed, `no batch "b-12"`},
		{"an archive to nowhere", []string{"archive", "simulated", "--record", db}, exitUsage, "-o FILE"},
		{"a record that is there already", []string{"simulate", "fast-warm-ale", "--record", db}, exitUsage, "is there already"},
		{"a way to keep air out that is none", []string{"replay", text, "--schedule", "fast-warm-ale", "--suck-back", "luck"}, exitFailed, "rows"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if strings.Contains(c.name, "device") && runtime.GOOS != "linux" {
				t.Skip("that device is Linux's")
			}
			if code, _, errs := try(t, "", c.args...); code != c.code || !strings.Contains(errs, c.want) {
				t.Errorf("code %d, %q", code, errs)
			}
		})
	}
}

// A copy and an archive are records as any other: what is told of the batch is the
// same, and its decisions can be taken again.
func TestCopiesTellTheSameBatch(t *testing.T) {
	dir := t.TempDir()
	db := filepath.Join(dir, "b.db")
	if code, _, errs := try(t, "", "simulate", "fast-warm-ale", "--record", db); code != exitOK {
		t.Fatal(errs)
	}
	told := func(path string) (text string) {
		for _, args := range [][]string{{"batches", "--json"}, {"export"}, {"report"}} {
			code, out, errs := try(t, "", append(args, "--record", path)...)
			if code != exitOK {
				t.Fatal(errs)
			}
			text += out
		}
		return text
	}
	want := told(db)
	for _, c := range []struct {
		name, to string
		args     []string
		says     string
	}{
		{"the whole", "backup.db", []string{"backup", "--record", db, filepath.Join(dir, "backup.db")}, db + " is copied to"},
		{"a batch", "archive.db", []string{"archive", "simulated", "--record", db, "-o", filepath.Join(dir, "archive.db")}, "batch simulated of " + db},
	} {
		t.Run(c.name, func(t *testing.T) {
			if code, out, errs := try(t, "", c.args...); code != exitOK || !strings.Contains(out, c.says) {
				t.Fatalf("%q %s", out, errs)
			}
			path := filepath.Join(dir, c.to)
			if got := told(path); got != want {
				t.Error("another batch is told")
			}
			if code, _, errs := try(t, "", "replay", path); code != exitOK {
				t.Error(errs)
			}
			if code, _, errs := try(t, "", c.args...); code != exitFailed || !strings.Contains(errs, "there already") {
				t.Errorf("it was written over: %s", errs)
			}
		})
	}
}
