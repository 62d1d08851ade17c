package controller_test

import (
	"encoding/json"
	"math"
	"reflect"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/sense"
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

// ale is the schedule that most tests here run.
func ale() *controller.Schedule {
	return &controller.Schedule{
		Name: "ale", Wort: controller.Wort{Original: 1.052, Final: 1.010, FinalSD: 2},
		Stages: []controller.Stage{
			{Name: "fill", Kind: controller.Fill, Target: controller.Target{Kind: controller.At, To: 17}, Until: controller.Condition{Kind: controller.Pitched}, Longest: controller.Longest{For: 24 * time.Hour, Then: controller.Ask}},
			{Name: "primary", Kind: controller.Primary, Target: controller.Target{Kind: controller.At, To: 19}, Until: controller.Condition{Kind: controller.PointsLeft, Points: 6}, Longest: controller.Longest{For: 240 * time.Hour, Then: controller.Ask}},
			{Name: "diacetyl rest", Kind: controller.Rest, Target: controller.Target{Kind: controller.FreeRise, To: 21, HeatAfter: 8 * time.Hour}, Until: controller.Condition{Kind: controller.All, Of: []controller.Condition{
				{Kind: controller.Terminal, Points: 1, Over: 48 * time.Hour},
				{Kind: controller.Dwell, AtLeast: 48 * time.Hour, Beer: 20.5, HasBeerAbove: true},
			}}, Longest: controller.Longest{For: 240 * time.Hour, Then: controller.Ask}, Remind: []controller.Reminder{{When: controller.RemindBefore, Stage: "crash", By: 24 * time.Hour, Say: "CO2 bottle on"}}},
			{Name: "crash", Kind: controller.Crash, Target: controller.Target{Kind: controller.Ramp, To: 1, Rate: 1}, Until: controller.Condition{Kind: controller.BeerAt, Beer: 1}, Longest: controller.Longest{For: 120 * time.Hour, Then: controller.Ask}},
			{Name: "cold hold", Kind: controller.Hold, Target: controller.Target{Kind: controller.At, To: 1}},
		},
	}
}

func vessel() *controller.Vessel {
	return &controller.Vessel{
		Name: "fv1", Step: 5 * time.Second, Volume: 60,
		Probes: controller.Probes{Thermowell: "fv1/thermowell", Surround: "fv1/surround", Ambient: "fv1/ambient", Hydrometer: "fv1/hydrometer"},
		Heat:   guard.Of(guard.Heater), Cool: guard.Of(guard.Valve),
		Limits:   controller.Limits{Lowest: -1, Highest: 30},
		SuckBack: controller.CO2Supply,
	}
}

// equipped is a vessel with everything that there is, and a schedule with jobs.
func equipped() *controller.Vessel {
	v := vessel()
	v.Probes.More = [sense.MostWells - 1]controller.ProbeID{"fv1/thermowell-top"}
	v.Probes.Pressure = "fv1/pressure"
	v.Pressure.Highest = 100e3
	v.Zones = []thermal.Zone{{Name: "shell", Use: thermal.Above, At: 4}, {Name: "cone", Use: thermal.Below, At: 4}}
	return v
}

func busy() *controller.Schedule {
	s := ale()
	s.Stages[1].Remind = []controller.Reminder{
		{When: controller.RemindAfter, By: time.Hour, Say: "rouse", Mark: controller.Rouse},
		{When: controller.RemindPoints, Points: 20, Say: "two doses of hops", Mark: controller.DryHop},
	}
	return s
}

// tape turns bytes into inputs, so that a fuzzer can write a batch.
type tape struct{ b []byte }

func (t *tape) next() byte {
	if len(t.b) == 0 {
		return 0
	}
	x := t.b[0]
	t.b = t.b[1:]
	return x
}

func (t *tape) float() float64 {
	switch x := t.next(); x {
	case 255:
		return math.NaN()
	case 254:
		return math.Inf(1)
	case 253:
		return -math.MaxFloat64
	default:
		return float64(x)/4 - 10 + float64(t.next())/256
	}
}

func (t *tape) input(sch *controller.Schedule) controller.Input {
	in := controller.Input{Elapsed: time.Duration(int(t.next())-3) * time.Duration(1+int(t.next())*int(t.next())) * 100 * time.Millisecond}
	in.Gap = controller.Outage{Length: time.Duration(int(t.next())-8) * time.Hour, Known: t.next()%2 == 0}
	in.Actual = controller.Outputs{Heat: t.next()%3 == 0, Cool: t.next()%3 == 0}
	in.Quiet = t.next()%4 == 0
	ids := []controller.ProbeID{"fv1/thermowell", "fv1/surround", "fv1/ambient", "fv1/hydrometer", "nobody", "fv1/thermowell-top", "fv1/pressure"}
	for range t.next() % 5 {
		rd := controller.Reading{Probe: ids[int(t.next())%len(ids)], Age: time.Duration(int(t.next())-4) * time.Second}
		switch t.next() % 5 {
		case 4:
			rd.Value = controller.OfPressure(units.Pascals(t.float() * 5000))
		case 0:
			rd.Fault = controller.Faults()[int(t.next())%len(controller.Faults())]
		case 1:
			rd.Value = controller.OfTemperature(units.Celsius(t.float()))
		case 2:
			rd.Value = controller.OfGravity(units.Gravity(1 + t.float()/500))
		default:
			rd.Value = controller.OfSample(units.Gravity(1+t.float()/500), units.Celsius(t.float()))
		}
		in.Readings = append(in.Readings, rd)
	}
	for range t.next() % 3 {
		kinds := controller.VerbKinds()
		do := controller.Verb{
			Kind: kinds[int(t.next())%len(kinds)], Batch: string(rune('a' + t.next()%3)), Stage: sch.Stages[int(t.next())%len(sch.Stages)].Name,
			Celsius: units.Celsius(t.float()), Mark: controller.MarkKinds()[int(t.next())%len(controller.MarkKinds())],
			Mode: controller.Modes()[int(t.next())%4], For: time.Duration(t.next()) * time.Minute, Value: controller.OfSample(units.Gravity(1+t.float()/500), 20),
			Volume: units.Litres(t.float()), Gravity: units.Gravity(1 + t.float()/500), Points: units.Points(t.float()), Job: int(t.next() % 4),
		}
		if t.next()%4 != 0 {
			do.Schedule = sch
		}
		in.Orders = append(in.Orders, controller.Order{ID: string(rune('A' + t.next()%26)), Who: "somebody", Do: do})
	}
	return in
}

// Step never panics, never changes its argument, gives a state that is finite,
// small and unchanged by JSON, and never wants heat and cool together.
func FuzzStep(f *testing.F) {
	f.Add([]byte{4, 1, 1, 0, 0, 1, 1, 1, 0, 0, 1, 120, 30, 1, 0, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1})
	f.Add([]byte{3, 0, 0, 9, 9, 3, 3, 4, 0, 5, 1, 90, 9, 1, 5, 1, 91, 3, 0, 2, 120, 2, 2, 2, 255, 254, 253})
	long := make([]byte, 4000)
	for i := range long {
		long[i] = byte(i * i * 7 >> 3)
	}
	f.Add(long)
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > 8000 {
			return
		}
		v, s, tp := equipped(), controller.Fresh(), &tape{b}
		for i := 0; len(tp.b) > 0 && i < 300; i++ {
			in := tp.input(busy())
			before := mustJSON(t, s)
			next, out := controller.Step(v, s, in)
			if after := mustJSON(t, s); before != after {
				t.Fatalf("step changed its argument:\n%s\n%s", before, after)
			}
			text := mustJSON(t, next)
			var back controller.State
			if err := json.Unmarshal([]byte(text), &back); err != nil {
				t.Fatal(err)
			}
			if mustJSON(t, back) != text {
				t.Fatalf("state changed by JSON:\n%s\n%s", text, mustJSON(t, back))
			}
			if len(text) > 16<<10 {
				t.Fatalf("state takes %d bytes of JSON", len(text))
			}
			again, out2 := controller.Step(v, s, in)
			if !reflect.DeepEqual(again, next) || !reflect.DeepEqual(out, out2) {
				t.Fatal("the same question got another answer")
			}
			if out.Outputs.Heat && out.Outputs.Cool {
				t.Fatal("heat and cool together")
			}
			if out.Outputs.Heat && !next.Sense.Beer.Usable() {
				t.Fatal("heat without a believable beer temperature")
			}
			mustJSON(t, out.Decision)
			if out.Schedule != nil {
				v = v.With(out.Schedule)
			}
			s = next
		}
	})
}

// mustJSON fails on NaN and infinities, which JSON cannot hold.
func mustJSON(t *testing.T, v any) string {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}
