package relay_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/relay"
)

// wire is a line that writes down what it was told, in a list that it shares with
// the other wires of its board.
type wire struct {
	name   string
	told   *[]string
	fail   map[bool]error // by level
	late   bool           // a write that fails has switched all the same
	on     bool
	closed int
}

func (w *wire) Set(on bool) error {
	level := "off"
	if on {
		level = "on"
	}
	*w.told = append(*w.told, w.name+" "+level)
	err := w.fail[on]
	if err == nil || w.late {
		w.on = on
	}
	return err
}

func (w *wire) Close() error {
	*w.told = append(*w.told, w.name+" closed")
	w.closed++
	return w.fail[false]
}

// rig is a board of n vessels with all lines, and its wires: heat and cool of
// each vessel, then the chiller.
type rig struct {
	*relay.Board
	wires []*wire
	told  []string
}

func newRig(n int) *rig {
	r := &rig{}
	add := func(name string) *wire {
		w := &wire{name: name, told: &r.told, fail: map[bool]error{}}
		r.wires = append(r.wires, w)
		return w
	}
	var channels []relay.Channel
	for i := range n {
		v := fmt.Sprintf("fv%d", i+1)
		channels = append(channels, relay.Channel{Vessel: v, Heat: add(v + " heat"), Cool: add(v + " cool")})
	}
	r.Board = relay.NewBoard(channels, add("chiller"))
	return r
}

func (r *rig) heat(i int) *wire { return r.wires[2*i] }
func (r *rig) cool(i int) *wire { return r.wires[2*i+1] }
func (r *rig) chiller() *wire   { return r.wires[len(r.wires)-1] }

// since gives what was told since the last call.
func (r *rig) since() string {
	s := strings.Join(r.told, ", ")
	r.told = nil
	return s
}

func levels(chiller bool, outs ...controller.Outputs) relay.Levels {
	return relay.Levels{Vessels: outs, Chiller: chiller}
}

func same(a, b relay.Levels) bool {
	return a.Chiller == b.Chiller && slices.Equal(a.Vessels, b.Vessels)
}

func none() controller.Outputs    { return controller.Outputs{} }
func heating() controller.Outputs { return controller.Outputs{Heat: true} }
func cooling() controller.Outputs { return controller.Outputs{Cool: true} }
func both() controller.Outputs    { return controller.Outputs{Heat: true, Cool: true} }

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func TestEveryOffOfTheBoardComesBeforeEveryOn(t *testing.T) {
	r := newRig(2)
	must(t, r.Set(levels(true, cooling(), heating())))
	if got, want := r.since(), "fv1 heat off, fv2 cool off, fv1 cool on, chiller on, fv2 heat on"; got != want {
		t.Errorf("told %q, want %q", got, want)
	}
	must(t, r.Set(levels(false, heating(), cooling())))
	if got, want := r.since(), "fv2 heat off, chiller off, fv1 cool off, fv2 cool on, fv1 heat on"; got != want {
		t.Errorf("told %q, want %q", got, want)
	}
}

func TestLowerSwitchesNothingOnAndRaiseNothingOff(t *testing.T) {
	r := newRig(2)
	must(t, r.Off())
	r.since()
	want := levels(true, cooling(), none())
	must(t, r.Lower(want))
	if got, want := r.since(), "fv1 heat off, fv2 heat off, fv2 cool off"; got != want {
		t.Errorf("lower told %q, want %q", got, want)
	}
	if !same(r.Actual(), levels(false, none(), none())) {
		t.Errorf("after lower: %+v", r.Actual())
	}
	must(t, r.Raise(want))
	if got, want := r.since(), "fv1 cool on, chiller on"; got != want {
		t.Errorf("raise told %q, want %q", got, want)
	}
	if !same(r.Actual(), want) {
		t.Errorf("after raise: %+v, want %+v", r.Actual(), want)
	}
}

