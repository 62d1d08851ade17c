package controller_test

import (
	"math"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/sense"
	"example.org/restpoint/controller/units"
)

// warm is a vessel that is held at 18 C, at steps of five seconds.
func warm(t *testing.T) *desk {
	t.Helper()
	d := sit(t)
	d.dt, d.v.Step = 5*time.Second, 5*time.Second
	d.must(controller.Verb{Kind: controller.SetMode, Mode: controller.PreChill, Celsius: 18})
	d.run(2 * time.Minute)
	if !d.s.Sense.Beer.Usable() {
		t.Fatal("no beer temperature at the start")
	}
	return d
}

func TestEveryFaultOfTheProbeEndsInOff(t *testing.T) {
	for _, fault := range controller.Faults() {
		t.Run(string(fault), func(t *testing.T) {
			d := warm(t)
			d.beer = 17 // heat is wanted
			d.run(90 * time.Second)
			if !d.out.Outputs.Heat {
				t.Fatalf("no heat at the start: %v", d.said())
			}
			d.fault = fault
			d.run(50 * time.Second)
			if !d.s.Sense.Beer.Usable() || d.s.Sense.Beer.Fault != fault {
				t.Errorf("within a minute: %+v", d.s.Sense.Beer)
			}
			d.run(20 * time.Second)
			if d.out.Decision.Signal != sense.Failure {
				t.Errorf("the signal is %q", d.out.Decision.Signal)
			}
			if d.s.Sense.Beer.Usable() || d.out.Outputs.Heat {
				t.Errorf("after a minute: %+v, heat %v", d.s.Sense.Beer, d.out.Outputs.Heat)
			}
			if d.happened(controller.ProbeLost) != 1 || !d.s.Alarms.Raised(alarms.ProbeLost) || !d.reason(controller.CodeBeerLost) {
				t.Errorf("told %d times, alarm %v, %v", d.happened(controller.ProbeLost), d.s.Alarms.Raised(alarms.ProbeLost), d.said())
			}
			// Five readings that agree, and not one fewer.
			d.fault = controller.NoFault
			for n := 1; n <= 5; n++ {
				d.step()
				if usable := d.s.Sense.Beer.Usable(); usable != (n == 5) {
					t.Errorf("after %d good readings: usable %v", n, usable)
				}
			}
			if d.happened(controller.ProbeBack) != 1 {
				t.Errorf("told %d times that it is back", d.happened(controller.ProbeBack))
			}
		})
	}
}

func TestReadingsThatNoBeerCanGive(t *testing.T) {
	for name, c := range map[string]struct {
		readings []units.Celsius
		usable   bool
		believed units.Celsius
	}{
		"one reading out of range is doubted":              {[]units.Celsius{85}, true, 18},
		"two readings out of range fail the probe":         {[]units.Celsius{85, 85}, false, 18},
		"ice that no beer has fails the probe":             {[]units.Celsius{-55, -55}, false, 18},
		"not a number fails the probe":                     {[]units.Celsius{units.Celsius(math.NaN()), units.Celsius(math.Inf(1))}, false, 18},
		"out of range by turns is doubted and forgiven":    {[]units.Celsius{85, 18, 85, 18, 85, 18}, true, 18},
		"a fifth of a degree is no jump":                   {[]units.Celsius{18.2}, true, 18.2},
		"a jump is not believed at once":                   {[]units.Celsius{25}, true, 18},
		"four readings of a jump are not believed":         {[]units.Celsius{25, 25, 25, 25}, true, 18},
		"five that agree are":                              {[]units.Celsius{25, 25.1, 25, 24.9, 25}, true, 25},
		"a jump that wanders is not believed":              {[]units.Celsius{25, 30, 25, 30, 25, 30, 25}, true, 18},
		"a jump and back is forgotten":                     {[]units.Celsius{25, 25, 25, 18, 25, 25, 25, 25}, true, 18},
		"a jump, then out of range: that is two doubts":    {[]units.Celsius{25, 85}, false, 18},
		"a failed probe needs five that agree":             {[]units.Celsius{85, 85, 18, 18, 18, 18}, false, 18},
		"a failed probe is believed after five that agree": {[]units.Celsius{85, 85, 18, 18, 18, 18, 18}, true, 18},
		"a failed probe begins to count anew at a fault":   {[]units.Celsius{85, 85, 18, 18, 18, 85, 18, 18, 18, 18}, false, 18},
		"a failed probe needs readings that agree":         {[]units.Celsius{85, 85, 18, 25, 18, 25, 18, 25, 18}, false, 18},
	} {
		t.Run(name, func(t *testing.T) {
			d := warm(t)
			for _, x := range c.readings {
				d.beer = x
				d.step()
			}
			got := d.s.Sense.Beer
			if got.Usable() != c.usable || got.Celsius != c.believed {
				t.Errorf("usable %v at %v, want %v at %v: %+v", got.Usable(), got.Celsius, c.usable, c.believed, got)
			}
			mustJSON(t, d.s)
		})
	}
}

