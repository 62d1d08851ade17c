package web_test

import (
	"bytes"
	"flag"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"

	"example.org/restpoint/cmd/restpoint/internal/web"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

var update = flag.Bool("update", false, "write golden files anew")

// golden holds text against a file of testdata.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs; run with -update and review\ngot\n%s", path, got)
	}
}

// at is the moment of every snapshot here.
func at() time.Time { return time.Date(2026, 3, 1, 18, 30, 0, 0, time.UTC) }

func known(c units.Celsius) controller.Thermometer {
	return controller.Thermometer{Known: true, Celsius: c, Age: 2 * time.Second, Good: 5}
}

// idle is a board on its first day.
func idle() *controller.Snapshot {
	return &controller.Snapshot{
		Site: "north cellar", Build: controller.Build{Version: "v1.2.3", Revision: "abc", Go: "go1.26"}, At: at(), Counted: time.Minute,
		Vessels: []controller.View{{
			Name: "fv1",
			Decision: controller.Decision{
				Mode: controller.Idle, Beer: known(17.0625),
				Reasons: []controller.Reason{{Code: controller.CodeIdle}},
			},
			Cool:   controller.RelayView{Fitted: true, Line: guard.Line{For: time.Minute}},
			Probes: []controller.ProbeView{{ID: "fv1/thermowell", Last: at().Add(-2 * time.Second)}, {ID: "fv1/hydrometer"}},
		}},
	}
}

// stages of the batch here.
func stages() []controller.StageName {
	return []controller.StageName{
		{Name: "fill", Kind: controller.Fill},
		{Name: "primary", Kind: controller.Primary},
		{Name: "diacetyl rest", Kind: controller.Rest},
		{Name: "crash", Kind: controller.Crash},
		{Name: "cold hold", Kind: controller.Hold},
	}
}

// fermenting is a batch in the stage of that index, with everything that a page
// can show.
func fermenting(index int) *controller.Snapshot {
	s := idle()
	v := &s.Vessels[0]
	v.Schedule, v.Stages, v.Carbonation, v.Final = "pale-ale-with-rest", stages(), 2.5, 1.010
	v.Heat = controller.RelayView{Fitted: true, Line: guard.Line{For: 3 * time.Hour, Switches: 4, OnFor: 95 * time.Minute}}
	v.Cool = controller.RelayView{Fitted: true, Line: guard.Line{On: true, For: 12 * time.Minute, Switches: 61, OnFor: 7*time.Hour + 20*time.Second}}
	v.Decision = controller.Decision{
		Mode: controller.InBatch, Batch: "batch-12", Stage: stages()[index].Name, Kind: stages()[index].Kind, Index: index,
		In: 31*time.Hour + 20*time.Minute, Pitched: true, Since: 80 * time.Hour, HasTarget: true, Target: 19,
		Beer: known(19.1875), Surround: known(11), Ambient: known(18.5),
		Gravity: controller.Gravity{Known: true, Ready: true, Now: 1.01823, Left: 7.04, Low: 5.6, High: 8.9, Final: 1.01119, PerDay: 6},
		Forecast: controller.Outlook{Made: true, Age: 20 * time.Minute, List: []controller.Forecast{
			{Event: controller.RestBegins, Stage: "diacetyl rest", Early: 9*time.Hour + 20*time.Minute, Middle: 14*time.Hour + 20*time.Minute, Late: 22*time.Hour + 20*time.Minute},
			{Event: controller.Ready, Stage: "cold hold", Early: 5 * units.Day, Middle: 7 * units.Day, Late: 9 * units.Day, Person: true},
		}},
		Heat: thermal.Heat{Watts: 11.34, Rate: 0.262, Low: 0.181, High: 0.343},
		Response: thermal.Rates{
			Known: true, Drift: 0.0713, Cool: -2.214, CoolLag: 10 * time.Minute, CoolLearnt: 5*time.Hour + 12*time.Minute,
			Heat: 1, HeatLag: 15 * time.Minute, // not learnt: no work of it was seen
		},
		Reasons: []controller.Reason{
			{Code: controller.CodeCools, Numbers: []controller.Number{{Name: "beer", Value: 19.1875, Unit: controller.InCelsius}, {Name: "target", Value: 19, Unit: controller.InCelsius}}},
			{Code: controller.CodeWaitsPoints, Numbers: []controller.Number{{Name: "left", Value: 7.04, Unit: controller.InPoints}, {Name: "limit", Value: 6, Unit: controller.InPoints}}},
		},
	}
	v.Recent = []controller.Stamped{
		{At: at().Add(-31 * time.Hour), Event: controller.Event{Kind: controller.OrderTaken, Verb: controller.PitchedNow, Who: "anna", Reason: controller.Reason{Code: controller.CodePitched}}},
		{At: at().Add(-31 * time.Hour), Event: controller.Event{Kind: controller.StageEntered, Stage: "primary", StageKind: controller.Primary, Reason: controller.Reason{Code: controller.CodePitched}}},
	}
	return s
}

