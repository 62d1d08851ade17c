package main

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/web"
)

// board is a board of files: a tree like the kernel's with one 1-Wire thermometer,
// and relays that are files.
type board struct {
	t                       *testing.T
	program, dir, site      string
	temperature, cool, heat string
}

const e2eToken = "0123456789abcdef"

func newBoard(t *testing.T) *board {
	t.Helper()
	dir := t.TempDir()
	b := &board{t: t, dir: dir, program: filepath.Join(dir, "restpoint"), site: filepath.Join(dir, "site.yaml"), cool: filepath.Join(dir, "cool"), heat: filepath.Join(dir, "heat")}
	build := exec.CommandContext(t.Context(), "go", "build", "-o", b.program, ".")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("build: %v\n%s", err, out)
	}
	device := filepath.Join(dir, "sys/bus/w1/devices/28-000001318252")
	b.temperature = filepath.Join(device, "hwmon/hwmon0/temp1_input")
	if err := os.MkdirAll(filepath.Dir(b.temperature), 0o755); err != nil {
		t.Fatal(err)
	}
	b.write(filepath.Join(device, "w1_slave"), "31 01 4b 46 7f ff 0c 10 59 : crc=59 YES\n31 01 4b 46 7f ff 0c 10 59 t=19062\n")
	b.beer(19.0625)
	b.write(b.cool, "1\n") // as a run before it may have left them
	b.write(b.heat, "1\n")
	b.write(b.site, fmt.Sprintf(`site: a board of files
listen: 127.0.0.1:0
record: %[1]s/record.db
socket: %[1]s/s
sysfs: %[1]s/sys
step: 1 s
flush: 10 s
sources: [{name: tank-1, token: %[2]s}]
vessels:
  - name: fv1
    volume: 60 L
    thermowell: {one-wire: 28-000001318252}
    hydrometer: {pushed: tank-1, gravity: /sg, corrected: true}
    cool: {file: %[1]s/cool, valve: {rest: 1 s, run: 1 s}}
    heat: {file: %[1]s/heat, ssr: {rest: 1 s, run: 1 s}}
    suck-back: co2-supply
`, dir, e2eToken))
	return b
}

// write puts a file in place whole, as a reader sees it.
func (b *board) write(path, text string) {
	b.t.Helper()
	if err := os.WriteFile(path+".new", []byte(text), 0o600); err != nil {
		b.t.Fatal(err)
	}
	if err := os.Rename(path+".new", path); err != nil {
		b.t.Fatal(err)
	}
}

// beer sets the temperature that the thermometer shows, in degrees Celsius.
func (b *board) beer(c float64) { b.write(b.temperature, fmt.Sprintf("%d\n", int(c*1000))) }

// relays gives cool and heat as their files hold them.
func (b *board) relays() string { return content(b.t, b.cool) + content(b.t, b.heat) }

// running is the program at work.
type running struct {
	b       *board
	command *exec.Cmd
	log     *lockedBuffer
	ended   chan error
	page    string
}

var pageOfLog = regexp.MustCompile(` page=(127\.0\.0\.1:\d+) `)

// run starts the program and waits until it says that it is healthy.
func (b *board) run() *running {
	b.t.Helper()
	r := &running{b: b, log: &lockedBuffer{}, ended: make(chan error, 1)}
	r.command = exec.CommandContext(b.t.Context(), b.program, "run", "-c", b.site)
	r.command.Stderr = r.log
	if err := r.command.Start(); err != nil {
		b.t.Fatal(err)
	}
	go func() { r.ended <- r.command.Wait() }()
	eventually(b.t, 20*time.Second, "the program runs: "+r.log.String(), func() bool {
		m := pageOfLog.FindStringSubmatch(r.log.String())
		if m == nil {
			return false
		}
		r.page = "http://" + m[1]
		status, _ := fetch(b.t, r.page+"/healthz")
		return status == http.StatusOK
	})
	return r
}

// signal sends the program a signal and waits for its end.
func (r *running) signal(s os.Signal) error {
	r.b.t.Helper()
	if err := r.command.Process.Signal(s); err != nil {
		r.b.t.Fatal(err)
	}
	select {
	case err := <-r.ended:
		return err
	case <-time.After(20 * time.Second):
		r.b.t.Fatalf("the program did not end:\n%s", r.log.String())
		return nil
	}
}

// cli runs another verb of the program.
func (b *board) cli(args ...string) (string, error) {
	ctx, cancel := context.WithTimeout(b.t.Context(), 20*time.Second)
	defer cancel()
	out, err := exec.CommandContext(ctx, b.program, args...).CombinedOutput()
	return string(out), err
}

