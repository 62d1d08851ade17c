package gravity_test

import (
	"testing"
	"time"

	"example.org/restpoint/controller/gravity"
)

const twoDays = 48 * time.Hour

func TestWhereABeerStops(t *testing.T) {
	for name, c := range map[string]struct {
		end             float64
		hours           int
		terminal, stuck bool
	}{
		"in full fermentation it is neither":                         {10, 45, false, false},
		"in the tail it is neither":                                  {10, 75, false, false},
		"stopped where it should is terminal":                        {10, 200, true, false},
		"stopped a little above is terminal":                         {13, 200, true, false},
		"stopped well above is stuck":                                {20, 200, false, true},
		"stopped at a third of the way is stuck":                     {38, 200, false, true},
		"stopped below what was expected is terminal":                {5, 200, true, false},
		"never begun is neither, however still it stands":            {51.5, 200, false, false},
		"stopped above, not yet watched for long enough, is neither": {20, 85, false, false},
	} {
		t.Run(name, func(t *testing.T) {
			b := ale()
			b.end = c.end
			b.run(time.Duration(c.hours) * time.Hour)
			if got := b.s.Terminal(1, twoDays, b.p); got != c.terminal {
				t.Errorf("terminal %v, want %v: %+v", got, c.terminal, b.s.NetChange(twoDays))
			}
			if got := b.s.Stuck(b.p); got != c.stuck {
				t.Errorf("stuck %v, want %v: %+v", got, c.stuck, b.s.NetChange(twoDays))
			}
		})
	}
}

func TestAnOffsetOfTheDeviceChangesNoJudgement(t *testing.T) {
	for _, offset := range []float64{-5, -2, 0, 2, 5} {
		b := ale()
		b.offset = offset
		b.run(80 * time.Hour)
		near(t, "points left", b.s.Est.Left, b.left(), 2.5)
		b.run(100 * time.Hour)
		if !b.s.Terminal(1, twoDays, b.p) || b.s.Stuck(b.p) {
			t.Errorf("offset %v: terminal %v, stuck %v", offset, b.s.Terminal(1, twoDays, b.p), b.s.Stuck(b.p))
		}
	}
}

func TestBegun(t *testing.T) {
	b := ale()
	b.middle, b.speed = 60, 0.12
	b.run(8 * time.Hour)
	if b.s.Begun(b.p) {
		t.Errorf("begun after %.2f points", b.start-b.truth())
	}
	at := b.until(t, 100*time.Hour, func() bool { return b.s.Begun(b.p) })
	if fell := b.start - b.truth(); fell < 1.2 || fell > 5 {
		t.Errorf("begun after %.1f h, when %.1f points had fallen", at, fell)
	}
}

func TestNothingIsJudgedThatIsNotKnown(t *testing.T) {
	s, p := gravity.New(), gravity.Prior{Original: 52, Final: 10, SD: 2}
	if s.Terminal(1, twoDays, p) || s.Stuck(p) || s.Begun(p) || s.AtMost(50) || s.NetChange(twoDays).Known {
		t.Error("an empty state is judged")
	}
	if _, ok := s.Attenuation(p); ok {
		t.Error("an attenuation without a gravity")
	}
	if _, ok := s.Until(6); ok {
		t.Error("a forecast without a gravity")
	}
	if s.UntilTerminal(1, twoDays, p) != twoDays || s.Fallen(p) != 0 {
		t.Error("an empty state is near its end or has fallen")
	}
	b := ale()
	b.run(60 * time.Hour)
	b.p.Original = 0
	if _, ok := b.s.Attenuation(b.p); ok {
		t.Error("an attenuation of water")
	}
}

func TestAttenuation(t *testing.T) {
	b := ale()
	b.run(300 * time.Hour)
	a, ok := b.s.Attenuation(b.p)
	if !ok {
		t.Fatal("not known")
	}
	near(t, "apparent attenuation", a, 42.0/52, 0.02)
}

