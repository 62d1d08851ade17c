package controller_test

import (
	"math"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
)

func mark(k controller.MarkKind) controller.Verb {
	return controller.Verb{Kind: controller.Mark, Mark: k}
}

func filled(v units.Litres, g units.Gravity) controller.Verb {
	return controller.Verb{Kind: controller.Mark, Mark: controller.Refill, Volume: v, Gravity: g}
}

// What is done to a beer that has ended: judging begins again whatever it was, and
// the end moves where it must.
func TestEveryMarkVoidsWhatWasFound(t *testing.T) {
	for _, k := range controller.MarkKinds() {
		t.Run(string(k), func(t *testing.T) {
			s := two(controller.Condition{Kind: controller.All, Of: []controller.Condition{
				{Kind: controller.Terminal, Points: 1, Over: 48 * time.Hour}, {Kind: controller.Confirmed, Say: "clean"}, {Kind: controller.Confirmed, Say: "bright"},
			}})
			d := on(t, s).wide()
			d.sg = fall(1.010)
			d.until(20*units.Day, func() bool { return d.s.Stage.Leaves[0].Met })
			d.must(controller.Verb{Kind: controller.Confirm, Say: "clean"})
			was := d.s.Gravity
			d.must(mark(k))
			if d.s.Stage.Leaves[0].Met || len(d.s.Stage.Confirmed) != 0 {
				t.Errorf("found before the mark and still believed: %+v", d.s.Stage)
			}
			d.must(controller.Verb{Kind: controller.Confirm, Say: "clean"})
			d.run(40 * time.Hour)
			if d.s.Stage.Leaves[0].Met {
				t.Error("terminal again within 40 h, 48 h are asked for")
			}
			d.until(4*units.Day, func() bool { return d.s.Stage.Leaves[0].Met })
			e, _ := k.Does()
			if got := d.s.Gravity.Lower - was.Lower; got != e.Lower {
				t.Errorf("the end moved down by %v, want %v", got, e.Lower)
			}
			if got := d.s.Gravity.Wider / max(1, was.Wider); math.Abs(got-e.Wider) > 1e-9 {
				t.Errorf("its spread grew by %v, want %v", got, e.Wider)
			}
			if e.Why == "" {
				t.Error("nobody says why")
			}
		})
	}
	if _, known := controller.MarkKind("wine").Does(); known {
		t.Error("there is no such mark")
	}
}

func TestADryHopDoublesTheSpreadAndLowersTheEnd(t *testing.T) {
	e, _ := controller.DryHop.Does() // about 2 points, and twice the spread: common practice
	if e.Lower != 2 || e.Wider != 2 {
		t.Errorf("%+v", e)
	}
}

// Sugar of 8 points goes into a fermenting beer: the hydrometer jumps by as much
// and is believed at once, for the brewer said so; the same jump unsaid is not.
func TestAnAdditionMovesTheGravityAndIsBelieved(t *testing.T) {
	for name, c := range map[string]struct {
		say  bool
		want float64
	}{"said": {true, 8}, "unsaid": {false, 0}} {
		t.Run(name, func(t *testing.T) {
			d := brewing(t)
			added := units.Points(0)
			curve := fall(1.012)
			d.sg = func(since time.Duration) units.Gravity { return curve(since).Plus(added) }
			d.run(50 * time.Hour)
			before := float64(d.out.Decision.Gravity.Now.Minus(1))
			left := d.out.Decision.Gravity.Left
			if c.say {
				d.must(controller.Verb{Kind: controller.Mark, Mark: controller.Addition, Points: 8})
				if d.s.Batch.Added != 8 {
					t.Fatalf("added %v", d.s.Batch.Added)
				}
			}
			added = 8
			d.run(2 * time.Hour)
			fell := float64(curve(52 * time.Hour).Minus(curve(50 * time.Hour)))
			if got := float64(d.out.Decision.Gravity.Now.Minus(1)) - before - fell; math.Abs(got-c.want) > 2 {
				t.Errorf("the gravity moved by %.1f besides its fall, want %.1f", got, c.want)
			}
			for _, p := range []units.Points{-1, 53, units.Points(math.NaN())} {
				if a := d.tell(controller.Verb{Kind: controller.Mark, Mark: controller.Addition, Points: p}); c.say && a.Taken {
					t.Errorf("%v more points are taken", p)
				}
			}
			if c.say && math.Abs(float64(d.out.Decision.Gravity.Left-left)-fell-8) > 2 {
				t.Errorf("points left %v, were %v", d.out.Decision.Gravity.Left, left)
			}
			if d.out.Decision.Stage != "primary" {
				t.Errorf("in %s", d.out.Decision.Stage)
			}
		})
	}
}

