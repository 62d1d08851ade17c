package report_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"html"
	"io"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/history"
	"example.org/restpoint/cmd/restpoint/internal/history/historytest"
	"example.org/restpoint/cmd/restpoint/internal/report"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/record"
	"example.org/restpoint/controller/units"
)

func written(t *testing.T, b *history.Batch, p report.Powers) string {
	t.Helper()
	var out bytes.Buffer
	if err := report.Write(&out, b, p, "test"); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

func brewed(t *testing.T) *history.Batch {
	t.Helper()
	path := historytest.Brew(t, "pale-ale-with-rest", bench.Brew{Kind: bench.Conical, Seed: 2, Noise: plant.Typical(), Wort: plant.PaleAle(), Ambient: plant.Ambient{Mean: 20, Swing: 3}}, time.Hour, 9*units.Day, nil)
	r, err := record.Read(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = r.Close() }()
	info, err := history.Find(t.Context(), r, "")
	if err != nil {
		t.Fatal(err)
	}
	b, err := history.Gather(t.Context(), r, info)
	if err != nil {
		t.Fatal(err)
	}
	if err := b.ReadGravities(t.Context(), r); err != nil {
		t.Fatal(err)
	}
	b.Started = b.Started.UTC()
	return b
}

// svg takes the drawing out of a report.
func svg(t *testing.T, page string) string {
	t.Helper()
	from, to := strings.Index(page, "<svg"), strings.Index(page, "</svg>")
	if from < 0 || to < from {
		t.Fatal("there is no drawing in it")
	}
	return page[from : to+len("</svg>")]
}

func TestAReportTellsTheWholeBatchOnOnePage(t *testing.T) {
	b := brewed(t)
	page := written(t, b, report.Powers{Heat: 80})
	if keep := os.Getenv("RESTPOINT_LOOK"); keep != "" { // for a person who wants to see it
		if err := os.WriteFile(keep, []byte(page), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	f := b.Figures()
	for _, want := range []string{
		"Batch simulated", "pale-ale-with-rest", "fv1, 60 L", "2026-03-02 09:00 +0000 by simulated brewer",
		"1.0520, 12.9 P", f.Final.Fixed(4) + ", ", f.ByVolume.Fixed(1), "Balling",
		"stage diacetyl rest", "6.0 points or fewer were asked for", "stage crash", "terminal at",
		fmt.Sprintf("%.0f kPa", units.CarbonationPressure(2.5, f.Temperature).Kilo()), "relief valve", "at 80 W", "its power is not in the site file",
		"ready for the bright tank", "needs-arming", "armed: the tank may be cooled",
		"readings of the hydrometer", "points-left: 6",
	} {
		if !strings.Contains(html.UnescapeString(page), want) {
			t.Errorf("it does not say %q", want)
		}
	}
	for _, not := range []string{"<script", "src=", "href=", "url(", "@import", "NaN", "%!"} {
		if strings.Contains(page, not) {
			t.Errorf("there is %q in it", not)
		}
	}
	if len(page) > 500<<10 {
		t.Errorf("it has %d bytes", len(page))
	}
}

// The drawing is well formed, stays within its frame, and every decision of the list
// has its number in it.
func TestTheCurveIsWhole(t *testing.T) {
	page := written(t, brewed(t), report.Powers{})
	drawing := svg(t, page)
	for d := xml.NewDecoder(strings.NewReader(drawing)); ; {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatalf("it is not well formed: %v", err)
		}
	}
	for _, m := range regexp.MustCompile(`[ML](-?[0-9.]+) (-?[0-9.]+)`).FindAllStringSubmatch(drawing, -1) {
		var x, y float64
		if _, err := fmt.Sscan(m[1], &x); err != nil {
			t.Fatal(err)
		}
		if _, err := fmt.Sscan(m[2], &y); err != nil {
			t.Fatal(err)
		}
		if x < 0 || x > 1000 || y < 0 || y > 560 {
			t.Fatalf("the point %v, %v lies outside", x, y)
		}
	}
	rows := len(regexp.MustCompile(`(?m)^<tr><td>\d+</td>`).FindAllString(page, -1))
	if marks := strings.Count(drawing, "<circle"); marks != rows || rows < 7 {
		t.Errorf("%d numbers on the curve, %d decisions in the list", marks, rows)
	}
	for _, class := range []string{"estimate", "end", "dots", "crosses", "span", "beer", "target", "hatch"} {
		if !strings.Contains(drawing, `class="`+class+`"`) {
			t.Errorf("there is no %s in it", class)
		}
	}
}

// Names are anybody's: none of them becomes a part of the page.
func TestNamesCannotBreakThePage(t *testing.T) {
	const bad = `"><script>alert(1)</script>&<b>`
	b := &history.Batch{BatchInfo: record.BatchInfo{ID: bad, Vessel: bad, Name: bad, Schedule: bad, Who: bad, Original: 1.05, Final: 1.01}, Length: units.Day}
	b.Events = []history.Happening{
		{At: 0, Event: controller.Event{Kind: controller.StageEntered, Stage: bad, Reason: controller.Reason{Code: controller.CodeHolds, Name: bad}}},
		{At: time.Hour, Event: controller.Event{Kind: controller.AlarmRaised, Alarm: bad, Priority: bad}},
	}
	b.Orders = []history.Asked{{Order: record.Order{Words: bad, Text: bad, Order: controller.Order{Who: bad, Why: bad}}}}
	page := written(t, b, report.Powers{})
	if strings.Contains(page, "<script") || strings.Contains(page, "<b>") {
		t.Error("a name became a part of the page")
	}
	if !strings.Contains(page, "&lt;script&gt;") {
		t.Error("the name is not shown")
	}
}

func TestABatchOfWhichNothingIsKnownHasAReportToo(t *testing.T) {
	for _, b := range []*history.Batch{
		{},
		{Length: time.Millisecond, Course: []history.Moment{{}}},
		{Length: time.Hour, Course: []history.Moment{{Decided: record.Decided{HasBeer: true, Beer: 20}}}, Target: 2.5},
		{Length: time.Hour, Target: 0.1, Course: []history.Moment{{Decided: record.Decided{HasBeer: true, Beer: 20}}}},
	} {
		page := written(t, b, report.Powers{})
		if strings.Contains(page, "NaN") || strings.Contains(page, "Inf") || strings.Contains(page, "%!") {
			t.Errorf("there is a number in it that is none")
		}
		svg(t, page)
	}
}
