package main

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"net"
	"net/http"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/web"
)

// canned is a running program that gives one answer and keeps what it was asked.
type canned struct {
	socket string
	orders []web.Order
}

// serveCanned answers on a socket until the test ends.
func serveCanned(t *testing.T, status int, answer any) *canned {
	t.Helper()
	c := &canned{socket: filepath.Join(t.TempDir(), "s")}
	l, err := (&net.ListenConfig{}).Listen(t.Context(), "unix", c.socket)
	if err != nil {
		t.Fatal(err)
	}
	server := &http.Server{ReadHeaderTimeout: time.Second, Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodPost {
			var o web.Order
			if err := json.NewDecoder(r.Body).Decode(&o); err != nil {
				t.Error(err)
			}
			c.orders = append(c.orders, o)
		}
		w.WriteHeader(status)
		if text, ok := answer.(string); ok {
			_, _ = io.WriteString(w, text)
			return
		}
		_ = json.NewEncoder(w).Encode(answer)
	})}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(l) }()
	t.Cleanup(func() {
		if err := server.Shutdown(context.Background()); err != nil {
			t.Error(err)
		}
		if err := <-ended; !errors.Is(err, http.ErrServerClosed) {
			t.Error(err)
		}
	})
	return c
}

// told is a state in which everything happens at once.
func told() web.StateJSON {
	return web.StateJSON{
		Site: "north cellar", Time: time.Date(2026, 3, 1, 18, 30, 0, 0, time.UTC), RecordFailing: true,
		Vessels: []web.VesselJSON{
			{
				Name: "fv1", Mode: "batch", Batch: "batch-12", Stage: "diacetyl rest", Kind: "rest", InStageS: 112800,
				Beer: new(19.1875), Target: new(21.0), Gravity: new(1.01823), PointsLeft: new(7.04), PointsLeftLow: new(5.6), PointsLeftHigh: new(8.9), FinalGravity: new(1.01119),
				Forecast: []web.ForecastJSON{{Event: "terminal", EarlyS: 86400, MiddleS: 144000, LateS: 230400, Text: "terminal gravity in 40 h (24 to 64 h)", Time: new(time.Date(2026, 3, 3, 10, 30, 0, 0, time.UTC))}},
				Diacetyl: new(0.124), GravityReadings: 96, GravityRejected: 3, WhyRejected: "rises faster than beer can",
				Heat: new(true), Cool: new(false), Reasons: []string{"heats: beer 19.2 C, 21.0 C wanted", "advice only: 0.12 mg/L of diacetyl", "waits: 4 h of 2 d"},
				Needs:    "confirm: forced diacetyl test is clean",
				Standing: 1, Chattering: 2,
				Alarms: []web.AlarmJSON{
					{Alarm: "record-failing", Priority: "high", Acknowledged: true, Cause: "the record cannot be written", Do: "look at the card"},
					{Alarm: "stuck", Priority: "high", Cause: "gravity stopped falling", Do: "rouse, warm, taste"},
				},
			},
			{Name: "fv2", Mode: "idle", Reasons: []string{"idle: both relays off"}},
		},
	}
}

func TestStatusForPeopleAndForScripts(t *testing.T) {
	c := serveCanned(t, http.StatusOK, told())
	code, out, errs := try(t, "", "status", "--socket", c.socket)
	if code != exitOK {
		t.Fatalf("exit %d: %s", code, errs)
	}
	golden(t, "status.txt", out)
	code, out, errs = try(t, "", "status", "--socket", c.socket, "--json")
	var state web.StateJSON
	if err := json.Unmarshal([]byte(out), &state); err != nil || code != exitOK || len(state.Vessels) != 2 || *state.Vessels[0].PointsLeft != 7.04 {
		t.Errorf("exit %d, %v, %s%s", code, err, out, errs)
	}
}

func TestTheSocketIsFoundInTheSiteFile(t *testing.T) {
	c := serveCanned(t, http.StatusOK, told())
	site := put(t, "site.yaml", strings.Replace(stepSite, "site: pipe\n", "site: pipe\nsocket: "+c.socket+"\n", 1))
	if code, out, errs := try(t, "", "status", "-c", site); code != exitOK || !strings.Contains(out, "north cellar") {
		t.Errorf("exit %d, %s%s", code, out, errs)
	}
	if code, _, errs := try(t, "", "status", "-c", put(t, "bad.yaml", "site: x\n")); code != exitConfig || !strings.Contains(errs, "vessels") {
		t.Errorf("a bad site file: exit %d, %s", code, errs)
	}
}

