package main

import (
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/web"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
)

// kills is how often the program is killed: the gate wants it more often than who only
// wants to know whether all is well.
func kills() int {
	if n, err := strconv.Atoi(os.Getenv("RESTPOINT_KILLS")); err == nil && n > 0 {
		return n
	}
	return 12
}

// coolRest is the rest of the cooling relay in the site below. A compressor's is never
// below 3 minutes, so beside it stands one that must not start at all.
const coolRest = 2 * time.Second

// asked is an order of the test and what became of it.
type asked struct {
	id, words string
	acked     bool
	taken     bool
}

// victim is a board whose program is killed again and again.
type victim struct {
	*board
	random *rand.Rand
	client *client
	orders []asked
	stage  string // as acknowledged orders left it
	target float64
	stages []string // as they were entered, as far as acknowledged
}

// The program is killed at random moments, while orders come in: whatever was
// acknowledged is in the record and in the state, once; and no rest of a relay is cut
// short.
func TestKills(t *testing.T) {
	if testing.Short() {
		t.Skip("kills the program again and again, two seconds each")
	}
	b := newBoard(t)
	warm := filepath.Join(b.dir, "warm")
	b.write(warm, "25000\n")
	compressor := filepath.Join(b.dir, "compressor")
	b.write(compressor, "0\n")
	b.write(b.site, strings.ReplaceAll(content(t, b.site), "valve: {rest: 1 s, run: 1 s}", "valve: {rest: 2 s, run: 1 s}")+fmt.Sprintf(`
  - name: fv2
    volume: 60 L
    thermowell: {file: %s}
    cool: {file: %s, compressor: {}}
    suck-back: co2-supply
`, warm, compressor))
	v := &victim{board: b, random: rand.New(rand.NewPCG(11, 13)), stage: "primary", target: 19, stages: []string{"fill", "primary"}}
	var err error
	if v.client, err = newClient(filepath.Join(b.dir, "s"), ""); err != nil {
		t.Fatal(err)
	}
	b.beer(22)
	r := b.run()
	rests, never := watchRests(t, b.cool), watchRests(t, compressor)
	b.must("tell", "-c", b.site, "fv2", "mode", "pre-chill 5 C")
	b.must("tell", "-c", b.site, "fv1", "start", "pale-ale-with-rest", "as", "b1")
	b.must("tell", "-c", b.site, "fv1", "pitched")
	_ = r.signal(syscall.SIGKILL)
	began := time.Now()
	for n := range kills() {
		b.beer(22 + 0.1*float64(n%50)) // warmer than before: what the last cooling still does is not waited for
		life := time.Duration(v.random.Int64N(int64(2500 * time.Millisecond)))
		if n%10 == 9 {
			life += 5 * time.Second // long enough for the compressor
		}
		v.live(life)
	}
	lived := time.Since(began)
	r = b.run()
	v.settle()
	if err := r.signal(syscall.SIGTERM); err != nil {
		t.Errorf("it ended with %v:\n%s", err, r.log.String())
	}
	v.judge()
	shortest, starts := rests()
	t.Logf("%d orders, %d acknowledged; the valve opened %d times, the shortest rest was %v; %d kills in %v", len(v.orders), v.acknowledged(), starts, shortest, kills(), lived)
	if _, starts := never(); starts > 0 {
		t.Errorf("the compressor of fv2 started %d times, and no life of the program was as long as its rest", starts)
	}
	if starts < 2 || shortest < coolRest-20*time.Millisecond { // looked at every 5 ms
		t.Errorf("the valve opened %d times, the shortest rest was %v", starts, shortest)
	}
	if v.acknowledged() < kills()/3 {
		t.Errorf("only %d orders were acknowledged", v.acknowledged())
	}
}