// Two turns of 25 L at 1.048 and 35 L at 1.060 are 60 L at 1.055: volumes weigh.
func TestFillsInSeveralTurnsAreWeighedByVolume(t *testing.T) {
	d := sit(t)
	d.must(start(ale()))
	d.must(mark(controller.Refill)) // not measured: it weighs nothing
	if d.s.Batch.Filled.Turns != 0 {
		t.Errorf("%+v", d.s.Batch.Filled)
	}
	d.must(filled(25, 1.048))
	d.must(filled(35, 1.060))
	f := d.s.Batch.Filled
	if f.Turns != 2 || f.Volume != 60 || math.Abs(float64(f.Gravity.Minus(1.055))) > 1e-9 {
		t.Fatalf("%+v, want 60 L of 55 points", f)
	}
	// The end moves with the wort, at the attenuation that the schedule expects:
	// 1.052 to 1.010 is 80.8 %, so 1.055 ends at 1.0106.
	d.must(verb(controller.PitchedNow))
	d.sg = func(time.Duration) units.Gravity { return 1.055 }
	d.run(4 * time.Hour)
	if got := float64(d.out.Decision.Gravity.Left); math.Abs(got-(55-55*10.0/52)) > 0.2 {
		t.Errorf("%.2f points left at the start, want %.2f", got, 55-55*10.0/52)
	}
	for name, c := range map[string]struct {
		do   controller.Verb
		code controller.Code
	}{
		"more than the tank holds": {filled(30, 1.050), controller.CodeOverfull},
		"a volume alone":           {filled(5, 0), controller.CodeFillUnclear},
		"a gravity alone":          {filled(0, 1.050), controller.CodeFillUnclear},
		"less than nothing":        {filled(-5, 1.050), controller.CodeFillUnclear},
		"no gravity":               {filled(5, 1.9), controller.CodeFillUnclear},
		"no number":                {filled(units.Litres(math.NaN()), 1.05), controller.CodeFillUnclear},
		"infinitely much":          {filled(units.Litres(math.Inf(1)), 1.05), controller.CodeFillUnclear},
	} {
		if a := d.tell(c.do); a.Taken || a.Reason.Code != c.code {
			t.Errorf("%s: taken %v, %v", name, a.Taken, a.Reason)
		}
	}
	if d.s.Batch.Filled != f {
		t.Errorf("a refused turn was filled in: %+v", d.s.Batch.Filled)
	}
}

// A second turn after the yeast is in raises the gravity, and nobody calls that a
// broken hydrometer.
func TestASecondTurnOnFermentingBeer(t *testing.T) {
	d := sit(t)
	d.must(start(ale()))
	d.must(filled(30, 1.052))
	d.must(verb(controller.PitchedNow))
	curve := fall(1.010)
	d.sg = curve
	d.run(40 * time.Hour)
	d.must(filled(30, 1.052))
	d.sg = func(since time.Duration) units.Gravity { // the same beer with as much fresh wort
		return units.Gravity((float64(curve(since)) + float64(curve(since-40*time.Hour))) / 2)
	}
	d.run(3 * time.Hour)
	want := d.sg(d.s.Batch.Since)
	if got := d.out.Decision.Gravity.Now; math.Abs(float64(got.Minus(want))) > 2 {
		t.Errorf("gravity %v, is %v", got, want)
	}
}
