package controller_test

import (
	"math"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/sense"
	"example.org/restpoint/controller/units"
)

// hears is a desk with a running batch whose hydrometer says the same for a day.
func hears(t *testing.T, c sense.Calibration, v controller.Value) *desk {
	t.Helper()
	d := sit(t)
	d.v.Calibration = c
	d.must(controller.Verb{Kind: controller.Start, Batch: "b1", Schedule: ale()})
	d.must(controller.Verb{Kind: controller.PitchedNow})
	for range 24 * 4 {
		d.in.Readings = []controller.Reading{{Probe: d.v.Probes.Hydrometer, Value: v}}
		d.step()
		d.run(14 * time.Minute)
	}
	return d
}

// A gravity is calibrated first and corrected for temperature then. Water at 30 C
// is 0.995651 kg/l, at 20 C 0.998207 (Tanaka and others 2001), so that a glass
// hydrometer reads 2.3 points too low there, its own expansion included.
func TestAGravityIsCalibratedBeforeItIsCorrected(t *testing.T) {
	angle := sense.OfTerms([]float64{0.9302, 2.62e-3, -1.2e-5}, 20, 80)
	at30 := func(v controller.Value) controller.Value {
		v.Celsius, v.HasCelsius = 30, true
		return v
	}
	done := func(v controller.Value) controller.Value {
		v.Corrected = true
		return v
	}
	for _, row := range []struct {
		name  string
		c     sense.Calibration
		value controller.Value
		want  units.Gravity
	}{
		{"neither", sense.Calibration{}, controller.OfGravity(1.050), 1.050},
		{"an offset alone", sense.OfOffset(-2), controller.OfGravity(1.050), 1.048},
		{"corrected alone", sense.Calibration{}, controller.OfSample(1.050, 30), units.CorrectHydrometer(1.050, 30, units.Glass20C)},
		{"both, the offset first", sense.OfOffset(-20), controller.OfSample(1.070, 30), units.CorrectHydrometer(1.050, 30, units.Glass20C)},
		{"an angle that the device has corrected", angle, done(controller.OfNumber(60)), 1.0442},
		{"an angle, and the temperature then", angle, at30(controller.OfNumber(60)), units.CorrectHydrometer(1.0442, 30, units.Glass20C)},
		{"a gravity among angles is one already", angle, controller.OfGravity(1.050), 1.050},
	} {
		t.Run(row.name, func(t *testing.T) {
			d := hears(t, row.c, row.value)
			// The estimate takes the original gravity into account: a device that
			// starts within two points of it is moved a little.
			got := units.Gravity(1 + d.s.Gravity.Est.Level/1000)
			if math.Abs(float64(got.Minus(row.want))) > 1e-2 {
				t.Errorf("believed %s, want %s", got.Fixed(5), row.want.Fixed(5))
			}
		})
	}
	if warm := units.CorrectHydrometer(1.050, 30, units.Glass20C); math.Abs(float64(warm.Minus(1.050))-2.4) > 0.2 {
		t.Errorf("1.050 at 30 C is %s", warm.Fixed(4))
	}
}

func TestANumberWithoutACalibrationIsNoGravity(t *testing.T) {
	for name, c := range map[string]sense.Calibration{
		"none":                      {},
		"one of gravities":          sense.OfOffset(-2),
		"one of other numbers only": sense.OfTerms([]float64{0.9, 2e-3}, 70, 90),
	} {
		d := hears(t, c, controller.OfNumber(60))
		if d.s.Gravity.Est.Known || d.s.Gravity.Accepted != 0 || d.s.Gravity.Rejected == 0 {
			t.Errorf("%s: %d accepted, %d rejected, %+v", name, d.s.Gravity.Accepted, d.s.Gravity.Rejected, d.s.Gravity.Est)
		}
	}
}

// What a person reads has nothing to do with the device's calibration.
func TestASampleIsNotCalibrated(t *testing.T) {
	d := sit(t)
	d.v.Calibration = sense.OfOffset(-10)
	d.must(controller.Verb{Kind: controller.Start, Batch: "b1", Schedule: ale()})
	d.must(controller.Verb{Kind: controller.PitchedNow})
	d.must(controller.Verb{Kind: controller.Sample, Value: controller.OfGravity(1.050)})
	if n := len(d.s.Gravity.Levels); n != 1 || d.s.Gravity.Levels[0].P != 50 {
		t.Errorf("levels %+v", d.s.Gravity.Levels)
	}
}

// The temperature that comes with a device's own number is that of its thermometer.
func TestTheThermometerOfADeviceThatGivesItsOwnNumber(t *testing.T) {
	v := controller.OfNumber(60)
	v.Celsius, v.HasCelsius = 19.5, true
	d := hears(t, sense.OfTerms([]float64{0.9, 2e-3}, 0, 0), v)
	if f := d.s.Sense.Float; !f.Usable() || f.Celsius != 19.5 {
		t.Errorf("%+v", f)
	}
}

// Who calibrates a device anew while a batch runs moves its readings, and not the
// beer: what was found by them has to be found again.
func TestAnotherCalibrationDuringABatch(t *testing.T) {
	d := brewing(t).wide()
	d.sg = fall(1.010)
	d.until(300*time.Hour, func() bool { return d.out.Decision.Stage == "diacetyl rest" })
	d.until(200*time.Hour, func() bool { return d.s.Stage.Leaves[0].Met })
	d.must(controller.Verb{Kind: controller.Sample, Value: controller.OfGravity(1.007)})
	if d.s.Gravity.Offset.Mean < 1 {
		t.Fatalf("the sample taught no offset: %+v", d.s.Gravity.Offset)
	}
	v := *d.v
	v.Calibration = sense.OfOffset(-3)
	d.v = &v
	d.step()
	if d.happened(controller.Recalibrated) != 1 || d.s.Stage.Leaves[0].Met || d.s.Gravity.Est.Ready {
		t.Fatalf("told %d times; terminal %v, ready %v", d.happened(controller.Recalibrated), d.s.Stage.Leaves[0].Met, d.s.Gravity.Est.Ready)
	}
	d.run(48 * time.Hour)
	if got := d.s.Gravity.True(); math.Abs(got-7) > 1 {
		t.Errorf("believed %.2f points, want 7: the offset of before was taken off twice", got)
	}
	if d.happened(controller.Recalibrated) != 1 {
		t.Errorf("told %d times", d.happened(controller.Recalibrated))
	}
}
