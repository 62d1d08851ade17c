package push

import (
	"crypto/sha256"
	"crypto/subtle"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"strings"
	"time"

	"example.org/restpoint/controller"
)

// What a source may send. A hydrometer reports every few minutes; a burst lets it
// send again at once after an answer was lost.
const (
	longest   = 8 << 10 // bytes of a body
	perSecond = 1       // bodies on average
	burst     = 5       // bodies at once
)

// How far the time that a source says may be from now.
const (
	ahead  = 2 * time.Minute // clocks differ
	behind = 24 * time.Hour  // an older reading says nothing of the beer
)

// again is how soon the same body without a time is taken for a repetition.
const again = 10 * time.Second

// refusal is an answer that is not yes.
type refusal struct {
	status int
	err    error
}

func refuse(status int, format string, args ...any) *refusal {
	return &refusal{status, fmt.Errorf(format, args...)}
}

// ServeHTTP takes one reading. It answers 204, or the reason as
// {"error": "..."}.
func (h *Handler) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	no := h.take(w, r)
	if no == nil {
		w.WriteHeader(http.StatusNoContent)
		return
	}
	head := w.Header()
	head.Set("Content-Type", "application/json")
	head.Set("X-Content-Type-Options", "nosniff")
	switch no.status {
	case http.StatusMethodNotAllowed:
		head.Set("Allow", http.MethodPost)
	case http.StatusUnauthorized:
		head.Set("WWW-Authenticate", "Bearer")
	case http.StatusTooManyRequests, http.StatusServiceUnavailable:
		head.Set("Retry-After", "5") // seconds: the length of a step
	}
	w.WriteHeader(no.status)
	// The status is out; a source that has gone away misses only the reason.
	_ = json.NewEncoder(w).Encode(map[string]string{"error": no.err.Error()})
}

func (h *Handler) take(w http.ResponseWriter, r *http.Request) *refusal {
	now := h.Now()
	s, no := h.admit(r, now)
	if no != nil {
		return no
	}
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, longest))
	if tooLarge := new(http.MaxBytesError); errors.As(err, &tooLarge) {
		return refuse(http.StatusRequestEntityTooLarge, "the body has more than %d bytes", longest)
	} else if err != nil {
		return refuse(http.StatusBadRequest, "read the body: %w", err)
	}
	doc, err := decode(body)
	if err != nil {
		return &refusal{http.StatusBadRequest, err}
	}
	f, err := s.pick(doc)
	if err != nil {
		return &refusal{http.StatusUnprocessableEntity, err}
	}
	age, err := h.age(f.at, now)
	if err != nil {
		return &refusal{http.StatusUnprocessableEntity, err}
	}
	return s.hand(h.deliver, s.delivery(f, age), memory{f.at, sha256.Sum256(body), now})
}

// admit finds the source, has it prove itself, and looks at what surrounds the
// body.
func (h *Handler) admit(r *http.Request, now time.Time) (*source, *refusal) {
	name, ok := strings.CutPrefix(r.URL.Path, Prefix)
	s := h.sources[name]
	if !ok || s == nil {
		return nil, refuse(http.StatusNotFound, "there is no source %.40q", name)
	}
	if r.Method != http.MethodPost {
		return nil, refuse(http.StatusMethodNotAllowed, "readings are sent with POST, not %.20q", r.Method)
	}
	if !s.proves(r.Header.Get("Authorization")) {
		return nil, refuse(http.StatusUnauthorized, "the bearer token of source %q is needed", name)
	}
	if c := r.Header.Get("Content-Type"); c != "" {
		if media, _, err := mime.ParseMediaType(c); err != nil || media != "application/json" {
			return nil, refuse(http.StatusUnsupportedMediaType, "the body must be application/json, not %.40q", c)
		}
	}
	if !s.limit.AllowN(now, 1) {
		return nil, refuse(http.StatusTooManyRequests, "source %q sends more than %d a second", name, perSecond)
	}
	return s, nil
}

// proves compares hashes, so that the time it takes says nothing of the token.
func (s *source) proves(authorization string) bool {
	scheme, token, _ := strings.Cut(authorization, " ")
	hash := sha256.Sum256([]byte(strings.TrimSpace(token)))
	same := subtle.ConstantTimeCompare(hash[:], s.TokenHash[:]) == 1
	return same && strings.EqualFold(scheme, "Bearer")
}

// age gives how old a reading is by the time that its source says.
func (h *Handler) age(at, now time.Time) (time.Duration, error) {
	if at.IsZero() || h.ClockSet != nil && !h.ClockSet() {
		return 0, nil
	}
	age := now.Sub(at)
	switch {
	case age < -ahead:
		return 0, fmt.Errorf("the reading is from the future: its time is %v ahead, and at most %v is taken", -age.Round(time.Second), ahead)
	case age > behind:
		return 0, fmt.Errorf("the reading is %v old, and at most %v is taken", age.Round(time.Second), behind)
	}
	return max(0, age).Truncate(time.Millisecond), nil
}

func (s *source) delivery(f fields, age time.Duration) Delivery {
	quantity := controller.SpecificGravity
	if s.OwnNumber {
		quantity = controller.OwnNumber
	}
	return Delivery{
		Source: s.Name,
		Reading: controller.Reading{Probe: s.Probe, Age: age, Value: controller.Value{
			Quantity: quantity, Gravity: f.gravity, Number: f.number,
			Celsius: f.celsius, HasCelsius: f.hasCelsius, Corrected: s.Corrected,
		}},
		Measured: f.at, Battery: f.battery, HasBattery: f.hasBattery,
	}
}

// memory is what tells a repetition of the last reading that was taken: the time
// that the source said, or else the body and when it came.
type memory struct {
	at   time.Time
	body [sha256.Size]byte
	came time.Time
}

func (m memory) repeats(last memory) bool {
	if !m.at.IsZero() {
		return m.at.Equal(last.at)
	}
	gap := m.came.Sub(last.came)
	return m.body == last.body && gap > -again && gap < again
}

// hand hands the reading on unless it repeats the last one that was taken. What
// found no room is not remembered, so that it may come again.
func (s *source) hand(deliver Deliver, d Delivery, m memory) *refusal {
	s.mu.Lock()
	defer s.mu.Unlock()
	if m.repeats(s.last) {
		return refuse(http.StatusConflict, "this reading was taken already")
	}
	if !deliver(d) {
		return refuse(http.StatusServiceUnavailable, "there is no room for the reading now")
	}
	s.last = m
	return nil
}
