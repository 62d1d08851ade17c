package metrics_test

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"
	"github.com/prometheus/client_golang/prometheus/testutil"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/gravity"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/metrics"
)

func updating() bool { return flag.Lookup("update").Value.String() == "true" }

func TestMain(m *testing.M) {
	flag.Bool("update", false, "write testdata/scrape.txt anew")
	flag.Parse()
	os.Exit(m.Run())
}

func build() controller.Build {
	return controller.Build{Version: "0.1.0", Revision: "abc1234", Go: "go1.26"}
}

// cellar is a snapshot in which every metric has a value: a vessel in its rest
// that alarms, and one that idles with its beer probe failed.
func cellar() *controller.Snapshot {
	at := time.Date(2026, 3, 1, 12, 0, 0, 250e6, time.UTC)
	known := func(c units.Celsius) controller.Thermometer { return controller.Thermometer{Known: true, Celsius: c} }
	lost := known(12)
	lost.Failed = true
	return &controller.Snapshot{
		Site: "north cellar", At: at, StepTook: 1250 * time.Microsecond, RecordFailing: true,
		Vessels: []controller.View{
			{
				Name:   "fv1",
				Stages: []controller.StageName{{Name: "primary", Kind: controller.Primary}, {Name: "diacetyl rest", Kind: controller.Rest}, {Name: "crash", Kind: controller.Crash}},
				Decision: controller.Decision{
					Mode: controller.InBatch, Index: 1, HasTarget: true, Target: 21, Beer: known(20.5625), Surround: known(18.25), Ambient: known(16),
					Wells: []controller.Well{{Probe: "fv1/thermowell", Thermometer: known(20.5625)}, {Probe: "fv1/thermowell-top", Thermometer: known(20.75)}, {Probe: "fv1/thermowell-middle", Thermometer: lost}},
					Float: known(20.9), Gauge: controller.Gauge{Known: true, Gauge: 51250}, Residual: 0.84, Heat: thermal.Heat{Watts: 6.5, Rate: 0.2, Low: 0.1, High: 0.3}, Jobs: []controller.Due{{No: 2, Say: "dump the cone"}},
					Forecast: controller.Outlook{Made: true, Age: 30 * time.Minute, List: []controller.Forecast{
						{Event: controller.TerminalMet, Early: time.Hour, Middle: 2 * time.Hour, Late: 5 * time.Hour},
						{Event: controller.Ready, Early: 20 * time.Minute, Middle: 30 * time.Hour, Late: 40 * time.Hour, Person: true},
					}},
					Gravity: controller.Gravity{Known: true, Ready: true, Now: 1.0145, Left: 4.5, Low: 3.25, High: 6},
					Counts:  alarms.Counts{Standing: 2, Chattering: 1},
					Alarms: []alarms.Entry{
						{ID: alarms.Stuck, Phase: alarms.Acknowledged, Shelved: time.Hour},
						{ID: alarms.BeerTooCold, Phase: alarms.Pending},
						{ID: alarms.LateLoop, Phase: alarms.Returned},
						{ID: alarms.RecordFailing, Phase: alarms.Unanswered},
					},
				},
				Heat: controller.RelayView{Fitted: true, Line: guard.Line{On: true, Switches: 41, OnFor: 5025*time.Second + 500*time.Millisecond}},
				Verdicts: []controller.VerdictCount{
					{Verdict: gravity.Accepted, Count: 412},
					{Verdict: gravity.TooHigh, Count: 7},
					{Verdict: gravity.TooLow},
					{Verdict: gravity.Implausible, Count: 1},
					{Verdict: gravity.Stepped, Count: 2},
				},
				Cool: controller.RelayView{Fitted: true, Line: guard.Line{Switches: 250, OnFor: 30 * time.Hour}},
				Probes: []controller.ProbeView{
					{ID: "fv1/thermowell", Last: at.Add(-3 * time.Second), Faults: []controller.FaultCount{{Fault: controller.BadChecksum, Count: 2}, {Fault: controller.Unplugged, Count: 1}}},
					{ID: "fv1/hydrometer", Last: at.Add(-10 * time.Minute)},
				},
			},
			{
				Name:     "fv2",
				Stages:   []controller.StageName{{Name: "left over", Kind: controller.Hold}},
				Decision: controller.Decision{Mode: controller.Idle, Beer: lost},
				Cool:     controller.RelayView{Fitted: true},
				Probes:   []controller.ProbeView{{ID: "fv2/thermowell"}},
			},
		},
	}
}

func registry(t *testing.T, s *controller.Snapshot) *prometheus.Registry {
	t.Helper()
	r := prometheus.NewPedanticRegistry()
	if err := r.Register(metrics.New(func() *controller.Snapshot { return s }, build(), func() (float64, bool) { return 11e6, true })); err != nil {
		t.Fatal(err)
	}
	return r
}

