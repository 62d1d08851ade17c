package gravity_test

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"
	"time"

	"example.org/restpoint/controller/gravity"
)

// beer is a made-up fermentation, a sigmoid with an exponential tail, and a
// device that looks at it. It shares nothing with the model of the plant.
type beer struct {
	s       gravity.State
	p       gravity.Prior
	start   float64 // points at pitching
	end     float64 // points where it really ends
	speed   float64 // 1/h, of the tail
	middle  float64 // h after pitching, when half is gone
	offset  float64 // points, of the device
	celsius float64
	noise   func() float64
	bare    bool // the device does not correct for temperature
	every   time.Duration
	next    time.Duration
	mute    bool
}

// ale is 1.052 down to 1.010: twelve hours of lag, half the fall after about 42 h.
func ale() *beer {
	return &beer{
		s: gravity.New().Pitch(), p: gravity.Prior{Original: 52, Final: 10, SD: 2}, start: 52, end: 10,
		speed: 0.08, middle: 40, celsius: 19, every: 15 * time.Minute, noise: func() float64 { return 0 },
	}
}

// stopped is an ale that came to stand still at a gravity.
func stopped(at float64) *beer {
	b := ale()
	b.end = at
	b.run(150 * time.Hour)
	return b
}

func (b *beer) truth() float64 {
	const lag = 12 // h
	h := max(0, b.s.Now.Hours()-lag)
	a := math.Exp(-b.speed * (b.middle - lag))
	return b.end + (b.start-b.end)*(1+a)/(1+a*math.Exp(b.speed*h))
}

func (b *beer) left() float64 { return b.truth() - b.end }

// run lets time pass in steps of a minute.
func (b *beer) run(d time.Duration) {
	for range int(d / time.Minute) {
		b.s.Advance(time.Minute, b.celsius, true, b.p)
		if b.s.Now >= b.next {
			b.next = b.s.Now + b.every
			if !b.mute {
				b.take(b.truth() + b.offset + b.noise())
			}
		}
	}
}

func (b *beer) take(points float64) gravity.Verdict {
	var v gravity.Verdict
	b.s, v = b.s.Take(gravity.Reading{Points: points, Uncorrected: b.bare}, b.p)
	return v
}

func (b *beer) sample(points float64) gravity.Verdict {
	var v gravity.Verdict
	b.s, v = b.s.Take(gravity.Reading{Points: points, Hand: true}, b.p)
	return v
}

// until runs until something is so, and tells when.
func (b *beer) until(t *testing.T, limit time.Duration, so func() bool) float64 {
	t.Helper()
	for end := b.s.Now + limit; b.s.Now < end; {
		if so() {
			return b.s.Now.Hours()
		}
		b.run(10 * time.Minute)
	}
	t.Fatalf("not within %v; %+v", limit, b.s.Est)
	return 0
}

// unquiet gives the device white noise and a drift with a memory of 12 h, as in
// measured records of beer in tanks (0.35 to 0.8 and 1.15 to 2.3 points).
func (b *beer) unquiet(r *rand.Rand, white, drift float64) {
	w := 0.0
	hold := math.Exp(-b.every.Hours() / 12)
	b.noise = func() float64 {
		w = w*hold + r.NormFloat64()*drift*math.Sqrt(1-hold*hold)
		return math.Round((w+r.NormFloat64()*white)*2) / 2
	}
}

// sound fails on a state that is not finite, or changed by JSON, or out of order.
func sound(t *testing.T, s gravity.State) {
	t.Helper()
	text, err := json.Marshal(s)
	if err != nil {
		t.Fatalf("not finite: %v", err)
	}
	var back gravity.State
	if err := json.Unmarshal(text, &back); err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(back, s) {
		t.Fatalf("changed by JSON:\n%+v\n%+v", s, back)
	}
	if e := s.Est; e.Known && !(e.Low <= e.Left && e.Left <= e.High && e.Low >= 0) {
		t.Fatalf("bounds out of order: %+v", e)
	}
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.3f, want %.3f within %.3f", what, got, want, tolerance)
	}
}