func (b *board) must(args ...string) string {
	b.t.Helper()
	out, err := b.cli(args...)
	if err != nil {
		b.t.Fatalf("%v: %v\n%s", args, err, out)
	}
	return out
}

func (r *running) state() web.VesselJSON {
	r.b.t.Helper()
	_, text := fetch(r.b.t, r.page+"/api/v1/state")
	var s web.StateJSON
	if err := json.Unmarshal([]byte(text), &s); err != nil || len(s.Vessels) != 1 {
		r.b.t.Fatalf("%v: %s", err, text)
	}
	return s.Vessels[0]
}

// push sends a gravity as a hydrometer does.
func (r *running) push(token, body string) int {
	r.b.t.Helper()
	req, err := http.NewRequestWithContext(r.b.t.Context(), http.MethodPost, r.page+"/api/v1/readings/tank-1", strings.NewReader(body))
	if err != nil {
		r.b.t.Fatal(err)
	}
	req.Header.Set("Authorization", "Bearer "+token)
	req.Header.Set("Content-Type", "application/json")
	resp, err := (&http.Client{Timeout: 5 * time.Second, Transport: &http.Transport{DisableKeepAlives: true}}).Do(req)
	if err != nil {
		r.b.t.Fatal(err)
	}
	if err := resp.Body.Close(); err != nil {
		r.b.t.Error(err)
	}
	return resp.StatusCode
}

// The whole program on a board of files: a batch is started, cooled, killed, put
// right, resumed, cooled again and ended.
func TestBoard(t *testing.T) {
	if testing.Short() {
		t.Skip("builds and runs the program, about half a minute")
	}
	b := newBoard(t)
	r := b.run()
	if got := b.relays(); got != "00" {
		t.Errorf("after the start the relays are %q", got)
	}
	if out := b.must("tell", "-c", b.site, "fv1", "start", "pale-ale-with-rest", "as", "b1", "--og", "1.051"); !strings.HasPrefix(out, "taken: batch b1 is started") && !strings.Contains(out, "\ntaken: batch b1 is started") {
		t.Errorf("start: %s", out)
	}
	b.must("tell", "-c", b.site, "fv1", "pitched")
	if v := r.state(); v.Stage != "primary" || v.Batch != "b1" || v.Beer == nil || *v.Beer != 19.0625 {
		t.Errorf("after pitching: %+v", v)
	}
	if out, err := b.cli("tell", "-c", b.site, "fv1", "start", "cool-lager", "as", "b2"); err == nil || !strings.Contains(out, "refused: batch b1 is running") {
		t.Errorf("a second start: %v, %s", err, out)
	}

	// A sample by hand counts at once.
	b.must("tell", "-c", b.site, "fv1", "sample", "1.050", "at", "20 C")
	if g := r.state().Gravity; g == nil || *g < 1.045 || *g > 1.055 {
		t.Errorf("after a sample of 1.050 the gravity is %v", g)
	}
	pushes(t, r)

	b.beer(24) // five readings must agree on such a jump
	eventually(t, 60*time.Second, "the valve opens", func() bool { return b.relays() == "10" })
	if err := r.signal(syscall.SIGKILL); err == nil {
		t.Error("a killed program ended well")
	}
	if got := b.relays(); got != "10" {
		t.Fatalf("after the kill the relays are %q: nothing is left to be put right", got)
	}
	b.must("relays", "off", "-c", b.site)
	if got := b.relays(); got != "00" {
		t.Errorf("after relays off they are %q", got)
	}

	r = b.run()
	v := r.state()
	if v.Stage != "primary" || v.Batch != "b1" || v.SincePitchedS == nil || *v.SincePitchedS <= 0 {
		t.Errorf("after the restart: %+v", v)
	}
	if out := b.must("status", "-c", b.site); !strings.Contains(out, "fv1: primary for") {
		t.Errorf("status: %s", out)
	}
	b.beer(24.8) // warmer than ever: whatever the last run of cooling still does is over
	eventually(t, 60*time.Second, "the valve opens again", func() bool { return b.relays() == "10" })

	copied(t, b)

	b.write(b.temperature, "") // the kernel's way to say that nothing came
	eventually(t, 20*time.Second, "the fault is counted", func() bool {
		_, text := fetch(t, r.page+"/metrics")
		return probeFault.MatchString(text)
	})
	b.beer(24.8)
	eventually(t, 20*time.Second, "the valve is open", func() bool { return b.relays() == "10" })
	if err := r.signal(syscall.SIGTERM); err != nil {
		t.Errorf("it ended with %v:\n%s", err, r.log.String())
	}
	if got := b.relays(); got != "00" {
		t.Errorf("after the end the relays are %q", got)
	}

	takenAgain(t, b)

	// A vessel with a running batch may not vanish from the site.
	text := content(t, b.site)
	b.write(b.site, strings.ReplaceAll(text, "name: fv1", "name: fv2"))
	out, err := b.cli("run", "-c", b.site)
	if err == nil || !strings.Contains(out, "batch b1 is running in vessel fv1") {
		t.Errorf("without its vessel: %v, %s", err, out)
	}
}

