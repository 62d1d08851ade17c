package push_test

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors/push"
)

const (
	token = "a long and random token"
	path  = push.Prefix + "tank-1"
)

func noon() time.Time { return time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC) }

// rig is a handler with a clock that stands, and what it delivered.
type rig struct {
	*push.Handler
	now  time.Time
	got  []push.Delivery
	full bool
}

func source() push.Source {
	return push.Source{
		Name: "tank-1", Probe: "fv1/hydrometer", TokenHash: sha256.Sum256([]byte(token)),
		GravityPointer: "/sg", TemperaturePointer: "/temp", TimePointer: "/at", BatteryPointer: "/battery",
		GravityUnit: push.UnitGravity, TemperatureUnit: push.UnitCelsius, Corrected: true,
	}
}

func newRig(t testing.TB, change ...func(*push.Source)) *rig {
	t.Helper()
	s := source()
	for _, c := range change {
		c(&s)
	}
	r := &rig{now: noon()}
	h, err := push.New([]push.Source{s}, func(d push.Delivery) bool {
		if !r.full {
			r.got = append(r.got, d)
		}
		return !r.full
	})
	if err != nil {
		t.Fatal(err)
	}
	h.Now = func() time.Time { return r.now }
	r.Handler = h
	return r
}

// post sends a body as the source would, and gives the status and the reason.
func (r *rig) post(t testing.TB, body string, change ...func(*http.Request)) (int, string) {
	t.Helper()
	req := httptest.NewRequest(http.MethodPost, path, strings.NewReader(body))
	req.Header.Set("Authorization", "Bearer "+token)
	req.Header.Set("Content-Type", "application/json")
	for _, c := range change {
		c(req)
	}
	w := httptest.NewRecorder()
	r.ServeHTTP(w, req)
	if w.Code == http.StatusNoContent {
		if w.Body.Len() != 0 {
			t.Errorf("204 with the body %q", w.Body)
		}
		return w.Code, ""
	}
	var reason map[string]string
	if err := json.Unmarshal(w.Body.Bytes(), &reason); err != nil || len(reason) != 1 || reason["error"] == "" {
		t.Errorf("status %d with %q, which is not a reason", w.Code, w.Body)
	}
	if got := w.Header().Get("Content-Type"); got != "application/json" {
		t.Errorf("the reason is %q", got)
	}
	return w.Code, reason["error"]
}

func TestAReadingIsDeliveredAsItCame(t *testing.T) {
	r := newRig(t)
	if status, reason := r.post(t, `{"sg":1.0312,"temp":19.5,"at":"2026-03-01T11:58:30.5Z","battery":3.91,"name":"x"}`); status != 204 {
		t.Fatalf("status %d: %s", status, reason)
	}
	want := push.Delivery{
		Source: "tank-1",
		Reading: controller.Reading{
			Probe: "fv1/hydrometer", Age: 89500 * time.Millisecond,
			Value: controller.Value{Quantity: controller.SpecificGravity, Gravity: 1.0312, Celsius: 19.5, HasCelsius: true, Corrected: true},
		},
		Measured: time.Date(2026, 3, 1, 11, 58, 30, 500_000_000, time.UTC), Battery: 3.91, HasBattery: true,
	}
	if len(r.got) != 1 || r.got[0] != want {
		t.Errorf("delivered %+v\nwant      %+v", r.got, want)
	}
}

