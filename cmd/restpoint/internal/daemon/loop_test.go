package daemon_test

import (
	"context"
	"fmt"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/daemon"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/gravity"
	"example.org/restpoint/controller/units"
)

func TestALateLoopTurnsHeatOffForThatStep(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		defer c.close()
		c.begin(12)
		c.steps(20, 12)
		if !c.heat.On() {
			t.Fatal("beer at 12 C for a target of 19 C is not heated")
		}
		// Three minutes without a tick. The reading is fresh, only the loop was away.
		s := c.step(3*time.Minute, 12)
		if c.heat.On() {
			t.Error("heat is on in a late step")
		}
		if !raised(s, string(alarms.LateLoop)) {
			t.Error("the alarm late-loop is not raised")
		}
		if got := c.disk.newest(t).Elapsed; got != 3*time.Minute {
			t.Errorf("the late step counts %v, all of the 3 min are to be counted", got)
		}
		s = c.steps(4, 12)
		if !c.heat.On() {
			t.Errorf("heat does not come back: %v", s.Vessels[0].Decision.Reasons)
		}
	})
}

func TestWithoutReadingsEverythingGoesOff(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		defer c.close()
		c.begin(12)
		c.steps(20, 12)
		if !c.heat.On() {
			t.Fatal("not heating")
		}
		silent := time.Duration(0)
		for c.heat.On() {
			pass(pace)
			c.tick()
			if silent += pace; silent > 10*time.Minute {
				t.Fatal("heat stays on without any reading")
			}
		}
		if silent > 70*time.Second {
			t.Errorf("heat went off after %v, a reading older than 60 s must not be used", silent)
		}
		if s := c.tickAfter(pace); !raised(s, string(alarms.ProbeLost)) {
			t.Error("the alarm probe-lost is not raised")
		}
	})
}

func (c *cellar) tickAfter(d time.Duration) *controller.Snapshot {
	pass(d)
	return c.tick()
}

// What is below a millisecond is not lost: three steps of 333.4 ms are a second
// and no less.
func TestElapsedIsWholeMillisecondsAndTheRestIsCarriedOn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		defer c.close()
		c.step(pace, 19)
		if got := c.disk.newest(t).Elapsed; got != 0 {
			t.Errorf("the first step of a process counts %v", got)
		}
		const odd = 5*time.Second + 333*time.Microsecond + 400*time.Nanosecond
		sum := time.Duration(0)
		for i := range 3000 {
			c.step(odd, 19)
			e := c.disk.newest(t).Elapsed
			if e%time.Millisecond != 0 || e <= 0 {
				t.Fatalf("step %d counts %v", i, e)
			}
			sum += e
		}
		if exact := 3000 * odd; exact-sum < 0 || exact-sum >= time.Millisecond {
			t.Errorf("3000 steps count %v, the clock %v", sum, exact)
		}
		if got := c.disk.newest(t).Counted; got != sum {
			t.Errorf("the run has counted %v, the sum of its steps is %v", got, sum)
		}
	})
}

// 0 means the start of a process to the core, so a second tick within the same
// millisecond is no step.
func TestTicksWithinAMillisecondAreOneStep(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		defer c.close()
		c.step(pace, 19)
		c.step(pace, 19)
		fed, noted := c.fed, len(c.disk.telemetry)
		pass(900 * time.Microsecond)
		reply := c.ask("1", "fv1", controller.Verb{Kind: controller.Start, Batch: "b1"})
		c.tick()
		if c.fed != fed || len(c.disk.telemetry) != noted {
			t.Error("a step was taken without a whole millisecond")
		}
		pass(200 * time.Microsecond)
		c.tick()
		if got := c.disk.newest(t).Elapsed; got != time.Millisecond {
			t.Errorf("the step counts %v", got)
		}
		if a := <-reply; !a.Answer.Taken {
			t.Errorf("the order that came in between is answered %+v", a)
		}
	})
}

// A clock that jumps back, as no monotonic one does, stops nothing for good.
func TestAClockThatGoesBackIsNotCounted(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		back := time.Duration(0)
		c := open(t, func(cfg *daemon.Config) {
			cfg.Now = func() time.Time { return time.Now().Round(0).Add(-back) }
		})
		defer c.close()
		c.steps(3, 19)
		back = time.Hour
		c.step(pace, 19)
		back = 0
		c.step(pace, 19)
		if got := c.disk.newest(t).Counted; got != 4*pace {
			t.Errorf("counted %v", got)
		}
	})
}

