package record_test

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"math"
	"reflect"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/controller/gravity"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/record"
	"example.org/restpoint/controller/units"
)

func TestPackedStepsComeBackUnchanged(t *testing.T) {
	value := func(q controller.Quantity, c, g float64) controller.Value {
		return controller.Value{Quantity: q, Celsius: units.Celsius(c), Gravity: units.Gravity(g)}
	}
	for _, c := range []struct {
		name  string
		steps []record.Telemetry
	}{
		{"no step at all", nil},
		{"a step without readings", []record.Telemetry{{Counted: 5 * time.Second, Elapsed: 5 * time.Second}}},
		{"every level of every relay", []record.Telemetry{
			{Actual: controller.Outputs{Heat: true}},
			{Actual: controller.Outputs{Cool: true}},
			{Outputs: controller.Outputs{Heat: true}},
			{Outputs: controller.Outputs{Cool: true}},
			{Actual: controller.Outputs{Heat: true, Cool: true}, Outputs: controller.Outputs{Heat: true, Cool: true}},
		}},
		{"a loop that was late, and the first step of a run", []record.Telemetry{{Counted: time.Hour}, {Counted: 2 * time.Hour, Elapsed: time.Hour}, {Counted: time.Millisecond}}},
		{"every fault, and one that is not known here", []record.Telemetry{{Readings: faults()}}},
		{"what became of the hydrometer's readings", []record.Telemetry{
			{
				Readings: []controller.Reading{
					{Probe: "fv1/thermowell", Value: controller.OfTemperature(19.0625)},
					{Probe: "fv1/hydrometer", Value: controller.OfGravity(1.0312)},
					{Probe: "fv1/hydrometer", Value: controller.OfSample(1.0812, 25)},
				},
				Verdicts: []controller.ReadingVerdict{
					{Reading: 1, Probe: "fv1/hydrometer", Raw: 1.0312, Used: 1.0312, Verdict: gravity.Accepted},
					{Reading: 2, Probe: "fv1/hydrometer", Raw: 1.0812, Used: 1.0822, Verdict: gravity.TooHigh},
				},
			},
			{Readings: []controller.Reading{{Probe: "fv1/hydrometer", Value: controller.OfGravity(1.0311)}}},
			{
				Quiet: true, Hurried: true, Actual: controller.Outputs{Heat: true}, Outputs: controller.Outputs{Cool: true},
				Readings: []controller.Reading{{Probe: "fv1/hydrometer", Value: controller.OfNumber(45.5)}},
				Verdicts: []controller.ReadingVerdict{{Probe: "fv1/hydrometer", Raw: 45.5, Verdict: gravity.Implausible}},
			},
		}},
		{"values of every form", []record.Telemetry{
			{Readings: []controller.Reading{
				{Probe: "a", Age: 17 * time.Millisecond, Value: controller.OfTemperature(19.0625)},
				{Probe: "b", Age: -time.Millisecond, Value: controller.OfGravity(1.0312)},
				{Probe: "c", Value: controller.OfSample(1.0312, -0.1)},
				{Probe: "d", Value: controller.OfPressure(-512.5)},
				{Probe: "e", Value: controller.OfNumber(45.625)},
				{Probe: "a", Value: value("flow", 1, 2)},
				{Probe: "", Value: value("", math.MaxFloat64, -math.SmallestNonzeroFloat64)},
			}},
			{Readings: []controller.Reading{{Probe: "a", Value: value("flow", 1, 2)}, {Probe: "b"}, {Probe: "c", Value: value(controller.Temperature, math.Inf(1), math.Copysign(0, -1))}}},
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			pack, err := record.Pack(c.steps)
			if err != nil {
				t.Fatal(err)
			}
			got, err := record.Unpack(pack)
			if err != nil || !reflect.DeepEqual(got, c.steps) {
				t.Errorf("got\n%+v (%v), want\n%+v", got, err, c.steps)
			}
		})
	}
}

