package gravity_test

import (
	"math"
	"reflect"
	"testing"
	"time"

	"example.org/restpoint/controller/gravity"
)

func TestOneReadingIsHeldAgainstWhatIsKnown(t *testing.T) {
	const silence = 6 * time.Hour
	for name, c := range map[string]struct {
		points float64
		hand   bool
		after  time.Duration // without a reading
		want   gravity.Verdict
	}{
		"the same gravity is accepted":                         {40, false, 0, gravity.Accepted},
		"a rise within the scatter is accepted":                {43, false, 0, gravity.Accepted},
		"a rise beyond the scatter is a spike":                 {44.6, false, 0, gravity.TooHigh},
		"a spike of twenty points is rejected":                 {60, false, 0, gravity.TooHigh},
		"a fall within the scatter is accepted":                {36.1, false, 0, gravity.Accepted},
		"a fall that no yeast makes is rejected":               {34.4, false, 0, gravity.TooLow},
		"after hours of silence beer may have fallen far":      {28, false, silence, gravity.Accepted},
		"after hours of silence there is a bound all the same": {5, false, silence, gravity.TooLow},
		"after hours of silence beer has not risen":            {54, false, silence, gravity.TooHigh},
		"a sample near the device is accepted":                 {47, true, 0, gravity.Accepted},
		"a sample far above the device is doubted":             {60, true, 0, gravity.TooHigh},
		"a sample far below the device is doubted":             {30, true, 0, gravity.TooLow},
		"not a number is no gravity":                           {math.NaN(), false, 0, gravity.Implausible},
		"infinity is no gravity":                               {math.Inf(1), false, 0, gravity.Implausible},
		"far below water is no gravity":                        {-30.5, false, 0, gravity.Implausible},
		"syrup is no gravity":                                  {201, false, 0, gravity.Implausible},
		"a sample that is not a number is none":                {math.NaN(), true, 0, gravity.Implausible},
	} {
		t.Run(name, func(t *testing.T) {
			b := ale()
			b.start, b.end = 40, 40
			n := 0
			b.noise = func() float64 { n++; return 0.2 * float64(n%2) } // a living device never stands quite still
			b.run(5 * time.Hour)
			b.mute = true
			b.run(c.after)
			before := b.s
			var v gravity.Verdict
			if c.hand {
				v = b.sample(c.points)
			} else {
				v = b.take(c.points)
			}
			if v != c.want {
				t.Errorf("%q, want %q", v, c.want)
			}
			if v == gravity.Accepted && b.s.Accepted != before.Accepted+1 || v != gravity.Accepted && b.s.Rejected != before.Rejected+1 {
				t.Errorf("counted %d accepted and %d rejected", b.s.Accepted-before.Accepted, b.s.Rejected-before.Rejected)
			}
			if v != gravity.Accepted && !reflect.DeepEqual(b.s.Est, before.Est) {
				t.Error("a rejected reading moved the estimate")
			}
			sound(t, b.s)
		})
	}
}

func TestTheFirstReadingIsAccepted(t *testing.T) {
	b := ale()
	if v := b.take(52); v != gravity.Accepted {
		t.Errorf("%q", v)
	}
	if b.s.Est.Known {
		t.Error("one reading makes an estimate")
	}
}

func TestSpikesDoNotMoveTheEstimate(t *testing.T) {
	calm, spiky := ale(), ale()
	n := 0
	spiky.noise = func() float64 {
		if n++; n%9 == 0 {
			return 14 // measured: 10 to 22 points, mostly upward
		}
		return 0
	}
	for range 30 {
		calm.run(4 * time.Hour)
		spiky.run(4 * time.Hour)
		near(t, "left with spikes", spiky.s.Est.Left, calm.s.Est.Left, 0.6)
	}
	if spiky.s.Rejected < 50 {
		t.Errorf("only %d readings rejected", spiky.s.Rejected)
	}
}

func TestAStepOfTheDeviceIsRebased(t *testing.T) {
	for name, by := range map[string]float64{"up by eight": 8, "a re-zeroing by fifty": 50, "down by thirty": -30} {
		t.Run(name, func(t *testing.T) {
			b := stopped(12)
			b.run(60 * time.Hour)
			before := b.s.Est
			b.offset = by
			b.run(30 * time.Minute)
			if b.s.Shift != 0 {
				t.Fatalf("re-based after half an hour already, by %.1f", b.s.Shift)
			}
			b.run(time.Hour)
			near(t, "shift", b.s.Shift, by, 0.6)
			if b.s.AtMost(20) || b.s.NetChange(48*time.Hour).Known {
				t.Error("judged in the pause after a step")
			}
			b.run(5 * time.Hour)
			near(t, "level", b.s.Est.Level, before.Level, 0.2)
			near(t, "left", b.s.Est.Left, before.Left, 0.2)
			if !b.s.AtMost(20) {
				t.Error("not judged again when the pause is over")
			}
			sound(t, b.s)
		})
	}
}

