package plant_test

import (
	"math"
	"testing"
	"time"

	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/units"
)

// A beer that follows a curve has its extract, falls no faster, and gives off the
// heat of what it eats.
func TestABeerFollowsACurve(t *testing.T) {
	t.Parallel()
	w := plant.PaleAle()
	from, to := float64(w.Original.Plato()), float64(w.Final.Plato())
	line := func(h float64) units.Plato { return units.Plato(max(to, from-0.1*h)) }
	p := plant.New(plant.Conical60(), w, plant.Quiet(), 1, 19)
	p.Follow(line)
	p.Advance(10*time.Hour, plant.Outputs{})
	if p.Gravity() != w.Original.Plato().Gravity() {
		t.Errorf("falls before it is pitched, to %v", p.Gravity())
	}
	p.Pitch()
	p.Advance(20*time.Hour, plant.Outputs{})
	if got, want := float64(p.Extract()), float64(line(20)); math.Abs(got-want) > 1e-9 {
		t.Errorf("%v P after 20 h, the curve has %v P", got, want)
	}
	// 0.1 P/h apparent is 0.0819 % of 62.9 kg an hour at 586 kJ/kg: 8.4 W (Balling,
	// and the heat of fermentation as the trade quotes it).
	if got := float64(p.HeatOfFermentation()); math.Abs(got-8.4) > 0.1 {
		t.Errorf("%.2f W", got)
	}
	p.Advance(200*time.Hour, plant.Outputs{})
	if got := float64(p.Extract()); math.Abs(got-to) > 1e-9 || p.DropPerDay() != 0 {
		t.Errorf("ends at %v P, falling by %v a day", got, p.DropPerDay())
	}
}
