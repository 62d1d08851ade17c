package bench_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/units"
)

// foreseen is a forecast with the hour in which it was made.
type foreseen struct {
	made  time.Duration
	share float64 // of the true fall that was behind the beer then
	controller.Forecast
}

// course is a batch with its forecasts, and when things really came.
type course struct {
	said []foreseen
	came map[controller.Milestone]time.Duration
}

// follow runs an ale and keeps what was foretold.
func follow(t *testing.T, b bench.Brew) course {
	t.Helper()
	s := bench.Simulate("fv1", b, ale())
	c := course{came: map[controller.Milestone]time.Duration{}}
	for s.Rig.Elapsed < 22*units.Day && s.Tank.Out.Decision.Kind != controller.Hold {
		s.Step()
		at := s.Rig.Elapsed
		for _, n := range s.Tank.Out.Notes {
			fall := float64(b.Wort.Original.Minus(b.Wort.Final))
			for _, f := range n.Forecasts {
				if f.Early < 0 || f.Early > f.Middle || f.Middle > f.Late || f.Late > 366*units.Day {
					t.Errorf("after %v: %+v", at, f)
				}
				if _, past := c.came[f.Event]; past {
					t.Errorf("after %v: %s has passed and is forecast", at, f.Event)
				}
				c.said = append(c.said, foreseen{at, 1 - float64(s.Tank.Left())/fall, f})
			}
		}
		for _, e := range s.Tank.Out.Events {
			c.note(e, at)
		}
	}
	return c
}

func (c *course) note(e controller.Event, at time.Duration) {
	switch {
	case e.Kind == controller.TerminalReached:
		c.came[controller.TerminalMet] = at
	case e.Kind == controller.StageEntered && e.StageKind == controller.Rest:
		c.came[controller.RestBegins] = at
	case e.Kind == controller.StageEntered && e.StageKind == controller.Hold:
		c.came[controller.Crashed], c.came[controller.Ready] = at, at
	}
}

// brews are pale ales in every vessel, that end where it was expected or a point
// and two beside it.
func brews() []bench.Brew {
	list := make([]bench.Brew, 0, 12)
	for seed := range uint64(12) {
		w := plant.PaleAle()
		w.Final = w.Final.Plus([4]units.Points{0, 1, -1, 2}[seed%4])
		list = append(list, bench.Brew{Kind: bench.Kinds()[seed%3], Wort: w, Noise: plant.Typical(), Seed: seed + 1, Ambient: plant.Ambient{Mean: 18, Swing: 3}})
	}
	return list
}

// score is how forecasts of one milestone, in one part of the batch, turned out.
type score struct {
	in, early, late int
	off, width      []float64 // h
}

func (s *score) take(f foreseen, wait time.Duration) {
	const minute = time.Minute // less is not shown
	switch {
	case wait < f.Early-minute:
		s.early++
	case wait > f.Late+minute:
		s.late++
	default:
		s.in++
	}
	s.width = append(s.width, (f.Late - f.Early).Hours())
}

func (s *score) share() float64 { return float64(s.in) / float64(max(1, len(s.width))) }

func middle(of []float64) float64 {
	slices.Sort(of)
	return of[len(of)/2]
}

// How often the true hour lies in the span from 10 to 90 %, over the forecasts made
// each hour from a fifth of the fall on, and how far off the middle is when half of
// it is behind the beer. Measured on twelve modelled ales; the bounds are loose.
func TestForecastsHold(t *testing.T) {
	t.Parallel()
	const before, within = 0, 1 // the rest
	scores := map[controller.Milestone]*[2]score{}
	for _, m := range controller.Milestones() {
		scores[m] = &[2]score{}
	}
	for _, b := range brews() {
		c := follow(t, b)
		half := map[controller.Milestone]bool{}
		for _, f := range c.said {
			came, ok := c.came[f.Event]
			if !ok || f.share < 0.2 {
				continue
			}
			part := before
			if f.made >= c.came[controller.RestBegins] {
				part = within
			}
			s := &scores[f.Event][part]
			s.take(f, came-f.made)
			if f.share >= 0.5 && !half[f.Event] {
				half[f.Event] = true
				s.off = append(s.off, math.Abs((came - f.made - f.Middle).Hours()))
			}
		}
	}
	limits := map[controller.Milestone]float64{controller.RestBegins: 8, controller.TerminalMet: 36, controller.Crashed: 36, controller.Ready: 36}
	for _, m := range controller.Milestones() {
		for part, s := range scores[m] {
			if len(s.width) == 0 {
				continue
			}
			name := [2]string{"before the rest", "from the rest on"}[part]
			t.Logf("%-8s %s: %d forecasts, %.0f %% inside, %d came earlier, %d later; %.0f h wide (median)", m, name, len(s.width), 100*s.share(), s.early, s.late, middle(s.width))
			if s.share() < 0.6 {
				t.Errorf("%s %s: %.0f %% inside", m, name, 100*s.share())
			}
		}
		off := scores[m][before].off
		if len(off) != len(brews()) {
			t.Fatalf("%s: forecast in %d batches when half of the fall was behind", m, len(off))
		}
		t.Logf("%-8s when half of the fall is behind: off by %.1f h (median), %.1f h (most)", m, middle(off), off[len(off)-1])
		if middle(off) > limits[m] {
			t.Errorf("%s: off by %.1f h", m, middle(off))
		}
	}
}