// A step down of less than ten points cannot be told from a device that comes
// back from a foam's lift: within three hours it passes as a fall. Standing still
// must then be earned anew, so that no crash follows from it at once.
func TestASmallStepDownPassesAsAFall(t *testing.T) {
	b := stopped(18)
	b.run(60 * time.Hour)
	b.offset = -8
	b.run(6 * time.Hour)
	near(t, "level", b.s.Est.Level, 10, 0.2)
	if b.s.Terminal(1, 48*time.Hour, b.p) {
		t.Error("terminal at once")
	}
}

func TestRejectedReadingsThatDisagreeAreNoStep(t *testing.T) {
	b := stopped(12)
	n := 0
	b.noise = func() float64 { n++; return 10 + 6*float64(n%2) } // 10 and 16 by turns
	b.run(24 * time.Hour)
	if b.s.Shift != 0 || b.s.Accepted == 0 {
		t.Errorf("re-based by %.1f", b.s.Shift)
	}
}

func TestRejectedReadingsThatAreFarApartAreNoStep(t *testing.T) {
	b := stopped(12)
	b.mute = true
	for range 8 {
		b.run(13 * time.Hour)
		b.take(12 + 10)
	}
	if b.s.Shift != 0 {
		t.Errorf("re-based by %.1f on one reading in 13 h", b.s.Shift)
	}
}

// A step while the beer is falling hides what fell meanwhile: the pause of three
// hours is the price. It must not be worse than that.
func TestAStepInMidFermentationCostsWhatFellMeanwhile(t *testing.T) {
	b := ale()
	b.run(40 * time.Hour)
	b.offset = 15
	was := b.truth()
	b.run(4 * time.Hour)
	fell := was - b.truth()
	b.run(6 * time.Hour)
	off := b.s.Est.Level - b.truth()
	t.Logf("%.1f points fell while the step was doubted, the level is %.1f points off", fell, off)
	if b.s.Shift == 0 {
		t.Fatal("the step was not seen")
	}
	if math.Abs(off) > fell+1 {
		t.Errorf("the level is %.1f points off", off)
	}
}

func TestSamplesAlone(t *testing.T) {
	b := ale()
	b.mute = true
	b.sample(52)
	if b.s.Est.Ready {
		t.Error("one sample is a picture")
	}
	b.run(36 * time.Hour)
	b.sample(math.Round(b.truth()))
	b.run(24 * time.Hour)
	b.sample(math.Round(b.truth()))
	if !b.s.Est.Ready || !b.s.Hand {
		t.Errorf("three samples are no picture: %+v", b.s.Est)
	}
	near(t, "left", b.s.Est.Left, b.left(), 4)
	if b.s.Offset.Mean != 0 {
		t.Errorf("samples have an offset of %.2f", b.s.Offset.Mean)
	}
	near(t, "true gravity", b.s.True(), b.truth(), 1)
	b.run(40 * time.Hour)
	b.sample(b.truth())
	b.run(37 * time.Hour)
	b.s.Advance(time.Minute, 19, true, b.p)
	if b.s.NetChange(48 * time.Hour).Known {
		t.Error("a sample of the day before yesterday judges today")
	}
	sound(t, b.s)
}

func TestASampleThatContradictsTheOnesBeforeIsNotReady(t *testing.T) {
	b := ale()
	b.mute = true
	for _, c := range []struct {
		after  time.Duration
		points float64
	}{{0, 52}, {48 * time.Hour, 30}, {24 * time.Hour, 18}, {24 * time.Hour, 10}, {24 * time.Hour, 2}} {
		b.run(c.after)
		if v := b.sample(c.points); v != gravity.Accepted {
			t.Fatalf("%.0f points: %q", c.points, v)
		}
	}
	if b.s.Est.Ready {
		t.Errorf("ready on a sample that falls 8 points below its end: %+v", b.s.Est)
	}
}

