package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"os"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"example.org/restpoint/cmd/restpoint/internal/web"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/profiles"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// several are schedules of different kinds; every one of the library is simulated
// in controller/bench.
func several() []string {
	if testing.Short() {
		return []string{"pale-ale-with-rest"}
	}
	return []string{"cool-lager", "fast-warm-ale", "hopped-ale", "pale-ale-with-rest"}
}

// The demonstration is the true daemon, the simulation is the rig: the same beer
// through both must take the same decisions in the same steps.
func TestDemoAndSimulateDecideAlike(t *testing.T) {
	for _, name := range several() {
		t.Run(name, func(t *testing.T) {
			_, text, _ := try(t, "", "simulate", name)
			_, want, ok := strings.Cut(text, tableHead)
			want, _, ok2 := strings.Cut(want, "\nbeer, C\n")
			if !ok || !ok2 || strings.Count(want, "\n") < 15 {
				t.Fatalf("simulate printed %s", text)
			}
			file, err := profiles.Load(name)
			if err != nil {
				t.Fatal(err)
			}
			model := modelFlags{vessel: "conical", noise: "typical", ambient: "18 C", seed: 1}
			b, err := model.brew(file.Schedule)
			if err != nil {
				t.Fatal(err)
			}
			var got bytes.Buffer
			s := newStage(file, b, &got)
			ctx, cancel := context.WithCancel(t.Context())
			var all sync.WaitGroup
			all.Go(func() {
				if err := s.d.Run(ctx); err != nil {
					t.Error(err)
				}
			})
			last := len(file.Schedule.Stages) - 1
			for s.counted() < bench.Longest {
				if !s.step(ctx) {
					t.Fatal("the demonstration ended")
				}
				if d := s.d.Snapshot().Vessels[0].Decision; d.Stage != "" && d.Index == last && d.In >= afterHold {
					break
				}
			}
			cancel()
			all.Wait()
			if s.heat.On() || s.cool.On() {
				t.Error("a relay is on after the end")
			}
			if got.String() != want {
				t.Errorf("the demonstration tells\n%s\nthe simulation\n%s", got.String(), want)
			}
		})
	}
}

// page is where a demonstration says that its page is.
var pageLine = regexp.MustCompile(`Page +(http://127\.0\.0\.1:\d+/)\n`)

// lockedBuffer can be written and looked at by different goroutines.
type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// eventually polls until a thing holds, and fails loudly if it never does.
func eventually(t *testing.T, within time.Duration, what string, holds func() bool) {
	t.Helper()
	poll := time.NewTicker(20 * time.Millisecond)
	defer poll.Stop()
	limit := time.NewTimer(within)
	defer limit.Stop()
	for !holds() {
		select {
		case <-poll.C:
		case <-limit.C:
			t.Fatalf("within %v: %s: it did not happen", within, what)
		}
	}
}

// fetch asks a page and gives status and body; 0 when nobody answers.
func fetch(t *testing.T, address string) (int, string) {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, address, nil)
	if err != nil {
		t.Fatal(err)
	}
	client := &http.Client{Timeout: 5 * time.Second, Transport: &http.Transport{DisableKeepAlives: true}}
	resp, err := client.Do(req)
	if err != nil {
		return 0, err.Error()
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		return 0, err.Error()
	}
	return resp.StatusCode, string(body)
}

// The demonstration shows itself, leaves nothing behind, and ends at once.
func TestDemoShowsItselfAndLeavesNothing(t *testing.T) {
	home, work := t.TempDir(), t.TempDir()
	t.Setenv("HOME", home)
	t.Setenv("XDG_CACHE_HOME", home)
	t.Setenv("TMPDIR", work)
	t.Chdir(work)
	ctx, cancel := context.WithCancel(t.Context())
	out := &lockedBuffer{}
	ended := make(chan int, 1)
	go func() {
		ended <- run(ctx, env{in: strings.NewReader(""), out: out, err: io.Discard}, []string{"demo", "--listen", "127.0.0.1:0", "--speed", "100000"})
	}()
	eventually(t, 10*time.Second, "the page's address is printed", func() bool { return pageLine.MatchString(out.String()) })
	address := pageLine.FindStringSubmatch(out.String())[1]
	eventually(t, 30*time.Second, "the batch comes to primary", func() bool { return strings.Contains(out.String(), "-> primary") })
	for path, says := range map[string]string{
		"": "nothing here is real beer", "healthz": "ok", "metrics": "restpoint_", "api/v1/state": `"demo":true`,
	} {
		if status, body := fetch(t, address+path); status != http.StatusOK || !strings.Contains(body, says) {
			t.Errorf("/%s: %d %.300s", path, status, body)
		}
	}
	_, text := fetch(t, address+"api/v1/state")
	var state web.StateJSON
	if err := json.Unmarshal([]byte(text), &state); err != nil || len(state.Vessels) != 1 || state.Vessels[0].Beer == nil {
		t.Errorf("%v: %s", err, text)
	}
	began := time.Now()
	cancel()
	code := <-ended
	if took := time.Since(began); took > time.Second {
		t.Errorf("it ended after %v", took)
	}
	if code != exitOK {
		t.Errorf("exit %d", code)
	}
	if status, _ := fetch(t, address); status != 0 {
		t.Errorf("the page still answers %d", status)
	}
	for _, folder := range []string{home, work} {
		left, err := os.ReadDir(folder)
		if err != nil || len(left) > 0 {
			t.Errorf("left behind: %v %v", left, err)
		}
	}
}

func TestDemoOnAnAddressInUse(t *testing.T) {
	out := &lockedBuffer{}
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan int, 1)
	go func() {
		ended <- run(ctx, env{in: strings.NewReader(""), out: out, err: io.Discard}, []string{"demo", "--listen", "127.0.0.1:0"})
	}()
	eventually(t, 10*time.Second, "the page's address is printed", func() bool { return pageLine.MatchString(out.String()) })
	address := pageLine.FindStringSubmatch(out.String())[1]
	taken := strings.TrimSuffix(strings.TrimPrefix(address, "http://"), "/")
	code, _, errs := try(t, "", "demo", "--listen", taken)
	if code != exitFailed || !strings.Contains(errs, "choose another with --listen") {
		t.Errorf("exit %d, %q", code, errs)
	}
	cancel()
	if code := <-ended; code != exitOK {
		t.Errorf("exit %d", code)
	}
}
