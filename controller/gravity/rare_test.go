package gravity_test

import (
	"testing"
	"time"
)

// Whatever its pace, a device that reports is judged by: one every three hours as
// well as one every minute, with at most half a day between the first and the last.
func TestEveryPaceOfADeviceIsJudged(t *testing.T) {
	first, last := 1e9, 0.0
	for _, every := range []time.Duration{
		time.Minute, 10 * time.Minute, 15 * time.Minute, 30 * time.Minute, 45 * time.Minute, time.Hour, 2 * time.Hour, 3 * time.Hour,
	} {
		b := ale()
		b.every = every
		fired := b.until(t, 8*24*time.Hour, func() bool { return b.s.AtMost(6) })
		t.Logf("every %v: after %.1f h, really %.1f points left", every, fired, b.left())
		first, last = min(first, fired), max(last, fired)
		if b.left() > 8 || b.left() < 1 {
			t.Errorf("every %v: six points left were found with %.1f left", every, b.left())
		}
	}
	if last-first > 12 {
		t.Errorf("the slowest is %.1f h behind the fastest", last-first)
	}
}