// A pack as the first version of the program wrote it: without verdicts.
const firstPack = "019ae0c720c8c4c0975666a85f92915a949b5f9e9a93a3ca70e09903235830a332a5283f37b524b5286d87f881670d2cfb1ffcbfbde6d2b929c71927f831703031183030712467a426671797e61e78e6c0cc03d25550945a5c5c5a947a80818503cebe34bb8105100000ffff"

func TestAPackOfTheFirstVersionIsStillRead(t *testing.T) {
	pack, err := hex.DecodeString(firstPack)
	if err != nil {
		t.Fatal(err)
	}
	want := []record.Telemetry{
		{
			Counted: 5 * time.Second, Elapsed: 5 * time.Second, Quiet: true, Actual: controller.Outputs{Heat: true},
			Readings: []controller.Reading{
				{Probe: "fv1/thermowell", Value: controller.OfTemperature(19.0625)},
				{Probe: "fv1/hydrometer", Age: 1500 * time.Millisecond, Value: controller.OfSample(1.0312, 19.5)},
			},
		},
		{
			Counted: 10 * time.Second, Elapsed: 5 * time.Second, Outputs: controller.Outputs{Cool: true},
			Readings: []controller.Reading{
				{Probe: "fv1/thermowell", Value: controller.Value{}, Fault: controller.BadChecksum},
				{Probe: "fv1/pressure", Value: controller.OfPressure(51250)},
			},
		},
	}
	got, err := record.Unpack(pack)
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("got\n%+v (%v), want\n%+v", got, err, want)
	}
	// It knew no verdicts: what looks like some is damage.
	judged, err := record.Pack([]record.Telemetry{{
		Readings: []controller.Reading{{Probe: "h", Value: controller.OfGravity(1.05)}},
		Verdicts: []controller.ReadingVerdict{{Probe: "h", Raw: 1.05, Used: 1.05, Verdict: gravity.Accepted}},
	}})
	if err != nil {
		t.Fatal(err)
	}
	judged[0] = 1
	if steps, err := record.Unpack(judged); err == nil {
		t.Errorf("read %+v", steps)
	}
}

func faults() []controller.Reading {
	var list []controller.Reading
	for _, f := range append(controller.Faults(), "a new one") {
		list = append(list, controller.Reading{Probe: "fv1/thermowell", Fault: f})
	}
	return list
}

func TestWhatIsNoPackIsAnError(t *testing.T) {
	good, err := record.Pack([]record.Telemetry{{Counted: time.Second, Readings: faults()}})
	if err != nil {
		t.Fatal(err)
	}
	bomb, err := record.Pack([]record.Telemetry{{Readings: []controller.Reading{{Probe: controller.ProbeID(make([]byte, record.MostRaw-100))}}}})
	if err != nil {
		t.Fatal(err)
	}
	if len(bomb) > 2000 {
		t.Fatalf("the bomb has %d bytes", len(bomb))
	}
	for name, pack := range map[string][]byte{
		"nothing":          nil,
		"another version":  append([]byte{4}, good[1:]...),
		"half of a pack":   good[:len(good)/2],
		"bytes of no kind": bytes.Repeat([]byte{1}, 100),
	} {
		if steps, err := record.Unpack(pack); err == nil {
			t.Errorf("%s: gave %d steps", name, len(steps))
		}
	}
	if _, err := record.Pack([]record.Telemetry{{Readings: []controller.Reading{{Probe: controller.ProbeID(make([]byte, record.MostRaw))}}}}); err == nil {
		t.Error("what cannot be read back was packed")
	}
}

func FuzzUnpack(f *testing.F) {
	for _, steps := range [][]record.Telemetry{nil, {{Counted: time.Second, Readings: faults()}}, brewed(f, 20)} {
		pack, err := record.Pack(steps)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(pack)
	}
	f.Fuzz(func(t *testing.T, pack []byte) {
		steps, err := record.Unpack(pack)
		if err != nil {
			return
		}
		again, err := record.Pack(steps)
		if err != nil {
			return // names may take more room than they did in a pack that says one twice
		}
		back, err := record.Unpack(again)
		if err != nil || len(back) != len(steps) {
			t.Fatalf("%d steps came back as %d: %v", len(steps), len(back), err)
		}
		for i := range steps { // by bits: a NaN differs from itself
			a, _ := record.Pack(steps[i : i+1])
			b, _ := record.Pack(back[i : i+1])
			if !bytes.Equal(a, b) {
				t.Fatalf("step %d: %+v came back as %+v", i, steps[i], back[i])
			}
		}
	})
}

