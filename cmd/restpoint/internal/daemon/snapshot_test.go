package daemon_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/daemon"
	"example.org/restpoint/controller"
)

func TestThereIsNoSnapshotBeforeTheFirstStep(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		defer c.close()
		pass(time.Minute)
		if s := c.d.Snapshot(); s != nil {
			t.Errorf("%+v", s)
		}
	})
}

// What was published stays as it was, whatever the loop does afterwards.
func TestASnapshotNeverChanges(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		defer c.close()
		c.begin(24)
		var kept []*controller.Snapshot
		var texts []string
		for i := range 200 {
			if i%9 == 0 {
				c.ask(fmt.Sprint(i), "fv1", controller.Verb{Kind: controller.SetTarget, Celsius: celsius(15 + float64(i%7))})
				c.readings <- controller.Reading{Probe: beerProbe, Fault: controller.TimedOut}
			}
			s := c.step(pace, 20+float64(i%3)/10)
			kept, texts = append(kept, s), append(texts, asText(t, s))
		}
		for i, s := range kept {
			if got := asText(t, s); got != texts[i] {
				t.Fatalf("snapshot %d changed\n%s\n%s", i, texts[i], got)
			}
		}
	})
}

func asText(t *testing.T, s *controller.Snapshot) string {
	t.Helper()
	text, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// Readers in other goroutines see whole steps only; under the race detector this
// holds that nothing is shared.
func TestReadersSeeWholeSteps(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		defer c.close()
		c.begin(24)
		stop := make(chan struct{})
		var all sync.WaitGroup
		for range 4 {
			all.Go(func() {
				last := time.Duration(0)
				for {
					select {
					case <-stop:
						return
					case <-time.After(time.Second):
					}
					s := c.d.Snapshot()
					if s.Counted < last || s.Vessels[0].Decision.In > s.Counted {
						t.Errorf("counted %v after %v, in the stage for %v", s.Counted, last, s.Vessels[0].Decision.In)
					}
					last = s.Counted
					_ = asText(t, s)
				}
			})
		}
		c.steps(500, 21)
		close(stop)
		all.Wait()
	})
}

func TestASnapshotTellsWhatIsThere(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, func(cfg *daemon.Config) { cfg.Demo = true })
		defer c.close()
		idle := c.step(pace, 19)
		if v := idle.Vessels[0]; v.Schedule != "" || v.Stages != nil || v.Decision.Mode != controller.Idle || !v.Heat.Fitted || !v.Cool.Fitted {
			t.Errorf("idle: %+v", v)
		}
		if idle.Site != "test cellar" || idle.Build.Version != "v0" || !idle.Demo || idle.Counted != 0 {
			t.Errorf("idle: %+v", idle)
		}
		c.begin(19)
		s := c.step(pace, 19)
		v := s.Vessels[0]
		var names []string
		for _, st := range v.Stages {
			names = append(names, st.Name)
		}
		if v.Schedule != "pale-ale-with-rest" || !slices.Equal(names, []string{"fill", "primary", "diacetyl rest", "crash", "cold hold"}) || v.Carbonation != 2.5 || v.Final != 1.010 {
			t.Errorf("in a batch: %q, stages %v, %v, %v", v.Schedule, names, v.Carbonation, v.Final)
		}
		if s.At.Sub(idle.At) != 4*pace || s.Counted != 4*pace {
			t.Errorf("counted %v over %v", s.Counted, s.At.Sub(idle.At))
		}
		for i := range 100 {
			c.ask(fmt.Sprint(i), "fv1", controller.Verb{Kind: controller.Pause})
			s = c.step(pace, 19)
		}
		recent := s.Vessels[0].Recent
		if len(recent) != 40 {
			t.Errorf("%d events are shown, the newest 40 are", len(recent))
		}
		if last := recent[len(recent)-1]; last.Order != "99" || !last.At.Equal(s.At) {
			t.Errorf("the newest event is %+v of %v", last.Event, last.At)
		}
	})
}

// The time beside a relay's level is the time in that level.
func TestARelayIsShownWithItsTimeInThatLevel(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		defer c.close()
		c.begin(24)
		was := false
		seen := 0
		for range 400 {
			v := c.step(pace, map[bool]float64{false: 24, true: 17}[was]).Vessels[0]
			if v.Cool.On != c.cool.On() || v.Heat.On != c.heat.On() {
				t.Fatalf("shown %v and %v, driven %v and %v", v.Heat.On, v.Cool.On, c.heat.On(), c.cool.On())
			}
			if v.Cool.On != was {
				seen++
				if v.Cool.For >= pace {
					t.Errorf("cooling was switched to %v in this step and is shown so for %v", v.Cool.On, v.Cool.For)
				}
			}
			was = v.Cool.On
		}
		if seen < 4 {
			t.Errorf("cooling was switched %d times only", seen)
		}
	})
}