func TestNetChangeNeedsItsWindow(t *testing.T) {
	b := ale()
	b.run(100 * time.Hour)
	for name, c := range map[string]struct {
		over time.Duration
		do   func(*beer)
		want bool
	}{
		"two days are seen":                                {twoDays, func(*beer) {}, true},
		"more than the batch is not":                       {200 * time.Hour, func(*beer) {}, false},
		"a mark in the window voids it":                    {twoDays, func(b *beer) { b.s = b.s.Mark(0, 1) }, false},
		"a mark a day ago voids it":                        {twoDays, func(b *beer) { b.s = b.s.Mark(0, 1); b.run(24 * time.Hour) }, false},
		"a mark two days ago does not":                     {twoDays, func(b *beer) { b.s = b.s.Mark(0, 1); b.run(twoDays + time.Hour) }, true},
		"a silent device voids it":                         {twoDays, func(b *beer) { b.mute = true; b.run(5 * time.Hour) }, false},
		"a gap in the window does not, the ends are there": {twoDays, func(b *beer) { b.mute = true; b.run(12 * time.Hour); b.mute = false; b.run(18 * time.Hour) }, true},
		"half a window of silence does":                    {twoDays, func(b *beer) { b.mute = true; b.run(40 * time.Hour); b.mute = false; b.run(5 * time.Hour) }, false},
	} {
		t.Run(name, func(t *testing.T) {
			x := *b
			c.do(&x)
			if got := x.s.NetChange(c.over); got.Known != c.want {
				t.Errorf("known %v, want %v: %+v", got.Known, c.want, got)
			}
		})
	}
	c := b.s.NetChange(24 * time.Hour)
	was := *ale()
	was.run(76 * time.Hour)
	near(t, "net fall of the last day", c.Fall, was.truth()-b.truth(), 0.6)
	if c.SE <= 0 || c.SE > 5 {
		t.Errorf("standard error %.2f", c.SE)
	}
}

func TestAMarkVoidsWhatWasJudged(t *testing.T) {
	b := stopped(10)
	b.run(72 * time.Hour)
	if !b.s.Terminal(1, twoDays, b.p) {
		t.Fatal("not terminal before the mark")
	}
	b.s = b.s.Mark(0, 1)
	if b.s.Terminal(1, twoDays, b.p) || b.s.UntilTerminal(1, twoDays, b.p) != twoDays {
		t.Error("what was judged before a mark stands after it")
	}
	b.run(twoDays)
	if left := b.s.UntilTerminal(1, twoDays, b.p); left > 6*time.Hour {
		t.Errorf("%v to go after the whole window", left)
	}
	b.run(3 * time.Hour)
	if !b.s.Terminal(1, twoDays, b.p) {
		t.Error("not terminal two days after the mark")
	}
	if left := b.s.UntilTerminal(1, twoDays, b.p); left != 0 {
		t.Errorf("%v to go to what is there", left)
	}
}

func TestADryHopMovesTheExpectedEndDownAndWidensIt(t *testing.T) {
	b := ale()
	b.run(44 * time.Hour)
	plain := *b
	b.s = b.s.Mark(2, 2)
	b.run(time.Hour)
	plain.run(time.Hour)
	near(t, "end", b.s.Est.End, plain.s.Est.End-2, 0.3)
	near(t, "left", b.s.Est.Left, plain.s.Est.Left+2, 0.4) // a wider end leaves more to the curve
	if wide, was := b.s.Est.High-b.s.Est.Low, plain.s.Est.High-plain.s.Est.Low; wide < was*1.3 {
		t.Errorf("bounds %.1f points apart, %.1f without the hops", wide, was)
	}
}

func TestMarksWithoutEndStayFinite(t *testing.T) {
	b := stopped(10)
	for range 3000 {
		b.s = b.s.Mark(2, 2)
	}
	b.run(5 * time.Hour)
	sound(t, b.s)
	_ = b.s.Terminal(1, twoDays, b.p)
	if b.s.Est.High < b.s.Est.Left {
		t.Errorf("%+v", b.s.Est)
	}
}

// The least time to terminal is the whole window while the beer falls, and comes
// down as the beer is seen still, never behind the hour in which it is terminal.
func TestTheLeastTimeToTerminal(t *testing.T) {
	b := ale()
	b.run(60 * time.Hour)
	if got := b.s.UntilTerminal(1, twoDays, b.p); got != twoDays {
		t.Errorf("%v to go for a falling beer", got)
	}
	var aDayAhead time.Duration
	b.until(t, 400*time.Hour, func() bool {
		if aDayAhead == 0 && b.s.UntilTerminal(1, twoDays, b.p) <= 24*time.Hour {
			aDayAhead = b.s.Now
		}
		return b.s.Terminal(1, twoDays, b.p)
	})
	if lead := b.s.Now - aDayAhead; aDayAhead == 0 || lead < 20*time.Hour || lead > 72*time.Hour {
		t.Errorf("a day ahead was said %v ahead", lead)
	}
}

