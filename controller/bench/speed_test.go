package bench_test

import (
	"slices"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/units"
)

// ale is the schedule that is timed: every kind of stage, and a rest with two
// conditions.
func ale() *controller.Schedule {
	ask := func(d time.Duration) controller.Longest { return controller.Longest{For: d, Then: controller.Ask} }
	at := func(c float64) controller.Target {
		return controller.Target{Kind: controller.At, To: units.Celsius(c)}
	}
	return &controller.Schedule{
		Name: "ale", Wort: controller.Wort{Original: 1.052, Final: 1.010, FinalSD: 2},
		Stages: []controller.Stage{
			{Name: "fill", Kind: controller.Fill, Target: at(17), Until: controller.Condition{Kind: controller.Pitched}, Longest: ask(24 * time.Hour)},
			{Name: "primary", Kind: controller.Primary, Target: at(19), Until: controller.Condition{Kind: controller.PointsLeft, Points: 6}, Longest: ask(240 * time.Hour)},
			{
				Name: "diacetyl rest", Kind: controller.Rest, Longest: ask(240 * time.Hour),
				Target: controller.Target{Kind: controller.FreeRise, To: 21, HeatAfter: 8 * time.Hour},
				Until: controller.Condition{Kind: controller.All, Of: []controller.Condition{
					{Kind: controller.Terminal, Points: 1, Over: 48 * time.Hour},
					{Kind: controller.Dwell, AtLeast: 48 * time.Hour, Beer: 20.5, HasBeerAbove: true},
				}},
				Remind: []controller.Reminder{{When: controller.RemindBefore, Stage: "crash", By: 24 * time.Hour, Say: "CO2 bottle on"}},
			},
			{Name: "crash", Kind: controller.Crash, Target: controller.Target{Kind: controller.Ramp, To: 1, Rate: 1}, Until: controller.Condition{Kind: controller.BeerAt, Beer: 1}, Longest: ask(120 * time.Hour)},
			{Name: "cold hold", Kind: controller.Hold, Target: at(1)},
		},
	}
}

// brewing is a rig whose batch is started; it is pitched with the first step.
func brewing(kind bench.Kind, n plant.Noise, seed uint64) (*bench.Rig, *bench.Tank) {
	tank := bench.NewTank("fv1", bench.Brew{Kind: kind, Wort: plant.PaleAle(), Noise: n, Seed: seed, Start: 17, Ambient: plant.Ambient{Mean: 18, Swing: 3}})
	tank.Tell(controller.Order{ID: "start", Who: "brewer", Do: controller.Verb{Kind: controller.Start, Batch: "b1", Schedule: ale()}})
	tank.Tell(controller.Order{ID: "pitch", Who: "brewer", Do: controller.Verb{Kind: controller.PitchedNow}})
	tank.Beer.Pitch()
	return &bench.Rig{Tanks: []*bench.Tank{tank}}, tank
}

// BenchmarkStep is one step without a new gravity, in a rest with its conditions,
// five days into a batch. The bar is 5 us.
func BenchmarkStep(b *testing.B) {
	rig, tank := brewing(bench.Conical, plant.Typical(), 1)
	for rig.Elapsed < 100*time.Hour {
		rig.Step(bench.Step)
	}
	if tank.Out.Decision.Kind != controller.Rest {
		b.Fatalf("in %s, want a rest", tank.Out.Decision.Stage)
	}
	in := controller.Input{Elapsed: time.Millisecond, Readings: []controller.Reading{
		{Probe: "fv1/thermowell", Value: controller.OfTemperature(20)},
		{Probe: "fv1/surround", Value: controller.OfTemperature(18)},
	}}
	s := tank.State
	b.ReportAllocs()
	for b.Loop() {
		s, _ = controller.Step(tank.Vessel, s, in)
	}
}

// BenchmarkThreeWeeks is 21 days at 10 s with plant, probes and hydrometer. The
// bar is 2 s.
func BenchmarkThreeWeeks(b *testing.B) {
	for b.Loop() {
		rig, tank := brewing(bench.Conical, plant.Typical(), 1)
		for rig.Elapsed < 21*24*time.Hour {
			rig.Step(bench.Step)
		}
		if tank.Out.Decision.Kind != controller.Hold {
			b.Fatalf("ended in %s", tank.Out.Decision.Stage)
		}
	}
}

// BenchmarkCellar is one step of 64 vessels on a shared chiller, with a hydrometer's
// reading every quarter of an hour each. The bar is 1 ms at the 99th percentile. The
// same question has the same answer, so each step is asked a few times and the
// shortest counts: what else the machine does meanwhile is no cost of it.
func BenchmarkCellar(b *testing.B) {
	const vessels, again = 64, 5
	rig := &bench.Rig{Shared: &controller.Plant{Serves: slices.Repeat([]bool{true}, vessels), AtOnce: 8}}
	for i := range vessels {
		one, tank := brewing(bench.Kinds()[i%3], plant.Typical(), uint64(i))
		for one.Elapsed < time.Duration(20+i)*time.Hour {
			one.Step(time.Minute)
		}
		for range i { // hydrometers do not speak together
			one.Step(bench.Step)
		}
		rig.Tanks = append(rig.Tanks, tank)
	}
	wants := make([]controller.Outputs, vessels)
	states := make([]controller.State, vessels)
	inputs := make([]controller.Input, vessels)
	var shared controller.PlantState
	var took []time.Duration
	for n := 0; b.Loop(); n++ {
		for i, t := range rig.Tanks {
			t.Beer.Advance(bench.Step, plant.Outputs{Heat: t.Driven.Heat, Cool: t.Driven.Cool})
			inputs[i] = controller.Input{Elapsed: bench.Step, Actual: t.Driven, Readings: t.Sense(bench.Step), Hurried: n%vessels != i}
		}
		shortest := time.Hour
		var next controller.PlantState
		var outs []controller.Outputs
		for range again {
			before := b.Elapsed()
			for i, t := range rig.Tanks {
				var out controller.Outcome
				states[i], out = controller.Step(t.Vessel, t.State, inputs[i])
				wants[i] = out.Outputs
			}
			next, outs = controller.Share(rig.Shared, shared, bench.Step, wants)
			shortest = min(shortest, b.Elapsed()-before)
		}
		took, shared = append(took, shortest), next
		for i, t := range rig.Tanks {
			t.State, t.Driven = states[i], outs[i]
		}
	}
	slices.Sort(took)
	b.ReportMetric(float64(took[len(took)*99/100].Microseconds()), "us-p99")
	b.ReportMetric(float64(took[len(took)/2].Microseconds()), "us-p50")
}
