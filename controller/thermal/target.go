package thermal

import (
	"math"
	"time"

	"example.org/restpoint/controller/units"
)

// TrailLimit is how far the beer may trail its ramp before the ramp waits for it.
const TrailLimit units.Kelvins = 1

// FloorDrop is how far the beer may fall in a free rise below where it was when
// the rise began: three probe steps more would tell the yeast to lie down.
const FloorDrop units.Kelvins = 0.3

// Advance moves a ramp's set point on toward its end. It waits while the beer
// trails by more than TrailLimit, so that the rate that the yeast feels is the
// rate that was asked for.
func Advance(now, end, beer units.Celsius, rate units.KelvinsPerHour, elapsed time.Duration) units.Celsius {
	step := units.Kelvins(float64(rate) * elapsed.Hours())
	if end < now {
		if beer.Minus(now) > TrailLimit {
			return now
		}
		return max(end, now.Plus(-step))
	}
	if now.Minus(beer) > TrailLimit {
		return now
	}
	return min(end, now.Plus(step))
}

// Beer is densest between 2 and 3 C. Below that the coldest beer rises: ice may form
// at the jacket while a probe deeper down reads warm. So the last of a ramp down is
// led more slowly (slower under 4 C: quoted after a trade text on the inversion of
// layers; half the rate is common practice).
const slowShare = 0.5

// SlowBelow is where the last of a ramp down begins.
const SlowBelow units.Celsius = 4

// LedAt is the rate at which a ramp moves now: as it was asked for, and on the last
// way down slower.
func LedAt(now, end units.Celsius, rate units.KelvinsPerHour) units.KelvinsPerHour {
	if end < now && now <= SlowBelow {
		return rate * slowShare
	}
	return rate
}

// LedFor is how long a ramp takes from one temperature to another, in hours, if the
// beer follows.
func LedFor(from, to units.Celsius, rate units.KelvinsPerHour) float64 {
	h := math.Abs(float64(from.Minus(to))) / float64(rate)
	if slow := min(from, SlowBelow); to < slow {
		h += float64(slow.Minus(to)) * (1/slowShare - 1) / float64(rate)
	}
	return h
}

// Heat of the yeast: figures of the trade.
const (
	heatOfFermentation = 586.0  // kJ a kg of real extract fermented (252 Btu/lb, a brewers' forum and a tank maker's note)
	specificHeatBeer   = 4.05   // kJ/kg/K (quoted after Briggs et al.)
	realShare          = 0.8192 // real extract gone for each apparent (Balling, as quoted by Spencer)
	platoAPoint        = 0.25   // degrees Plato a point, near the end of a beer (trade rule)
)

// YeastRise is how far the extract still to be fermented would warm the beer if
// no heat were lost: 6 points are worth about 2 K.
func YeastRise(left units.Points) units.Kelvins {
	if left <= 0 {
		return 0
	}
	return units.Kelvins(float64(left) * platoAPoint / 100 * realShare * heatOfFermentation / specificHeatBeer)
}
