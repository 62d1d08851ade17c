package main

import (
	"flag"
	"io"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/controller/bench/internal/figures"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/units"
)

func cool(n int) train { return slices.Repeat(train{{Cool: true}}, n) }
func heat(n int) train { return slices.Repeat(train{{Heat: true}}, n) }
func none(n int) train { return make(train, n) }

func TestATrainIsTakenApart(t *testing.T) {
	for name, c := range map[string]struct {
		train train
		want  []pulse
	}{
		"nothing at all":                 {none(5), nil},
		"one pulse":                      {slices.Concat(none(2), cool(3), none(1)), []pulse{{2, 3, false}}},
		"one that is cut at both ends":   {cool(4), []pulse{{0, 4, false}}},
		"two of one kind":                {slices.Concat(cool(1), none(1), cool(2)), []pulse{{0, 1, false}, {2, 2, false}}},
		"heat that follows cold at once": {slices.Concat(cool(2), heat(3)), []pulse{{0, 2, false}, {2, 3, true}}},
	} {
		t.Run(name, func(t *testing.T) {
			got := pulses(c.train)
			if !slices.Equal(got, c.want) {
				t.Errorf("%v, want %v", got, c.want)
			}
			p := tape{list: got}
			for i, want := range c.train {
				if now := p.at(i); now != want {
					t.Errorf("step %d is played as %v, want %v", i, now, want)
				}
			}
		})
	}
}

func TestTheGuardsTimesAreKept(t *testing.T) {
	c := cellar{cool: guard.Of(guard.Compressor), heat: guard.Of(guard.Heater)}
	s := search{c: &c, n: 1000}
	got := s.mend([]pulse{{-5, 1, false}, {20, 40, false}, {40, 2, true}, {995, 100, true}, {999, 3, true}})
	// 3 min of run, 5 min of rest, 20 min between cold and heat; the end cuts.
	want := []pulse{{0, 18, false}, {48, 40, false}, {208, 6, true}, {995, 5, true}}
	if !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

func TestTheLeastSquaresAreFound(t *testing.T) {
	slopes := [][]float64{{1, 0, 1}, {0, 2, 1}}
	// Solved by hand: 2x + y = 3, x + 5y = 10 for errors of -1, -4, -2.
	x := descend(slopes, []float64{-1, -4, -2}, 100)
	if math.Abs(x[0]-5.0/9) > 1e-6 || math.Abs(x[1]-17.0/9) > 1e-6 {
		t.Errorf("%v", x)
	}
	if x = descend(slopes, []float64{-1, -4, -2}, 1); x[1] != 1 {
		t.Errorf("beyond its reach: %v", x)
	}
}

// short is a cellar that is judged in a second.
func short(m means) *cellar {
	c := cellar{means: m, room: plant.Ambient{Mean: 14}, target: 18, seed: 1}
	if m != heatOnly {
		c.room.Mean = 24
	}
	c.build(60, 2*time.Minute)
	c.title()
	return &c
}

func TestTheSearchBeatsWhatItBeginsWith(t *testing.T) {
	for _, m := range []means{coldOnly, heatOnly} {
		t.Run(string(m), func(t *testing.T) {
			c := short(m)
			h := c.hold(&plain{c: c})
			b := c.search(h)
			t.Logf("plain %.3f K, best %.3f K", h.settled.rms, b.rms)
			if b.rms >= h.settled.rms || b.coolStarts > h.settled.coolStarts || b.heatStarts > h.settled.heatStarts {
				t.Errorf("%+v against %+v", b, h.settled)
			}
		})
	}
}

func TestThePlainOneSwitchesAQuarterAboveAndBelow(t *testing.T) {
	c := short(coldOnly)
	p := &plain{c: c}
	for _, x := range []struct {
		beer units.Celsius
		want bool
	}{{18.2, false}, {18.3, true}, {18, true}, {17.85, true}, {17.7, false}, {18.2, false}} {
		w := c.world(x.beer)
		w.beer.Advance(time.Second, plant.Outputs{})
		p.guard = guard.State{}.Observe(false, p.cool, time.Hour)
		if got := p.next(w, levels{Cool: p.cool}); got.Cool != x.want || got.Heat {
			t.Errorf("%+v at %v, want %v", got, x.beer, x.want)
		}
	}
}

func TestAHoldIsTwiceAsGoodAsThePlainOne(t *testing.T) {
	for _, m := range []means{glycol, heatOnly} {
		c := short(m)
		ours, other := c.hold(c.program(c.holding())), c.hold(&plain{c: c})
		if ours.settled.rms > other.settled.rms/2 || ours.first.rms > other.first.rms {
			t.Errorf("%s: settled %.3f K, the first day %.3f K; the plain one %.3f and %.3f", m, ours.settled.rms, ours.first.rms, other.settled.rms, other.first.rms)
		}
		if m == glycol && ours.settled.heat > 0 {
			t.Errorf("a beer that is too warm was heated with %.0f J", ours.settled.heat)
		}
	}
}

func TestALoopAroundALoopHoldsItsBeerAndItsBounds(t *testing.T) {
	c := short(glycol)
	c.surround = true
	k := &cascade{c: c, band: 1}
	w := c.world(c.target)
	var now levels
	for w.beer.Elapsed() < whole {
		now = k.next(w, now)
		w.advance(now)
		if at := w.beer.Surround().Minus(c.target); at < mostBelow-2 || at > mostAbove+2 {
			t.Fatalf("the jacket is %v off after %v", at, w.beer.Elapsed())
		}
	}
	if off := w.beer.Beer().Minus(c.target); off > 0.15 || off < -0.15 {
		t.Errorf("the beer is %v off", off)
	}
	var text strings.Builder
	if err := writeCascades(&text, []cellar{*c, *short(heatOnly)}); err != nil || strings.Count(text.String(), "glycol") != 1 || strings.Contains(text.String(), "heater only") {
		t.Errorf("%v: %s", err, text.String())
	}
}

func TestACrashIsShortAndStops(t *testing.T) {
	got := short(glycol).crash()
	if got.took == 0 || got.took.Hours() > 1.10*got.shortest.Hours() || got.undershoot > under {
		t.Errorf("%+v", got)
	}
}

var update = flag.Bool("update", false, "write the tables in DEVELOPERS.md anew")

// The tables in DEVELOPERS.md are what is found today.
func TestTheTablesInDevelopersAreToday(t *testing.T) {
	if testing.Short() {
		t.Skip("a minute of simulation")
	}
	figures.Held(t, "hold", *update, func(w io.Writer) error { return report(w, all(append(cellars(), chances(8, 1)...))) })
}
