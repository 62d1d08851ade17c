package web_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"example.org/restpoint/cmd/restpoint/internal/web"
	"example.org/restpoint/controller"
	"example.org/restpoint/profiles"
)

// given is what reached the loop.
type given struct {
	vessel, words string
	order         controller.Order
	file          *profiles.File
}

// loop stands for the daemon: it notes what it was given and answers.
type loop struct {
	got    []given
	taken  bool
	stored bool
	fails  error
}

func (l *loop) give(_ context.Context, vessel, words string, o controller.Order, f *profiles.File) (controller.Answer, bool, error) {
	l.got = append(l.got, given{vessel, words, o, f})
	reason := controller.Reason{Code: controller.CodeNoBatch}
	if l.taken {
		reason = controller.Reason{Code: controller.CodeArmed}
	}
	return controller.Answer{ID: o.ID, Taken: l.taken, Reason: reason}, l.stored, l.fails
}

func socket(l *loop, fit func(string, *profiles.File) error) http.Handler {
	return web.Socket(web.SocketOptions{Latest: func() *controller.Snapshot { return fermenting(1) }, Give: l.give, Fit: fit, Now: at})
}

// post sends a body and gives the answer.
func post(h http.Handler, body string) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest(http.MethodPost, "http://restpoint/api/v1/orders", strings.NewReader(body)))
	return w
}

