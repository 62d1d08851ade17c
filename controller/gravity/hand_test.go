package gravity_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"example.org/restpoint/controller/gravity"
)

// byHand is a batch that is known by samples alone, read on a raster of a point
// with a scatter of a point, every so many hours.
func byHand(seed uint64, every time.Duration) (*beer, func(time.Duration)) {
	b := unknownEnd(seed)
	b.mute = true
	r := rand.New(rand.NewPCG(seed, 9))
	b.sample(b.start)
	return b, func(d time.Duration) {
		for range int(d / every) {
			b.run(every)
			b.sample(math.Round(b.truth() + r.NormFloat64()))
		}
	}
}

func TestABatchKnownBySamplesAlone(t *testing.T) {
	const batches = 30
	inside, ended := 0, 0
	var off float64
	for seed := range uint64(batches) {
		b, pass := byHand(seed, 12*time.Hour)
		for b.left() > 5 {
			pass(12 * time.Hour)
		}
		e := b.s.Est
		if !e.Known || !b.s.Hand {
			t.Fatalf("batch %d: nothing is known: %+v", seed, e)
		}
		if left := b.left(); left >= e.Low && left <= e.High {
			inside++
		}
		off += abs(e.Left-b.left()) / batches
		pass(10 * 24 * time.Hour)
		if b.s.Terminal(2, 48*time.Hour, b.p) || b.s.Stuck(b.p) {
			ended++
		}
		if b.s.Offset.Mean != 0 {
			t.Errorf("batch %d: samples have an offset of %.2f", seed, b.s.Offset.Mean)
		}
		sound(t, b.s)
	}
	t.Logf("below five points left: inside in %d of %d batches, mean error %.2f points; found ended in %d", inside, batches, off, ended)
	if inside < batches*6/10 || off > 3 {
		t.Errorf("inside in %d of %d batches, mean error %.2f points", inside, batches, off)
	}
	if ended < batches/2 {
		t.Errorf("a beer that stood for a week is terminal or stuck in %d of %d batches only", ended, batches)
	}
}

func TestSixPointsLeftBySamples(t *testing.T) {
	b, pass := byHand(4, 12*time.Hour)
	for !b.s.AtMost(6) && b.s.Now < 300*time.Hour {
		pass(12 * time.Hour)
	}
	if left := b.left(); left > 9 || left < 0.2 {
		t.Errorf("found with %.1f points left", left)
	}
}

// A device that is lost half way is followed by hand, in the device's frame.
func TestADeviceThatDiesIsFollowedByHand(t *testing.T) {
	b := ale()
	b.offset = 2
	b.run(50 * time.Hour)
	b.mute = true
	for range 8 {
		b.run(12 * time.Hour)
		if v := b.sample(b.truth()); v != gravity.Accepted {
			t.Fatalf("after %v: %q", b.s.Now, v)
		}
		near(t, "true gravity", b.s.True(), b.truth(), 0.05)
	}
	near(t, "points left", b.s.Est.Left, b.left(), 2)
	if !b.s.Terminal(1, 48*time.Hour, b.p) {
		t.Error("five samples that stand still do not judge its end")
	}
	sound(t, b.s)
}
