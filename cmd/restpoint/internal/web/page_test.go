package web_test

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/web"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/gravity"
)

func page(t *testing.T, s *controller.Snapshot) string {
	t.Helper()
	w := get(t, options(s), "/")
	if w.Code != http.StatusOK || w.Header().Get("Content-Type") != "text/html; charset=utf-8" || w.Header().Get("Cache-Control") != "no-store" {
		t.Fatalf("%d %v", w.Code, w.Header())
	}
	return w.Body.String()
}

func TestPages(t *testing.T) {
	golden(t, "page-idle.html", []byte(page(t, idle())))
	golden(t, "page-primary.html", []byte(page(t, fermenting(1))))
	golden(t, "page-troubled.html", []byte(page(t, troubled())))
}

func TestThePageTellsWhereTheBatchIs(t *testing.T) {
	for i, st := range stages() {
		text := page(t, fermenting(i))
		if !strings.Contains(text, "<h2>fv1: "+st.Name+"</h2>") {
			t.Errorf("%s: the head does not name the stage", st.Name)
		}
		if strings.Count(text, "(done)") != i || strings.Count(text, "(now)") != 1 || strings.Count(text, "(to come)") != len(stages())-1-i {
			t.Errorf("%s: %d done, %d now, %d to come", st.Name, strings.Count(text, "(done)"), strings.Count(text, "(now)"), strings.Count(text, "(to come)"))
		}
	}
}

func TestThePageSaysWhatMatters(t *testing.T) {
	late := options(fermenting(1))
	late.Now = func() time.Time { return at().Add(2*time.Hour + 10*time.Minute) }
	demo := fermenting(1)
	demo.Demo = true
	unfitted := idle()
	unfitted.Vessels[0].Cool = controller.RelayView{}
	empty := &controller.Snapshot{Site: "empty", At: at()}
	for _, row := range []struct {
		name     string
		text     string
		says     []string
		saysNot  []string
		vessels  int
		position string
	}{
		{"idle", page(t, idle()), []string{"fv1: idle", "17.1 C", "both relays off", "heat</dt><dd>not fitted"}, []string{"<dt>gravity</dt>", "role=\"alert\"", "Needs a person"}, 1, ""},
		{"in a batch", page(t, fermenting(1)), []string{
			"19.2 C, target 19.0 C", "1.0182", "expected to end at 1.0112", "7.0 points (likely 5.6 to 8.9 points)",
			"ON for 12 min; 61 starts, 7 h in all", "off for 3 h; 4 starts", "cools: beer 19.2 C, 19.0 C wanted", "waits for 6.0 points left, 7.0 points now", "by anna",
		}, []string{"role=\"alert\""}, 1, ""},
		{"in trouble", page(t, troubled()), []string{
			"The record cannot be written", "Needs a person: confirm: forced diacetyl test is clean", "restpoint tell fv1 confirm</code>",
			"Alarm (urgent, unanswered)", "the beer probe gives no believable reading", "Alarm (high, acknowledged, shelved for 1 h)", "<dd>not known, target –</dd>",
		}, []string{"gravity stopped falling", "of another version", "well above its target"}, 1, ""},
		{"a stale picture", get(t, late, "/").Body.String(), []string{"This picture is 2 h 10 min old: the program does not step"}, nil, 1, ""},
		{"a demonstration", page(t, demo), []string{"nothing here is real beer"}, nil, 1, ""},
		{"relays that are not fitted", page(t, unfitted), []string{"cool</dt><dd>not fitted"}, nil, 1, ""},
		{"no vessels", page(t, empty), []string{"empty"}, nil, 0, ""},
	} {
		for _, s := range row.says {
			if !strings.Contains(row.text, s) {
				t.Errorf("%s: the page does not say %q\n%s", row.name, s, row.text)
			}
		}
		for _, s := range row.saysNot {
			if strings.Contains(row.text, s) {
				t.Errorf("%s: the page says %q", row.name, s)
			}
		}
		if n := strings.Count(row.text, "<article>"); n != row.vessels {
			t.Errorf("%s: %d vessels", row.name, n)
		}
	}
}

