package sense_test

import (
	"testing"
	"time"

	"example.org/restpoint/controller/sense"
	"example.org/restpoint/controller/units"
)

func three(a, b, c units.Celsius) *sense.Wells { return &sense.Wells{known(a), known(b), known(c)} }

// A difference of 1.5 K over half an hour is engineering judgement.
func TestTheMedianOfThreeDecides(t *testing.T) {
	broken := three(18, 18.2, 25)
	broken[0] = failed(18)
	for name, c := range map[string]struct {
		wells  *sense.Wells
		n      int
		judged bool
		over   time.Duration
		want   int // left out
	}{
		"three that agree":                             {three(18, 18.5, 19), 3, true, time.Hour, 0},
		"a first one that is too cold":                 {three(16, 18, 18.5), 3, true, 31 * time.Minute, 1},
		"a second one that is too warm":                {three(18, 21, 18.5), 3, true, 31 * time.Minute, 2},
		"a last one that is too warm":                  {three(18, 18.7, 20.3), 3, true, 31 * time.Minute, 3},
		"not before half an hour":                      {three(16, 18, 18.5), 3, true, 29 * time.Minute, 0},
		"not at a difference of 1.5 K":                 {three(16.5, 18, 18.5), 3, true, time.Hour, 0},
		"a beer in three layers":                       {three(16, 18, 20), 3, true, time.Hour, 0},
		"a beer in layers, of which two are close":     {three(16, 18, 18.8), 3, true, time.Hour, 0},
		"in a crash nothing is judged":                 {three(16, 18, 18.5), 3, false, time.Hour, 0},
		"with two of them nobody can tell":             {three(16, 18, 0), 2, true, time.Hour, 0},
		"nor with three of which one gives no reading": {broken, 3, true, time.Hour, 0},
	} {
		t.Run(name, func(t *testing.T) {
			var o sense.Odd
			for d := time.Duration(0); d < c.over; d += time.Minute {
				o = o.Step(c.wells, c.n, c.judged, time.Minute)
			}
			got := 0
			if o.Out {
				got = o.Of
			}
			if got != c.want {
				t.Errorf("%d is left out, want %d: %+v", got, c.want, o)
			}
		})
	}
}

func TestWhatWasLeftOutComesBackWhenItAgrees(t *testing.T) {
	out := sense.Odd{Of: 2, Out: true}
	run := func(o sense.Odd, w *sense.Wells, judged bool, m int) sense.Odd {
		for range m {
			o = o.Step(w, 3, judged, time.Minute)
		}
		return o
	}
	if o := run(out, three(18, 19.2, 18), true, 90); !o.Out {
		t.Error("believed again at 1.2 K")
	}
	if o := run(out, three(18, 18.9, 18), true, 29); !o.Out {
		t.Error("believed again before half an hour")
	}
	if o := run(out, three(18, 18.9, 18), true, 31); o != (sense.Odd{}) {
		t.Errorf("not believed again: %+v", o)
	}
	if o := run(out, three(18, 18.9, 18), false, 90); !o.Out {
		t.Error("believed again in a crash, where nothing is judged")
	}
	half := run(out, three(18, 18.9, 18), true, 20)
	if o := run(run(half, three(18, 21, 18), true, 1), three(18, 18.9, 18), true, 20); !o.Out {
		t.Error("two spells are added up")
	}
	// Another one becomes the odd one meanwhile: its time begins anew.
	o := run(sense.Odd{}, three(16, 18, 18), true, 20)
	if o = run(o, three(18, 16, 18), true, 20); o.Out {
		t.Error("the times of two are added up")
	}
}

func TestWithoutTheOddOne(t *testing.T) {
	w := *three(16, 18, 19)
	beer, backup := w.Without(sense.Odd{Of: 1, Out: true}).Beer(3, false)
	if beer.Celsius != 18.5 || !backup {
		t.Errorf("%v, backup %v", beer.Celsius, backup)
	}
	if beer, backup = w.Without(sense.Odd{Of: 1, For: time.Minute}).Beer(3, false); beer.Celsius != 16 || backup {
		t.Errorf("in doubt for a minute: %v, backup %v", beer.Celsius, backup)
	}
	if beer, backup = w.Without(sense.Odd{Of: 3, Out: true}).Beer(3, false); beer.Celsius != 16 || backup {
		t.Errorf("one that control does not go by: %v, backup %v", beer.Celsius, backup)
	}
	w[1], w[2] = failed(18), failed(19)
	if beer, _ = w.Without(sense.Odd{Of: 1, Out: true}).Beer(3, false); beer.Usable() {
		t.Error("the one that was contradicted is believed when the others are lost")
	}
}
