package controller_test

import (
	"testing"
	"time"

	"example.org/restpoint/controller"
)

// unspoken is a vessel with nothing known of what is in it, in a room that wants heat.
func unspoken(t *testing.T) *desk {
	t.Helper()
	d := sit(t)
	d.s = controller.Fresh()
	d.beer = 10
	return d
}

func TestAHeaterWaitsForAWordThatTheTankIsFull(t *testing.T) {
	for name, c := range map[string]struct {
		do    func(*desk)
		heats bool
	}{
		"nothing was said":                   {func(*desk) {}, false},
		"the yeast is in":                    {func(d *desk) { d.must(verb(controller.PitchedNow)) }, true},
		"wort was filled in":                 {func(d *desk) { d.must(mark(controller.Refill)) }, true},
		"a measured turn was filled in":      {func(d *desk) { d.must(filled(20, 1.050)) }, true},
		"a person unlocks it":                {func(d *desk) { d.must(verb(controller.Unlock)) }, true},
		"another mark says nothing of wort":  {func(d *desk) { d.must(mark(controller.Rouse)) }, false},
		"nobody in particular may unlock it": {func(d *desk) { d.step(controller.Order{ID: "x", Do: verb(controller.Unlock)}) }, false},
	} {
		t.Run(name, func(t *testing.T) {
			d := unspoken(t)
			d.must(start(ale()))
			c.do(d)
			d.run(3 * time.Hour)
			if d.out.Outputs.Heat != c.heats || d.out.Decision.Dry == c.heats {
				t.Errorf("heat %v, locked %v: %v", d.out.Outputs.Heat, d.out.Decision.Dry, d.said())
			}
			if !c.heats && !d.reason(controller.CodeDry) {
				t.Errorf("nobody says why: %v", d.said())
			}
		})
	}
}

func TestCleaningLocksBothRelaysAndTheHeaterUntilThereIsWort(t *testing.T) {
	d := sit(t)
	d.beer = 10
	d.must(controller.Verb{Kind: controller.SetMode, Mode: controller.PreChill, Celsius: 15})
	d.until(2*time.Hour, func() bool { return d.out.Outputs.Heat })
	d.must(controller.Verb{Kind: controller.SetMode, Mode: controller.Cleaning, For: time.Hour})
	d.run(90 * time.Minute)
	if d.out.Outputs.Heat || d.out.Outputs.Cool || !d.s.Alarms.Raised("cleaning-too-long") {
		t.Errorf("outputs %+v; alarms %+v", d.out.Outputs, d.s.Alarms.List)
	}
	// Unlocking needs a person, and cleaning is not unlocked past itself.
	if a := d.tell(verb(controller.Unlock)); a.Taken || a.Reason.Code != controller.CodeCleaning {
		t.Errorf("unlocked while it is cleaned: %v", a.Reason)
	}
	nobody := controller.Order{ID: "nobody", Do: controller.Verb{Kind: controller.SetMode, Mode: controller.Idle}}
	if a := d.step(nobody)[0]; a.Taken || a.Reason.Code != controller.CodeNobody {
		t.Errorf("cleaning was ended by nobody: %v", a.Reason)
	}
	d.must(controller.Verb{Kind: controller.SetMode, Mode: controller.PreChill, Celsius: 15})
	d.run(2 * time.Hour)
	if d.out.Outputs.Heat || !d.reason(controller.CodeDry) {
		t.Errorf("an empty tank is heated after cleaning: %v", d.said())
	}
	d.must(verb(controller.Unlock))
	d.until(2*time.Hour, func() bool { return d.out.Outputs.Heat })
}

func TestTheLockComesBackWhenTheBeerLeaves(t *testing.T) {
	for end, dry := range map[controller.VerbKind]bool{controller.EndOff: true, controller.EndCold: false} {
		d := brewing(t)
		d.must(verb(end))
		d.step()
		if d.out.Decision.Dry != dry {
			t.Errorf("after %s: locked %v", end, d.out.Decision.Dry)
		}
	}
}

// A restart does not lock the heater of a beer with yeast in it, also where the
// state is of a time when nothing was said of tanks.
func TestAFermentingBeerIsNeverDry(t *testing.T) {
	d := brewing(t)
	d.s.Full = false
	d.beer = 15
	d.restart(controller.Outage{Known: true, Length: time.Minute})
	d.until(2*time.Hour, func() bool { return d.out.Outputs.Heat })
}

// Another tank, pump or fridge: what was learnt of the old one is forgotten when a
// named person says so, and by nothing else.
func TestWhatWasLearntIsForgottenOnOrder(t *testing.T) {
	d := brewing(t)
	for range 6 {
		d.beer = d.beer.Plus(0.3)
		d.run(30 * time.Minute)
		d.beer = d.beer.Plus(-0.3)
		d.run(30 * time.Minute)
	}
	learnt := d.out.Decision.Response
	if !learnt.Known || learnt.HeatLearnt == 0 {
		t.Fatalf("nothing is learnt: %+v", learnt)
	}
	if a := d.tell(controller.Verb{Kind: controller.Forget}); !a.Taken {
		t.Errorf("%+v", a)
	}
	if now := d.out.Decision.Response; now.HeatLearnt != 0 || now.Heat == learnt.Heat {
		t.Errorf("still known: %+v", now)
	}
	d.step(controller.Order{ID: "nobody", Do: controller.Verb{Kind: controller.Forget}})
	if a := d.out.Answers; len(a) != 1 || a[0].Taken {
		t.Errorf("nobody in particular may have it forgotten: %+v", a)
	}
}