func asJSON(t *testing.T, v any) string {
	t.Helper()
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// text of a schedule that comes with the program.
func schedule(t *testing.T) string {
	t.Helper()
	f, err := profiles.Load("pale-ale-with-rest")
	if err != nil {
		t.Fatal(err)
	}
	return string(f.Source)
}

func TestOrdersReachTheLoopAndItsAnswerComesBack(t *testing.T) {
	for _, row := range []struct {
		name          string
		taken, stored bool
		want          web.OrderAnswer
	}{
		{"taken", true, true, web.OrderAnswer{ID: "x1", Taken: true, Stored: true, Text: "armed: the tank may be cooled"}},
		{"taken, not stored", true, false, web.OrderAnswer{ID: "x1", Taken: true, Text: "armed: the tank may be cooled"}},
		{"refused", false, true, web.OrderAnswer{ID: "x1", Stored: true, Text: "no batch is running"}},
	} {
		l := &loop{taken: row.taken, stored: row.stored}
		w := post(socket(l, nil), `{"vessel":"fv1","do":"target 20 C","id":"x1","why":"tastes of butter"}`)
		var got web.OrderAnswer
		if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil || w.Code != http.StatusOK || got != row.want {
			t.Errorf("%s: %d %q %v", row.name, w.Code, w.Body, err)
		}
		if len(l.got) != 1 {
			t.Fatalf("%s: the loop got %d orders", row.name, len(l.got))
		}
		g := l.got[0]
		if g.vessel != "fv1" || g.words != "target 20 C" || g.order.ID != "x1" || g.order.Why != "tastes of butter" || g.order.Do.Kind != controller.SetTarget || g.order.Do.Celsius != 20 || g.file != nil {
			t.Errorf("%s: the loop got %+v", row.name, g)
		}
	}
}

// An order without an id of its own gets one, so that it is carried out once.
func TestAnOrderWithoutAnIDGetsOne(t *testing.T) {
	l := &loop{taken: true}
	post(socket(l, nil), `{"vessel":"fv1","do":"arm"}`)
	if want := fmt.Sprintf("fv1-%d", at().UnixNano()); l.got[0].order.ID != want {
		t.Errorf("the id is %q, want %q", l.got[0].order.ID, want)
	}
}

func TestOrdersThatMakeNoSenseNeverReachTheLoop(t *testing.T) {
	text := schedule(t)
	start := func(change func(*web.Order)) string {
		o := web.Order{Vessel: "fv1", Do: "start pale-ale-with-rest as b1", ScheduleName: "pale-ale-with-rest", ScheduleText: text}
		change(&o)
		return asJSON(t, o)
	}
	for _, row := range []struct {
		name, body string
		status     int
		says       string
	}{
		{"nothing", ``, http.StatusBadRequest, "read the order"},
		{"no JSON", `end-off`, http.StatusBadRequest, "read the order"},
		{"half an object", `{"vessel":"fv1"`, http.StatusBadRequest, "read the order"},
		{"a list", `[]`, http.StatusBadRequest, "read the order"},
		{"an unknown field", `{"vessel":"fv1","do":"arm","who":"the boss"}`, http.StatusBadRequest, "who"},
		{"a wrong type", `{"vessel":1,"do":"arm"}`, http.StatusBadRequest, "read the order"},
		{"two orders at once", `{"vessel":"fv1","do":"arm"} {"vessel":"fv1","do":"advance"}`, http.StatusBadRequest, "more than one"},
		{"no words", `{"vessel":"fv1"}`, http.StatusBadRequest, "an order is missing"},
		{"words that are no order", `{"vessel":"fv1","do":"sing"}`, http.StatusBadRequest, `no order \"sing\"`},
		{"a temperature without a unit", `{"vessel":"fv1","do":"target 20"}`, http.StatusBadRequest, "unit is missing"},
		{"too big", `{"vessel":"fv1","do":"arm","why":"` + strings.Repeat("x", 300<<10) + `"}`, http.StatusBadRequest, "too large"},
		{"a start without its schedule", `{"vessel":"fv1","do":"start my-ale as b1"}`, http.StatusUnprocessableEntity, "text did not come"},
		{"a start with a schedule that is none", start(func(o *web.Order) { o.ScheduleText = "schedule: x\nwort:\n" }), http.StatusUnprocessableEntity, "pale-ale-with-rest:2:6: wort: has no value"},
		{"a start with a gravity that is none", start(func(o *web.Order) { o.Original = "heavy" }), http.StatusUnprocessableEntity, "original gravity"},
		{"a start with gravities the wrong way", start(func(o *web.Order) { o.Final = "1.060" }), http.StatusUnprocessableEntity, "is not above"},
		{"a start that does not fit the vessel", start(func(o *web.Order) { o.Vessel = "small" }), http.StatusUnprocessableEntity, "too warm for small"},
		{"an adopt without its schedule", `{"vessel":"fv1","do":"adopt my-ale"}`, http.StatusUnprocessableEntity, "text did not come"},
	} {
		l := &loop{taken: true}
		w := post(socket(l, func(vessel string, _ *profiles.File) error {
			if vessel == "small" {
				return errors.New("too warm for small")
			}
			return nil
		}), row.body)
		if w.Code != row.status || !strings.Contains(w.Body.String(), row.says) || !strings.HasPrefix(w.Body.String(), `{"error":`) {
			t.Errorf("%s: %d %.200q, want %d and %q", row.name, w.Code, w.Body, row.status, row.says)
		}
		if len(l.got) != 0 {
			t.Errorf("%s: it reached the loop: %+v", row.name, l.got[0].order)
		}
	}
}

func TestAStartBringsItsScheduleAlong(t *testing.T) {
	text := schedule(t)
	l := &loop{taken: true, stored: true}
	var fitted *profiles.File
	h := socket(l, func(vessel string, f *profiles.File) error {
		if vessel != "fv1" {
			t.Errorf("held against the limits of %q", vessel)
		}
		fitted = f
		return nil
	})
	w := post(h, asJSON(t, web.Order{
		Vessel: "fv1", Do: "start my.yaml as batch-12", ScheduleName: "my.yaml", ScheduleText: text, Original: "1.058", Final: "3 P",
	}))
	if w.Code != http.StatusOK {
		t.Fatalf("%d %s", w.Code, w.Body)
	}
	g := l.got[0]
	if g.order.Do.Batch != "batch-12" || g.file == nil || string(g.file.Source) != text || g.file.Name != "my.yaml" || fitted != g.file {
		t.Errorf("%+v", g)
	}
	s := g.order.Do.Schedule
	if s == nil || s != g.file.Schedule || s.Wort.Original != 1.058 || s.Wort.Final < 1.011 || s.Wort.Final > 1.013 {
		t.Errorf("the batch's own gravities are lost: %+v", s)
	}
	post(h, asJSON(t, web.Order{Vessel: "fv1", Do: "start my.yaml", ScheduleName: "my.yaml", ScheduleText: text}))
	if got := l.got[1].order.Do.Batch; got != "fv1-20260301-1830" {
		t.Errorf("a batch without a name is called %q", got)
	}
	post(socket(l, nil), asJSON(t, web.Order{Vessel: "fv1", Do: "adopt my.yaml", ScheduleName: "my.yaml", ScheduleText: text}))
	if a := l.got[2]; a.order.Do.Kind != controller.Adopt || a.order.Do.Schedule == nil || a.file == nil {
		t.Errorf("adopt: %+v", a)
	}
}

func TestWhenTheLoopGivesNoAnswer(t *testing.T) {
	for _, row := range []struct {
		name   string
		err    error
		status int
	}{
		{"the queue is full", fmt.Errorf("fv1: %w", web.ErrFull), http.StatusServiceUnavailable},
		{"something else", errors.New("no answer yet"), http.StatusInternalServerError},
	} {
		w := post(socket(&loop{fails: row.err}, nil), `{"vessel":"fv1","do":"arm"}`)
		if w.Code != row.status || !strings.Contains(w.Body.String(), row.err.Error()) {
			t.Errorf("%s: %d %q", row.name, w.Code, w.Body)
		}
	}
}

// An order needs a POST; the state can be looked at, and nothing else is there.
func TestTheSocketAnswersStateAndOrdersOnly(t *testing.T) {
	for _, row := range []struct {
		method, path string
		status       int
	}{
		{http.MethodGet, "/api/v1/state", http.StatusOK},
		{http.MethodGet, "/api/v1/orders?vessel=fv1&do=advance", http.StatusMethodNotAllowed},
		{http.MethodDelete, "/api/v1/orders", http.StatusMethodNotAllowed},
		{http.MethodPost, "/api/v1/state", http.StatusMethodNotAllowed},
		{http.MethodGet, "/", http.StatusNotFound},
		{http.MethodGet, "/metrics", http.StatusNotFound},
	} {
		l := &loop{taken: true}
		w := httptest.NewRecorder()
		socket(l, nil).ServeHTTP(w, httptest.NewRequest(row.method, "http://restpoint"+row.path, strings.NewReader(`{"vessel":"fv1","do":"advance"}`)))
		if w.Code != row.status || len(l.got) != 0 {
			t.Errorf("%s %s: %d, %d orders", row.method, row.path, w.Code, len(l.got))
		}
	}
}

// Whoever cannot be told by the kernel has no name: no order of his lets a beer
// into a crash.
func TestWithoutAKnownPeerAnOrderHasNoName(t *testing.T) {
	l := &loop{taken: true}
	post(socket(l, nil), `{"vessel":"fv1","do":"advance"}`)
	if who := l.got[0].order.Who; who != "" {
		t.Errorf("the order is by %q", who)
	}
	if who := web.Peer(web.WithPeer(t.Context(), nil)); who != "" {
		t.Errorf("no connection at all is %q", who)
	}
}

func FuzzOrdersNeverPanic(f *testing.F) {
	f.Add(`{"vessel":"fv1","do":"target 20 C","id":"x1"}`)
	f.Add(`{"vessel":"fv1","do":"start x as y","schedule_name":"x","schedule_text":"schedule: x\n","original_gravity":"1.050"}`)
	f.Add(`{"do":"mode cleaning for 2 h"}`)
	f.Add("{\"do\":\"sample 1e999 at \u00b5\"}")
	f.Fuzz(func(t *testing.T, body string) {
		l := &loop{taken: true, stored: true}
		w := post(socket(l, nil), body)
		answer, err := io.ReadAll(w.Body)
		if err != nil || !json.Valid(answer) {
			t.Errorf("%d %q", w.Code, answer)
		}
		if (w.Code == http.StatusOK) != (len(l.got) == 1) {
			t.Errorf("%d, %d orders", w.Code, len(l.got))
		}
	})
}