// live lets the program run for so long, with orders coming in, and kills it.
func (v *victim) live(life time.Duration) {
	v.t.Helper()
	program := exec.CommandContext(v.t.Context(), v.program, "run", "-c", v.site)
	if err := program.Start(); err != nil {
		v.t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(v.t.Context(), life)
	defer cancel()
	for ctx.Err() == nil {
		if !v.ask(ctx) {
			wait(ctx, 20*time.Millisecond)
		}
	}
	_ = program.Process.Signal(syscall.SIGKILL)
	_ = program.Wait()
}

func wait(ctx context.Context, d time.Duration) {
	select {
	case <-ctx.Done():
	case <-time.After(d):
	}
}

// settle has the order that is in doubt answered.
func (v *victim) settle() {
	v.t.Helper()
	eventually(v.t, 20*time.Second, "the last order is answered", func() bool { return v.ask(v.t.Context()) })
}

// ask gives the order that is in doubt once more, or a new one.
func (v *victim) ask(ctx context.Context) bool {
	v.t.Helper()
	if n := len(v.orders); n == 0 || v.orders[n-1].acked {
		v.orders = append(v.orders, asked{id: fmt.Sprintf("k%d", n), words: v.words()})
	}
	o := &v.orders[len(v.orders)-1]
	var a web.OrderAnswer
	if err := v.client.call(ctx, http.MethodPost, "/api/v1/orders", web.Order{Vessel: "fv1", Do: o.words, ID: o.id}, &a); err != nil {
		return false
	}
	if a.ID != o.id || !a.Stored {
		v.t.Errorf("%s %q: answered %+v", o.id, o.words, a)
	}
	o.acked, o.taken = true, a.Taken
	v.carry(ctx, o)
	return true
}

// words is an order that makes sense now.
func (v *victim) words() string {
	change := "advance"
	if v.stage != "primary" {
		change = "return primary"
	}
	choice := []string{"pause", "resume", "mark rouse", "sample 1.050 at 20 C", fmt.Sprintf("target %d C", 16+v.random.IntN(4)), change, change}
	return choice[v.random.IntN(len(choice))]
}

// carry notes what an acknowledged order did, and holds the state to it.
func (v *victim) carry(ctx context.Context, o *asked) {
	v.t.Helper()
	if !o.taken {
		v.t.Errorf("%s was refused", o.words)
		return
	}
	switch o.words {
	case "advance":
		v.stage, v.target = "diacetyl rest", 0 // a free rise goes its own way
		v.stages = append(v.stages, v.stage)
	case "return primary":
		v.stage, v.target = "primary", 19
		v.stages = append(v.stages, v.stage)
	default:
		if _, err := fmt.Sscanf(o.words, "target %g C", &v.target); err != nil {
			_ = err // another order
		}
	}
	s, err := v.client.state(ctx)
	if err != nil {
		return // killed meanwhile
	}
	if is := s.Vessels[0]; is.Stage != v.stage || is.Batch != "b1" || v.target != 0 && (is.Target == nil || *is.Target != v.target) {
		v.t.Errorf("after %s %q the stage is %q and the target %v, want %q and %g C", o.id, o.words, is.Stage, is.Target, v.stage, v.target)
	}
}

func (v *victim) acknowledged() (n int) {
	for i := range v.orders {
		if v.orders[i].acked {
			n++
		}
	}
	return n
}

// judge holds the record to all that was acknowledged.
func (v *victim) judge() {
	v.t.Helper()
	ctx, path := v.t.Context(), filepath.Join(v.dir, "record.db")
	r, err := record.Read(ctx, path)
	if err != nil {
		v.t.Fatal(err)
	}
	defer r.Close()
	orders, err := r.Orders(ctx, "b1")
	if err != nil {
		v.t.Fatal(err)
	}
	events, err := r.Events(ctx, "b1")
	if err != nil {
		v.t.Fatal(err)
	}
	stored, done, stages := map[string]int{}, map[string]int{}, []string{}
	for _, o := range orders {
		stored[o.Order.ID]++
	}
	for _, e := range events {
		switch e.Event.Kind {
		case controller.OrderTaken:
			done[e.Event.Order]++
		case controller.StageEntered:
			stages = append(stages, e.Event.Stage)
		default:
		}
	}
	for _, o := range v.orders {
		if o.acked && (stored[o.id] == 0 || done[o.id] != 1) || done[o.id] > 1 {
			v.t.Errorf("%s %q, acknowledged %v: stored %d times, carried out %d times", o.id, o.words, o.acked, stored[o.id], done[o.id])
		}
	}
	if strings.Join(stages, " ") != strings.Join(v.stages, " ") {
		v.t.Errorf("stages in the record\n%v, acknowledged\n%v", stages, v.stages)
	}
	v.again(path)
}

// again holds that all of it can be taken again to the last bit.
func (v *victim) again(path string) {
	v.t.Helper()
	lines := strings.Split(strings.TrimSpace(v.must("replay", path, "--json")), "\n")
	var sum struct {
		Runs, States, Differ, Steps int
		StatesSame                  int `json:"states_same"`
		Lacks                       []string
	}
	if err := json.Unmarshal([]byte(lines[len(lines)-1]), &sum); err != nil {
		v.t.Fatal(err)
	}
	v.t.Logf("taken again: %d steps in %d runs, %d of %d states the same, %d differences", sum.Steps, sum.Runs, sum.StatesSame, sum.States, sum.Differ)
	if sum.Runs < kills()/3 || sum.Differ != 0 || sum.States == 0 || sum.StatesSame != sum.States {
		v.t.Errorf("taken again: %+v", sum)
	}
}

// watchRests looks at a relay's file until the result is asked for: how often it went
// on, and after how short a rest.
func watchRests(t *testing.T, path string) func() (shortest time.Duration, starts int) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	var all sync.WaitGroup
	shortest, starts := time.Hour, 0
	all.Go(func() {
		on, off := true, time.Now()
		for ; ctx.Err() == nil; wait(ctx, 5*time.Millisecond) {
			b, err := os.ReadFile(path)
			if err != nil || len(b) == 0 {
				continue // being written
			}
			switch is := b[0] == '1'; {
			case is && !on:
				shortest, starts = min(shortest, time.Since(off)), starts+1
				on = true
			case !is && on:
				on, off = false, time.Now()
			}
		}
	})
	t.Cleanup(func() { cancel(); all.Wait() })
	return func() (time.Duration, int) { cancel(); all.Wait(); return shortest, starts }
}
