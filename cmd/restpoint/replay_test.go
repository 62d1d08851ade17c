package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/table"
	"example.org/restpoint/controller"
	"example.org/restpoint/profiles"
)

// put writes a temporary file and gives its path.
func put(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// falling is the gravity of an ale that has 42 points to lose: 1.052 down to
// 1.010 along a logistic curve whose middle is at 40 h.
func falling(hour float64) float64 {
	return 1.010 + 0.042/(1+math.Exp((hour-40)/8))
}

// written is a batch, one row every so many hours, in the form that a row
// function gives.
func written(head string, hours, every float64, row func(h float64) string) string {
	var b strings.Builder
	b.WriteString(head + "\n")
	for h := 0.0; h <= hours; h += every {
		b.WriteString(row(h) + "\n")
	}
	return b.String()
}

func usual(h float64) string { return fmt.Sprintf("%.4f,%.2f,%.4f", h, beerAt(h), falling(h)) }

// beerAt is a beer that is warmed by hand when the rest should begin.
func beerAt(h float64) float64 {
	if h > 60 {
		return 21
	}
	return 19
}

const usualHead = "hours,beer_celsius,gravity_sg"

func replayed(t *testing.T, text string, args ...string) []line {
	t.Helper()
	code, out, errs := try(t, "", append([]string{"replay", put(t, "r.csv", text), "--schedule", "pale-ale-with-rest", "--json", "--assume-confirmed"}, args...)...)
	if code != exitOK {
		t.Fatalf("exit %d: %s", code, errs)
	}
	return jsonLines(t, out)
}

// However the columns are written, the same batch gives the same lines.
func TestColumnsInEveryForm(t *testing.T) {
	want := replayed(t, written(usualHead, 160, 0.25, usual))
	_, hours := entries(want)
	t.Logf("the rest begins after %.1f h at %.1f points above the true end, the crash after %.1f h", hours["diacetyl rest"], (falling(hours["diacetyl rest"])-1.010)*1000, hours["crash"])
	if hours["diacetyl rest"] == 0 || hours["crash"] == 0 {
		t.Fatalf("the batch does not go through its stages: %v", hours)
	}
	clock := func(h float64) string {
		return fmt.Sprintf("2026-03-%02dT%02d:%02d:00+01:00", 1+int(h/24), int(h)%24, int(h*60)%60)
	}
	for _, row := range []struct{ name, text string }{
		{"times after RFC 3339", written("time,beer_celsius,gravity_sg", 160, 0.25, func(h float64) string {
			return clock(h) + fmt.Sprintf(",%.2f,%.4f", beerAt(h), falling(h))
		})},
		{"times and hours: the time counts", written("hours,time,beer_celsius,gravity_sg", 160, 0.25, func(h float64) string {
			return "7," + clock(h) + fmt.Sprintf(",%.2f,%.4f", beerAt(h), falling(h))
		})},
		{"hours that begin elsewhere", written(usualHead, 160, 0.25, func(h float64) string {
			return fmt.Sprintf("%.4f,%.2f,%.4f", h-1000, beerAt(h), falling(h))
		})},
		{"another order, and columns of no account", written("note,gravity_sg,pressure,hours,beer_celsius", 160, 0.25, func(h float64) string {
			return fmt.Sprintf(`"said ""yes"", twice",%.4f,1.2,%.4f,%.2f`, falling(h), h, beerAt(h))
		})},
		{"a byte-order mark", "\ufeff" + written(usualHead, 160, 0.25, usual)},
		{"a byte-order mark before quotes", "\ufeff" + written(`"hours","beer_celsius","gravity_sg"`, 160, 0.25, usual)},
		{"a byte-order mark before a remark", "\ufeff# of the old logger\n" + written(usualHead, 160, 0.25, usual)},
		{"lines that end as on other systems", strings.ReplaceAll(written(usualHead, 160, 0.25, usual), "\n", "\r\n")},
		{"remarks and empty lines", strings.ReplaceAll(written(usualHead, 160, 0.25, usual), "\n40.0000,", "\n# doubtful from here\n\n40.0000,")},
		{"spaces around", written(" hours , beer_celsius , gravity_sg ", 160, 0.25, func(h float64) string {
			return " " + strings.ReplaceAll(usual(h), ",", " , ") + " "
		})},
	} {
		if got := replayed(t, row.text); fmt.Sprint(events(got)) != fmt.Sprint(events(want)) {
			t.Errorf("%s:\n%v\nwant\n%v", row.name, events(got), events(want))
		}
	}
}

// events gives what happened and when, in short.
func events(lines []line) []string {
	var list []string
	for _, l := range lines {
		list = append(list, fmt.Sprintf("%.2f %s %s%s", l.Hours, l.Event, l.Stage, l.Alarm))
	}
	return list
}

func TestRubbishIsRefusedWithItsLine(t *testing.T) {
	for _, row := range []struct{ name, text, says string }{
		{"an empty file", "", "the file is empty"},
		{"only remarks", "# nothing\n", "the file is empty"},
		{"a wrong header", "day,temp,sg\n0,19,1.05\n1,19,1.04\n", "r.csv:1: there is no column time (RFC 3339) or hours; columns are [\"day\" \"temp\" \"sg\"]"},
		{"columns split otherwise", "hours;beer_celsius;gravity_sg\n0;19;1.05\n1;19;1.04\n", "r.csv:1: there is one column only; cells are separated by commas"},
		{"a beer in Fahrenheit, by its name", "hours,beer_fahrenheit,gravity_sg\n0,66,1.05\n1,66,1.04\n", `r.csv:1: column "beer_fahrenheit" is not read: write it as beer_celsius`},
		{"a beer in Fahrenheit, by its numbers", usualHead + "\n0,66,1.05\n1,66,1.04\n2,68,1.03\n", "half of beer_celsius is above 66: no beer ferments so warm; are these Fahrenheit?"},
		{"a gravity in Plato, by its name", "hours,beer_celsius,gravity_plato\n0,19,12\n1,19,11\n", `r.csv:1: column "gravity_plato" is not read: write it as gravity_sg`},
		{"an order that is none", "hours,gravity_sg,order\n0,1.05,jump\n1,1.04,\n", "r.csv:2: order: there is no order \"jump\""},
		{"a column twice", "hours,hours,gravity_sg\n0,0,1.05\n", `r.csv:1: column "hours" is there twice`},
		{"a header and nothing more", usualHead + "\n", "0 rows are no record"},
		{"one row", usualHead + "\n0,19,1.05\n", "1 rows are no record"},
		{"a torn row", usualHead + "\n0,19,1.05\n1,19\n", "r.csv:3: there are 2 cells under a header of 3; is it torn"},
		{"a row too long", usualHead + "\n0,19,1.05\n1,19,1.04,7\n", "r.csv:3: there are 4 cells under a header of 3"},
		{"a torn quote", usualHead + "\n0,19,1.05\n1,\"19,1.04\n", "r.csv:3: column 12: extraneous"},
		{"a word for a number", usualHead + "\n0,19,1.05\n1,warm,1.04\n", `r.csv:3: beer_celsius: "warm" is not a number`},
		{"a decimal comma", usualHead + "\n0,19,1.05\n1,\"19,5\",1.04\n", `r.csv:3: beer_celsius: "19,5" is not a number: write a decimal point`},
		{"no number", usualHead + "\n0,19,1.05\n1,NaN,1.04\n", `"NaN" is not a number`},
		{"no end", usualHead + "\n0,19,1.05\n1,19,+Inf\n", `"+Inf" is not a number`},
		{"a number beyond all", usualHead + "\n0,19,1.05\n1,19,1e999\n", `is not a number`},
		{"a boiling beer", usualHead + "\n0,19,1.05\n1,200,1.04\n", "r.csv:3: beer_celsius: 200 is not possible, -60 to 150 is"},
		{"gravity in Plato", usualHead + "\n0,19,12.9\n1,19,10\n", "r.csv:2: gravity_sg: 12.9 is not possible, 0.9 to 1.3 is; it is specific gravity, such as 1.050: neither Plato nor thousandths"},
		{"gravity as points", usualHead + "\n0,19,1050\n1,19,1040\n", "gravity_sg: 1050 is not possible"},
		{"rows that go back", usualHead + "\n0,19,1.05\n2,19,1.04\n1,19,1.04\n", "r.csv:4: the row is not later"},
		{"a row twice", usualHead + "\n0,19,1.05\n1,19,1.04\n1,19,1.04\n", "r.csv:4: the row is not later"},
		{"an hour that is missing", usualHead + "\n0,19,1.05\n,19,1.04\n", "r.csv:3: hours: the cell is empty"},
		{"a time without a zone", "time,gravity_sg\n2026-03-01 18:30,1.05\n", `r.csv:2: time: "2026-03-01 18:30" is not a time`},
		{"a record of years", usualHead + "\n0,19,1.05\n99999,19,1.04\n", "r.csv:3: the record is longer than 400 d"},
		{"centuries", "time,gravity_sg\n0001-01-01T00:00:00Z,1.05\n9999-01-01T00:00:00Z,1.04\n", "r.csv:3: the record is longer"},
		{"hours beyond all", usualHead + "\n-1e300,19,1.05\n1,19,1.04\n", "r.csv:2: hours: -1e300 is not possible"},
		{"no gravity column", "hours,beer_celsius\n0,19\n1,19\n", "column gravity_sg is missing or empty"},
		{"an empty gravity column", usualHead + "\n0,19,\n1,19,\n", "column gravity_sg is missing or empty"},
		{"a line of remark in between keeps the count", usualHead + "\n# one\n# two\n0,19,1.05\n1,x,1.04\n", "r.csv:5: beer_celsius"},
		{"bytes of something else", "\x00\x01\x02\xff\xfe\n", "r.csv:1: there is no column"},
	} {
		code, out, errs := try(t, "", "replay", put(t, "r.csv", row.text), "--schedule", "pale-ale-with-rest")
		if code != exitFailed || !strings.Contains(errs, row.says) || out != "" {
			t.Errorf("%s: exit %d, said %q, want %q; printed %q", row.name, code, errs, row.says, out)
		}
	}
}

// A hole in the temperatures counts as a lost probe only beyond three times the
// usual spacing, and an hour.
func TestHolesInTheTemperature(t *testing.T) {
	for _, row := range []struct {
		name  string
		every float64 // hours between rows
		hole  float64 // hours without a temperature
		lost  bool
	}{
		{"ten minutes apart, 50 min missing", 1.0 / 6, 0.83, false},
		{"ten minutes apart, 2 h missing", 1.0 / 6, 2, true},
		{"an hour apart, 2.9 h missing", 1, 2.9, false},
		{"an hour apart, 5 h missing", 1, 5, true},
		{"two hours apart, 5.9 h missing", 2, 5.9, false},
		{"two hours apart, 9 h missing", 2, 9, true},
	} {
		text := written(usualHead, 60, row.every, func(h float64) string {
			if h > 20 && h < 20+row.hole {
				return fmt.Sprintf("%.4f,,%.4f", h, falling(h))
			}
			return usual(h)
		})
		var lost, back float64
		for _, l := range replayed(t, text) {
			switch l.Event {
			case "probe-lost":
				lost = l.Hours
			case "probe-back":
				back = l.Hours
			}
		}
		if (lost > 0) != row.lost || row.lost && (back < 20+row.hole || back > 20+row.hole+row.every+0.1) {
			t.Errorf("%s: lost at %.2f h, back at %.2f h", row.name, lost, back)
		}
	}
}

// Without temperatures gravity alone is judged, and that is said.
func TestARecordOfGravityAlone(t *testing.T) {
	path := put(t, "r.csv", written("hours,gravity_sg", 200, 0.25, func(h float64) string { return fmt.Sprintf("%.4f,%.4f", h, falling(h)) }))
	code, out, errs := try(t, "", "replay", path, "--schedule", "pale-ale-with-rest", "--json", "--assume-confirmed")
	if code != exitOK || !strings.Contains(errs, "gravity alone is judged") {
		t.Fatalf("exit %d: %s", code, errs)
	}
	lines := jsonLines(t, out)
	names, hours := entries(lines)
	if !slices.Equal(names, []string{"fill", "primary", "diacetyl rest", "crash", "cold hold"}) {
		t.Errorf("stages %q", names)
	}
	// The rest lasts 48 h at least, also where its temperature is not judged.
	if hours["crash"]-hours["diacetyl rest"] < 48 {
		t.Errorf("the rest lasted from %.1f to %.1f h", hours["diacetyl rest"], hours["crash"])
	}
	for _, l := range lines {
		if l.Beer != nil || l.Event == "probe-lost" || l.Alarm == "probe-lost" {
			t.Errorf("a beer without a temperature: %+v", l)
		}
	}
}

// The last row counts, also where it is not on a whole minute.
func TestEveryRowIsGivenToTheRules(t *testing.T) {
	text := usualHead + "\n0,19,1.0500\n1,19,1.0500\n1.5123,19,1.0500\n"
	rec, err := table.Read("x", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	end := 0.0
	err = replayTable(t.Context(), rec, ale(t), replayOptions{suckBack: controller.NoProtection, confirmed: false, every: time.Minute}, func(l line) error { end = l.Hours; return nil })
	if err != nil || end < 1.5123 {
		t.Errorf("the replay ended at %.4f h, the record at 1.5123 h: %v", end, err)
	}
}

func TestEstimatesComeAsOftenAsAsked(t *testing.T) {
	text := written(usualHead, 100, 0.25, usual)
	var at []float64
	foretold := 0
	for _, l := range replayed(t, text, "--every", "6h") {
		if l.Event != estimateEvent {
			continue
		}
		at = append(at, l.Hours)
		if len(l.Forecast) > 0 {
			foretold++
		}
		for _, f := range l.Forecast {
			if f.EarlyS > f.MiddleS || f.MiddleS > f.LateS || f.Event == "" {
				t.Errorf("after %.0f h: %+v", l.Hours, f)
			}
		}
		if l.Hours > 30 && (l.PointsLeft == nil || l.Low == nil || l.High == nil || *l.Low > *l.PointsLeft || *l.PointsLeft > *l.High || l.Reason == "") {
			t.Errorf("%+v", l)
		}
	}
	if foretold < 3 {
		t.Errorf("%d of the estimates say what is ahead", foretold)
	}
	if len(at) != 16 || at[0] != 6 || at[15] != 96 {
		t.Errorf("estimates at %v h", at)
	}
	for _, bad := range []string{"often", "0", "30 s", "-6h", "6"} {
		if code, _, errs := try(t, "", "replay", put(t, "r.csv", text), "--schedule", "cool-lager", "--every", bad); code != exitUsage || !strings.Contains(errs, "--every") {
			t.Errorf("--every %q: exit %d, %q", bad, code, errs)
		}
	}
}

// Every reading that is not believed is a line for scripts; people are told of runs.
func TestRejectedReadingsAreLinesForScripts(t *testing.T) {
	text := written(usualHead, 100, 0.25, func(h float64) string {
		g := falling(h)
		if h == 30 || h >= 50 && h < 52 {
			g += 0.020
		}
		return fmt.Sprintf("%.4f,%.2f,%.4f", h, beerAt(h), g)
	})
	var at []float64
	runs := 0
	for _, l := range replayed(t, text) {
		switch l.Event {
		case rejectedEvent:
			at = append(at, l.Hours)
			verdict, by := "too-high", 0.020
			if l.Hours >= 52 { // it has been taken for a step, and comes back
				verdict, by = "too-low", 0
			}
			if l.Verdict != verdict || l.Raw == nil || l.Used == nil || math.Abs(*l.Raw-falling(l.Hours)-by) > 1e-4 || *l.Used != *l.Raw || l.Reason == "" {
				t.Errorf("%+v", l)
			}
		case string(controller.GravityRejected):
			runs++
		}
	}
	if len(at) != 7 || at[0] != 30 || at[1] != 50 || at[6] != 52.5 || runs != 2 {
		t.Errorf("rejected at %v h, %d runs", at, runs)
	}
	code, out, errs := try(t, "", "replay", put(t, "r.csv", text), "--schedule", "pale-ale-with-rest")
	if code != exitOK || strings.Contains(out, rejectedEvent) || !strings.Contains(out, "gravity-rejected") {
		t.Errorf("exit %d: %s\n%s", code, errs, out)
	}
}

// What only a person could have given blocks, unless it is assumed.
func ale(t *testing.T) *controller.Schedule {
	t.Helper()
	f, err := profiles.Load("pale-ale-with-rest")
	if err != nil {
		t.Fatal(err)
	}
	return f.Schedule
}

func TestWhatOnlyAPersonGivesBlocks(t *testing.T) {
	warm := func(h float64) string {
		beer := 10.0
		if h > 45 {
			beer = 18
		}
		return fmt.Sprintf("%.4f,%.2f,%.4f", h, beer, falling(h))
	}
	text := written(usualHead, 240, 0.25, warm)
	args := []string{"replay", put(t, "r.csv", text), "--schedule", "cool-lager", "--og", "1.052", "--json"}
	_, out, _ := try(t, "", args...)
	if names, _ := entries(jsonLines(t, out)); !slices.Equal(names, []string{"fill", "primary", "diacetyl rest"}) {
		t.Errorf("nobody confirmed, and the batch went through %q", names)
	}
	_, out, _ = try(t, "", append(args, "--assume-confirmed")...)
	if names, hours := entries(jsonLines(t, out)); !slices.Contains(names, "crash") {
		t.Errorf("everything is confirmed, and the batch went through %q, %v", names, hours)
	}
}

// Each batch has its own gravities: they decide when the rest begins.
func TestTheBatchsOwnGravitiesCount(t *testing.T) {
	text := written(usualHead, 100, 0.25, usual)
	_, usual := entries(replayed(t, text))
	_, early := entries(replayed(t, text, "--fg", "1.016"))
	if early["diacetyl rest"] >= usual["diacetyl rest"] {
		t.Errorf("with an end of 1.016 the rest begins after %.1f h, with 1.010 after %.1f h", early["diacetyl rest"], usual["diacetyl rest"])
	}
}

// What is printed for people names the record, and stays within 80 columns.
func TestReplayForPeople(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := os.WriteFile("batch.csv", []byte(written(usualHead, 160, 0.25, usual)), 0o600); err != nil {
		t.Fatal(err)
	}
	code, out, errs := try(t, "", "replay", "batch.csv", "--schedule", "pale-ale-with-rest", "--every", "1 d")
	if code != exitOK || !strings.HasPrefix(out, "batch.csv, 641 rows over 6 d 16 h, against pale-ale-with-rest\n") {
		t.Fatalf("exit %d: %s\n%s", code, errs, out)
	}
	for row := range strings.Lines(out) {
		if len(strings.TrimRight(row, "\n")) > 80 {
			t.Errorf("%d columns: %s", len(row), row)
		}
	}
	if !strings.Contains(out, "-> diacetyl rest") || !strings.Contains(out, estimateEvent) {
		t.Errorf("%s", out)
	}
}

// Real fermentations, sampled by hand: at how many points above the gravity at
// which the series ended would the rest have begun? Fourteen series of one wort
// at about 20 C, three yeasts and mixes (Sheffield Hallam University, see the
// record's own head). The schedule asks for 6 points left.
func TestMeasuredFermentationsSampledByHand(t *testing.T) {
	folder := os.Getenv("RESTPOINT_DATA")
	if folder == "" {
		t.Skip("RESTPOINT_DATA is not set: the measured records are not part of the project")
	}
	in, err := os.Open(filepath.Join(folder, "beer_wort_20C_manual_samples.csv"))
	if err != nil {
		t.Skipf("the record is not there: %v", err)
	}
	defer in.Close()
	r := csv.NewReader(in)
	r.Comment = '#'
	if _, err := r.Read(); err != nil {
		t.Fatal(err)
	}
	texts, ends, starts := map[string]string{}, map[string]float64{}, map[string]float64{}
	var order []string
	series := 0
	for {
		cells, err := r.Read()
		if err == io.EOF { //nolint:errorlint // csv gives it bare
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if cells[2] == "0.0" { // a new series begins; yeast and number do not tell them apart
			series++
		}
		key := fmt.Sprintf("%2d %s", series, cells[0])
		sg, err := strconv.ParseFloat(cells[4], 64)
		if err != nil {
			t.Fatal(err)
		}
		if texts[key] == "" {
			texts[key], starts[key], ends[key] = usualHead+"\n", sg, sg
			order = append(order, key)
		}
		ends[key] = min(ends[key], sg)
		texts[key] += fmt.Sprintf("%s,%s,%s\n", cells[2], cells[5], cells[4])
	}
	if len(order) < 14 {
		t.Fatalf("%d vessels", len(order))
	}
	var left []float64
	never := 0
	for _, key := range order {
		og, fg := fmt.Sprintf("%.4f", starts[key]), fmt.Sprintf("%.4f", ends[key])
		_, hours := entries(replayed(t, texts[key], "--og", og, "--fg", fg))
		at, fired := hours["diacetyl rest"]
		if !fired {
			never++
			t.Logf("%-20s %s to %s: no rest within the record", key, og, fg)
			continue
		}
		points := (gravityAround(texts[key], at) - ends[key]) * 1000
		left = append(left, points)
		t.Logf("%-20s %s to %s: the rest begins after %5.1f h with %4.1f points left", key, og, fg, at, points)
	}
	slices.Sort(left)
	if len(left) == 0 {
		t.Fatal("the rest never begins")
	}
	t.Logf("%d vessels: %d without a rest in the record; points left at the rest %.1f to %.1f, median %.1f", len(order), never, left[0], left[len(left)-1], left[len(left)/2])
	if never > maxNever || left[len(left)/2] < leastMedian || left[len(left)/2] > mostMedian || left[len(left)-1] > mostLeft {
		t.Errorf("that is not what was measured before: at most %d without a rest, median %.1f to %.1f, none above %.1f", maxNever, leastMedian, mostMedian, mostLeft)
	}
}

// gravityAround is the gravity of a record at an hour, by straight lines.
func gravityAround(text string, hour float64) float64 {
	lastH, lastG := 0.0, 0.0
	for row := range strings.SplitSeq(strings.TrimSpace(text), "\n") {
		cells := strings.Split(row, ",")
		h, err := strconv.ParseFloat(cells[0], 64)
		if err != nil {
			continue // the head
		}
		g, _ := strconv.ParseFloat(cells[2], 64)
		if h >= hour {
			if h == lastH {
				return g
			}
			return lastG + (g-lastG)*(hour-lastH)/(h-lastH)
		}
		lastH, lastG = h, g
	}
	return lastG
}

// Measured: the rest begins in all fourteen, with 2.0 to 7.7 points left, median
// 5.7. Samples are 7 to 25 h apart and rounded to 2 points.
const maxNever, leastMedian, mostMedian, mostLeft = 0, 4.0, 7.0, 8.5