func TestUnitsAndFormsOfNumbersAreUnderstood(t *testing.T) {
	rows := []struct {
		name, body string
		change     func(*push.Source)
		gravity    units.Gravity
		celsius    units.Celsius
		warm       bool
	}{
		{"a gravity alone", `{"sg":1.012}`, nil, 1.012, 0, false},
		{"numbers as texts", `{"sg":"1.012","temp":" 19.5 "}`, nil, 1.012, 19.5, true},
		{"an exponent, which JSON allows", `{"sg":1012e-3}`, nil, 1.012, 0, false},
		{"a temperature that is null", `{"sg":1.012,"temp":null}`, nil, 1.012, 0, false},
		{"a temperature below freezing", `{"sg":1.012,"temp":-0.5}`, nil, 1.012, -0.5, true},
		{"a temperature that no beer has", `{"sg":1.012,"temp":85}`, nil, 1.012, 85, true},
		{"degrees Fahrenheit", `{"sg":1.012,"temp":66.2}`, func(s *push.Source) { s.TemperatureUnit = push.UnitFahrenheit }, 1.012, 19, true},
		// NBS table as quoted by the encyclopedia article "Brix": 1.040 is 9.99325.
		{"degrees Plato", `{"sg":9.99325}`, func(s *push.Source) { s.GravityUnit = push.UnitPlato }, 1.040, 0, false},
		{"a gravity within objects and arrays", `{"d":[{"g/1":"1.050"}]}`, func(s *push.Source) { s.GravityPointer = "/d/0/g~11" }, 1.050, 0, false},
		{"a body that is the gravity", `1.050`, func(s *push.Source) { *s = push.Source{Name: s.Name, TokenHash: s.TokenHash, GravityUnit: "SG"} }, 1.050, 0, false},
		{"a temperature that is not asked for", `{"sg":1.012,"temp":"warm"}`, func(s *push.Source) { s.TemperaturePointer = "" }, 1.012, 0, false},
		{"the lowest gravity", `{"sg":0.970}`, nil, 0.970, 0, false},
		{"the highest gravity", `{"sg":1.200}`, nil, 1.200, 0, false},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			change := row.change
			if change == nil {
				change = func(*push.Source) {}
			}
			r := newRig(t, change)
			if status, reason := r.post(t, row.body); status != 204 || len(r.got) != 1 {
				t.Fatalf("status %d: %s", status, reason)
			}
			v := r.got[0].Reading.Value
			if math.Abs(float64(v.Gravity-row.gravity)) > 0.00002 || math.Abs(float64(v.Celsius-row.celsius)) > 1e-9 || v.HasCelsius != row.warm {
				t.Errorf("delivered %+v, want %v at %v (%v)", v, row.gravity, row.celsius, row.warm)
			}
		})
	}
}

// A source that knows no gravity may send any number: what it means is judged by
// the calibration, and not here.
func TestANumberOfTheDevicesOwnIsDeliveredAsItCame(t *testing.T) {
	own := func(s *push.Source) { s.OwnNumber, s.GravityUnit, s.Corrected = true, "", false }
	for _, row := range []struct {
		name, body string
		number     float64
	}{
		{"an angle", `{"sg":45.625,"temp":19.5}`, 45.625},
		{"below nothing, as a text", `{"sg":"-12.5","temp":19.5}`, -12.5},
		{"what would be no gravity", `{"sg":1e6,"temp":19.5}`, 1e6},
	} {
		r := newRig(t, own)
		if status, reason := r.post(t, row.body); status != 204 {
			t.Errorf("%s: status %d: %s", row.name, status, reason)
			continue
		}
		want := controller.Value{Quantity: controller.OwnNumber, Number: row.number, Celsius: 19.5, HasCelsius: true}
		if got := r.got[0].Reading.Value; got != want {
			t.Errorf("%s: delivered %+v, want %+v", row.name, got, want)
		}
	}
	for _, body := range []string{`{"sg":"45,6"}`, `{"sg":null}`, `{"sg":1e400}`, `{"sg":true}`} {
		if status, _ := newRig(t, own).post(t, body); status != 422 {
			t.Errorf("%s: status %d", body, status)
		}
	}
}

