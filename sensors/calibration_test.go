package sensors_test

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors"
)

func close5(got, want float64) bool { return math.Abs(got-want) < 5e-5 }

// The worked example of a two-point calibration, computed by hand from
// g = (t2-t1)/(r2-r1), o = t1 - g*r1: ice reads 0.31, a bath of 25.50 reads 25.94.
// The numbers are the project's own.
func TestTwoPointsGiveGainAndOffset(t *testing.T) {
	c, err := sensors.OfTwo(sensors.Point{Reads: 0.31, Is: sensors.Ice}, sensors.Point{Reads: 25.94, Is: 25.5})
	if err != nil {
		t.Fatal(err)
	}
	if !close5(c.Gain, 0.99493) || math.Abs(float64(c.Offset)+0.308) > 5e-4 {
		t.Errorf("gain %.5f, offset %.4f; want 0.99493 and -0.308", c.Gain, c.Offset)
	}
	for reads, is := range map[units.Celsius]units.Celsius{18: 17.600, 0.31: 0, 25.94: 25.5} {
		if got := c.Apply(reads); math.Abs(float64(got-is)) > 5e-4 {
			t.Errorf("%s becomes %s, want %s", reads, got.Fixed(4), is)
		}
	}
	if d := c.Doubt(); d != "" || !c.Given() {
		t.Errorf("doubted: %s", d)
	}
}

func TestIceAloneGivesAnOffset(t *testing.T) {
	c := sensors.OfIce(0.31)
	if c != (sensors.Calibration{Offset: -0.31}) || c.Apply(18) != 17.69 || c.Check() != nil || !c.Given() {
		t.Errorf("%+v makes %s of 18 C", c, c.Apply(18))
	}
	none := sensors.Calibration{}
	if none.Given() || none.Apply(18.0625) != 18.0625 || none.Raw(-1.5) != -1.5 || (sensors.Calibration{Gain: 1}).Given() {
		t.Error("no calibration changes a reading")
	}
}

func TestWhatIsBeyondAThermometerIsDoubted(t *testing.T) {
	for _, row := range []struct {
		name string
		c    sensors.Calibration
		want string
	}{
		{"the farthest offset", sensors.Calibration{Offset: -1}, ""},
		{"one that is farther", sensors.Calibration{Offset: 1.01}, "an offset of 1.01 K is beyond 1 K: a wrong probe or a bad bath"},
		{"one that is farther below", sensors.Calibration{Offset: -1.01}, "an offset of -1.01 K is beyond 1 K"},
		{"the farthest gain", sensors.Calibration{Gain: 1.0199}, ""},
		{"one that is farther up", sensors.Calibration{Gain: 1.0201}, "a gain of 1.0201 is beyond 2 %: a wrong probe or a bad bath"},
		{"one that is farther down", sensors.Calibration{Gain: 0.9799}, "a gain of 0.9799 is beyond 2 %"},
	} {
		if got := row.c.Doubt(); (got == "") != (row.want == "") || !strings.HasPrefix(got, row.want) {
			t.Errorf("%s: %q, want %q", row.name, got, row.want)
		}
	}
}

func TestPointsThatGiveNothingAreRefused(t *testing.T) {
	for _, p := range []sensors.Point{{Reads: 0.31, Is: 20}, {Reads: 10.3, Is: 20}, {Reads: -20, Is: 20}, {Reads: units.Celsius(math.NaN()), Is: 20}, {Reads: 20, Is: -20}, {Reads: 20, Is: units.Celsius(math.NaN())}} {
		if c, err := sensors.OfTwo(sensors.Point{Reads: 0.31}, p); err == nil {
			t.Errorf("%+v gives %+v", p, c)
		}
	}
	for _, c := range []sensors.Calibration{{Gain: -1}, {Gain: math.NaN()}, {Gain: math.Inf(1)}, {Offset: units.Kelvins(math.Inf(1))}} {
		if c.Check() == nil {
			t.Errorf("%+v is taken", c)
		}
	}
}

func TestARawReadingComesBackFromACalibratedOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := sensors.Calibration{
			Offset: units.Kelvins(rapid.Float64Range(-5, 5).Draw(t, "offset")),
			Gain:   rapid.Float64Range(0.9, 1.1).Draw(t, "gain"),
		}
		raw := units.Celsius(rapid.Float64Range(-55, 125).Draw(t, "raw"))
		if back := c.Raw(c.Apply(raw)); math.Abs(float64(back-raw)) > 1e-9 {
			t.Fatalf("%s came back as %s by %+v", raw, back, c)
		}
	})
}
