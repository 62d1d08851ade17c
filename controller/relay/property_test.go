package relay_test

import (
	"errors"
	"testing"

	"pgregory.net/rapid"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/relay"
)

// Whatever is asked and whatever fails: the wires of a vessel are never on
// together at any moment, the board never calls a wire off that is on, and every
// OFF that can be driven is driven.
func TestNoSequenceBreaksTheBoard(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const vessels = 2
		r := newRig(vessels)
		watch := &together{rig: r}
		must := func(ok bool, format string, args ...any) {
			if !ok {
				t.Fatalf(format, args...)
			}
		}
		broken := errors.New("broken")
		flip := rapid.Bool()
		for range rapid.IntRange(1, 30).Draw(t, "steps") {
			w := r.wires[rapid.IntRange(0, len(r.wires)-1).Draw(t, "wire")]
			delete(w.fail, true)
			delete(w.fail, false)
			if rapid.IntRange(0, 2).Draw(t, "fails") == 0 {
				w.fail[flip.Draw(t, "level")] = broken
				w.late = flip.Draw(t, "after it switched")
			}
			want := relay.Levels{Chiller: flip.Draw(t, "chiller")}
			for range vessels {
				want.Vessels = append(want.Vessels, controller.Outputs{Heat: flip.Draw(t, "heat"), Cool: flip.Draw(t, "cool")})
			}
			var err error
			lowered, all := true, true
			r.told = nil
			switch rapid.IntRange(0, 3).Draw(t, "call") {
			case 0:
				err = r.Set(want)
			case 1:
				err, all = r.Lower(want), false
			case 2:
				err, all, lowered = r.Raise(want), false, false
			case 3:
				err = r.Off()
				want = relay.Levels{Vessels: make([]controller.Outputs, vessels)}
			}
			watch.check(must)

			actual := r.Actual()
			for i := range vessels {
				heat, cool, w := r.heat(i), r.cool(i), want.Vessels[i]
				must(actual.Vessels[i].Heat || !heat.on, "%s is on and counts as off", heat.name)
				must(actual.Vessels[i].Cool || !cool.on, "%s is on and counts as off", cool.name)
				if lowered || w.Heat && w.Cool {
					refused := w.Heat && w.Cool
					must(!heat.on || w.Heat && !refused || heat.fail[false] != nil, "%s stayed on", heat.name)
					must(!cool.on || w.Cool && !refused || cool.fail[false] != nil, "%s stayed on", cool.name)
				}
			}
			must(actual.Chiller || !r.chiller().on, "the chiller is on and counts as off")
			must(err != nil || len(r.Unknown()) == 0 || !all, "no error, and yet %v is not known", r.Unknown())
		}
	})
}

// together replays what the wires were told, to look between the writes.
type together struct {
	rig *rig
	on  map[string]bool
}

func (w *together) check(must func(bool, string, ...any)) {
	if w.on == nil {
		w.on = map[string]bool{}
	}
	for _, told := range w.rig.told {
		for _, wire := range w.rig.wires {
			switch told {
			case wire.name + " on":
				w.on[wire.name] = w.on[wire.name] || wire.fail[true] == nil || wire.late
			case wire.name + " off":
				w.on[wire.name] = w.on[wire.name] && wire.fail[false] != nil && !wire.late
			}
		}
		for i := range 2 {
			must(!w.on[w.rig.heat(i).name] || !w.on[w.rig.cool(i).name], "both relays of a vessel on after %q of %v", told, w.rig.told)
		}
	}
}