func TestABodyThatIsWrongIsRefusedWithItsReason(t *testing.T) {
	rows := []struct {
		name, body string
		status     int
		reason     string
	}{
		{"nothing", ``, 400, "empty"},
		{"no JSON", `sg=1.012`, 400, "not JSON"},
		{"JSON cut short", `{"sg":1.012`, 400, "not JSON"},
		{"two values", `{"sg":1.012}{"sg":1.013}`, 400, "more than one"},
		{"JSON's own idea of not a number", `{"sg":NaN}`, 400, "not JSON"},
		{"8 KiB and a byte", `{"sg":1.012}` + strings.Repeat(" ", 8192-11), 413, "8192 bytes"},
		{"no gravity", `{"temp":19}`, 422, `nothing at "/sg"`},
		{"a gravity that is null", `{"sg":null}`, 422, `nothing at "/sg"`},
		{"an array", `[1.012]`, 422, `nothing at "/sg"`},
		{"a gravity with a comma", `{"sg":"1,012"}`, 422, "a decimal point, not a comma"},
		{"a gravity in words", `{"sg":"low"}`, 422, "not a number"},
		{"an empty text", `{"sg":""}`, 422, "not a number"},
		{"a text that Go would read", `{"sg":"0x1p0"}`, 422, "not a number"},
		{"a text with an exponent", `{"sg":"1e0"}`, 422, "not a number"},
		{"a text of infinity", `{"sg":"inf"}`, 422, "not a number"},
		{"two points", `{"sg":"1.0.1"}`, 422, "not a number"},
		{"a gravity that is true", `{"sg":true}`, 422, "a truth value is not a number"},
		{"a gravity in an object", `{"sg":{"v":1.012}}`, 422, "an object is not a number"},
		{"a gravity in an array", `{"sg":[1.012]}`, 422, "an array is not a number"},
		{"a number too large for any", `{"sg":1e999}`, 422, "not a number"},
		{"a gravity in points", `{"sg":1012}`, 422, "cannot be in a fermenter"},
		{"a gravity of zero, as broken devices send", `{"sg":0}`, 422, "cannot be in a fermenter"},
		{"a gravity just too low", `{"sg":0.9699}`, 422, "cannot be in a fermenter"},
		{"a gravity just too high", `{"sg":1.2001}`, 422, "cannot be in a fermenter"},
		{"a temperature in words", `{"sg":1.012,"temp":"warm"}`, 422, `temperature at "/temp"`},
		{"a temperature with a comma", `{"sg":1.012,"temp":"19,5"}`, 422, "not a comma"},
		{"a temperature that cannot be", `{"sg":1.012,"temp":-274}`, 422, "no temperature"},
		{"a temperature beyond all bounds", `{"sg":1.012,"temp":1e308}`, 422, "no temperature"},
		{"a battery in words", `{"sg":1.012,"battery":"full"}`, 422, `battery at "/battery"`},
		{"a time in words", `{"sg":1.012,"at":"noon"}`, 422, "RFC 3339"},
		{"a time without a zone", `{"sg":1.012,"at":"2026-03-01T12:00:00"}`, 422, "RFC 3339"},
		{"a time in milliseconds", fmt.Sprintf(`{"sg":1.012,"at":%d}`, noon().UnixMilli()), 422, "seconds since 1970"},
		{"a time before 1970", `{"sg":1.012,"at":-5}`, 422, "seconds since 1970"},
		{"a time in the future", `{"sg":1.012,"at":"2026-03-01T12:02:01Z"}`, 422, "from the future"},
		{"a time too long ago", `{"sg":1.012,"at":"2026-02-28T11:59:59Z"}`, 422, "24h0m1s old"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			r := newRig(t)
			status, reason := r.post(t, row.body)
			if status != row.status || !strings.Contains(reason, row.reason) {
				t.Errorf("status %d, %q; want %d and %q", status, reason, row.status, row.reason)
			}
			if len(r.got) != 0 {
				t.Errorf("delivered %+v", r.got)
			}
		})
	}
}

func TestARequestThatIsWrongIsRefusedBeforeItsBodyIsRead(t *testing.T) {
	rows := []struct {
		name   string
		change func(*http.Request)
		status int
	}{
		{"an unknown source", func(r *http.Request) { r.URL.Path = push.Prefix + "tank-2" }, 404},
		{"no source", func(r *http.Request) { r.URL.Path = push.Prefix }, 404},
		{"a path below the source", func(r *http.Request) { r.URL.Path += "/x" }, 404},
		{"another path", func(r *http.Request) { r.URL.Path = "/tank-1" }, 404},
		{"GET", func(r *http.Request) { r.Method = http.MethodGet }, 405},
		{"PUT", func(r *http.Request) { r.Method = http.MethodPut }, 405},
		{"no token", func(r *http.Request) { r.Header.Del("Authorization") }, 401},
		{"an empty token", func(r *http.Request) { r.Header.Set("Authorization", "Bearer ") }, 401},
		{"a wrong token", func(r *http.Request) { r.Header.Set("Authorization", "Bearer "+token+"x") }, 401},
		{"the token cut short", func(r *http.Request) { r.Header.Set("Authorization", "Bearer "+token[:5]) }, 401},
		{"another scheme", func(r *http.Request) { r.Header.Set("Authorization", "Basic "+token) }, 401},
		{"the bare token", func(r *http.Request) { r.Header.Set("Authorization", token) }, 401},
		{"the hash of the token", func(r *http.Request) {
			h := sha256.Sum256([]byte(token))
			r.Header.Set("Authorization", "Bearer "+string(h[:]))
		}, 401},
		{"a form", func(r *http.Request) { r.Header.Set("Content-Type", "application/x-www-form-urlencoded") }, 415},
		{"a type that is none", func(r *http.Request) { r.Header.Set("Content-Type", ";;") }, 415},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			r := newRig(t)
			body := strings.NewReader(`{"sg":1.012}`)
			status, _ := r.post(t, "", row.change, func(req *http.Request) { req.Body = readCloser{body} })
			if status != row.status || len(r.got) != 0 {
				t.Errorf("status %d, want %d; delivered %v", status, row.status, r.got)
			}
			if body.Len() != 12 {
				t.Errorf("%d bytes of the body were read", 12-body.Len())
			}
		})
	}
}