// A probe that says nothing at all, without any fault, is stale after a minute;
// also where the beer is near 0 C, the value of a memory that was never written.
func TestASilentProbe(t *testing.T) {
	for _, beer := range []units.Celsius{-0.5, 0, 1, 4, 18, 25} {
		d := sit(t)
		d.dt, d.v.Step, d.beer = 5*time.Second, 5*time.Second, beer
		d.must(controller.Verb{Kind: controller.SetMode, Mode: controller.PreChill, Celsius: 10})
		d.run(2 * time.Minute)
		d.mute = true
		d.run(65 * time.Second)
		if got := d.s.Sense.Beer; got.Usable() || got.Fault != controller.TimedOut || d.out.Outputs.Heat {
			t.Errorf("at %v: %+v, heat %v", beer, got, d.out.Outputs.Heat)
		}
		d.run(10 * time.Minute)
		d.mute = false
		for n := 1; n <= 5; n++ {
			d.step()
			if usable := d.s.Sense.Beer.Usable(); usable != (n == 5) {
				t.Errorf("at %v, after %d good readings: usable %v", beer, n, usable)
			}
		}
	}
}

func TestAFastChangeIsBelievedAtThePaceOfBeer(t *testing.T) {
	d := warm(t)
	d.mute = true
	d.run(50 * time.Second)
	d.mute = false
	d.beer = 19.7 // 1 K, and 1 K a minute for the time that was not seen
	d.step()
	if got := d.s.Sense.Beer.Celsius; got != 19.7 {
		t.Errorf("%v is believed", got)
	}
}

func TestOldReadingsAreNotNews(t *testing.T) {
	d := warm(t)
	d.in.Readings = []controller.Reading{{Probe: "fv1/thermowell", Age: time.Minute, Value: controller.OfTemperature(18.5)}}
	d.mute = true
	d.step()
	if got := d.s.Sense.Beer; got.Celsius != 18 {
		t.Errorf("a reading a minute old replaces one of five seconds: %+v", got)
	}
	fresh := sit(t)
	fresh.mute = true
	fresh.in.Readings = []controller.Reading{{Probe: "fv1/thermowell", Age: 4 * time.Minute, Value: controller.OfTemperature(18.5)}}
	fresh.step()
	if fresh.s.Sense.Beer.Known {
		t.Error("the first reading is four minutes old and believed")
	}
}

func TestOtherProbesReadTheirOwnRange(t *testing.T) {
	d := warm(t)
	read := func(id controller.ProbeID, c units.Celsius) {
		d.in.Readings = append(d.in.Readings, controller.Reading{Probe: id, Value: controller.OfTemperature(c)})
	}
	read("fv1/surround", -20)
	read("fv1/ambient", 50)
	read("fv2/thermowell", 3)
	d.in.Readings = append(d.in.Readings, controller.Reading{Probe: "fv1/thermowell", Value: controller.OfGravity(1.05)})
	d.step()
	if s := d.s.Sense; s.Surround.Celsius != -20 || s.Ambient.Celsius != 50 || s.Beer.Celsius != 18 {
		t.Errorf("%+v", s)
	}
	read("fv1/surround", 10) // air may jump
	d.step()
	if got := d.s.Sense.Surround.Celsius; got != 10 {
		t.Errorf("surround %v", got)
	}
	d.v.Probes.Surround = ""
	d.step()
	if d.s.Sense.Surround.Known {
		t.Error("a probe that is not there is known")
	}
}