func TestForecast(t *testing.T) {
	b := ale()
	b.run(44 * time.Hour)
	span, ok := b.s.Until(6)
	if !ok || span.Early <= 0 || span.Middle < span.Early || span.Late < span.Middle {
		t.Fatalf("%+v, %v", span, ok)
	}
	from := b.s.Now
	b.until(t, 100*time.Hour, func() bool { return b.left() <= 6 })
	took := b.s.Now - from
	t.Logf("forecast %v, it took %v", span, took)
	if took > span.Late || took < span.Early {
		t.Errorf("it took %v, forecast %v", took, span)
	}
	for name, c := range map[string]struct {
		n       float64
		do      func(*beer)
		ok, is0 bool
	}{
		"few enough already":              {40, func(*beer) {}, true, true},
		"no points were asked for":        {0, func(*beer) {}, false, false},
		"in the tail":                     {1, func(b *beer) { b.run(15 * time.Hour) }, true, false},
		"before anything is known":        {6, func(b *beer) { *b = *ale() }, false, false},
		"more than a third still to fall": {20, func(b *beer) { *b = *ale(); b.run(36 * time.Hour) }, true, false},
	} {
		t.Run(name, func(t *testing.T) {
			x := *b
			c.do(&x)
			span, ok := x.s.Until(c.n)
			if ok != c.ok || (span.Middle == 0) != (c.is0 || !c.ok) || span.Late < span.Middle || span.Middle < span.Early {
				t.Errorf("%+v, %v: %+v", span, ok, x.s.Est)
			}
		})
	}
}

func TestSilence(t *testing.T) {
	b := ale()
	b.run(20 * time.Hour)
	b.mute = true
	b.run(7 * time.Hour)
	if got := b.s.Silent(); got < 7*time.Hour || got > 7*time.Hour+20*time.Minute {
		t.Errorf("silent for %v", got)
	}
	if b.s.AtMost(52) && b.s.Est.Ready {
		b.mute = false
		b.run(10 * time.Minute)
	}
	b.mute = false
	b.run(4 * time.Hour)
	near(t, "level after a gap", b.s.Est.Level, b.truth(), 2)
	sound(t, b.s)
}

// A source that nobody corrects: 0.2 points a kelvin are doubtful, and more than
// half of what was asked for blocks.
func TestAnUncorrectedChangeOfTemperatureWidensAndBlocks(t *testing.T) {
	for name, c := range map[string]struct {
		bare    bool
		celsius float64
		wider   bool
		at6     bool
		at2     bool
	}{
		"at the same temperature":               {true, 19, false, true, true},
		"five kelvins warmer, 1 point of doubt": {true, 24, true, true, true},
		"seven kelvins warmer, 1.4 points":      {true, 26, true, true, false},
		"sixteen kelvins colder, 3.2 points":    {true, 3, true, false, false},
		"sixteen kelvins colder, but corrected": {false, 3, false, true, true},
	} {
		t.Run(name, func(t *testing.T) {
			b := ale()
			b.bare = c.bare
			b.run(200 * time.Hour)
			before := b.s.Est.High - b.s.Est.Low
			b.celsius = c.celsius
			b.run(3 * time.Hour)
			if wider := b.s.Est.High-b.s.Est.Low > before+0.1; wider != c.wider {
				t.Errorf("bounds %.2f points apart, were %.2f", b.s.Est.High-b.s.Est.Low, before)
			}
			if b.s.AtMost(6) != c.at6 || b.s.AtMost(2) != c.at2 {
				t.Errorf("6 or fewer: %v, 2 or fewer: %v", b.s.AtMost(6), b.s.AtMost(2))
			}
		})
	}
}

func TestADryBeerMayEndBelowWater(t *testing.T) {
	b := ale()
	b.p.Final, b.end, b.every = -3, -4, 2*time.Minute // 1.000 is no floor: ethanol is lighter than water
	b.run(250 * time.Hour)
	near(t, "level", b.s.Est.Level, -4, 0.1)
	if !b.s.Terminal(1, twoDays, b.p) || !b.s.AtMost(2) {
		t.Errorf("not at its end: %+v", b.s.Est)
	}
	if last := b.s.Levels[len(b.s.Levels)-1].P; last > -3.9 || last < -4.1 {
		t.Errorf("the history says %.3f", last)
	}
	sound(t, b.s)
}
