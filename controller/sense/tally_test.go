package sense_test

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"example.org/restpoint/controller/sense"
)

func TestATallyForgetsWhatIsOlderThanADay(t *testing.T) {
	var y sense.Tally
	for h := range 30 {
		y = y.At(time.Duration(h) * time.Hour).Accept().Accept()
		if h == 3 {
			y = y.Reject("too high")
		}
		all, rejected := y.Sum()
		want, bad := 2*min(h+1, 24), 0
		if h >= 3 && h < 27 {
			want, bad = want+1, 1
		}
		if all != want || rejected != bad {
			t.Errorf("after %d h: %d of %d, want %d of %d", h, rejected, all, bad, want)
		}
	}
	if y.Why != "too high" {
		t.Errorf("why %q", y.Why)
	}
	if all, rejected := y.At(100 * time.Hour).Sum(); all != 0 || rejected != 0 {
		t.Errorf("after two days of silence: %d of %d", rejected, all)
	}
	if all, _ := y.At(0).Sum(); all != 0 {
		t.Errorf("a time that goes back counts %d", all)
	}
}

// Whatever the times: the tally holds what came in the last 24 numbered hours, and
// its argument is never written.
func TestATallyHoldsTheLastDay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var y sense.Tally
		now := time.Duration(0)
		var hours []int64
		for range rapid.IntRange(1, 60).Draw(t, "readings") {
			now += time.Duration(rapid.IntRange(0, 10*3600).Draw(t, "s")) * time.Second
			before := y
			next := y.At(now).Reject("x")
			if y != before {
				t.Fatal("the argument was written")
			}
			y = next
			hours = append(hours, int64(now/time.Hour))
		}
		want := 0
		for _, h := range hours {
			if h > int64(now/time.Hour)-24 {
				want++
			}
		}
		if all, rejected := y.Sum(); all != want || rejected != want {
			t.Fatalf("%d of %d, want %d", rejected, all, want)
		}
	})
}
