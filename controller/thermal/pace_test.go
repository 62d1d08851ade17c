package thermal_test

import (
	"math"
	"testing"
	"time"

	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

// hour lets an hour pass in steps of a minute in which the beer falls evenly and
// cooling is on for the first so many minutes.
func hour(p thermal.Pace, beer *units.Celsius, fall float64, on int) thermal.Pace {
	for m := range 60 {
		p = p.Step(*beer, true, m < on, time.Minute)
		*beer = beer.Plus(units.Kelvins(-fall / 60))
	}
	return p
}

func TestPaceIsLearntWhereCoolingHasNoRest(t *testing.T) {
	for _, c := range []struct {
		name string
		fall float64 // K in the hour
		on   int     // min
		want float64 // K/h
	}{
		{"a jacket that runs through the hour", 3, 60, 3},
		{"a compressor has its rests", 0.6, 50, 0.6},
		{"a ramp that is held back shows no strength", 1, 20, 0},
		{"beer that is held shows none", 0.05, 60, 0},
		{"nor does beer that gets warmer", -0.5, 60, 0},
	} {
		beer := units.Celsius(20)
		p := hour(thermal.Pace{}, &beer, c.fall, c.on)
		// The last minute's fall comes with the next reading.
		if got := float64(p.Of); math.Abs(got-c.want) > 0.05+c.want/60 {
			t.Errorf("%s: %.2f K/h, want %.2f", c.name, got, c.want)
		}
	}
}

func TestPaceFollowsTheNewestHours(t *testing.T) {
	beer := units.Celsius(20)
	var p thermal.Pace
	for range 3 {
		p = hour(p, &beer, 4, 60)
	}
	for range 4 {
		p = hour(p, &beer, 1, 60)
	}
	if p.Of < 1 || p.Of > 1.3 {
		t.Errorf("after four slow hours %.2f K/h", float64(p.Of))
	}
}

func TestPaceLearnsNothingAcrossWhatItDidNotSee(t *testing.T) {
	for name, blind := range map[string]func(thermal.Pace) thermal.Pace{
		"a lost probe": func(p thermal.Pace) thermal.Pace { return p.Step(0, false, true, time.Minute) },
		"an outage":    func(p thermal.Pace) thermal.Pace { return p.Step(5, true, true, 2*time.Hour) },
		"a restart":    func(p thermal.Pace) thermal.Pace { return p.Step(5, true, true, 0) },
	} {
		var p thermal.Pace
		for range 50 {
			p = p.Step(20, true, true, time.Minute)
		}
		p = blind(p)
		for range 15 {
			p = p.Step(5, true, true, time.Minute)
		}
		if p.Of != 0 {
			t.Errorf("%s: %v was learnt", name, p.Of)
		}
	}
}