type readCloser struct{ *strings.Reader }

func (readCloser) Close() error { return nil }

func TestHeadersThatMayVaryAreTaken(t *testing.T) {
	for name, change := range map[string]func(*http.Request){
		"no type":           func(r *http.Request) { r.Header.Del("Content-Type") },
		"a type with a set": func(r *http.Request) { r.Header.Set("Content-Type", "application/json; charset=utf-8") },
		"a lower scheme":    func(r *http.Request) { r.Header.Set("Authorization", "bearer "+token) },
	} {
		if status, reason := newRig(t).post(t, `{"sg":1.012}`, change); status != 204 {
			t.Errorf("%s: status %d, %s", name, status, reason)
		}
	}
}

func TestRefusalsCarryTheHeadersOfTheirKind(t *testing.T) {
	r := newRig(t)
	for method, want := range map[string][2]string{"GET": {"Allow", "POST"}, "POST": {"WWW-Authenticate", "Bearer"}} {
		w := httptest.NewRecorder()
		r.ServeHTTP(w, httptest.NewRequest(method, path, nil))
		if got := w.Header().Get(want[0]); got != want[1] {
			t.Errorf("%s: %s is %q, want %q", method, want[0], got, want[1])
		}
	}
}

func TestAReadingIsTakenOnce(t *testing.T) {
	const body, other = `{"sg":1.012}`, `{"sg":1.013}`
	at := func(s string) string { return `{"sg":1.012,"at":"` + s + `"}` }
	rows := []struct {
		name, first, second string
		later               time.Duration
		status              int
	}{
		{"the same body at once", body, body, 0, 409},
		{"the same body within 10 s", body, body, 9999 * time.Millisecond, 409},
		{"the same body after 10 s: a beer may stand still", body, body, 10 * time.Second, 204},
		{"the same body after the clock went back", body, body, -time.Hour, 204},
		{"another body at once", body, other, 0, 204},
		{"the same time with another body", at("2026-03-01T11:00:00Z"), `{"sg":1.013,"at":"2026-03-01T11:00:00Z"}`, time.Hour, 409},
		{"the same time in another zone", at("2026-03-01T11:00:00Z"), at("2026-03-01T12:00:00+01:00"), time.Hour, 409},
		{"the same time in seconds", at("2026-03-01T11:00:00Z"), fmt.Sprintf(`{"sg":1.012,"at":%d}`, noon().Add(-time.Hour).Unix()), time.Hour, 409},
		{"another time", at("2026-03-01T11:00:00Z"), at("2026-03-01T11:00:01Z"), 0, 204},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			r := newRig(t)
			if status, reason := r.post(t, row.first); status != 204 {
				t.Fatalf("first: %d, %s", status, reason)
			}
			r.now = r.now.Add(row.later)
			status, reason := r.post(t, row.second)
			if status != row.status {
				t.Errorf("second: %d, %s; want %d", status, reason, row.status)
			}
			if want := map[int]int{204: 2, 409: 1}[row.status]; len(r.got) != want {
				t.Errorf("%d delivered, want %d", len(r.got), want)
			}
		})
	}
}

func TestAReadingThatFoundNoRoomMayComeAgain(t *testing.T) {
	r := newRig(t)
	r.full = true
	if status, reason := r.post(t, `{"sg":1.012}`); status != 503 {
		t.Errorf("status %d, %s; want 503", status, reason)
	}
	r.full = false
	if status, reason := r.post(t, `{"sg":1.012}`); status != 204 || len(r.got) != 1 {
		t.Errorf("again: status %d, %s", status, reason)
	}
}

func TestASourceMaySendOneASecondOnAverage(t *testing.T) {
	r := newRig(t)
	send := func() int {
		status, _ := r.post(t, fmt.Sprintf(`{"sg":1.0%d}`, 10+len(r.got)))
		return status
	}
	for range 5 {
		if status := send(); status != 204 {
			t.Fatalf("within the burst: %d", status)
		}
	}
	if status := send(); status != 429 {
		t.Errorf("the sixth at once: %d, want 429", status)
	}
	r.now = r.now.Add(time.Second)
	if first, second := send(), send(); first != 204 || second != 429 {
		t.Errorf("a second later: %d and %d, want 204 and 429", first, second)
	}
	// Whoever has no token cannot use the source's share up.
	r.now = r.now.Add(time.Second)
	for range 20 {
		r.post(t, `{}`, func(req *http.Request) { req.Header.Del("Authorization") })
	}
	if status := send(); status != 204 {
		t.Errorf("after others were turned away: %d", status)
	}
}