func TestHeatAndCoolTogetherAreRefusedAndBothGoOff(t *testing.T) {
	for name, drive := range map[string]func(*relay.Board, relay.Levels) error{
		"set": (*relay.Board).Set, "lower": (*relay.Board).Lower, "raise": (*relay.Board).Raise,
	} {
		for _, before := range []controller.Outputs{none(), heating(), cooling()} {
			r := newRig(2)
			must(t, r.Set(levels(false, before, none())))
			err := drive(r.Board, levels(false, both(), none()))
			if !errors.Is(err, relay.Together) || !strings.Contains(err.Error(), "fv1 heat") {
				t.Errorf("%s: error %v", name, err)
			}
			if r.heat(0).on || r.cool(0).on {
				t.Errorf("%s after %+v: heat %v, cool %v; want both off", name, before, r.heat(0).on, r.cool(0).on)
			}
			if !same(r.Actual(), levels(false, none(), none())) {
				t.Errorf("%s: %+v", name, r.Actual())
			}
		}
	}
}

func TestRaiseAloneWaitsForThePartnerToBeOff(t *testing.T) {
	r := newRig(1)
	if err := r.Raise(levels(false, heating())); !errors.Is(err, relay.PartnerOn) || r.heat(0).on {
		t.Errorf("heat before cool was ever driven: on %v, error %v", r.heat(0).on, err)
	}
	must(t, r.Set(levels(false, cooling())))
	if err := r.Raise(levels(false, heating())); !errors.Is(err, relay.PartnerOn) || r.heat(0).on {
		t.Errorf("heat while cool is on: on %v, error %v", r.heat(0).on, err)
	}
}

func TestALineThatCannotGoOffKeepsItsPartnerOffAndIsTriedAgain(t *testing.T) {
	r := newRig(2)
	must(t, r.Set(levels(false, heating(), none())))
	stuck := errors.New("stuck")
	r.heat(0).fail[false] = stuck
	for range 3 {
		r.since()
		err := r.Set(levels(true, cooling(), cooling()))
		var of *relay.Error
		if !errors.Is(err, stuck) || !errors.As(err, &of) || of.Vessel != "fv1" || of.Role != relay.Heat || of.On {
			t.Errorf("error %v", err)
		}
		if !errors.Is(err, relay.PartnerOn) || r.cool(0).on {
			t.Errorf("cool beside a heater that may be on: on %v, error %v", r.cool(0).on, err)
		}
		if !r.cool(1).on || !r.chiller().on {
			t.Error("the other vessel is not cooled")
		}
		if got := r.Actual(); !same(got, levels(true, heating(), cooling())) {
			t.Errorf("actual %+v: a heater that may be on counts as on", got)
		}
		if got := r.Unknown(); !slices.Equal(got, []string{"fv1 heat"}) {
			t.Errorf("unknown %v", got)
		}
		if got, want := r.since(), "fv1 heat off, fv2 heat off, fv1 cool off, fv2 cool on, chiller on"; got != want {
			t.Errorf("told %q, want %q", got, want)
		}
	}
	delete(r.heat(0).fail, false)
	must(t, r.Set(levels(true, cooling(), cooling())))
	if !same(r.Actual(), levels(true, cooling(), cooling())) || r.Unknown() != nil {
		t.Errorf("after it went off: %+v, unknown %v", r.Actual(), r.Unknown())
	}
}

func TestALineThatCannotGoOnIsDrivenOff(t *testing.T) {
	r := newRig(1)
	must(t, r.Off())
	r.since()
	broken := errors.New("broken")
	r.cool(0).fail[true] = broken
	if err := r.Set(levels(false, cooling())); !errors.Is(err, broken) || !strings.Contains(err.Error(), "switch fv1 cool on: broken") {
		t.Errorf("error %v", err)
	}
	if got, want := r.since(), "fv1 heat off, chiller off, fv1 cool on, fv1 cool off"; got != want {
		t.Errorf("told %q, want %q", got, want)
	}
	if !same(r.Actual(), levels(false, none())) || r.Unknown() != nil {
		t.Errorf("actual %+v, unknown %v: it went off", r.Actual(), r.Unknown())
	}

	r.cool(0).fail[false] = broken
	if err := r.Set(levels(false, cooling())); !errors.Is(err, broken) {
		t.Errorf("error %v", err)
	}
	if !same(r.Actual(), levels(false, cooling())) || !slices.Equal(r.Unknown(), []string{"fv1 cool"}) {
		t.Errorf("actual %+v, unknown %v: it can be on", r.Actual(), r.Unknown())
	}
}