// troubled is a batch in which a person is needed for everything.
func troubled() *controller.Snapshot {
	s := fermenting(2)
	s.RecordFailing = true
	d := &s.Vessels[0].Decision
	d.Beer.Failed, d.Paused, d.HasTarget, d.Gravity = true, true, false, controller.Gravity{}
	d.Heat = thermal.Heat{Off: thermal.TooLeaky}
	d.NeedsWhat = "confirm: forced diacetyl test is clean"
	d.Wait = 90 * time.Second
	d.Counts = alarms.Counts{Standing: 1, Chattering: 2}
	d.Alarms = []alarms.Entry{
		{ID: alarms.ProbeLost, Phase: alarms.Unanswered},
		{ID: alarms.RecordFailing, Phase: alarms.Acknowledged, Shelved: time.Hour},
		{ID: alarms.Stuck, Phase: alarms.Returned},
		{ID: alarms.BeerTooWarm, Phase: alarms.Pending},
		{ID: "of another version", Phase: alarms.Unanswered},
	}
	return s
}

func options(s *controller.Snapshot) web.Options {
	return web.Options{
		Latest: func() *controller.Snapshot { return s }, Now: func() time.Time { return at().Add(3 * time.Second) }, Stale: 30 * time.Second,
	}
}

// get asks for a path as a browser on the board does.
func get(t *testing.T, o web.Options, path string) *httptest.ResponseRecorder {
	t.Helper()
	return ask(t, o, httptest.NewRequest(http.MethodGet, "http://127.0.0.1:8420"+path, nil))
}

func ask(t *testing.T, o web.Options, r *http.Request) *httptest.ResponseRecorder {
	t.Helper()
	w := httptest.NewRecorder()
	web.Handler(o).ServeHTTP(w, r)
	return w
}

func TestHealthTellsWhetherStepsAreFinished(t *testing.T) {
	for _, row := range []struct {
		name   string
		latest *controller.Snapshot
		age    time.Duration
		status int
		says   string
	}{
		{"no step is finished yet", nil, 0, http.StatusServiceUnavailable, "no step is finished yet"},
		{"a step that is just finished", idle(), 3 * time.Second, http.StatusOK, "ok"},
		{"a step as old as is allowed", idle(), 30 * time.Second, http.StatusOK, "ok"},
		{"a step that is too old", idle(), 31 * time.Second, http.StatusServiceUnavailable, "31s old"},
	} {
		o := options(row.latest)
		o.Now = func() time.Time { return at().Add(row.age) }
		for _, closed := range []bool{false, true} {
			o.Closed = closed
			w := get(t, o, "/healthz")
			if w.Code != row.status || !strings.Contains(w.Body.String(), row.says) {
				t.Errorf("%s, closed %v: %d %q", row.name, closed, w.Code, w.Body)
			}
		}
	}
}

func TestOnlyTheBoardsNamesAreAnsweredTo(t *testing.T) {
	o := options(idle())
	o.Hosts = []string{"brewery.local", "cellar"}
	for host, status := range map[string]int{
		"127.0.0.1:8420": http.StatusOK, "127.0.0.1": http.StatusOK, "[::1]:8420": http.StatusOK, "[::1]": http.StatusOK,
		"192.168.1.20": http.StatusOK, "localhost:8420": http.StatusOK, "LocalHost": http.StatusOK,
		"brewery.local": http.StatusOK, "Brewery.Local:8420": http.StatusOK, "cellar": http.StatusOK,
		"evil.example": http.StatusMisdirectedRequest, "evil.example:8420": http.StatusMisdirectedRequest,
		"127.0.0.1.evil.example": http.StatusMisdirectedRequest, "localhost.evil.example": http.StatusMisdirectedRequest,
		"xbrewery.local": http.StatusMisdirectedRequest, "": http.StatusMisdirectedRequest, "[": http.StatusMisdirectedRequest,
	} {
		for _, path := range []string{"/", "/healthz", "/api/v1/state", "/metrics", "/nothing"} {
			r := httptest.NewRequest(http.MethodGet, "http://127.0.0.1"+path, nil)
			r.Host = host
			w := ask(t, o, r)
			refused := w.Code == http.StatusMisdirectedRequest
			if refused != (status == http.StatusMisdirectedRequest) {
				t.Errorf("host %q, %s: %d", host, path, w.Code)
			}
			if refused && strings.Contains(w.Body.String(), "north cellar") {
				t.Errorf("host %q is told the site", host)
			}
		}
	}
}