func TestAClockThatIsNotSetJudgesNoTimes(t *testing.T) {
	r := newRig(t)
	set := false
	r.ClockSet = func() bool { return set }
	r.now = time.Unix(1000, 0) // minutes after a start without a clock battery
	body := `{"sg":1.012,"at":"2026-03-01T12:00:00Z"}`
	if status, reason := r.post(t, body); status != 204 || r.got[0].Reading.Age != 0 || !r.got[0].Measured.Equal(noon()) {
		t.Fatalf("status %d, %s; delivered %+v", status, reason, r.got)
	}
	if status, _ := r.post(t, body); status != 409 {
		t.Errorf("the same again: %d, want 409", status)
	}
	set = true
	if status, _ := r.post(t, `{"sg":1.012,"at":"2026-03-01T12:00:01Z"}`); status != 422 {
		t.Errorf("with a clock that claims to be set: %d, want 422", status)
	}
}

func TestATimeALittleAheadCountsAsNow(t *testing.T) {
	r := newRig(t)
	if status, reason := r.post(t, `{"sg":1.012,"at":"2026-03-01T12:02:00Z"}`); status != 204 || r.got[0].Reading.Age != 0 {
		t.Errorf("status %d, %s; delivered %+v", status, reason, r.got)
	}
	if status, reason := r.post(t, `{"sg":1.012,"at":"2026-02-28T12:00:00Z"}`); status != 204 || r.got[1].Reading.Age != 24*time.Hour {
		t.Errorf("status %d, %s; delivered %+v", status, reason, r.got)
	}
}

func TestOneOfManyRepetitionsAtOnceIsTaken(t *testing.T) {
	r := newRig(t)
	var all sync.WaitGroup
	for range 5 {
		all.Go(func() { r.post(t, `{"sg":1.012}`) })
	}
	all.Wait()
	if len(r.got) != 1 {
		t.Errorf("%d delivered, want 1", len(r.got))
	}
}

func TestSourcesThatCannotBeAreRefusedTogether(t *testing.T) {
	bad := []push.Source{source(), source(), {}, source()}
	bad[3].Name, bad[3].GravityPointer, bad[3].TemperatureUnit = "tank/3", "sg", "K"
	_, err := push.New(bad, nil)
	if err == nil {
		t.Fatal("taken")
	}
	for _, want := range []string{
		"nobody takes", `"tank-1" is there twice`, `source "": a name is needed`, "a token is needed", `the unit of gravity is SG or P, not ""`,
		`source "tank/3"`, `"sg" is not a JSON Pointer`, `the unit of temperature is C or F, not "K"`,
	} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("error %q, want %q in it", err, want)
		}
	}
}

func FuzzNoBodyDeliversWhatCannotBe(f *testing.F) {
	for _, seed := range []string{
		`{"sg":1.0312,"temp":19.5,"at":"2026-03-01T11:58:30Z","battery":3.91}`, `{"sg":"1.012","temp":"-0.5","at":1772366310}`,
		`{"sg":1e-999}`, `{"sg":1.0,"temp":1e308}`, `[]`, `{"sg":{"sg":1}}`, "\xff", `{"sg":1.01,"at":1e300}`, `{"sg":"1,012"}`,
	} {
		f.Add(seed, false)
		f.Add(seed, true)
	}
	f.Fuzz(func(t *testing.T, body string, foreign bool) {
		r := newRig(t, func(s *push.Source) {
			if foreign {
				s.GravityUnit, s.TemperatureUnit = push.UnitPlato, push.UnitFahrenheit
			}
		})
		status, _ := r.post(t, body)
		if (status == 204) != (len(r.got) == 1) {
			t.Fatalf("status %d and %d delivered", status, len(r.got))
		}
		if status != 204 {
			if status != 400 && status != 413 && status != 422 {
				t.Errorf("status %d", status)
			}
			return
		}
		rd := r.got[0].Reading
		if !rd.Value.Gravity.Plausible() || rd.Age < 0 || rd.Age > 24*time.Hour || !(rd.Value.Celsius >= -273.15 && rd.Value.Celsius <= 1000) {
			t.Errorf("%q delivered %+v", body, rd)
		}
	})
}