func TestWhatTheProgramAnswersIsSaid(t *testing.T) {
	for _, row := range []struct {
		name   string
		status int
		answer any
		args   []string
		code   int
		says   string
	}{
		{"taken", http.StatusOK, web.OrderAnswer{ID: "1", Taken: true, Stored: true, Text: "armed: the tank may be cooled"}, []string{"tell", "fv1", "arm"}, exitOK, "taken: armed: the tank may be cooled\n"},
		{"taken, not stored", http.StatusOK, web.OrderAnswer{ID: "1", Taken: true, Text: "armed"}, []string{"tell", "fv1", "arm"}, exitOK, "taken, not stored: armed\n"},
		{"refused", http.StatusOK, web.OrderAnswer{ID: "1", Stored: true, Text: "no batch is running"}, []string{"tell", "fv1", "arm"}, exitFailed, "refused: no batch is running\n"},
		{"as JSON", http.StatusOK, web.OrderAnswer{ID: "1", Taken: true, Stored: true, Text: "armed"}, []string{"tell", "--json", "fv1", "arm"}, exitOK, `{"id":"1","taken":true,"stored":true,"text":"armed"}`},
		{"refused, as JSON", http.StatusOK, web.OrderAnswer{ID: "1", Text: "no"}, []string{"tell", "--json", "fv1", "arm"}, exitFailed, `"taken":false`},
		{"an error with its reason", http.StatusServiceUnavailable, map[string]string{"error": "too many orders are waiting; try again"}, []string{"tell", "fv1", "arm"}, exitFailed, "restpoint: too many orders are waiting"},
		{"an error without one", http.StatusInternalServerError, "oops", []string{"tell", "fv1", "arm"}, exitFailed, "500 Internal Server Error"},
		{"an answer that is none", http.StatusOK, "<html>", []string{"tell", "fv1", "arm"}, exitFailed, "read the answer"},
		{"no state yet", http.StatusServiceUnavailable, map[string]string{"error": "no step is finished yet"}, []string{"status"}, exitFailed, "no step is finished yet"},
	} {
		c := serveCanned(t, row.status, row.answer)
		code, out, errs := try(t, "", append([]string{row.args[0], "--socket", c.socket}, row.args[1:]...)...)
		if code != row.code || !strings.Contains(out+errs, row.says) {
			t.Errorf("%s: exit %d, %q %q", row.name, code, out, errs)
		}
	}
}

// What is asked reaches the program whole; a start brings its schedule along, and
// what is wrong with it is said before anybody is asked.
func TestOrdersAreSentWhole(t *testing.T) {
	c := serveCanned(t, http.StatusOK, web.OrderAnswer{Taken: true, Stored: true})
	at := []string{"tell", "--socket", c.socket}
	own := put(t, "own.yaml", schedule(t))
	for _, args := range [][]string{
		{"fv1", "target", "20", "C", "--why", "tastes of butter", "--id", "x1"},
		{"fv1", "sample", "1.018 at 20 C"},
		{"fv2", "start", "cool-lager", "as", "batch-12", "--og", "1.051", "--fg", "1.011"},
		{"fv2", "start", own},
	} {
		if code, _, errs := try(t, "", slices.Concat(at, args)...); code != exitOK {
			t.Errorf("%v: exit %d, %s", args, code, errs)
		}
	}
	if len(c.orders) != 4 {
		t.Fatalf("%d orders came", len(c.orders))
	}
	if o := c.orders[0]; o != (web.Order{Vessel: "fv1", Do: "target 20 C", ID: "x1", Why: "tastes of butter"}) {
		t.Errorf("%+v", o)
	}
	if o := c.orders[1]; o.Do != "sample 1.018 at 20 C" || o.ScheduleText != "" {
		t.Errorf("%+v", o)
	}
	if o := c.orders[2]; o.Do != "start cool-lager as batch-12" || o.ScheduleName != "cool-lager" || !strings.HasPrefix(o.ScheduleText, "schedule: cool-lager\n") || o.Original != "1.051" || o.Final != "1.011" {
		t.Errorf("%+v", o)
	}
	if o := c.orders[3]; o.ScheduleName != own || o.ScheduleText != schedule(t) {
		t.Errorf("%+v", o)
	}
	for _, row := range []struct {
		args []string
		code int
	}{
		{[]string{"fv1", "start", "no-such-schedule"}, exitConfig},
		{[]string{"fv1", "start", put(t, "bad.yaml", "schedule: x\nwort:\n")}, exitConfig},
		{[]string{"fv1", "start", "cool-lager", "--og", "1.001"}, exitUsage},
	} {
		if code, _, errs := try(t, "", slices.Concat(at, row.args)...); code != row.code || len(c.orders) != 4 {
			t.Errorf("%v: exit %d, %s; %d orders came", row.args, code, errs, len(c.orders))
		}
	}
}

// schedule is the text of a schedule that comes with the program.
func schedule(t *testing.T) string {
	t.Helper()
	f, err := loadSchedule("pale-ale-with-rest")
	if err != nil {
		t.Fatal(err)
	}
	return string(f.Source)
}
