package thermal_test

import (
	"encoding/json"
	"math"
	"reflect"
	"testing"
	"time"

	"pgregory.net/rapid"

	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

func TestTheVesselIsLearnt(t *testing.T) {
	for name, j := range map[string]jacket{
		"a jacket":           {cool: -4, heat: 1.5, drift: 0.4, lag: 5 * time.Minute},
		"air":                {cool: -3, heat: 1, drift: 0.5, lag: 30 * time.Minute},
		"a weak one":         {cool: -0.7, heat: 1, drift: 0.1, lag: 10 * time.Minute},
		"a heated one":       {cool: -3, heat: 2, drift: -0.5, lag: 10 * time.Minute},
		"a strong, slow one": {cool: -8, heat: 2, drift: 0.8, lag: 20 * time.Minute},
	} {
		t.Run(name, func(t *testing.T) {
			j.beer = 18
			// Long runs say more than the small pulses of a valve: a compressor's swing,
			// and a change of the target.
			a := at(18)
			a.Sparing = true
			s, _ := run(thermal.State{}, a, &j, 1)
			a.CoolTo = units.Celsius(18 + math.Copysign(4, -float64(j.drift)))
			a.HeatTo = a.CoolTo
			s, _ = run(s, a, &j, 1)
			r := s.Response.Rates()
			t.Logf("%+v", r)
			truth, got, lag := float64(-j.cool), float64(-r.Cool), r.CoolLag
			if j.drift < 0 {
				truth, got, lag = float64(j.heat), float64(r.Heat), r.HeatLag
			}
			if math.Abs(got/truth-1) > 0.3 {
				t.Errorf("rate %.2f K/h, is %.2f", got, truth)
			}
			if ratio := lag.Hours() / j.lag.Hours(); ratio < 0.5 || ratio > 2.1 {
				t.Errorf("lag %v, is %v", lag, j.lag)
			}
			if math.Abs(float64(r.Drift-j.drift)) > max(0.15, 0.3*math.Abs(float64(j.drift))) {
				t.Errorf("drift %v, is %v", r.Drift, j.drift)
			}
		})
	}
}

// The plain method of least squares with forgetting blows up where nothing excites
// it: a rate that is not used drifts away.
func TestWhatIsNotUsedIsNotForgotten(t *testing.T) {
	j := jacket{beer: 18, cool: -4, heat: 1, drift: 0.4, lag: 5 * time.Minute}
	s, _ := run(thermal.State{}, at(18), &j, 3)
	for range 12 * 60 { // until all has arrived
		s.Step(&thermal.Aim{CoolTo: 18, HeatTo: 18}, 18, false, false, time.Minute)
	}
	was := s.Response.Rates()
	for i := range 60 * 1440 { // two months of a beer that stands
		beer := raster(units.Celsius(18 + 0.3*math.Sin(float64(i)/230)))
		s.Step(&thermal.Aim{CoolTo: 18, HeatTo: 18}, beer, false, false, time.Minute)
	}
	now := s.Response.Rates()
	if math.Abs(float64(now.Cool/was.Cool-1)) > 0.05 || math.Abs(float64(now.Heat/was.Heat-1)) > 0.05 || now.CoolLag != was.CoolLag {
		t.Errorf("after two months %+v, before %+v", now, was)
	}
	for _, g := range s.Response.Bank {
		for _, c := range g.Cov {
			if !(math.Abs(float64(c)) <= 4.01) {
				t.Fatalf("a covariance of %v", c)
			}
		}
	}
}

func TestWeakerCoolingIsNoticed(t *testing.T) {
	j := jacket{beer: 18, cool: -4, heat: 1, drift: 0.4, lag: 5 * time.Minute}
	s, _ := run(thermal.State{}, at(18), &j, 3)
	j.cool = -1.5
	s, r := run(s, at(18), &j, 4)
	if now := s.Response.Rates().Cool; math.Abs(float64(now+1.5)) > 0.5 {
		t.Errorf("cools by %v K/h, is -1.5", now)
	}
	if r.off > 0.3 {
		t.Errorf("%v K off", r.off)
	}
}

func TestAJumpIsNoDrift(t *testing.T) {
	eighteen := at(18)
	j := jacket{beer: 18, cool: -4, heat: 1, drift: 0.4, lag: 5 * time.Minute}
	s, _ := run(thermal.State{}, at(18), &j, 2)
	was := s.Response.Rates()
	for range 2 {
		s.Step(&eighteen, 21, false, false, time.Minute) // warm wort was added
	}
	now := s.Response.Rates()
	if now.Beer < 20.5 || math.Abs(float64(now.Drift-was.Drift)) > 0.05 || math.Abs(float64(now.Cool-was.Cool)) > 0.1 {
		t.Errorf("%+v, before %+v", now, was)
	}
}

// Whatever is done and read, the numbers stay possible, finite and small, and go
// through JSON unchanged.
func TestTheResponseIsBounded(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var s thermal.State
		beer := units.Celsius(18)
		for range rapid.IntRange(1, 60).Draw(t, "steps") {
			beer = min(45, max(-5, beer.Plus(units.Kelvins(rapid.Float64Range(-3, 3).Draw(t, "moves")))))
			cool := rapid.Bool().Draw(t, "cool")
			dt := time.Duration(rapid.IntRange(0, 1200).Draw(t, "seconds")) * time.Second
			if rapid.IntRange(0, 40).Draw(t, "blind") == 0 {
				s = s.Blind()
			}
			a := at(units.Celsius(rapid.Float64Range(0, 25).Draw(t, "target")))
			a.Sparing = rapid.Bool().Draw(t, "compressor")
			s.Step(&a, beer, cool, !cool && rapid.Bool().Draw(t, "heat"), dt)
			r := s.Response.Rates()
			if r.Known && (r.Cool > -0.0499 || r.Cool < -30 || r.Heat < 0.0199 || r.Heat > 30 || math.Abs(float64(r.Drift)) > 5) {
				t.Fatalf("%+v", r)
			}
		}
		text, err := json.Marshal(s)
		if err != nil {
			t.Fatal(err)
		}
		if len(text) > 5000 {
			t.Fatalf("%d bytes", len(text))
		}
		var back thermal.State
		if err := json.Unmarshal(text, &back); err != nil || !reflect.DeepEqual(back, s) {
			t.Fatalf("%v, changed by JSON: %s", err, text)
		}
	})
}

// A state that was stored by another program, or damaged, is learnt anew.
func TestAResponseThatIsNotWhole(t *testing.T) {
	j := jacket{beer: 18, cool: -4, heat: 1, drift: 0.4, lag: 5 * time.Minute}
	for name, spoil := range map[string]func(*thermal.Response){
		"no guesses":           func(r *thermal.Response) { r.Bank = nil },
		"too few":              func(r *thermal.Response) { r.Bank = r.Bank[:3] },
		"a best that is none":  func(r *thermal.Response) { r.BestCool = 7 },
		"a best before all":    func(r *thermal.Response) { r.BestHeat = -1 },
		"nothing but the word": func(r *thermal.Response) { *r = thermal.Response{Seen: true} },
	} {
		s, _ := run(thermal.State{}, at(18), &j, 2)
		spoil(&s.Response)
		if s.Response.Rates().Known {
			t.Errorf("%s: rates of nothing", name)
		}
		a := at(18)
		s.Step(&a, 18, false, false, time.Minute)
		if r := s.Response.Rates(); !r.Known || r.CoolLearnt != 0 || r.Beer != 18 {
			t.Errorf("%s: %+v", name, r)
		}
	}
}