// copied holds that a copy of the whole and of a batch can be made while the program
// writes, and that both can be taken again.
func copied(t *testing.T, b *board) {
	t.Helper()
	whole, batch := filepath.Join(b.dir, "backup.db"), filepath.Join(b.dir, "b1.db")
	b.must("backup", "-c", b.site, whole)
	b.must("archive", "-c", b.site, "b1", "-o", batch)
	for _, path := range []string{whole, batch} {
		if out := b.must("replay", path); !strings.Contains(out, "the same decisions at the same steps") {
			t.Errorf("%s taken again: %s", path, out)
		}
	}
	if out, err := b.cli("backup", "-c", b.site, whole); err == nil || !strings.Contains(out, "there already") {
		t.Errorf("a copy over a copy: %v, %s", err, out)
	}
}

// takenAgain holds that what the program did in all its runs can be taken again from its
// record, to the last bit, and tried with other rules.
func takenAgain(t *testing.T, b *board) {
	t.Helper()
	path := filepath.Join(b.dir, "record.db")
	out := b.must("replay", path, "--json")
	lines := strings.Split(strings.TrimSpace(out), "\n")
	var sum struct {
		Event                       string
		Runs, States, Differ, Steps int
		StatesSame                  int `json:"states_same"`
		Lacks                       []string
		RecordedBy                  []string `json:"recorded_by"`
	}
	if err := json.Unmarshal([]byte(lines[len(lines)-1]), &sum); err != nil {
		t.Fatal(err)
	}
	t.Logf("%+v", sum)
	if sum.Event != "replayed" || sum.Runs != 2 || sum.Differ != 0 || sum.States < 4 || sum.StatesSame != sum.States || len(sum.Lacks) != 1 || sum.Steps < 4 {
		t.Errorf("taken again: %+v", sum)
	}
	if out := b.must("replay", path, "--batch", "b1"); !strings.Contains(out, "the same decisions at the same steps") || !strings.Contains(out, "-> primary") {
		t.Errorf("taken again: %s", out)
	}
	if out := b.must("replay", path, "--diff"); strings.Contains(out, "recorded:") || !strings.Contains(out, "0 differences") && !strings.Contains(out, "the same decisions") {
		t.Errorf("with the same rules there is a difference: %s", out)
	}
	if out := b.must("replay", path, "--schedule", "cool-lager"); !strings.Contains(out, "with another schedule") {
		t.Errorf("with another schedule: %s", out)
	}
	if out, err := b.cli("replay", path, "--batch", "b7"); err == nil || !strings.Contains(out, "there is no batch b7") {
		t.Errorf("a batch that is not there: %v, %s", err, out)
	}
	if out, err := b.cli("replay", path, "--assume-confirmed"); err == nil || !strings.Contains(out, "is for a table") {
		t.Errorf("confirmations: %v, %s", err, out)
	}
}

var probeFault = regexp.MustCompile(`restpoint_probe_faults_total\{[^}]*fault="empty"[^}]*\} [1-9]`)

// pushes holds that gravities come in by the door for them, and only with the token.
func pushes(t *testing.T, r *running) {
	t.Helper()
	if status := r.push("wrong-token-wrong-token", `{"sg":1.050}`); status != http.StatusUnauthorized {
		t.Errorf("a wrong token: %d", status)
	}
	if status := r.push(e2eToken, `{"sg":"1,050"}`); status != http.StatusUnprocessableEntity {
		t.Errorf("a decimal comma: %d", status)
	}
	if status := r.push(e2eToken, `{"sg":1.050}`); status != http.StatusNoContent {
		t.Errorf("a gravity: %d", status)
	}
	if status := r.push(e2eToken, `{"sg":1.050}`); status != http.StatusConflict {
		t.Errorf("the same again: %d", status)
	}
	// One reading decides nothing: the gravity is shown when readings of half an
	// hour agree. That it came is shown at once.
	eventually(t, 20*time.Second, "the reading is shown", func() bool {
		for _, p := range r.state().LastReadingTime {
			if p.Probe == "fv1/hydrometer" && p.LastReading != nil {
				return true
			}
		}
		return false
	})
}
