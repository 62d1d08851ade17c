package bench_test

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/units"
)

func noises() map[string]plant.Noise {
	return map[string]plant.Noise{"quiet": plant.Quiet(), "mild": plant.Mild(), "typical": plant.Typical(), "nasty": plant.Nasty()}
}

// keeper holds what must be so at every step of a batch.
type keeper struct {
	t        *testing.T
	tank     *bench.Tank
	terminal bool
	off      time.Duration // since cooling went off
	cooled   bool
	seen     map[controller.Code]bool
}

func (k *keeper) look(stage controller.Kind, dt time.Duration) {
	k.t.Helper()
	d, driven := k.tank.Out.Decision, k.tank.Driven
	if driven.Heat && driven.Cool {
		k.t.Fatal("heat and cool together")
	}
	if k.off += dt; driven.Cool {
		if !k.cooled && k.off < k.tank.Vessel.Cool.MinOff {
			k.t.Fatalf("cooling after a rest of %v, %v are needed", k.off, k.tank.Vessel.Cool.MinOff)
		}
		k.off = 0
	}
	k.cooled = driven.Cool
	if limits := k.tank.Vessel.Limits; d.HasTarget && (d.Target < limits.Lowest || d.Target > limits.Highest) {
		k.t.Fatalf("target %v", d.Target)
	}
	for _, e := range k.tank.Out.Events {
		k.terminal = k.terminal || e.Kind == controller.TerminalReached
		k.readable(e.Reason)
	}
	for _, r := range d.Reasons {
		k.readable(r)
	}
	if d.Kind == controller.Crash && stage != controller.Crash && !k.terminal {
		k.t.Fatal("into the crash before terminal gravity")
	}
}

// readable looks at each kind of reason once: a sentence costs more than a step.
func (k *keeper) readable(r controller.Reason) {
	if r.Code == "" || k.seen[r.Code] {
		return
	}
	k.seen[r.Code] = true
	if text := r.String(); strings.ContainsAny(text, "{}") || text == string(r.Code) {
		k.t.Errorf("%s reads %q", r.Code, text)
	}
}

// Every modelled vessel at every level of noise: the operator and the schedule
// bring the batch to its hold, and nothing that must not happen happens.
func TestBatchesOnEveryVesselAtEveryNoise(t *testing.T) {
	for _, kind := range bench.Kinds() {
		for name, noise := range noises() {
			t.Run(string(kind)+" "+name, func(t *testing.T) {
				t.Parallel()
				s := bench.Simulate("fv1", bench.Brew{Kind: kind, Wort: plant.PaleAle(), Noise: noise, Seed: 5, Ambient: plant.Ambient{Mean: 19, Swing: 3}}, ale())
				k := keeper{t: t, tank: s.Tank, seen: map[controller.Code]bool{}, off: time.Hour}
				longest := 22 * units.Day
				if name == "nasty" {
					longest = 5 * units.Day // it takes three times as long; its beginning is the worst of it
				}
				for s.Rig.Elapsed < longest && s.Tank.Out.Decision.Kind != controller.Hold {
					was := s.Tank.Out.Decision.Kind
					s.Step()
					k.look(was, bench.Step)
				}
				d := s.Tank.Out.Decision
				t.Logf("%s after %v, beer %s, gravity %s, true end %s", d.Stage, s.Rig.Elapsed, s.Tank.Beer.Beer().Fixed(1), s.Tank.Beer.Gravity().Fixed(4), s.Tank.Beer.End().Fixed(4))
				if d.Kind == controller.Hold && s.Tank.Beer.Gravity().Minus(s.Tank.Beer.End()) > 3 {
					t.Errorf("crashed with %.1f points left", float64(s.Tank.Beer.Gravity().Minus(s.Tank.Beer.End())))
				}
				if d.Kind != controller.Hold && name != "nasty" {
					t.Errorf("not ended after 22 d: in %s, %v", d.Stage, d.Reasons)
				}
			})
		}
	}
}

