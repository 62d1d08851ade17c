package thermal_test

import (
	"math"
	"testing"
	"time"

	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

func TestAdvance(t *testing.T) {
	for name, c := range map[string]struct {
		now, end, beer units.Celsius
		rate           units.KelvinsPerHour
		elapsed        time.Duration
		want           units.Celsius
	}{
		"a ramp down moves at its rate":                            {18, 1, 18, 1, 30 * time.Minute, 17.5},
		"a ramp down waits when the beer is more than 1 K above":   {17, 1, 18.01, 1, time.Hour, 17},
		"a ramp down goes on when the beer is exactly 1 K above":   {17, 1, 18, 1, time.Hour, 16},
		"a ramp down goes on when the beer is ahead of it":         {17, 1, 15, 1, time.Hour, 16},
		"a ramp down does not pass its end":                        {1.2, 1, 1.2, 1, time.Hour, 1},
		"a ramp up moves at its rate":                              {10, 18, 10, 2, 15 * time.Minute, 10.5},
		"a ramp up waits when the beer is more than 1 K below":     {12, 18, 10.99, 1, time.Hour, 12},
		"a ramp up goes on when the beer is exactly 1 K below":     {12, 18, 11, 1, time.Hour, 13},
		"a ramp up goes on when the yeast is ahead of it":          {12, 18, 15, 1, time.Hour, 13},
		"a ramp up does not pass its end":                          {17.5, 18, 17.5, 4, time.Hour, 18},
		"a ramp that has arrived stays":                            {18, 18, 17.5, 1, time.Hour, 18},
		"no time moves nothing":                                    {18, 1, 18, 1, 0, 18},
		"below freezing is a temperature like any other":           {0, -1, 0, 0.5, time.Hour, -0.5},
		"a ramp that has arrived stays though the beer is far off": {18, 18, 25, 1, time.Hour, 18},
	} {
		t.Run(name, func(t *testing.T) {
			got := thermal.Advance(c.now, c.end, c.beer, c.rate, c.elapsed)
			if math.Abs(float64(got.Minus(c.want))) > 1e-9 {
				t.Errorf("got %v, want %v", got, c.want)
			}
		})
	}
}

// Under 4 C the coldest beer is about to rise: slower there (quoted after a trade
// text), by half (common practice).
func TestARampIsSlowOnTheLastWayDown(t *testing.T) {
	for name, c := range map[string]struct {
		now, end units.Celsius
		want     units.KelvinsPerHour
	}{
		"above 4 C a ramp down goes as it was asked": {4.01, 1, 2},
		"at 4 C and below it goes at half":           {4, 1, 1},
		"close to its end as well":                   {1.1, 1, 1},
		"a ramp up goes as it was asked":             {1, 18, 2},
		"one that has arrived too":                   {1, 1, 2},
	} {
		t.Run(name, func(t *testing.T) {
			if got := thermal.LedAt(c.now, c.end, 2); got != c.want {
				t.Errorf("%v, want %v", got, c.want)
			}
		})
	}
	for name, c := range map[string]struct {
		from, to units.Celsius
		want     float64 // h at 2 K/h, reckoned by hand
	}{
		"from 20 to 1 C: 8 h, and 3 h for the last 3 K": {20, 1, 11},
		"from 20 to 5 C":  {20, 5, 7.5},
		"from 3 to 1 C":   {3, 1, 2},
		"from 1 to 18 C":  {1, 18, 8.5},
		"from 1 C to 1 C": {1, 1, 0},
	} {
		t.Run(name, func(t *testing.T) {
			got := thermal.LedFor(c.from, c.to, 2)
			if math.Abs(got-c.want) > 1e-9 {
				t.Errorf("%v h, want %v", got, c.want)
			}
			h, at := 0.0, c.from
			for ; math.Abs(float64(at.Minus(c.to))) > 1e-6; h += 1.0 / 60 {
				at = thermal.Advance(at, c.to, at, thermal.LedAt(at, c.to, 2), time.Minute)
			}
			if math.Abs(h-c.want) > 0.03 {
				t.Errorf("the ramp itself takes %v h, want %v", h, c.want)
			}
		})
	}
}

// A beer that lags by a first-order vessel is led by the ramp and never asked
// to move faster than the rate: the set point stays within 1 K of it.
func TestAdvanceNeverRunsAwayFromTheBeer(t *testing.T) {
	const lag = 3 * time.Hour
	at, beer := units.Celsius(19), units.Celsius(19)
	const dt = time.Minute
	step := units.Kelvins(2 * dt.Hours())
	for elapsed := time.Duration(0); elapsed < 60*time.Hour; elapsed += dt {
		at = thermal.Advance(at, 1, beer, 2, dt)
		if gap := beer.Minus(at); gap > thermal.TrailLimit+step+1e-9 {
			t.Fatalf("after %v the set point is %v below the beer", elapsed, gap)
		}
		beer = beer.Plus(units.Kelvins(float64(at.Minus(beer)) * dt.Hours() / lag.Hours()))
	}
	if at != 1 {
		t.Errorf("set point %v after 60 h", at)
	}
}

// Check values by hand from figures of the trade: 586 kJ/kg of real extract
// (brewers' forum and a tank maker's note: 252 Btu/lb), 0.8192 of the apparent
// fall is real (Balling, as quoted by Spencer), 4.05 kJ/kg/K (quoted after Briggs
// et al.), 4 points a degree Plato (trade rule):
// 10 points = 2.5 P apparent = 0.02048 kg/kg real = 12.0 kJ/kg = 2.963 K.
func TestYeastRise(t *testing.T) {
	for name, c := range map[string]struct {
		left units.Points
		want float64
	}{
		"ten points are worth about 3 K":         {10, 2.963},
		"six points are worth about 2 K":         {6, 1.778},
		"one point is worth a third of a kelvin": {1, 0.2963},
		"nothing left warms nothing":             {0, 0},
		"a beer below its end cools nothing":     {-3, 0},
	} {
		t.Run(name, func(t *testing.T) {
			if got := float64(thermal.YeastRise(c.left)); math.Abs(got-c.want) > 0.002 {
				t.Errorf("got %.4f K, want %.4f K", got, c.want)
			}
		})
	}
}
