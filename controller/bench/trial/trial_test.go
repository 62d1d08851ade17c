package main

import (
	"flag"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"example.org/restpoint/controller/bench/internal/figures"
	"example.org/restpoint/controller/plant"
)

// Every kinetics begins at its wort, never rises, and ends where it says, stuck or
// not.
func TestEveryKineticsIsABeer(t *testing.T) {
	for _, k := range allKinetics() {
		for seed := range uint64(8) {
			stop := float64(seed%2) * 0.3
			b := k.draw(rand.New(rand.NewPCG(seed, 1)), stop)
			if b.end < b.wort.Final || stop == 0 && b.end != b.wort.Final {
				t.Errorf("%s ends at %v, the wort at %v", k.name, b.end, b.wort.Final)
			}
			if b.curve == nil {
				continue
			}
			if d := float64(b.curve(0).Gravity().Minus(b.wort.Original)); math.Abs(d) > 0.01 {
				t.Errorf("%s begins %.2f points off its wort", k.name, d)
			}
			last := b.curve(0)
			for h := 0.0; h < 900; h++ {
				if now := b.curve(h); now > last+1e-12 {
					t.Fatalf("%s rises at %v h", k.name, h)
				} else {
					last = now
				}
			}
			if d := float64(last.Gravity().Minus(b.end)); d > 0.5 || d < -0.01 {
				t.Errorf("%s is %.2f points from its end after 900 h", k.name, d)
			}
		}
	}
}

// The same case comes out the same, and a table of few cases has all its rows.
func TestATrialCanBeRepeated(t *testing.T) {
	k := allKinetics()[3]
	a, b := run(k, "mild", plant.Mild(), 7, false), run(k, "mild", plant.Mild(), 7, false)
	if !a.fired || a.left != b.left || a.late != b.late || a.leftScript != b.leftScript || a.inside != b.inside {
		t.Errorf("%+v\n%+v", a, b)
	}
	if a.left < 0 || a.left > 20 || math.Abs(a.late) > 100 || a.estimates < 5 || a.intervals > a.estimates || a.inside > a.intervals {
		t.Errorf("%+v", a)
	}
	var out strings.Builder
	if err := report(&out, []trial{a, b}); err != nil {
		t.Fatal(err)
	}
	if rows := strings.Count(out.String(), "\n"); rows != 2+8+len(allKinetics())+2 {
		t.Errorf("%d rows:\n%s", rows, out.String())
	}
}

var update = flag.Bool("update", false, "write the table in DEVELOPERS.md anew")

// The table in DEVELOPERS.md is what the trial finds today.
func TestTheTableInDevelopersIsToday(t *testing.T) {
	if testing.Short() {
		t.Skip("a minute or two of simulation")
	}
	figures.Held(t, "trial", *update, func(w io.Writer) error { return report(w, all(12, 1)) })
}