// The same batch twice is the same batch, to the last bit.
func TestABatchTwiceGivesTheSameBits(t *testing.T) {
	t.Parallel()
	run := func() string {
		s := bench.Simulate("fv1", bench.Brew{Kind: bench.Bucket, Wort: plant.PaleAle(), Noise: plant.Nasty(), Seed: 11, Ambient: plant.Ambient{Mean: 24, Swing: 5}}, ale())
		for s.Rig.Elapsed < 2*units.Day {
			s.Step()
			if s.Rig.Elapsed == 30*time.Hour {
				s.Rig.Restart(controller.Outage{Length: 40 * time.Minute, Known: true})
			}
		}
		text, err := json.Marshal(struct {
			S controller.State
			B float64
		}{s.Tank.State, float64(s.Tank.Beer.Beer())})
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	if one, two := run(), run(); one != two {
		t.Errorf("two batches:\n%s\n%s", one, two)
	}
}

func TestOperator(t *testing.T) {
	tasted := ale()
	tasted.Stages[2].Until.Of = append(tasted.Stages[2].Until.Of, controller.Condition{Kind: controller.Confirmed, Say: "clean"})
	o := bench.Operator{Name: "Anna", Schedule: tasted, Batch: "b1"}
	waits := func(c controller.Code) controller.Decision {
		return controller.Decision{NeedsWhat: "confirm: clean", Reasons: []controller.Reason{{Code: c}}}
	}
	for _, c := range []struct {
		name  string
		d     controller.Decision
		want  controller.VerbKind
		pitch bool
	}{
		{"it starts the batch", controller.Decision{}, controller.Start, false},
		{"wort has to settle before the yeast goes in", controller.Decision{NeedsWhat: "pitched", In: 20 * time.Minute}, "", false},
		{"then it pitches", controller.Decision{NeedsWhat: "pitched", In: 30 * time.Minute}, controller.PitchedNow, true},
		{"and only once", controller.Decision{NeedsWhat: "pitched", In: 31 * time.Minute}, "", false},
		{"nobody tastes before the beer is ready", waits(controller.CodeWaitsTerminal), "", false},
		{"when only the nose is missing it tastes", waits(controller.CodeWaitsConfirm), controller.Confirm, false},
		{"it puts gas on when it is asked", controller.Decision{NeedsWhat: "arm"}, controller.Arm, false},
		{"otherwise it does nothing", controller.Decision{}, "", false},
	} {
		orders, pitch := o.Orders(c.d)
		got := controller.VerbKind("")
		if len(orders) == 1 {
			got = orders[0].Do.Kind
			if orders[0].Who != "Anna" || orders[0].ID == "" {
				t.Errorf("%s: %+v", c.name, orders[0])
			}
		}
		if got != c.want || pitch != c.pitch || len(orders) > 1 {
			t.Errorf("%s: %q, pitches %v", c.name, got, pitch)
		}
	}
	short := ale()
	short.Stages = short.Stages[1:]
	o = bench.Operator{Schedule: short, Batch: "b2"}
	if orders, pitch := o.Orders(controller.Decision{}); len(orders) != 1 || !pitch {
		t.Error("a schedule without a fill is pitched with its start")
	}
}

// An outage leaves the beer alone and both relays off; the chiller stands still.
func TestRestartLetsTheBeerDrift(t *testing.T) {
	t.Parallel()
	rig, tank := brewing(bench.Bucket, plant.Quiet(), 1)
	rig.Chiller = plant.NewChiller(60, 700, -3)
	for rig.Elapsed < 30*time.Hour {
		rig.Step(bench.Step)
	}
	before, glycol, since := tank.Beer.Beer(), rig.Chiller.Temperature(), tank.State.Batch.Since
	rig.Restart(controller.Outage{Length: 6 * time.Hour, Known: true})
	if tank.Driven != (controller.Outputs{}) || rig.Elapsed != 36*time.Hour {
		t.Errorf("%+v after %v", tank.Driven, rig.Elapsed)
	}
	if tank.Beer.Beer() == before || rig.Chiller.Temperature() <= glycol {
		t.Errorf("beer %v, glycol %v: time stood still", tank.Beer.Beer(), rig.Chiller.Temperature())
	}
	rig.Step(bench.Step)
	if got := tank.State.Batch.Since - since; got != 6*time.Hour {
		t.Errorf("pitching is longer ago by %v", got)
	}
}

func TestAnUnknownKindIsAConical(t *testing.T) {
	a, b := bench.NewTank("fv1", bench.Brew{Kind: "barrel", Wort: plant.PaleAle()}), bench.NewTank("fv1", bench.Brew{Kind: bench.Conical, Wort: plant.PaleAle()})
	if a.Vessel.Volume != b.Vessel.Volume || a.Vessel.Cool != b.Vessel.Cool {
		t.Errorf("%+v", a.Vessel)
	}
}
