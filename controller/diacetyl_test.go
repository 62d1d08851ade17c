package controller_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/controller"
)

// resting is a desk whose ale has just come to its rest.
func resting(t *testing.T, before func(*desk)) *desk {
	t.Helper()
	d := brewing(t).wide()
	d.sg = fall(1.010)
	d.run(30 * time.Hour)
	if before != nil {
		before(d)
	}
	d.until(400*time.Hour, func() bool { return d.out.Decision.Stage == "diacetyl rest" })
	return d
}

func TestDiacetylIsAdviceDuringTheRest(t *testing.T) {
	d := brewing(t).wide()
	d.sg = fall(1.010)
	d.until(400*time.Hour, func() bool {
		if d.out.Decision.Diacetyl.Known() || d.reason(controller.CodeDiacetyl) || d.reason(controller.CodeDiacetylUnknown) {
			t.Fatalf("shown in the %s", d.out.Decision.Stage)
		}
		return d.s.Batch.Since > 60*time.Hour
	})
	d.until(400*time.Hour, func() bool { return d.out.Decision.Stage == "diacetyl rest" })
	begin := d.out.Decision.Diacetyl
	if !begin.Known() || !(begin.MgL > 0.05 && begin.MgL < 3) || !d.reason(controller.CodeDiacetyl) {
		t.Fatalf("at the beginning of the rest: %+v, %v", begin, d.said())
	}
	d.run(40 * time.Hour)
	d.at("diacetyl rest")
	end := d.out.Decision.Diacetyl
	t.Logf("%.2f mg/L when the rest begins, %.2f after 40 h", begin.MgL, end.MgL)
	if !(end.MgL < begin.MgL/2) {
		t.Errorf("%.3f mg/L after 40 h of a rest that began at %.3f", end.MgL, begin.MgL)
	}
	said := false
	for _, text := range d.said() {
		said = said || strings.HasPrefix(text, "advice only: 0.") && strings.Contains(text, " mg/L of diacetyl by a model of one lager yeast") && strings.Contains(text, "trust the forced test")
	}
	if !said {
		t.Errorf("said %v", d.said())
	}
	d.beer = 21
	d.run(70 * time.Hour)
	if said := strings.Join(d.said(), "; "); d.out.Decision.Stage == "diacetyl rest" && !strings.Contains(said, "under 0.01 mg/L") {
		t.Errorf("%.4f mg/L reads %s", d.out.Decision.Diacetyl.MgL, said)
	}
	d.until(300*time.Hour, func() bool { return d.out.Decision.Stage == "crash" })
	if d.out.Decision.Diacetyl.Known() || d.reason(controller.CodeDiacetyl) {
		t.Error("shown in the crash")
	}
}

// Whether it is known or not changes nothing else: no stage waits for it.
func TestDiacetylDecidesNothing(t *testing.T) {
	one := resting(t, nil)
	other := resting(t, func(d *desk) { d.s.Batch.Diacetyl = d.s.Batch.Diacetyl.Lose() })
	if !one.out.Decision.Diacetyl.Known() || other.out.Decision.Diacetyl.Known() {
		t.Fatal("one is known, the other is not")
	}
	one.beer, other.beer = 21, 21
	for range 2000 {
		one.step()
		other.step()
		a, b := one.out, other.out
		if a.Outputs != b.Outputs || a.Decision.Stage != b.Decision.Stage || len(a.Events) != len(b.Events) {
			t.Fatalf("after %v: %+v in %s, %+v in %s", one.s.Age, a.Outputs, a.Decision.Stage, b.Outputs, b.Decision.Stage)
		}
	}
	if one.out.Decision.Stage == "diacetyl rest" {
		t.Error("the rest did not end")
	}
}

func TestDiacetylIsUnknownOfABeerThatWasNotFollowed(t *testing.T) {
	for name, before := range map[string]func(*desk){
		"an outage of unknown length": func(d *desk) { d.restart(controller.Outage{}) },
		"a day and more without gravity": func(d *desk) {
			sg := d.sg
			d.sg = nil
			d.run(26 * time.Hour)
			d.sg = sg
		},
		"wort that went in later": func(d *desk) {
			d.must(controller.Verb{Kind: controller.Mark, Mark: controller.Refill})
		},
		"sugar that went in later": func(d *desk) {
			d.must(controller.Verb{Kind: controller.Mark, Mark: controller.Addition, Points: 2})
		},
	} {
		t.Run(name, func(t *testing.T) {
			d := resting(t, before)
			if got := d.out.Decision.Diacetyl; got.Known() || got.MgL != 0 || !d.reason(controller.CodeDiacetylUnknown) || d.reason(controller.CodeDiacetyl) {
				t.Errorf("%+v, %v", got, d.said())
			}
		})
	}
}

func TestDiacetylAcrossAKnownOutage(t *testing.T) {
	through := resting(t, nil).out.Decision.Diacetyl.MgL
	d := resting(t, func(d *desk) { d.restart(controller.Outage{Length: 3 * time.Hour, Known: true}) })
	got := d.out.Decision.Diacetyl
	if !got.Known() || math.Abs(got.MgL-through) > 0.1*through {
		t.Errorf("%.3f mg/L with an outage of 3 h, %.3f without: %+v", got.MgL, through, got)
	}
}

// A second batch of the same vessel begins with nothing.
func TestDiacetylBeginsAnewWithEveryBatch(t *testing.T) {
	d := resting(t, nil)
	d.must(verb(controller.EndOff))
	d.must(controller.Verb{Kind: controller.Start, Batch: "b2", Schedule: ale()})
	d.must(verb(controller.PitchedNow))
	if got := d.s.Batch.Diacetyl; got.Followed || got.Lost || got.MgL != 0 {
		t.Errorf("%+v", got)
	}
}
