package controller_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/gravity"
	"example.org/restpoint/controller/sense"
	"example.org/restpoint/controller/units"
)

// reads gives the desk one reading of the hydrometer and the time until the next.
func (d *desk) reads(v controller.Value) controller.ReadingVerdict {
	d.t.Helper()
	d.in.Readings = []controller.Reading{{Probe: d.v.Probes.Hydrometer, Value: v}}
	d.step()
	if len(d.out.Verdicts) != 1 {
		d.t.Fatalf("verdicts %+v", d.out.Verdicts)
	}
	got := d.out.Verdicts[0]
	d.run(14 * time.Minute)
	return got
}

// steady is a desk whose hydrometer has said 1.050 for three hours.
func steady(t *testing.T) *desk {
	t.Helper()
	d := brewing(t)
	for range 12 {
		d.reads(controller.OfGravity(1.050))
	}
	return d
}

func TestEveryReadingHasItsVerdict(t *testing.T) {
	for _, row := range []struct {
		name    string
		c       sense.Calibration
		value   controller.Value
		raw     float64
		used    units.Gravity
		verdict gravity.Verdict
	}{
		{"one that is believed", sense.Calibration{}, controller.OfGravity(1.0502), 1.0502, 1.0502, gravity.Accepted},
		{"a spike", sense.Calibration{}, controller.OfGravity(1.070), 1.070, 1.070, gravity.TooHigh},
		{"a fall", sense.Calibration{}, controller.OfGravity(1.030), 1.030, 1.030, gravity.TooLow},
		{"nothing that a fermenter holds", sense.Calibration{}, controller.OfGravity(1.3), 1.3, 1.3, gravity.Implausible},
		{"no number", sense.Calibration{}, controller.OfGravity(units.Gravity(math.NaN())), 0, 0, gravity.Implausible},
		{"a number that nothing makes a gravity of", sense.Calibration{}, controller.OfNumber(45), 45, 0, gravity.Implausible},
		{"one that was calibrated and corrected", sense.OfOffset(-10), controller.OfSample(1.0585, 25), 1.0585, units.CorrectHydrometer(1.0485, 25, units.Glass20C), gravity.Accepted},
	} {
		t.Run(row.name, func(t *testing.T) {
			d := steady(t)
			// Before the calibration that is tried the desk had none: its frame is new.
			v := *d.v
			v.Calibration = row.c
			d.v = &v
			got := d.reads(row.value)
			if got.Probe != "fv1/hydrometer" || got.Reading != 0 || got.Raw != row.raw || math.Abs(float64(got.Used-row.used)) > 1e-9 || got.Verdict != row.verdict {
				t.Errorf("got %+v, want raw %v, used %v, %q", got, row.raw, row.used, row.verdict)
			}
		})
	}
}

func TestAVerdictNamesItsReading(t *testing.T) {
	d := steady(t)
	d.in.Readings = []controller.Reading{
		{Probe: d.v.Probes.Surround, Value: controller.OfTemperature(15)},
		{Probe: d.v.Probes.Hydrometer, Fault: controller.Unreadable},
		{Probe: d.v.Probes.Hydrometer, Value: controller.OfGravity(1.090)},
		{Probe: d.v.Probes.Ambient, Value: controller.OfTemperature(15)},
		{Probe: d.v.Probes.Hydrometer, Value: controller.OfGravity(1.0499)},
	}
	d.step()
	if v := d.out.Verdicts; len(v) != 2 || v[0].Reading != 2 || v[0].Verdict != gravity.TooHigh || v[1].Reading != 4 || v[1].Verdict != gravity.Accepted {
		t.Errorf("verdicts %+v", v)
	}
	d.step()
	if len(d.out.Verdicts) != 0 {
		t.Errorf("a step without a reading has verdicts: %+v", d.out.Verdicts)
	}
}