func TestReadingsCarryTheirAge(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		defer c.close()
		c.step(pace, 19)
		c.reading(19.5)
		pass(1500*time.Millisecond + 700*time.Microsecond)
		c.readings <- controller.Reading{Probe: hydrometer, Age: time.Hour, Value: controller.OfGravity(1.050)}
		c.readings <- controller.Reading{Probe: "fv9/thermowell", Value: controller.OfTemperature(19)}
		pass(2 * time.Second)
		s := c.tick()
		got := c.disk.newest(t).Readings
		if len(got) != 2 {
			t.Fatalf("%d readings reached the step, one of another vessel's probe and two of this one's were sent", len(got))
		}
		if got[0].Age != 3500*time.Millisecond || got[1].Age != time.Hour+2*time.Second {
			t.Errorf("ages %v and %v", got[0].Age, got[1].Age)
		}
		if age := s.Vessels[0].Decision.Beer.Age; age != 3500*time.Millisecond {
			t.Errorf("the beer's value is %v old to the core", age)
		}
		if last := s.Vessels[0].Probes[1].Last; !last.Equal(s.At.Add(-time.Hour - 2*time.Second)) {
			t.Errorf("the hydrometer's newest reading is shown as of %v, the step is of %v", last, s.At)
		}
	})
}

// What became of the hydrometer's readings is counted, shown, and stored beside
// them.
func TestEveryVerdictIsCountedAndStored(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		defer c.close()
		c.begin(19)
		for _, g := range []units.Gravity{1.050, 1.0502, 1.090, 1.0501, 1.3} {
			pass(10 * time.Minute)
			c.readings <- controller.Reading{Probe: hydrometer, Value: controller.OfGravity(g)}
			c.reading(19)
			s := c.tick()
			noted := c.disk.newest(t)
			if len(noted.Verdicts) != 1 || noted.Verdicts[0].Used != g || noted.Readings[noted.Verdicts[0].Reading].Probe != hydrometer {
				t.Errorf("%v: stored %+v", g, noted.Verdicts)
			}
			if g < 1.2 {
				continue
			}
			want := []controller.VerdictCount{{Verdict: gravity.Accepted, Count: 3}, {Verdict: gravity.TooHigh, Count: 1}, {Verdict: gravity.TooLow}, {Verdict: gravity.Implausible, Count: 1}, {Verdict: gravity.NotMoving}, {Verdict: gravity.Stepped}}
			if got := s.Vessels[0].Verdicts; !slices.Equal(got, want) {
				t.Errorf("counted %+v, want %+v", got, want)
			}
		}
	})
}

// A probe gone mad must not fill the memory of a small board; the newest readings
// count.
func TestAFloodOfReadingsIsBounded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		defer c.close()
		c.step(pace, 19)
		for i := range 100_000 {
			c.reading(19 + float64(i)/1e6)
		}
		s := c.tickAfter(pace)
		got := c.disk.newest(t).Readings
		if len(got) != 256 {
			t.Errorf("%d readings reached the step, 256 are kept", len(got))
		}
		if last := got[len(got)-1].Value.Celsius; last != celsius(19+99_999.0/1e6) {
			t.Errorf("the newest reading is %v", last)
		}
		if !s.Vessels[0].Decision.Beer.Usable() {
			t.Error("the beer is not known after a flood")
		}
	})
}

func TestFaultsAreCountedByKind(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		defer c.close()
		c.step(pace, 19)
		for i, f := range controller.Faults() {
			for range i + 1 {
				c.readings <- controller.Reading{Probe: beerProbe, Fault: f}
			}
		}
		before := c.tickAfter(pace)
		for i, f := range before.Vessels[0].Probes[0].Faults {
			if f.Fault != controller.Faults()[i] || f.Count != int64(i+1) {
				t.Errorf("%s is counted %d times, it came %d times", f.Fault, f.Count, i+1)
			}
		}
		c.readings <- controller.Reading{Probe: beerProbe, Fault: controller.TimedOut}
		c.tickAfter(pace)
		if got := before.Vessels[0].Probes[0].Faults[0].Count; got != 1 {
			t.Errorf("a snapshot that was published changed: %d", got)
		}
	})
}

