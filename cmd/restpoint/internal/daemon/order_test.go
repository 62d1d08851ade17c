package daemon_test

import (
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/daemon"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/relay"
	"example.org/restpoint/controller/units"
)

func celsius(v float64) units.Celsius { return units.Celsius(v) }

func TestOffComesBeforeTheRecordAndOnAfterIt(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		defer c.close()
		if got := c.journal.take(); !slices.Equal(got, []string{"off"}) {
			t.Errorf("before the first step: %v, every relay must be driven off", got)
		}
		c.step(pace, 19)
		if got := c.journal.take(); !slices.Equal(got, []string{"lower", "keep", "raise"}) {
			t.Errorf("a step in which nothing happened: %v", got)
		}
		c.ask("1", "fv1", controller.Verb{Kind: controller.Start, Batch: "b1"})
		c.step(pace, 19)
		if got := c.journal.take(); !slices.Equal(got, []string{"lower", "commit", "raise"}) {
			t.Errorf("a step in which a batch starts: %v", got)
		}
		c.step(pace, 19)
		if got := c.journal.take(); !slices.Equal(got, []string{"lower", "keep", "raise"}) {
			t.Errorf("the step after it: %v, commit only when something happened", got)
		}
	})
}

// Between the record's hang and the relays: what must go off is off while the
// commit still hangs, what may go on is not on before it is given up.
func TestACommitThatHangsHoldsBackOnlyWhatGoesOn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		defer c.close()
		c.begin(24)
		c.steps(12, 24)
		if !c.cool.On() {
			t.Fatal("beer at 24 C for a target of 19 C is not cooled")
		}
		c.disk.set(true, nil)
		reply := c.ask("t", "fv1", controller.Verb{Kind: controller.SetTarget, Celsius: 28})
		pass(time.Minute) // the minimum run is over; the late loop is another matter
		c.reading(24)
		began := time.Now()
		done := make(chan struct{})
		c.ticks <- daemon.Tick{Done: done}
		synctest.Wait()
		if c.cool.On() {
			t.Error("cooling that is wanted no more waits for the record")
		}
		select {
		case a := <-reply:
			t.Errorf("the order is answered before the record has it or is given up: %+v", a)
		default:
		}
		<-done
		if took := time.Since(began); took != 2*time.Second {
			t.Errorf("the commit was given up after %v, 2 s are allowed", took)
		}
		if a := <-reply; !a.Answer.Taken || a.Stored {
			t.Errorf("the answer is %+v, it must be taken and not stored", a)
		}
	})
}

// An ON that comes with an event waits for the record, and not longer.
func TestHeatThatAnOrderBringsWaitsForTheRecord(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		defer c.close()
		c.begin(19)
		c.steps(20, 19)
		if c.heat.On() || c.cool.On() {
			t.Fatal("beer at its target needs neither relay")
		}
		c.disk.set(true, nil)
		c.ask("t", "fv1", controller.Verb{Kind: controller.SetTarget, Celsius: 24})
		pass(pace)
		c.reading(19)
		done := make(chan struct{})
		c.ticks <- daemon.Tick{Done: done}
		synctest.Wait()
		if c.heat.On() {
			t.Error("heat is on while the record does not know why")
		}
		<-done
		if !c.heat.On() {
			t.Error("control does not go on from memory")
		}
	})
}

func TestARecordThatFailsRaisesItsAlarmAndControlGoesOn(t *testing.T) {
	for _, row := range []struct {
		name  string
		hangs bool
		err   error
	}{
		{"a disk that hangs", true, nil},
		{"a disk that says no", false, errBroken},
	} {
		t.Run(row.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				c := open(t, nil)
				defer c.close()
				c.begin(24)
				c.steps(12, 24)
				c.disk.set(row.hangs, row.err)
				reply := c.ask("p", "fv1", controller.Verb{Kind: controller.Pause})
				c.step(pace, 24)
				if a := <-reply; !a.Answer.Taken || a.Stored {
					t.Errorf("the answer is %+v", a)
				}
				s := c.step(pace, 24)
				if !raised(s, string(alarms.RecordFailing)) || !s.RecordFailing {
					t.Error("the alarm record-failing is not raised")
				}
				if !c.cool.On() {
					t.Error("the beer is not cooled any more")
				}
				c.disk.set(false, nil)
				for range 60 { // the alarm ends a minute after its cause, and a retry comes once a minute
					s = c.step(pace, 24)
				}
				if raised(s, string(alarms.RecordFailing)) || s.RecordFailing {
					t.Error("the record can be written again for five minutes, and the alarm still stands")
				}
			})
		})
	}
}

