package controller_test

import (
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/sense"
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

// tall is a vessel with three thermowells, of which values are set one by one.
// The first is the desk's own.
func tall(d *desk, mean bool) (set func(top, middle units.Celsius)) {
	d.v.Probes.More = [sense.MostWells - 1]controller.ProbeID{"fv1/thermowell-middle", "fv1/thermowell-top"}
	d.v.Probes.Mean = mean
	return func(middle, top units.Celsius) {
		for id, c := range map[controller.ProbeID]units.Celsius{"fv1/thermowell-middle": middle, "fv1/thermowell-top": top} {
			if c > -100 {
				d.in.Readings = append(d.in.Readings, controller.Reading{Probe: id, Value: controller.OfTemperature(c)})
			}
		}
	}
}

const gone units.Celsius = -200

func TestControlGoesByOneThermowellOrByTheMean(t *testing.T) {
	for mean, want := range map[bool]units.Celsius{false: 18, true: 20} {
		d := sit(t)
		set := tall(d, mean)
		set(20, 22)
		d.step()
		if d.out.Decision.Beer.Celsius != want || len(d.out.Decision.Wells) != 3 {
			t.Errorf("mean %v: %v of %+v", mean, d.out.Decision.Beer.Celsius, d.out.Decision.Wells)
		}
	}
}

func TestAnotherThermowellStandsInAtAWiderBand(t *testing.T) {
	d := brewing(t)
	set := tall(d, false)
	hour := func(h float64, middle, top units.Celsius) {
		for range int(h * 60) {
			set(middle, top)
			d.step()
		}
	}
	d.beer = 19
	hour(1, 19, 19)
	d.mute = true
	hour(1, 19.8, 19.8)
	if d.out.Decision.Backup != controller.ByThermowell || !d.s.Alarms.Raised("backup-probe") || d.s.Alarms.Raised("probe-lost") {
		t.Fatalf("backup %q, alarms %+v", d.out.Decision.Backup, d.s.Alarms.List)
	}
	if d.out.Outputs.Cool || d.happened(controller.ProbeLost) != 1 || d.happened(controller.BackupUsed) != 1 {
		t.Errorf("cools at 0.8 K above 19 C on a probe that stands in; lost %d, backup %d", d.happened(controller.ProbeLost), d.happened(controller.BackupUsed))
	}
	hour(1, 20.2, 20.2)
	if !d.out.Outputs.Cool {
		t.Errorf("does not cool at 1.2 K above: %v", d.said())
	}
	hour(2, 17.5, 17.5)
	if !d.out.Outputs.Heat {
		t.Errorf("does not heat at 1.5 K below: %v", d.said())
	}
	// The schedule goes on, for a thermowell is read.
	d.must(verb(controller.AdvanceNow))
	if d.reason(controller.CodeStageBlind) {
		t.Error("the schedule waits though two thermowells are read")
	}
	// It comes back.
	d.mute, d.beer = false, 19
	hour(1, 19, 19)
	if d.out.Decision.Backup != controller.NoBackup {
		t.Errorf("backup %q", d.out.Decision.Backup)
	}
	d.mute = true
	hour(1, gone, gone)
	if d.out.Outputs.Heat || d.out.Outputs.Cool || !d.s.Alarms.Raised("probe-lost") {
		t.Errorf("all are lost: %+v, %v", d.out.Outputs, d.said())
	}
}

// The hydrometer's thermometer stands in only while a warm beer ferments, only for
// cooling, and the schedule waits.
func TestTheHydrometersThermometerStandsInForCoolingOnly(t *testing.T) {
	float := func(d *desk, hours float64, c units.Celsius) {
		for i := range int(hours * 60) {
			if i%15 == 0 {
				d.in.Readings = append(d.in.Readings, controller.Reading{Probe: "fv1/hydrometer", Value: controller.OfSample(1.030, c)})
			}
			d.step()
		}
	}
	for name, c := range map[string]struct {
		stage              int
		celsius            units.Celsius
		backup             controller.Backup
		cool, heat, failed bool
	}{
		"a fermenting beer that is too warm":     {1, 21, controller.ByHydrometer, true, false, false},
		"a fermenting beer that is too cold":     {1, 16, controller.ByHydrometer, false, false, false},
		"a fermenting lager below 12 C":          {1, 11, controller.NoBackup, false, false, true},
		"a beer in its rest":                     {2, 24, controller.NoBackup, false, false, true},
		"a hydrometer that is silent for longer": {1, gone, controller.NoBackup, false, false, true},
	} {
		t.Run(name, func(t *testing.T) {
			d := brewing(t)
			if c.stage == 2 {
				d.must(verb(controller.AdvanceNow))
			}
			d.beer = max(c.celsius, 10)
			float(d, 1, d.beer)
			d.mute = true
			if c.celsius == gone {
				d.run(2 * time.Hour)
			} else {
				float(d, 2, c.celsius)
			}
			if got := d.out.Decision; got.Backup != c.backup || d.out.Outputs.Cool != c.cool || d.out.Outputs.Heat != c.heat || got.Beer.Failed != c.failed {
				t.Errorf("backup %q, outputs %+v, beer %+v: %v", got.Backup, d.out.Outputs, got.Beer, d.said())
			}
			if !d.reason(controller.CodeStageBlind) {
				t.Errorf("the schedule does not wait: %v", d.said())
			}
		})
	}
}

func TestLayersAreAnAlarmOutsideACrash(t *testing.T) {
	for stage, raised := range map[int]bool{1: true, 3: false, 4: true} {
		d := brewing(t)
		set := tall(d, true)
		for range stage - 1 {
			d.must(verb(controller.AdvanceNow))
		}
		d.beer = 3
		for range 150 {
			set(3, 5.5)
			d.step()
		}
		if got := d.s.Alarms.Raised("stratified"); got != raised {
			t.Errorf("in %s: raised %v", d.out.Decision.Stage, got)
		}
	}
}

func TestCoolingFollowsTheZones(t *testing.T) {
	d := brewing(t)
	d.v.Zones = []thermal.Zone{{Name: "shell", Use: thermal.Above, At: 4}, {Name: "cone", Use: thermal.Below, At: 4}}
	for range 2 {
		d.must(verb(controller.AdvanceNow))
	}
	var zones []thermal.Zones
	for d.beer > 1.5 {
		d.beer -= 0.02
		d.step()
		if n := len(zones); n == 0 || zones[n-1] != d.out.Zones {
			zones = append(zones, d.out.Zones)
		}
	}
	if len(zones) != 2 || zones[0] != 1 || zones[1] != 2 || d.happened(controller.ZoneChanged) != 1 {
		t.Errorf("zones %v, said %d times", zones, d.happened(controller.ZoneChanged))
	}
	d.v.Zones = nil
	if d.step(); d.out.Zones != 0 {
		t.Errorf("a vessel without zones has %b", d.out.Zones)
	}
}

func TestThermowellsThatDisagreeAreAnAlarmAfterHalfAnHour(t *testing.T) {
	for top, raised := range map[units.Celsius]bool{20.4: false, 20.7: true} {
		d := brewing(t)
		set := tall(d, false)
		d.beer = 19
		for i := range 40 {
			set(19, top)
			d.step()
			if got := d.s.Alarms.Raised("stratified"); got && (i < 28 || !raised) {
				t.Fatalf("%v beside 19 C: an alarm after %d min", top, i)
			}
		}
		if got := d.s.Alarms.Raised("stratified"); got != raised {
			t.Errorf("%v beside 19 C: raised %v", top, got)
		}
	}
}

// The thermowell that control goes by is 2 K too cold: the two others agree, and the
// median decides.
func TestTheOddOneOfThreeThermowellsIsLeftOut(t *testing.T) {
	run := func(d *desk, set func(a, b units.Celsius), minutes int, middle, top units.Celsius) {
		for range minutes {
			set(middle, top)
			d.step()
		}
	}
	begin := func(t *testing.T, stage int) (*desk, func(a, b units.Celsius)) {
		t.Helper()
		d := brewing(t)
		set := tall(d, false)
		d.beer = 19
		run(d, set, 130, 19, 19) // after somebody touched the beer nothing is judged for two hours
		for range stage - 1 {
			d.must(verb(controller.AdvanceNow))
		}
		return d, set
	}
	d, set := begin(t, 1)
	if run(d, set, 20, 21.2, 21.4); d.out.Decision.Beer.Celsius != 19 || d.out.Outputs.Cool {
		t.Errorf("left out too soon: %v", d.said())
	}
	if run(d, set, 80, 21.2, 21.4); d.out.Decision.Beer.Celsius.Minus(21.3) > 0.001 || d.out.Decision.Beer.Celsius < 21.2 || d.out.Decision.Backup != controller.ByThermowell || !d.reason(controller.CodeOdd) {
		t.Fatalf("beer %v, backup %q: %v", d.out.Decision.Beer.Celsius, d.out.Decision.Backup, d.said())
	}
	if d.out.Outputs.Heat || !d.out.Outputs.Cool {
		t.Errorf("does not go by the two: %+v, %v", d.out.Outputs, d.said())
	}
	if w := d.out.Decision.Wells[0]; w.Probe != "fv1/thermowell" || w.Usable() || w.Fault != sense.Contradicted || d.happened(controller.ProbeLost) != 1 {
		t.Errorf("it is not named: %+v, told %d times", w, d.happened(controller.ProbeLost))
	}
	if !d.s.Alarms.Raised("backup-probe") || !d.s.Alarms.Raised("stratified") {
		t.Errorf("alarms %+v", d.s.Alarms.List)
	}
	// The others are lost: nobody believes the one that was contradicted.
	lost := *d
	for range 10 {
		lost.step()
	}
	if lost.out.Outputs.Heat || lost.out.Outputs.Cool || lost.s.Sense.Beer.Usable() || !lost.reason(controller.CodeStageBlind) {
		t.Errorf("%+v on %+v: %v", lost.out.Outputs, lost.s.Sense.Beer, lost.said())
	}
	if run(d, set, 45, 19.2, 19.3); d.out.Decision.Backup != controller.NoBackup || d.out.Decision.Beer.Celsius != 19 || d.happened(controller.ProbeBack) != 1 {
		t.Errorf("it does not come back: %v", d.said())
	}
	// In a crash the cold lies in layers.
	d, set = begin(t, 3)
	if run(d, set, 100, 21.2, 21.4); d.s.Sense.Odd.Out || d.s.Alarms.Raised("stratified") {
		t.Errorf("judged in a crash: %+v", d.s.Sense.Odd)
	}
}
