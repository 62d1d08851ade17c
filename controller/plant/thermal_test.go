package plant_test

import (
	"math"
	"testing"
	"time"

	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/units"
)

// What a vessel holds more than at the start is what came in less what went
// out, whatever the relays did; and the yeast's heat is what the extract gave.
func TestEnergyBalances(t *testing.T) {
	t.Parallel()
	for name, v := range map[string]plant.Vessel{
		"a bucket in a refrigerator": plant.Bucket20(), "a conical on glycol": plant.Conical60(), "a tank on glycol": plant.Tank1000(),
	} {
		p := plant.New(v, plant.PaleAle(), plant.Quiet(), 1, 16)
		p.SetWeather(plant.Ambient{Mean: 12, Swing: 6, Coldest: 4 * time.Hour})
		p.Pitch()
		for i := range 6 * 24 * 5 { // five days in 10 min
			p.Advance(10*time.Minute, plant.Outputs{Heat: i%7 == 0, Cool: i%5 == 1})
		}
		l := p.Ledger()
		turned := math.Abs(l.Yeast) + math.Abs(l.Heater) + math.Abs(l.Cooled) + math.Abs(l.Lost)
		near(t, name+": held", l.Held, l.Yeast+l.Heater-l.Cooled-l.Lost, 1e-9*turned)
		// 586 kJ/kg of real extract (252 Btu/lb, the figure of the trade).
		mass := float64(v.Volume) * 0.9982 * 1.052
		fallen := float64(units.Gravity(1.052).Plato() - p.Extract())
		near(t, name+": heat of the yeast", l.Yeast, fallen*0.8192/100*mass*586e3, 1e-9*l.Yeast)
		if l.Heater == 0 || l.Cooled <= 0 || l.Yeast == 0 {
			t.Errorf("%s: an empty column in %+v", name, l)
		}
	}
}

// The cut of the calls changes nothing that matters.
func TestStepsMayBeCutAnyhow(t *testing.T) {
	t.Parallel()
	end := func(dt time.Duration) *plant.Plant {
		p := plant.New(plant.Conical60(), plant.PaleAle(), plant.Quiet(), 1, 20)
		p.Pitch()
		for p.Elapsed() < 36*time.Hour {
			p.Advance(dt, plant.Outputs{Cool: p.Elapsed()%(4*time.Hour) < time.Hour, Heat: p.Elapsed()%(7*time.Hour) >= 6*time.Hour})
		}
		return p
	}
	want := end(10 * time.Second)
	for _, dt := range []time.Duration{time.Second, 2500 * time.Millisecond, 15 * time.Second, time.Hour} {
		got := end(dt)
		near(t, "beer at "+dt.String(), float64(got.Beer()), float64(want.Beer()), 1e-3)
		near(t, "gravity at "+dt.String(), float64(got.Gravity()), float64(want.Gravity()), 1e-6)
	}
}