// One event when a run of rejections begins and one when it ends; single spikes
// are none.
func TestARunOfRejectionsIsToldOnce(t *testing.T) {
	d := steady(t)
	for range 20 { // a spike every half hour
		d.reads(controller.OfGravity(1.068))
		d.reads(controller.OfGravity(1.050))
	}
	if n := d.happened(controller.GravityRejected) + d.happened(controller.GravityBelieved); n != 0 {
		t.Errorf("single spikes made %d events", n)
	}
	for i := range 8 { // they scatter by more than a new level may
		d.reads(controller.OfGravity(1.060 + units.Gravity(float64(i%2)*0.008)))
		want := 0
		if i >= 2 {
			want = 1
		}
		if n := d.happened(controller.GravityRejected); n != want {
			t.Errorf("after %d rejections in a row there are %d events, want %d", i+1, n, want)
		}
	}
	d.reads(controller.OfGravity(1.050))
	d.reads(controller.OfGravity(1.050))
	if d.happened(controller.GravityBelieved) != 1 || d.happened(controller.GravityRejected) != 1 || d.happened(controller.DeviceStepped) != 0 {
		t.Errorf("%d, %d, %d events", d.happened(controller.GravityRejected), d.happened(controller.GravityBelieved), d.happened(controller.DeviceStepped))
	}
	for _, e := range d.log {
		if e.Kind == controller.GravityRejected && !strings.Contains(e.String(), "the newest is 1.06: it "+string(gravity.TooHigh)) {
			t.Errorf("it reads %q", e)
		}
	}
}

func TestADeviceThatSteppedIsTold(t *testing.T) {
	d := steady(t)
	for range 24 {
		d.reads(controller.OfGravity(1.062))
	}
	if d.happened(controller.DeviceStepped) != 1 || d.happened(controller.GravityRejected) != 1 || d.happened(controller.GravityBelieved) != 0 {
		t.Fatalf("%d, %d, %d events", d.happened(controller.DeviceStepped), d.happened(controller.GravityRejected), d.happened(controller.GravityBelieved))
	}
	for _, e := range d.log {
		if e.Kind == controller.DeviceStepped && !strings.Contains(e.String(), "by 12.0 points in all") {
			t.Errorf("it reads %q", e)
		}
	}
}

// What a person read by hand is answered at once and makes no such event.
func TestDoubtedSamplesAreNoRunOfTheDevice(t *testing.T) {
	d := steady(t)
	for range 3 {
		d.must(controller.Verb{Kind: controller.Sample, Value: controller.OfGravity(1.090)})
		d.must(controller.Verb{Kind: controller.Sample, Value: controller.OfGravity(1.120)})
	}
	if d.happened(controller.GravityRejected) != 0 || d.out.Decision.Rejected.Count != 0 {
		t.Errorf("%d events, %+v", d.happened(controller.GravityRejected), d.out.Decision.Rejected)
	}
	d = steady(t)
	d.v.ByHand = true
	for range 4 {
		d.reads(controller.OfGravity(1.090))
		d.reads(controller.OfGravity(1.120))
	}
	if d.happened(controller.GravityRejected)+d.happened(controller.DeviceStepped) != 0 {
		t.Error("readings by hand made an event of the device")
	}
}

func TestWhatWasRejectedInTheLastDay(t *testing.T) {
	d := steady(t)
	if r := d.out.Decision.Rejected; r != (controller.Rejected{Of: 12}) {
		t.Errorf("nothing was rejected: %+v", r)
	}
	d.reads(controller.OfGravity(1.070))
	d.reads(controller.OfGravity(1.02))
	if r := d.out.Decision.Rejected; r != (controller.Rejected{Count: 2, Of: 14, Why: string(gravity.TooLow)}) {
		t.Errorf("%+v", r)
	}
	text, err := json.Marshal(d.s)
	if err != nil {
		t.Fatal(err)
	}
	var back controller.State
	if err := json.Unmarshal(text, &back); err != nil || back.Batch.Tally != d.s.Batch.Tally {
		t.Errorf("the tally came back as %+v (%v)", back.Batch.Tally, err)
	}
	for range 24 * 4 {
		d.reads(controller.OfGravity(1.050))
	}
	if r := d.out.Decision.Rejected; r.Count != 0 {
		t.Errorf("a day later: %+v", r)
	}
}

func TestEveryVerdictHasAWord(t *testing.T) {
	seen := map[string]bool{}
	for _, v := range gravity.Verdicts() {
		w := v.Word()
		if w == "" || seen[w] || strings.ContainsAny(w, " :") {
			t.Errorf("%q has the word %q", v, w)
		}
		seen[w] = true
		if v.Believed() != (v == gravity.Accepted || v == gravity.Stepped) {
			t.Errorf("%q believed: %v", v, v.Believed())
		}
	}
	if got := gravity.Verdict("a new one").Word(); got != "a new one" {
		t.Errorf("a verdict of another version has the word %q", got)
	}
}