// FuzzUnpackRaw reaches what deflate keeps from FuzzUnpack.
func FuzzUnpackRaw(f *testing.F) {
	f.Add([]byte{10, 0, 0, 1, 0, 1, 'a', 33, 0, 5})
	f.Fuzz(func(t *testing.T, raw []byte) {
		if steps, err := record.Unpack(record.Deflated(raw)); err == nil {
			if _, err := record.Pack(steps); err != nil {
				t.Skip()
			}
		}
	})
}

// brewed is what the steps of a brewing vessel see, 5 s apart.
func brewed(tb testing.TB, steps int) []record.Telemetry {
	tb.Helper()
	rig, tank := brewing()
	var list []record.Telemetry
	for range steps {
		actual := tank.Driven
		rig.Step(step)
		list = append(list, note(rig, tank, actual))
	}
	return list
}

const step = 5 * time.Second

func note(rig *bench.Rig, tank *bench.Tank, actual controller.Outputs) record.Telemetry {
	return record.Telemetry{
		Vessel: "fv1", Batch: tank.State.Batch.ID, Counted: rig.Elapsed, Elapsed: step, Actual: actual, Outputs: tank.Driven,
		Readings: append([]controller.Reading(nil), tank.Readings...), Verdicts: tank.Out.Verdicts,
	}
}

// brewing is a conical with typical noise three days into its batch.
func brewing() (*bench.Rig, *bench.Tank) {
	at := func(name string, k controller.Kind, to units.Celsius, until controller.Condition) controller.Stage {
		return controller.Stage{Name: name, Kind: k, Target: controller.Target{Kind: controller.At, To: to}, Until: until, Longest: controller.DefaultLongest(k)}
	}
	schedule := &controller.Schedule{
		Name: "ale", Wort: controller.Wort{Original: 1.052, Final: 1.010, FinalSD: 2},
		Stages: []controller.Stage{
			at("primary", controller.Primary, 19, controller.Condition{Kind: controller.PointsLeft, Points: 6}),
			at("hold", controller.Hold, 20, controller.Condition{}),
		},
	}
	tank := bench.NewTank("fv1", bench.Brew{Kind: bench.Conical, Wort: plant.PaleAle(), Noise: plant.Typical(), Seed: 1, Start: 18, Ambient: plant.Ambient{Mean: 18, Swing: 3}})
	tank.Vessel.Step = step
	tank.Tell(controller.Order{ID: "start", Who: "brewer", Do: controller.Verb{Kind: controller.Start, Batch: "b1", Schedule: schedule}})
	tank.Beer.Pitch()
	rig := &bench.Rig{Tanks: []*bench.Tank{tank}}
	for rig.Elapsed < 48*time.Hour {
		rig.Step(step)
	}
	return rig, tank
}

// TestPackIsSmall holds the size of five minutes of steps against plain JSON of
// the same.
func TestPackIsSmall(t *testing.T) {
	steps := brewed(t, 60)
	pack, err := record.Pack(steps)
	if err != nil {
		t.Fatal(err)
	}
	plain, err := json.Marshal(steps)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("60 steps of %d readings: %d bytes packed; as JSON %d bytes, deflated %d", len(steps[0].Readings), len(pack), len(plain), len(record.Deflated(plain)))
	if len(pack) > 1200 {
		t.Errorf("%d bytes for 60 steps, want at most 20 a step", len(pack))
	}
}

func BenchmarkNote(b *testing.B) {
	steps := brewed(b, 60)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := record.Pack(steps); err != nil {
			b.Fatal(err)
		}
	}
}