func TestOffTriesEveryLineAndJoinsTheErrors(t *testing.T) {
	r := newRig(3)
	must(t, r.Set(levels(true, heating(), cooling(), heating())))
	first, last := errors.New("first"), errors.New("last")
	r.heat(0).fail[false], r.cool(2).fail[false] = first, last
	r.since()
	err := r.Off()
	if !errors.Is(err, first) || !errors.Is(err, last) {
		t.Errorf("error %v", err)
	}
	if got, want := r.since(), "fv1 heat off, fv2 heat off, fv3 heat off, chiller off, fv1 cool off, fv2 cool off, fv3 cool off"; got != want {
		t.Errorf("told %q, want %q", got, want)
	}
	if !same(r.Actual(), levels(false, heating(), none(), cooling())) {
		t.Errorf("actual %+v", r.Actual())
	}
}

func TestCloseSwitchesOffAndThenLetsGoOfEveryLine(t *testing.T) {
	r := newRig(1)
	must(t, r.Set(levels(true, heating())))
	r.heat(0).fail[false] = errors.New("stuck")
	r.since()
	err := r.Close()
	if got, want := r.since(), "fv1 heat off, chiller off, fv1 cool off, fv1 heat closed, chiller closed, fv1 cool closed"; got != want {
		t.Errorf("told %q, want %q", got, want)
	}
	if err == nil || !strings.Contains(err.Error(), "switch fv1 heat off: stuck") || !strings.Contains(err.Error(), "let go of fv1 heat: stuck") {
		t.Errorf("error %v", err)
	}
}

func TestNothingIsKnownBeforeTheFirstWrite(t *testing.T) {
	r := newRig(1)
	if !same(r.Actual(), levels(true, both())) || len(r.Unknown()) != 3 || r.since() != "" {
		t.Errorf("actual %+v, unknown %v", r.Actual(), r.Unknown())
	}
	must(t, r.Off())
	if !same(r.Actual(), levels(false, none())) || r.Unknown() != nil {
		t.Errorf("after off: %+v, unknown %v", r.Actual(), r.Unknown())
	}
}

func TestRelaysThatAreNotFittedStayOff(t *testing.T) {
	var told []string
	cool := &wire{name: "fv1 cool", told: &told}
	b := relay.NewBoard([]relay.Channel{{Vessel: "fv1", Cool: cool}, {Vessel: "fv2"}}, nil)
	must(t, b.Set(levels(true, cooling(), none())))
	if !cool.on || !same(b.Actual(), levels(false, cooling(), none())) {
		t.Errorf("actual %+v", b.Actual())
	}
	err := b.Set(levels(false, heating(), cooling()))
	if !errors.Is(err, relay.NotFitted) || !strings.Contains(err.Error(), "fv1 heat") || !strings.Contains(err.Error(), "fv2 cool") {
		t.Errorf("error %v", err)
	}
	if cool.on || !same(b.Actual(), levels(false, none(), none())) {
		t.Errorf("actual %+v", b.Actual())
	}
	must(t, b.Close())
}

func TestLevelsOfAnotherNumberOfVesselsSwitchEverythingOff(t *testing.T) {
	for _, want := range []relay.Levels{levels(true), levels(true, cooling()), levels(true, heating(), heating(), heating())} {
		r := newRig(2)
		must(t, r.Set(levels(true, heating(), cooling())))
		if err := r.Set(want); err == nil {
			t.Error("taken without a word")
		}
		if !same(r.Actual(), levels(false, none(), none())) || r.heat(0).on || r.cool(1).on || r.chiller().on {
			t.Errorf("actual %+v", r.Actual())
		}
	}
}