func TestARelayThatFailsTurnsBothOffAndRaisesItsAlarm(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		defer c.close()
		c.begin(24)
		c.steps(12, 24)
		if !c.cool.On() {
			t.Fatal("not cooling")
		}
		c.heat.Fail(errBroken) // it shall stay off, and cannot be told so
		c.step(pace, 24)
		s := c.step(pace, 24)
		if !raised(s, string(alarms.RelayFault)) {
			t.Error("the alarm relay-fault is not raised")
		}
		if c.cool.On() || s.Vessels[0].Decision.Allowed != (controller.Outputs{}) {
			t.Error("cooling goes on beside a relay that cannot be driven")
		}
		if !s.Vessels[0].Heat.On {
			t.Error("a heater that is not known to be off is shown as off")
		}
		c.heat.Fail(nil)
		s = c.steps(30, 24)
		if raised(s, string(alarms.RelayFault)) {
			t.Error("the relay works again for 150 s and the alarm still stands")
		}
		// The heater counted as on, so cooling waits for its change-over of 20 min.
		for range 20 * 12 {
			c.step(pace, 24)
		}
		if !c.cool.On() {
			t.Errorf("cooling does not come back: %v", c.d.Snapshot().Vessels[0].Decision.Reasons)
		}
	})
}

// A chiller is everybody's: when it cannot be driven, no vessel is cooled.
func TestAChillerThatFailsIsEveryVesselsFault(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		chiller := &relay.Modelled{}
		lines := []*relay.Modelled{{}, {}}
		c := open(t, func(cfg *daemon.Config) {
			second := vessel()
			second.Name, second.Probes = "fv2", controller.Probes{Thermowell: "fv2/thermowell"}
			cfg.Vessels = append(cfg.Vessels, daemon.Vessel{Vessel: second, State: controller.Fresh()})
			cfg.Shared = &controller.Plant{Serves: []bool{true, true}, Chiller: second.Cool}
			cfg.Board = relay.NewBoard([]relay.Channel{{Vessel: "fv1", Cool: lines[0]}, {Vessel: "fv2", Cool: lines[1]}}, chiller)
		})
		defer c.close()
		c.begin(24)
		c.steps(40, 24)
		if !lines[0].On() || !chiller.On() {
			t.Fatalf("fv1 is not cooled: valve %v, chiller %v", lines[0].On(), chiller.On())
		}
		chiller.Fail(errBroken)
		c.step(pace, 24)
		s := c.step(pace, 24)
		if lines[0].On() {
			t.Error("the valve stays open before a chiller that cannot be driven")
		}
		for _, v := range s.Vessels {
			found := false
			for _, a := range v.Decision.Alarms {
				found = found || a.ID == alarms.RelayFault && a.Raised()
			}
			if !found {
				t.Errorf("%s: the alarm relay-fault is not raised", v.Name)
			}
		}
		chiller.Fail(nil)
		c.step(pace, 24)
	})
}

func TestRelaysThatCannotBeSwitchedOffAtTheEndAreAnError(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, nil)
		c.step(pace, 19)
		c.heat.Fail(errBroken)
		c.cancel()
		if err := <-c.ended; err == nil {
			t.Error("the daemon ended well with a heater that may be on")
		}
	})
}

func TestWithoutARecordEverythingElseWorks(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := open(t, func(cfg *daemon.Config) { cfg.Record, cfg.Fed, cfg.Heard = nil, nil, nil })
		defer c.close()
		c.begin(24)
		s := c.steps(12, 24)
		if !c.cool.On() || s.RecordFailing || raised(s, string(alarms.RecordFailing)) {
			t.Errorf("cooling %v, record failing %v", c.cool.On(), s.RecordFailing)
		}
	})
}