// scrape is what a server gets that asks for the plain text.
func scrape(t *testing.T, s *controller.Snapshot) string {
	t.Helper()
	answer := httptest.NewRecorder()
	promhttp.HandlerFor(registry(t, s), promhttp.HandlerOpts{}).ServeHTTP(answer, httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/metrics", nil))
	if answer.Code != http.StatusOK {
		t.Fatalf("status %d: %s", answer.Code, answer.Body)
	}
	return answer.Body.String()
}

func TestTheScrapeIsAsItWasAgreed(t *testing.T) {
	const golden = "testdata/scrape.txt"
	got := scrape(t, cellar())
	if updating() {
		if err := os.WriteFile(golden, []byte(got), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(want, []byte(got)) {
		t.Errorf("the scrape differs from %s (write it anew with -update):\n%s", golden, got)
	}
}

func TestEveryRowIsScrapedAndEveryScrapedNameIsARow(t *testing.T) {
	families, err := registry(t, cellar()).Gather()
	if err != nil {
		t.Fatal(err)
	}
	scraped := map[string][]string{}
	for _, f := range families {
		var labels []string
		for _, l := range f.GetMetric()[0].GetLabel() {
			labels = append(labels, l.GetName())
		}
		scraped[f.GetName()] = labels
		if kind := strings.ToLower(f.GetType().String()); kind != string(typeOf(f.GetName())) {
			t.Errorf("%s is a %s", f.GetName(), kind)
		}
	}
	for _, r := range metrics.Table() {
		labels, found := scraped[r.Name]
		want := slices.Sorted(slices.Values(r.Labels))
		if !found || !slices.Equal(labels, want) {
			t.Errorf("%s: scraped %v with labels %v, want %v", r.Name, found, labels, want)
		}
		delete(scraped, r.Name)
	}
	for name := range scraped {
		t.Errorf("%s is scraped and stands in no row", name)
	}
}

func typeOf(name string) metrics.Type {
	for _, r := range metrics.Table() {
		if r.Name == name {
			return r.Type
		}
	}
	return ""
}

func TestTheLinterHasNothingToSay(t *testing.T) {
	problems, err := testutil.GatherAndLint(registry(t, cellar()))
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range problems {
		t.Errorf("%s: %s", p.Metric, p.Text)
	}
}

// problem is what the linter does not look for: each unit has its ending, a state
// is no number, and a share is no percentage.
func problem(r metrics.Row) string {
	endings := map[metrics.Unit]string{
		metrics.Celsius: `_celsius$`, metrics.Seconds: `_seconds(_total)?$`, metrics.Count: `_(total|reminders|alarms)$`, metrics.Pascals: `_pascals$`, metrics.Bytes: `_bytes(_total)?$`, metrics.Volumes: `_volumes$`, metrics.Watts: `_watts$`,
		metrics.Ratio: `_gravity$`, metrics.Points: `_points_left(_bound)?$`, metrics.Truth: `_(active|on|failing|info)$`,
	}
	ending, known := endings[r.Unit]
	switch {
	case !strings.HasPrefix(r.Name, "restpoint_"):
		return "has not our prefix"
	case regexp.MustCompile(`percent|fahrenheit|minutes|hours|millis|_code|_state|_phase`).MatchString(r.Name):
		return "has a word that is not allowed"
	case !known:
		return "has an unknown unit"
	case !regexp.MustCompile(ending).MatchString(r.Name):
		return "does not end as its unit wants"
	case (r.Type == metrics.Counter) != strings.HasSuffix(r.Name, "_total"):
		return "a counter ends in total, and nothing else does"
	case !strings.HasSuffix(r.Help, "."):
		return "has no sentence of help"
	case slices.Contains(r.Labels, "batch") || slices.Contains(r.Labels, "schedule"):
		return "would begin new series with every batch"
	}
	return ""
}

func TestNamesKeepToOurOwnRules(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range metrics.Table() {
		if p := problem(r); p != "" || seen[r.Name] {
			t.Errorf("%s: %s (twice: %v)", r.Name, p, seen[r.Name])
		}
		seen[r.Name] = true
	}
	for _, bad := range []metrics.Row{
		{Name: "restpoint_duty_percent", Type: metrics.Gauge, Unit: metrics.Truth, Help: "A."},
		{Name: "restpoint_stage_code", Type: metrics.Gauge, Unit: metrics.Count, Help: "A."},
		{Name: "restpoint_beer", Type: metrics.Gauge, Unit: metrics.Celsius, Help: "A."},
		{Name: "restpoint_runs", Type: metrics.Counter, Unit: metrics.Seconds, Help: "A."},
		{Name: "beer_celsius", Type: metrics.Gauge, Unit: metrics.Celsius, Help: "A."},
	} {
		if problem(bad) == "" {
			t.Errorf("%s passes", bad.Name)
		}
	}
}

func TestAVesselOfWhichNothingIsKnownHasNoTemperatureButEveryAlarmAndFault(t *testing.T) {
	text := scrape(t, &controller.Snapshot{Vessels: []controller.View{{
		Name: "fv1", Decision: controller.Decision{Mode: controller.Idle},
		Probes: []controller.ProbeView{{ID: "fv1/thermowell"}},
	}}})
	for _, not := range []string{"_celsius", "_gravity", "_points_left", "_stage_active", "_relay", "_last_reading"} {
		if strings.Contains(text, not) {
			t.Errorf("%s is exported:\n%s", not, text)
		}
	}
	var want []string
	for _, a := range alarms.Table() {
		want = append(want, fmt.Sprintf("restpoint_alarm_active{alarm=%q,priority=%q,vessel=\"fv1\"} 0\n", a.ID, a.Priority))
	}
	for _, f := range controller.Faults() {
		want = append(want, fmt.Sprintf("restpoint_probe_faults_total{fault=%q,probe=\"thermowell\",vessel=\"fv1\"} 0\n", f))
	}
	for _, line := range want {
		if !strings.Contains(text, line) {
			t.Errorf("%s is missing", line)
		}
	}
}

func TestOnlyWhatCanBeBelievedIsExported(t *testing.T) {
	for _, c := range []struct {
		name, gone string
		spoil      func(*controller.Decision)
	}{
		{"a beer probe that failed", "restpoint_beer_temperature_celsius{", func(d *controller.Decision) { d.Beer.Failed = true }},
		{"a surround probe that failed", "restpoint_surround_temperature_celsius{", func(d *controller.Decision) { d.Surround.Failed = true }},
		{"a room that was never measured", "restpoint_ambient_temperature_celsius{", func(d *controller.Decision) { d.Ambient = controller.Thermometer{} }},
		{"a gravity that is not known", "restpoint_specific_gravity{", func(d *controller.Decision) { d.Gravity.Known = false }},
		{"a milestone that is not forecast", `restpoint_forecast_timestamp_seconds{bound="late",event="terminal"`, func(d *controller.Decision) { d.Forecast = controller.Outlook{} }},
		{"no target", "restpoint_target_temperature_celsius{", func(d *controller.Decision) { d.HasTarget = false }},
		{"a number that is none", "restpoint_points_left{", func(d *controller.Decision) { d.Gravity.Left = units.Points(math.NaN()) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := cellar()
			if !strings.Contains(scrape(t, s), c.gone) {
				t.Fatalf("%s is never exported", c.gone)
			}
			c.spoil(&s.Vessels[0].Decision)
			if text := scrape(t, s); strings.Contains(text, c.gone) {
				t.Errorf("still exported:\n%s", text)
			}
		})
	}
}

func TestBeforeTheFirstStepOnlyTheBuildAndTheWearAreKnown(t *testing.T) {
	text := scrape(t, nil)
	if strings.Count(text, "\n") != 6 || !strings.Contains(text, "restpoint_written_bytes_total 1.1e+07") || !strings.Contains(text, `restpoint_build_info{goversion="go1.26",revision="abc1234",version="0.1.0"} 1`) {
		t.Errorf("exported:\n%s", text)
	}
}

func TestNamesThatAreNoTextDoNotFailTheScrape(t *testing.T) {
	s := cellar()
	s.Vessels[0].Stages[0].Name = "prim\xffary"
	if text := scrape(t, s); !strings.Contains(text, `stage="prim?ary"`) {
		t.Error("the stage is missing")
	}
}

func TestTwoRegistriesAndManyScrapesDoNotMeet(t *testing.T) {
	s := cellar()
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			r := metrics.Registry(func() *controller.Snapshot { return s }, build())
			for range 20 {
				families, err := r.Gather()
				if err != nil || len(families) <= len(metrics.Table()) {
					t.Errorf("%d families (%v), want ours and those of the runtime", len(families), err)
				}
			}
		})
	}
	all.Wait()
}

// What the kernel counts grows with what is written, where it counts at all.
func TestWrittenBytesAreTheKernels(t *testing.T) {
	before, known := metrics.Written()
	if !known {
		t.Skip("the kernel does not count what is written")
	}
	f, err := os.Create(t.TempDir() + "/f")
	if err != nil {
		t.Fatal(err)
	}
	_, err = f.Write(make([]byte, 1<<20))
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		t.Fatal(err)
	}
	after, _ := metrics.Written()
	if grown := after - before; grown == 0 {
		t.Skip("this file system does not count what is written")
	} else if grown < 1<<20 || grown > 64<<20 {
		t.Errorf("1 MiB was written, %g bytes were counted", grown)
	}
}
