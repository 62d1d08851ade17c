package gravity_test

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"example.org/restpoint/controller/gravity"
)

// A batch whose end the brewer does not know, seen by a device with an offset,
// white noise, drift and a raster.
func unknownEnd(seed uint64) *beer {
	r := rand.New(rand.NewPCG(seed, 7))
	b := ale()
	b.end = b.p.Final + 2*r.NormFloat64()
	b.speed = 0.045 + 0.065*r.Float64() // fits of measured beers gave 0.059 to 0.145 an hour
	b.middle = 12 + 3.2/b.speed
	b.offset = 4*r.Float64() - 2
	b.unquiet(r, 0.6, 0.6)
	return b
}

// How often the truth lies between the 10 % and the 90 % bound. The figures are
// reported; what is held is that it does in most batches, and that the estimate
// is near the truth when it matters.
func TestTheIntervalContainsTheTruth(t *testing.T) {
	const batches = 80
	stages := []float64{20, 12, 6, 3}
	inside := make([]int, len(stages))
	low := make([]int, len(stages))
	off := make([]float64, len(stages))
	for seed := range uint64(batches) {
		b := unknownEnd(seed)
		for i, left := range stages {
			b.until(t, 300*time.Hour, func() bool { return b.left() <= left })
			e := b.s.Est
			if !e.Known || !e.Ready {
				t.Fatalf("batch %d: nothing is known at %v points left: %+v", seed, left, e)
			}
			truth := b.left()
			if truth < e.Low {
				low[i]++
			}
			if truth >= e.Low && truth <= e.High {
				inside[i]++
			}
			off[i] += abs(e.Left-truth) / batches
		}
		sound(t, b.s)
	}
	for i, left := range stages {
		t.Logf("at %2.0f points left: inside in %d of %d batches, below the bounds in %d, mean error %.2f points", left, inside[i], batches, low[i], off[i])
		if inside[i] < batches*6/10 {
			t.Errorf("at %.0f points left the truth is inside in %d of %d batches only", left, inside[i], batches)
		}
		if off[i] > 3 {
			t.Errorf("at %.0f points left the estimate is off by %.1f points on average", left, off[i])
		}
	}
}

// The question that the estimate is for: does the rest begin with about six points
// left, wherever this beer really ends?
func TestSixPointsLeftIsFoundNearSixPointsLeft(t *testing.T) {
	const batches = 50
	var sum float64
	early, late := 0, 0
	for seed := range uint64(batches) {
		b := unknownEnd(seed + 1000)
		b.until(t, 400*time.Hour, func() bool { return b.s.AtMost(6) })
		left := b.left()
		sum += left
		if left > 12 {
			early++
		}
		if left < 1 {
			late++
		}
	}
	t.Logf("mean %.1f points left; more than 12 in %d, fewer than 1 in %d of %d batches", sum/batches, early, late, batches)
	if mean := sum / batches; mean < 4 || mean > 8 {
		t.Errorf("on average with %.1f points left", mean)
	}
	if early > batches/10 || late > batches/10 {
		t.Errorf("too early in %d, too late in %d of %d batches", early, late, batches)
	}
}

func TestTheBoundsCloseAsTheTailIsSeen(t *testing.T) {
	narrower := 0
	for seed := range uint64(20) {
		b := unknownEnd(seed)
		b.until(t, 300*time.Hour, func() bool { return b.left() <= 12 })
		wide := b.s.Est.High - b.s.Est.Low
		b.until(t, 300*time.Hour, func() bool { return b.left() <= 1 })
		b.run(24 * time.Hour)
		if b.s.Est.High-b.s.Est.Low < wide {
			narrower++
		}
	}
	if narrower < 19 {
		t.Errorf("narrower at the end in %d of 20 batches only", narrower)
	}
}

// Sixty days of readings stay small: levels of two hours, older ones joined.
func TestHistoryStaysSmall(t *testing.T) {
	b := unknownEnd(3)
	b.run(60 * 24 * time.Hour)
	if n := len(b.s.Levels); n > 96 {
		t.Errorf("%d levels", n)
	}
	if n := len(b.s.Bins); n > 13 {
		t.Errorf("%d bins", n)
	}
	sound(t, b.s)
}

func TestGapsInTheReadings(t *testing.T) {
	for _, gap := range []time.Duration{time.Hour, 3 * time.Hour, 8 * time.Hour, 30 * time.Hour} {
		for _, from := range []time.Duration{20 * time.Hour, 44 * time.Hour, 70 * time.Hour} {
			t.Run(fmt.Sprintf("%v after %v", gap, from), func(t *testing.T) {
				b := ale()
				b.run(from)
				b.mute = true
				b.run(gap)
				b.mute = false
				b.run(14 * time.Hour)
				if b.s.Shift != 0 {
					t.Errorf("re-based by %.1f", b.s.Shift)
				}
				near(t, "points left", b.s.Est.Left, b.left(), 2.5)
				sound(t, b.s)
			})
		}
	}
}

func abs(x float64) float64 { return max(x, -x) }

// Whatever a broken device, a person and the clock do: finite numbers, ordered
// bounds, a state that JSON keeps.
func FuzzHostileReadings(f *testing.F) {
	f.Add([]byte{0, 1, 2, 3, 250, 251, 252, 253, 254, 255, 9, 9, 9, 1, 1, 1, 128, 64, 32})
	f.Add([]byte{255, 255, 255, 0, 0, 0, 200, 200, 200, 200, 100, 100, 100, 100, 3, 1, 4, 1, 5, 9, 2, 6})
	long := make([]byte, 3000)
	for i := range long {
		long[i] = byte(i * i >> 2)
	}
	f.Add(long)
	f.Fuzz(func(t *testing.T, tape []byte) {
		if len(tape) > 6000 {
			return
		}
		s := gravity.New()
		p := gravity.Prior{Original: 52, Final: 10, SD: 2}
		next := func() byte {
			if len(tape) == 0 {
				return 0
			}
			x := tape[0]
			tape = tape[1:]
			return x
		}
		for i := 0; len(tape) > 0; i++ {
			switch x := next(); {
			case x < 150:
				s.Advance(time.Duration(x)*time.Minute, float64(next())/5-5, next()%4 > 0, p) // the caller lets no other beer through
			case x < 230:
				var v gravity.Verdict
				s, v = s.Take(gravity.Reading{Points: hostile(next()) + float64(next())/8, Hand: x%5 == 0, Uncorrected: x%3 == 0}, p)
				if v == "" {
					t.Fatal("no verdict")
				}
			case x < 240:
				s = s.Mark(float64(next()%4), float64(1+next()%3))
			case x < 250:
				s = s.Pitch()
			case x < 252:
				s = s.Broken()
			default:
				s.Now += time.Duration(next()) * time.Hour
			}
			if i%16 == 0 {
				sound(t, s)
			}
		}
		sound(t, s)
		s.Terminal(1, 48*time.Hour, p)
		s.Stuck(p)
		span, ok := s.Until(6)
		if c := s.NetChange(24 * time.Hour); c.Fall != c.Fall || c.SE != c.SE || ok && (span.Middle < span.Early || span.Late < span.Middle) {
			t.Fatalf("%+v, %+v", c, span)
		}
	})
}

// hostile is a figure that a broken device may give.
func hostile(x byte) float64 {
	var zero float64
	switch x {
	case 0:
		return zero / zero
	case 1:
		return 1 / zero
	case 2:
		return -1e300
	case 3:
		return 1e300
	}
	return float64(x)/2 - 20
}
