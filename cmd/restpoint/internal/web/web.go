// Package web shows the newest snapshot: a plain page rendered here, JSON for
// scripts, metrics, and the door through which hydrometers push.
//
// It refuses to show anything but readings' door and health on an address that
// other machines can reach, unless the site says open; it refuses to answer to a
// name that is not the board's; and no GET changes anything.
package web

import (
	"encoding/json"
	"net"
	"net/http"
	"slices"
	"strings"
	"time"

	"example.org/restpoint/controller"
)

// Options are what the server is made of.
type Options struct {
	Latest  func() *controller.Snapshot
	Metrics http.Handler // nil = none
	Push    http.Handler // of POST /api/v1/readings/{source}; nil = none
	Closed  bool         // show only readings' door and health
	Hosts   []string     // names by which the page may be asked for, beside addresses and localhost
	Now     func() time.Time
	// Stale is how old a snapshot may be until the program counts as stopped.
	Stale time.Duration
}

// Handler answers for the whole server.
func Handler(o Options) http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /healthz", o.health)
	if o.Push != nil {
		mux.Handle("/api/v1/readings/{source}", o.Push)
	}
	if !o.Closed {
		mux.HandleFunc("GET /{$}", o.page)
		mux.HandleFunc("GET /api/v1/state", o.state)
		if o.Metrics != nil {
			mux.Handle("GET /metrics", o.Metrics)
		}
	}
	return o.allowHost(secure(mux))
}

// allowHost refuses names that are not ours: a page elsewhere must not reach the
// board through a name that was pointed at it.
func (o Options) allowHost(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		host := r.Host
		if h, _, err := net.SplitHostPort(host); err == nil {
			host = h
		}
		host = strings.ToLower(strings.Trim(host, "[]"))
		if host != "localhost" && net.ParseIP(host) == nil && !slices.Contains(o.Hosts, host) {
			http.Error(w, "this board is not called "+clean(host)+"; add the name under hosts: in the site file", http.StatusMisdirectedRequest)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// clean keeps an error message short and plain.
func clean(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r > '~' {
			return '?'
		}
		return r
	}, s)
	if len(s) > 60 {
		s = s[:60] + "..."
	}
	return s
}

func secure(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'none'; style-src 'self' 'unsafe-inline'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		next.ServeHTTP(w, r)
	})
}

// health is 200 while steps are finished in time, 503 otherwise.
func (o Options) health(w http.ResponseWriter, _ *http.Request) {
	s := o.Latest()
	switch {
	case s == nil:
		http.Error(w, "no step is finished yet", http.StatusServiceUnavailable)
	case o.Now().Sub(s.At) > o.Stale:
		http.Error(w, "the newest step is "+o.Now().Sub(s.At).Round(time.Second).String()+" old", http.StatusServiceUnavailable)
	default:
		_, _ = w.Write([]byte("ok\n"))
	}
}

func (o Options) state(w http.ResponseWriter, _ *http.Request) {
	s := o.Latest()
	if s == nil {
		http.Error(w, `{"error":"no step is finished yet"}`, http.StatusServiceUnavailable)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(State(s)) // the reader has gone if this fails
}
