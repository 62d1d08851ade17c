package gravity_test

import (
	"testing"
	"time"
)

// outage lets the beer go on while nobody counts.
func (b *beer) outage(d time.Duration) { b.middle -= d.Hours() }

func TestAnOutageOfUnknownLengthBeginsANewSegment(t *testing.T) {
	for name, c := range map[string]struct {
		after  time.Duration
		lost   time.Duration
		offset float64
	}{
		"a short one in full fermentation":           {44 * time.Hour, 2 * time.Hour, 0},
		"a day in full fermentation":                 {40 * time.Hour, 24 * time.Hour, 0},
		"a day, with a device that reads too high":   {40 * time.Hour, 24 * time.Hour, 3},
		"two days from full fermentation to its end": {44 * time.Hour, 48 * time.Hour, -2},
	} {
		t.Run(name, func(t *testing.T) {
			b := ale()
			b.offset = c.offset
			b.run(c.after)
			shift := b.s.Shift
			b.outage(c.lost)
			b.s = b.s.Broken()
			if b.s.AtMost(60) || b.s.NetChange(12*time.Hour).Known {
				t.Error("judged on what was read before")
			}
			b.run(24 * time.Hour)
			if b.s.Shift != shift {
				t.Errorf("the beer's fall passes as a step of the device: %.1f", b.s.Shift-shift)
			}
			near(t, "points left a day later", b.s.Est.Left, b.left(), 2.5)
			sound(t, b.s)
		})
	}
}

func TestWhatWasFoundStandsOverAnOutage(t *testing.T) {
	b := stopped(10)
	before := b.s.Est
	b.s = b.s.Broken()
	b.run(20 * time.Minute)
	if b.s.Est.Level != before.Level || b.s.Est.Ready {
		t.Errorf("%+v, was %+v", b.s.Est, before)
	}
}

// An outage whose length is known is counted by whoever counts time.
func TestAKnownOutageIsOnlySilence(t *testing.T) {
	b := ale()
	b.run(40 * time.Hour)
	b.s.Now += 24 * time.Hour
	b.run(24 * time.Hour)
	if b.s.Shift != 0 {
		t.Errorf("the beer's fall passes as a step of the device: %.1f", b.s.Shift)
	}
	near(t, "points left a day later", b.s.Est.Left, b.left(), 1.5)
}
