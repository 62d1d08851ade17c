package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/profiles"
)

// Order is an order as it comes over the socket. A start or adopt brings its
// schedule along, for the program may not be able to read the person's files.
type Order struct {
	Vessel       string `json:"vessel"`
	Do           string `json:"do"` // the words: "target 20 C"
	ID           string `json:"id,omitempty"`
	Why          string `json:"why,omitempty"`
	ScheduleName string `json:"schedule_name,omitempty"`
	ScheduleText string `json:"schedule_text,omitempty"`
	Original     string `json:"original_gravity,omitempty"` // instead of the schedule's
	Final        string `json:"final_gravity,omitempty"`
}

// OrderAnswer is what became of an order.
type OrderAnswer struct {
	ID     string `json:"id"`
	Taken  bool   `json:"taken"`
	Stored bool   `json:"stored"`
	Text   string `json:"text"`
}

// Giver hands an order to the loop and waits for its answer.
type Giver func(ctx context.Context, vessel, words string, o controller.Order, f *profiles.File) (controller.Answer, bool, error)

// ErrFull is the queue of orders being full.
var ErrFull = errors.New("too many orders are waiting; try again")

// SocketOptions are what the socket's server is made of.
type SocketOptions struct {
	Latest func() *controller.Snapshot
	Give   Giver
	Fit    func(vessel string, f *profiles.File) error           // holds a schedule against the vessel's limits
	Used   func(ctx context.Context, batch string) (bool, error) // whether a batch id is taken; nil = none is
	Now    func() time.Time
}

// maxOrder is the most that an order with its schedule may hold, in bytes.
const maxOrder = 256 << 10

// Socket answers on the local socket: the state to look at, and orders. The
// kernel says who is at the other end.
func Socket(o SocketOptions) http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /api/v1/state", Options{Latest: o.Latest}.state)
	mux.HandleFunc("POST /api/v1/orders", o.take)
	return mux
}

func (o SocketOptions) take(w http.ResponseWriter, r *http.Request) {
	var in Order
	d := json.NewDecoder(http.MaxBytesReader(w, r.Body, maxOrder))
	d.DisallowUnknownFields()
	if err := d.Decode(&in); err != nil {
		fail(w, http.StatusBadRequest, fmt.Errorf("read the order: %w", err))
		return
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		fail(w, http.StatusBadRequest, errors.New("read the order: there is more than one JSON value"))
		return
	}
	verb, err := controller.ParseVerb([]string{in.Do})
	if err != nil {
		fail(w, http.StatusBadRequest, err)
		return
	}
	order := controller.Order{ID: in.ID, Who: Peer(r.Context()), Why: in.Why, Do: verb}
	if order.ID == "" {
		order.ID = fmt.Sprintf("%s-%d", in.Vessel, o.Now().UnixNano())
	}
	var file *profiles.File
	if verb.Kind == controller.Start || verb.Kind == controller.Adopt {
		if file, err = o.schedule(r.Context(), &in, &order); err != nil {
			fail(w, http.StatusUnprocessableEntity, err)
			return
		}
	}
	answer, stored, err := o.Give(r.Context(), in.Vessel, in.Do, order, file)
	if err != nil {
		status := http.StatusInternalServerError
		if errors.Is(err, ErrFull) {
			status = http.StatusServiceUnavailable
		}
		fail(w, status, err)
		return
	}
	reply(w, http.StatusOK, OrderAnswer{answer.ID, answer.Taken, stored, answer.Reason.String()})
}

// schedule reads the schedule that came with the order.
func (o SocketOptions) schedule(ctx context.Context, in *Order, order *controller.Order) (*profiles.File, error) {
	if in.ScheduleText == "" {
		return nil, errors.New("the schedule's text did not come with the order")
	}
	f, err := profiles.Read(in.ScheduleName, []byte(in.ScheduleText))
	if err != nil {
		return nil, err
	}
	s, err := profiles.WithGravities(f.Schedule, in.Original, in.Final)
	if err != nil {
		return nil, err
	}
	f.Schedule, order.Do.Schedule = s, s
	if order.Do.Batch == "" {
		order.Do.Batch = in.Vessel + "-" + o.Now().Format("20060102-1504")
	}
	if order.Do.Kind == controller.Start && o.Used != nil {
		taken, err := o.Used(ctx, order.Do.Batch)
		if err != nil {
			return nil, fmt.Errorf("look the batch's id up: %w", err)
		}
		if taken {
			return nil, fmt.Errorf("there is a batch %s in the record already; choose another id", order.Do.Batch)
		}
	}
	if o.Fit == nil {
		return f, nil
	}
	return f, o.Fit(in.Vessel, f)
}

func fail(w http.ResponseWriter, status int, err error) {
	reply(w, status, map[string]string{"error": err.Error()})
}

func reply(w http.ResponseWriter, status int, v any) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(v) // the asker has gone if this fails
}