// Names come from files and people; none of them is taken for markup.
func TestHostileNamesStayText(t *testing.T) {
	const evil = `<img src=x onerror=alert(1)>"'&{{.Site}}`
	s := troubled()
	s.Site, s.Build.Version = evil, evil
	v := &s.Vessels[0]
	v.Name, v.Schedule = evil, evil
	v.Stages = []controller.StageName{{Name: evil}, {Name: evil}, {Name: evil}}
	d := &v.Decision
	d.Stage, d.Batch, d.NeedsWhat = evil, evil, evil
	d.Reasons = []controller.Reason{{Code: controller.CodeArmed}, {Code: evil}, {Code: controller.CodeConfirmed, Name: evil}}
	v.Recent = []controller.Stamped{{At: at(), Event: controller.Event{Kind: controller.OrderTaken, Who: evil, Why: evil, Say: evil, Stage: evil, Reason: controller.Reason{Code: controller.CodeConfirmed, Name: evil}}}}
	text := page(t, s)
	if strings.Contains(text, "<img") || strings.Contains(text, `onerror=alert(1)>"`) {
		t.Errorf("markup got through\n%s", text)
	}
	if !strings.Contains(text, "&lt;img src=x onerror=alert(1)&gt;") || !strings.Contains(text, "{{.Site}}") {
		t.Errorf("the name is not shown as it is\n%s", text)
	}
	state := get(t, options(s), "/api/v1/state")
	if c := state.Header().Get("Content-Type"); c != "application/json" {
		t.Errorf("the state is %q", c)
	}
	if strings.Contains(state.Body.String(), "<img") {
		t.Error("the state carries markup that a browser could be talked into")
	}
}

func TestBeforeTheFirstStepThereIsNothingToShow(t *testing.T) {
	for path, says := range map[string]string{"/": "no step is finished yet", "/api/v1/state": `{"error":"no step is finished yet"}`} {
		if w := get(t, options(nil), path); w.Code != http.StatusServiceUnavailable || !strings.Contains(w.Body.String(), says) {
			t.Errorf("%s: %d %q", path, w.Code, w.Body)
		}
	}
}

func TestStateForScripts(t *testing.T) {
	for name, s := range map[string]*controller.Snapshot{"idle": idle(), "primary": fermenting(1), "troubled": troubled()} {
		w := get(t, options(s), "/api/v1/state")
		if w.Code != http.StatusOK || w.Header().Get("Content-Type") != "application/json" {
			t.Errorf("%s: %d %v", name, w.Code, w.Header())
		}
		var state web.StateJSON
		if err := json.Unmarshal(w.Body.Bytes(), &state); err != nil {
			t.Fatal(err)
		}
		indented, err := json.MarshalIndent(state, "", "  ")
		if err != nil {
			t.Fatal(err)
		}
		golden(t, "state-"+name+".json", append(indented, '\n'))
	}
}

// null says that a thing is not known or not fitted; 0 and false are values.
func TestWhatIsNotKnownIsNull(t *testing.T) {
	s := idle()
	s.Vessels[0].Decision.Beer = controller.Thermometer{Known: true, Failed: true, Celsius: 19}
	v := web.State(s).Vessels[0]
	if v.Beer != nil || v.Target != nil || v.Gravity != nil || v.PointsLeft != nil || v.SincePitchedS != nil || v.Heat != nil {
		t.Errorf("%+v", v)
	}
	if v.Cool == nil || *v.Cool {
		t.Error("a relay that is fitted and off is not told as false")
	}
	if v.LastReadingTime[1].LastReading != nil || v.LastReadingTime[0].LastReading == nil {
		t.Error("a probe that never gave a reading has a time")
	}
	if v.Diacetyl != nil {
		t.Errorf("diacetyl %v", *v.Diacetyl)
	}
	resting := fermenting(1)
	resting.Vessels[0].Decision.Diacetyl = gravity.Diacetyl{Followed: true, MgL: 0.12345}
	if r := web.State(resting).Vessels[0]; r.Diacetyl == nil || *r.Diacetyl != 0.123 {
		t.Errorf("diacetyl %v, want 0.123", r.Diacetyl)
	}
	zero := fermenting(1)
	zero.Vessels[0].Decision.Beer = known(0)
	zero.Vessels[0].Decision.Gravity.Left = 0
	if z := web.State(zero).Vessels[0]; z.Beer == nil || *z.Beer != 0 || z.PointsLeft == nil || *z.PointsLeft != 0 {
		t.Error("zero is told as not known")
	}
	text, err := json.Marshal(web.State(&controller.Snapshot{Vessels: []controller.View{{}}}))
	if err != nil {
		t.Fatal(err)
	}
	for _, list := range []string{`"reasons":[]`, `"alarms":[]`, `"events":[]`, `"probes":[]`} {
		if !strings.Contains(string(text), list) {
			t.Errorf("%s is missing in %s", list, text)
		}
	}
}

func TestOnlyRaisedAlarmsAreTold(t *testing.T) {
	list := web.State(troubled()).Vessels[0].Alarms
	if len(list) != 2 || list[0].Alarm != string(alarms.ProbeLost) || list[1].Alarm != string(alarms.RecordFailing) {
		t.Fatalf("%+v", list)
	}
	if list[0].Acknowledged || !list[1].Acknowledged || list[1].ShelvedS != 3600 {
		t.Errorf("%+v", list)
	}
	for _, a := range list {
		row, ok := alarms.Find(alarms.ID(a.Alarm))
		if !ok || a.Cause != row.Cause || a.Do != row.Do || a.Consequence != row.Consequence || a.Available != row.Time || a.Priority != string(row.Priority) {
			t.Errorf("%+v", a)
		}
	}
}