// What a stranger writes into the request comes back short, plain and as text.
func TestAHostileHostIsAnsweredPlainly(t *testing.T) {
	r := httptest.NewRequest(http.MethodGet, "http://127.0.0.1/", nil)
	r.Host = "<script>alert(1)</script>\x1b[31m\n" + strings.Repeat("é", 500)
	w := ask(t, options(idle()), r)
	body := w.Body.String()
	if w.Code != http.StatusMisdirectedRequest || len(body) > 200 || strings.ContainsAny(strings.TrimSpace(body), "\x1b\n") {
		t.Errorf("%d %q", w.Code, body)
	}
	if c := w.Header().Get("Content-Type"); !strings.HasPrefix(c, "text/plain") || w.Header().Get("X-Content-Type-Options") != "nosniff" {
		t.Errorf("the answer is %q", c)
	}
}

func TestHeadersKeepThePageToItself(t *testing.T) {
	for _, path := range []string{"/", "/healthz", "/api/v1/state", "/nothing"} {
		h := get(t, options(fermenting(1)), path).Header()
		csp := h.Get("Content-Security-Policy")
		for _, part := range []string{"default-src 'none'", "frame-ancestors 'none'", "form-action 'none'", "base-uri 'none'"} {
			if !strings.Contains(csp, part) {
				t.Errorf("%s: the policy %q lacks %q", path, csp, part)
			}
		}
		if strings.Contains(csp, "script-src") || h.Get("X-Content-Type-Options") != "nosniff" || h.Get("Referrer-Policy") != "no-referrer" {
			t.Errorf("%s: %v", path, h)
		}
	}
	if strings.Contains(get(t, options(fermenting(1)), "/").Body.String(), "<script") {
		t.Error("the page has a script, which its policy forbids")
	}
}

// A board that others can reach shows nothing but health, and takes readings.
func TestAClosedBoardShowsNothing(t *testing.T) {
	taken := 0
	o := options(fermenting(1))
	o.Closed = true
	o.Push = http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { taken++; w.WriteHeader(http.StatusNoContent) })
	o.Metrics = http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write([]byte("restpoint_up 1\n")) })
	for path, status := range map[string]int{
		"/": http.StatusNotFound, "/api/v1/state": http.StatusNotFound, "/metrics": http.StatusNotFound, "/healthz": http.StatusOK,
		"/api/v1/orders": http.StatusNotFound,
	} {
		w := get(t, o, path)
		if w.Code != status || strings.Contains(w.Body.String(), "fv1") {
			t.Errorf("%s: %d %q", path, w.Code, w.Body)
		}
	}
	if w := ask(t, o, httptest.NewRequest(http.MethodPost, "http://127.0.0.1/api/v1/readings/tank-1", nil)); w.Code != http.StatusNoContent || taken != 1 {
		t.Errorf("the readings' door: %d", w.Code)
	}
	o.Closed = false
	for _, path := range []string{"/", "/api/v1/state", "/metrics", "/healthz"} {
		if w := get(t, o, path); w.Code != http.StatusOK {
			t.Errorf("open, %s: %d", path, w.Code)
		}
	}
}

// Nothing can be changed but by pushing a reading: every other method on every
// other path is refused, and orders are not taken over the network.
func TestNothingIsChangedOverTheNetwork(t *testing.T) {
	o := options(fermenting(1))
	before := get(t, o, "/api/v1/state").Body.String()
	for _, method := range []string{http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete, http.MethodOptions, http.MethodTrace, "ADVANCE"} {
		for _, path := range []string{"/", "/healthz", "/api/v1/state", "/api/v1/orders", "/metrics", "/api/v1/readings/tank-1"} {
			r := httptest.NewRequest(method, "http://127.0.0.1"+path, strings.NewReader(`{"vessel":"fv1","do":"end-off"}`))
			if w := ask(t, o, r); w.Code != http.StatusMethodNotAllowed && w.Code != http.StatusNotFound {
				t.Errorf("%s %s: %d", method, path, w.Code)
			}
		}
	}
	for _, path := range []string{"/?do=end-off", "/api/v1/state?do=end-off", "/api/v1/orders?vessel=fv1&do=end-off"} {
		get(t, o, path)
	}
	if after := get(t, o, "/api/v1/state").Body.String(); after != before {
		t.Errorf("the state changed\n%s\n%s", before, after)
	}
}