func TestCoarseRecordsMayJump(t *testing.T) {
	d := warm(t)
	d.v.Coarse = true
	d.beer = 22
	d.step()
	if got := d.s.Sense.Beer; got.Celsius != 22 || !got.Usable() {
		t.Errorf("%+v", got)
	}
	d.mute = true
	d.run(2 * time.Minute)
	d.mute = false
	d.step()
	if !d.s.Sense.Beer.Usable() {
		t.Error("a coarse record is not believed again at its next value")
	}
}

func TestAVesselWithoutThermowellNeverHeats(t *testing.T) {
	d := sit(t)
	d.v.Probes.Thermowell = ""
	d.must(start(ale()))
	d.must(verb(controller.PitchedNow))
	d.run(2 * time.Hour)
	if d.out.Outputs != (controller.Outputs{}) || !d.reason(controller.CodeNoBeer) {
		t.Errorf("%+v, %v", d.out.Outputs, d.said())
	}
	d.must(verb(controller.AdvanceNow)) // its schedule can be led by a person all the same
	d.at("diacetyl rest")
}

func TestHydrometers(t *testing.T) {
	for name, c := range map[string]struct {
		value controller.Value
		fault controller.Fault
		want  float64 // points accepted; 0 = none
		bare  bool
	}{
		"a corrected gravity is taken as it is":                 {controller.OfGravity(1.050), "", 50, false},
		"a warm sample is corrected up":                         {controller.OfSample(1.050, 30), "", 52.4, false},
		"without temperature nobody can correct":                {controller.Value{Quantity: controller.SpecificGravity, Gravity: 1.05}, "", 50, true},
		"with an impossible temperature nobody can correct":     {controller.OfSample(1.050, 200), "", 50, true},
		"a fault is no gravity":                                 {controller.OfGravity(1.050), controller.TimedOut, 0, false},
		"a temperature of the hydrometer's probe is no gravity": {controller.OfTemperature(20), "", 0, false},
		"not a number is no gravity":                            {controller.OfGravity(units.Gravity(math.NaN())), "", 0, false},
	} {
		t.Run(name, func(t *testing.T) {
			d := brewing(t)
			before := d.s.Gravity.Accepted
			d.in.Readings = []controller.Reading{{Probe: "fv1/hydrometer", Value: c.value, Fault: c.fault}}
			d.step()
			g := d.s.Gravity
			if taken := g.Accepted > before; taken != (c.want != 0) {
				t.Fatalf("accepted %v", taken)
			}
			if c.want != 0 {
				// ASTM-like glass correction by the density of water; from 20 C to 30 C about
				// 2.5 points (water density tables: 998.2 and 995.6 kg/m3).
				if got := g.Bins[len(g.Bins)-1].Sum; math.Abs(got-c.want) > 0.3 || g.Warmth.Bare != c.bare {
					t.Errorf("%.2f points, uncorrected %v", got, g.Warmth.Bare)
				}
			}
		})
	}
}

func TestASilentHydrometerIsLostAndFound(t *testing.T) {
	d := brewing(t)
	d.sg = fall(1.010)
	d.run(20 * time.Hour)
	d.sg = nil
	d.run(6*time.Hour + 20*time.Minute)
	if d.happened(controller.GravityLost) != 1 || !d.s.Alarms.Raised(alarms.GravityLost) {
		t.Errorf("told %d times", d.happened(controller.GravityLost))
	}
	d.sg = fall(1.010)
	d.run(20 * time.Minute)
	if d.happened(controller.GravityBack) != 1 || d.s.Alarms.Raised(alarms.GravityLost) {
		t.Errorf("told %d times that it is back", d.happened(controller.GravityBack))
	}
	d.v.Silence = 2 * time.Hour
	d.sg = nil
	d.run(2*time.Hour + 20*time.Minute)
	if d.happened(controller.GravityLost) != 2 {
		t.Error("a vessel's own silence does not count")
	}
}
