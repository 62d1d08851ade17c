package relay_test

import (
	"errors"
	"testing"

	"pgregory.net/rapid"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/relay"
)

const vessels = 2

// call is one call of a board, drawn at random.
type call struct {
	want relay.Levels
	do   func(*relay.Board, relay.Levels) error
	offs bool // drives every OFF, whatever is known
	all  bool // drives every line
}

func draw(t *rapid.T) call {
	flip := rapid.Bool()
	c := call{want: relay.Levels{Chiller: flip.Draw(t, "chiller")}}
	for range vessels {
		c.want.Vessels = append(c.want.Vessels, controller.Outputs{Heat: flip.Draw(t, "heat"), Cool: flip.Draw(t, "cool")})
	}
	switch rapid.SampledFrom([]string{"set", "lower", "raise", "off"}).Draw(t, "call") {
	case "set":
		c.do, c.offs, c.all = (*relay.Board).Set, true, true
	case "lower":
		c.do, c.offs = (*relay.Board).Lower, true
	case "raise":
		c.do = (*relay.Board).Raise
	case "off":
		c.want = relay.Levels{Vessels: make([]controller.Outputs, vessels)}
		c.do, c.offs, c.all = func(b *relay.Board, _ relay.Levels) error { return b.Off() }, true, true
	}
	return c
}

// fault lets one wire work again and, one time in three, fail at one level or at
// both: with or without switching before it says so.
func (r *rig) fault(t *rapid.T) {
	w := r.wires[rapid.IntRange(0, len(r.wires)-1).Draw(t, "wire")]
	w.fail = map[bool]error{}
	if rapid.IntRange(0, 2).Draw(t, "fails") == 0 {
		for _, level := range rapid.SampledFrom([][]bool{{false}, {true}, {false, true}}).Draw(t, "levels") {
			w.fail[level] = errors.New("broken")
		}
		w.late = rapid.Bool().Draw(t, "after it switched")
	}
}

// Whatever is asked and whatever fails: the wires of a vessel are never on
// together at any moment, the board never calls a wire off that is on, and every
// OFF that can be driven is driven.
func TestNoSequenceBreaksTheBoard(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, on := newRig(vessels), map[string]bool{}
		for range rapid.IntRange(1, 30).Draw(t, "steps") {
			r.fault(t)
			c := draw(t)
			r.told = nil
			err := c.do(r.Board, c.want)

			r.neverTogether(t, on)
			r.honest(t)
			r.driven(t, c)
			if err == nil && c.all && len(r.Unknown()) > 0 {
				t.Fatalf("no error, and yet %v is not known", r.Unknown())
			}
		}
	})
}

// neverTogether replays what the wires were told, to look between the writes.
func (r *rig) neverTogether(t *rapid.T, on map[string]bool) {
	for _, told := range r.told {
		for _, w := range r.wires {
			switch told {
			case w.name + " on":
				on[w.name] = on[w.name] || w.fail[true] == nil || w.late
			case w.name + " off":
				on[w.name] = on[w.name] && w.fail[false] != nil && !w.late
			}
		}
		for i := range vessels {
			if on[r.heat(i).name] && on[r.cool(i).name] {
				t.Fatalf("both relays of a vessel are on after %q of %v", told, r.told)
			}
		}
	}
}

// honest checks that nothing that is on counts as off.
func (r *rig) honest(t *rapid.T) {
	actual := r.Actual()
	counts := []bool{}
	for _, o := range actual.Vessels {
		counts = append(counts, o.Heat, o.Cool)
	}
	counts = append(counts, actual.Chiller) // in the order of the wires
	for i, w := range r.wires {
		if w.on && !counts[i] {
			t.Fatalf("%s is on and counts as off", w.name)
		}
	}
}

// driven checks that a wire that shall be off is off, unless it cannot be.
func (r *rig) driven(t *rapid.T, c call) {
	for i, want := range c.want.Vessels {
		refused := want.Heat && want.Cool
		if !c.offs && !refused {
			continue
		}
		for w, wanted := range map[*wire]bool{r.heat(i): want.Heat, r.cool(i): want.Cool} {
			if w.on && (!wanted || refused) && w.fail[false] == nil {
				t.Fatalf("%s stayed on", w.name)
			}
		}
	}
}