func TestTwoSamplesThatAgreeAreBelieved(t *testing.T) {
	b := ale()
	b.mute = true
	b.sample(52)
	b.run(24 * time.Hour)
	b.sample(50)
	b.run(time.Hour)
	if v := b.sample(20); v != gravity.TooLow {
		t.Fatalf("30 points in an hour: %q", v)
	}
	if b.s.Est.Level != 50 {
		t.Errorf("the doubted sample counts: %.1f", b.s.Est.Level)
	}
	b.run(20 * time.Minute)
	if v := b.sample(21); v != gravity.Stepped {
		t.Errorf("the second sample: %q", v)
	}
	near(t, "level", b.s.Est.Level, 21, 0.01)
}

// Between two samples a device in the tank goes on reporting what it believes.
func TestTwoSamplesThatAgreeAreBelievedAgainstALivingDevice(t *testing.T) {
	b := ale()
	b.offset = 24 // foam lifts the device
	b.run(30 * time.Hour)
	truth := b.truth()
	if v := b.sample(truth); v != gravity.TooLow && v != gravity.TooHigh {
		t.Fatalf("the sample is %q: nothing to decide", v)
	}
	b.run(time.Hour)
	if v := b.sample(b.truth()); v != gravity.Stepped {
		t.Errorf("the second sample that agrees: %q", v)
	}
}

func TestASampleShowsTheDevicesOffset(t *testing.T) {
	b := ale()
	b.offset = 4
	b.p.Original, b.start = 52, 52
	b.run(50 * time.Hour)
	was := math.Abs(b.s.True() - b.truth())
	for range 6 {
		b.run(2 * time.Hour)
		if v := b.sample(b.truth()); v != gravity.Accepted {
			t.Fatalf("%q", v)
		}
	}
	near(t, "true gravity after samples", b.s.True(), b.truth(), 0.7)
	if now := math.Abs(b.s.True() - b.truth()); now > was {
		t.Errorf("off by %.2f before the samples, by %.2f after", was, now)
	}
	if b.s.Hand {
		t.Error("the newest reading is the device's, not a person's")
	}
}

func TestASampleInTheDevicesSilenceIsALevel(t *testing.T) {
	b := ale()
	b.run(50 * time.Hour)
	b.mute = true
	b.run(5 * time.Hour)
	n := len(b.s.Levels)
	if v := b.sample(b.truth()); v != gravity.Accepted {
		t.Fatalf("%q", v)
	}
	if len(b.s.Levels) != n+1 || !b.s.Levels[n].Hand || !b.s.Hand {
		t.Errorf("%d levels before, %d after, hand %v", n, len(b.s.Levels), b.s.Hand)
	}
	near(t, "level", b.s.Est.Level, b.truth()+b.s.Offset.Mean, 0.01)
}

// The brewer's sample of the wort often comes before the device is in the tank.
func TestASampleBeforeTheDeviceDoesNotFixItsOffset(t *testing.T) {
	b := ale()
	b.offset = 3
	if v := b.sample(52); v != gravity.Accepted {
		t.Fatalf("%q", v)
	}
	b.run(70 * time.Hour)
	near(t, "true gravity", b.s.True(), b.truth(), 1.5)
	if b.s.Offset.Var <= 0 {
		t.Errorf("the device's offset counts as known: %+v", b.s.Offset)
	}
}

func TestWhatComesBackIsNoStepWhileTheYeastWorks(t *testing.T) {
	b := ale()
	n := 0
	b.noise = func() float64 { n++; return 0.3 * float64(n%2) }
	b.run(40 * time.Hour)
	if b.s.Est.Rate < 0.4 {
		t.Fatalf("a fall of %.2f points an hour is no yeast at work", b.s.Est.Rate)
	}
	calm := b.noise
	b.noise = func() float64 { return calm() + 7 } // gas gathers on the device
	b.run(3 * time.Hour)
	if b.s.Shift != 0 {
		t.Errorf("a rise of 7 points moved the frame by %.1f", b.s.Shift)
	}
	b.noise = func() float64 { return calm() + 27 } // no gas lifts it so far
	b.run(3 * time.Hour)
	near(t, "shift", b.s.Shift, 20, 1.5)
	sound(t, b.s)
}

func TestASpikeThatComesFirstIsNoFrame(t *testing.T) {
	b := ale()
	calm := b.noise
	b.noise = func() float64 { return 22 }
	b.run(10 * time.Minute)
	b.noise = calm
	b.run(3 * time.Hour)
	if b.s.Shift != 0 {
		t.Errorf("one wrong reading at the start moved the frame by %.1f", b.s.Shift)
	}
	near(t, "level", b.s.Est.Level, b.p.Original, 1)
}