func TestOrdersAreAnsweredAfterTheirStep(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		defer c.close()
		c.step(pace, 19)
		start := controller.Verb{Kind: controller.Start, Batch: "b1"}
		first := c.ask("one", "fv1", start)
		nobody := c.ask("two", "fv2", start)
		synctest.Wait()
		if a := <-nobody; a.Answer.Taken || a.Answer.ID != "two" || a.Answer.Reason.String() != "there is no vessel fv2" {
			t.Errorf("an order to nobody: %+v", a)
		}
		select {
		case a := <-first:
			t.Fatalf("answered before the step: %+v", a)
		default:
		}
		again := c.ask("one", "fv1", start)
		other := c.ask("three", "fv1", start)
		c.step(pace, 19)
		if a := <-first; !a.Answer.Taken || !a.Stored || a.Answer.Reason.Code != controller.CodeStarted {
			t.Errorf("the first order: %+v", a)
		}
		if a := <-again; !a.Answer.Taken || a.Answer.Reason.Code != controller.CodeStarted {
			t.Errorf("the same order again: %+v, it must get the same answer", a)
		}
		if a := <-other; a.Answer.Taken || a.Answer.Reason.Code != controller.CodeBatchRuns {
			t.Errorf("another order: %+v", a)
		}
		c.step(pace, 19)
		late := c.ask("one", "fv1", start)
		c.step(pace, 19)
		if a := <-late; !a.Answer.Taken || a.Answer.Reason.Code != controller.CodeStarted {
			t.Errorf("the same order two steps later: %+v", a)
		}
		started := 0
		for _, e := range c.disk.entries {
			for _, ev := range e.Events {
				if ev.Kind == controller.BatchStarted {
					started++
				}
			}
		}
		if started != 1 {
			t.Errorf("the batch was started %d times", started)
		}
	})
}

func TestTheRecordGetsTheOrderWithItsAnswerAndTheBatchAsItStarts(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		defer c.close()
		c.begin(19)
		var words []string
		for _, e := range c.disk.entries {
			for _, o := range e.Orders {
				words = append(words, fmt.Sprintf("%s by %s: %v, %s", o.Words, o.Order.Who, o.Answer.Taken, o.Answer.Reason))
			}
			if e.Batch == nil {
				continue
			}
			b, f := e.Batch, ale(t)
			if b.ID != "b1" || b.Vessel != "fv1" || b.Name != f.Name || b.Schedule != string(f.Source) || b.Who != "brewer" ||
				b.Original != f.Schedule.Wort.Original || b.Final != f.Schedule.Wort.Final || b.Volume != 60 {
				t.Errorf("the batch is kept as %+v", b)
			}
			words = append(words, "batch")
		}
		want := []string{"start by brewer: true, batch b1 is started", "batch", "pitched by brewer: true, the yeast is in"}
		if fmt.Sprint(words) != fmt.Sprint(want) {
			t.Errorf("the record got %q, want %q", words, want)
		}
	})
}

// Nobody waits for an answer that never comes.
func TestOrdersAreRefusedWhenTheProgramStops(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		c.step(pace, 19)
		taken := c.ask("taken in, no step came", "fv1", controller.Verb{Kind: controller.Start, Batch: "b1"})
		synctest.Wait()
		c.close()
		if a := <-taken; a.Answer.Taken || a.Answer.Reason.Code != controller.CodeStopping || a.Stored {
			t.Errorf("%+v", a)
		}
	})
}

func TestOnlyAFinishedStepFeedsTheWatchdog(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		defer c.close()
		c.reading(19)
		c.ask("1", "fv1", controller.Verb{Kind: controller.Start, Batch: "b1"})
		pass(time.Hour)
		if c.fed != 0 {
			t.Errorf("fed %d times without a step", c.fed)
		}
		c.steps(7, 19)
		if c.fed != 7 {
			t.Errorf("fed %d times by 7 steps", c.fed)
		}
	})
}

// The loop ticks at once and then at every step; a loop that was busy gets no
// bundle of ticks afterwards.
func TestWallTicks(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		ticks := make(chan daemon.Tick)
		ended := make(chan struct{})
		go func() { defer close(ended); daemon.Wall(ctx, pace, ticks) }()
		began := time.Now()
		for i := range 4 {
			<-ticks
			if at := time.Since(began); at != time.Duration(i)*pace {
				t.Errorf("tick %d after %v", i, at)
			}
		}
		pass(10 * time.Minute)
		burst := 0
		for synctest.Wait(); ; burst++ {
			select {
			case <-ticks:
				synctest.Wait()
				continue
			default:
			}
			break
		}
		if burst > 2 {
			t.Errorf("%d ticks at once after a busy time", burst)
		}
		cancel()
		<-ended
	})
}
