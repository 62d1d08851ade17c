package controller_test

import (
	"math"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
)

// press gives the desk a transducer, read at every step of a time.
func (d *desk) press(p units.Pascals, t time.Duration) {
	d.t.Helper()
	d.v.Probes.Pressure = "fv1/pressure"
	for end := d.s.Age + t; d.s.Age < end; {
		d.in.Readings = append(d.in.Readings, controller.Reading{Probe: "fv1/pressure", Value: controller.OfPressure(p)})
		d.step()
	}
}

func TestPressureAlarms(t *testing.T) {
	for name, c := range map[string]struct {
		gauge units.Pascals
		limit controller.PressureLimits
		alarm string
	}{
		"within the limits":                       {50e3, controller.PressureLimits{Highest: 100e3}, ""},
		"beyond the highest":                      {101e3, controller.PressureLimits{Highest: 100e3}, "over-pressure"},
		"no highest is given":                     {500e3, controller.PressureLimits{}, ""},
		"a transducer that is a little off":       {-2e3, controller.PressureLimits{}, ""},
		"a vacuum":                                {-3.5e3, controller.PressureLimits{}, "vacuum"},
		"a vacuum that this tank is to stand":     {-3.5e3, controller.PressureLimits{Lowest: -5e3}, ""},
		"a vacuum for a tank with its own limit":  {-1.5e3, controller.PressureLimits{Lowest: -1e3}, "vacuum"},
		"what is no pressure is a lost probe":     {3e6, controller.PressureLimits{}, "pressure-lost"},
		"what is no number is a lost probe, too":  {units.Pascals(math.NaN()), controller.PressureLimits{}, "pressure-lost"},
		"a lost probe is neither high nor vacuum": {-200e3, controller.PressureLimits{Highest: 1}, "pressure-lost"},
	} {
		t.Run(name, func(t *testing.T) {
			d := brewing(t)
			d.v.Pressure = c.limit
			d.press(c.gauge, 5*time.Minute)
			for _, alarm := range []string{"over-pressure", "vacuum", "pressure-lost"} {
				raised := false
				for _, a := range d.s.Alarms.List {
					raised = raised || string(a.ID) == alarm && a.Raised()
				}
				if raised != (alarm == c.alarm) {
					t.Errorf("%s raised: %v", alarm, raised)
				}
			}
		})
	}
}

// A vacuum stops the cooling of a crash, and of nothing else: in a primary the
// beer would boil over with its own heat.
func TestAVacuumStopsACrash(t *testing.T) {
	for stage, cools := range map[string]bool{"primary": true, "crash": false} {
		d := brewing(t)
		for d.out.Decision.Stage != stage {
			d.must(verb(controller.AdvanceNow))
		}
		d.beer = 23
		d.press(0, 30*time.Minute)
		if !d.out.Outputs.Cool {
			t.Fatalf("%s does not cool: %v", stage, d.said())
		}
		d.press(-5e3, 10*time.Minute)
		if d.out.Outputs.Cool != cools {
			t.Errorf("%s in a vacuum: cool %v", stage, d.out.Outputs.Cool)
		}
		d.press(0, 10*time.Minute)
		if !d.out.Outputs.Cool {
			t.Errorf("%s does not cool after the vacuum: %v", stage, d.said())
		}
	}
}

// Residual carbon dioxide: at the warmest after the end without pressure, as the
// tables of priming have it; more under pressure; never more by cooling alone.
func TestResidualCarbonation(t *testing.T) {
	d := brewing(t).wide()
	d.sg = fall(1.010)
	d.beer = 19
	d.run(10 * time.Hour)
	if d.out.Decision.Residual != 0 {
		t.Errorf("%v before it ferments", d.out.Decision.Residual)
	}
	d.until(12*units.Day, func() bool { return d.out.Decision.Stage == "diacetyl rest" })
	d.beer = 21
	d.until(12*units.Day, func() bool { return d.happened(controller.TerminalReached) > 0 })
	d.run(time.Hour)
	want := float64(units.ResidualCarbonation(21))
	if got := float64(d.out.Decision.Residual); math.Abs(got-want) > 0.01 {
		t.Errorf("%v at 21 C, want %v", got, want)
	}
	for d.beer > 2 {
		d.beer -= 0.5
		d.run(30 * time.Minute)
	}
	if got := float64(d.out.Decision.Residual); math.Abs(got-want) > 0.01 {
		t.Errorf("%v after the crash, want %v still", got, want)
	}
	under := brewing(t).wide()
	under.sg = fall(1.010)
	under.beer = 19
	under.press(50e3, 4*units.Day)
	want = float64(units.Carbonation(50e3, 19))
	if got := float64(under.out.Decision.Residual); math.Abs(got-want) > 0.01 {
		t.Errorf("%v under 0.5 bar, want %v", got, want)
	}
}
