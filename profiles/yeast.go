package profiles

import (
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
)

// leftWhen gives the most points that can be left when a condition holds, as
// far as the condition and the expected gravities tell.
func leftWhen(c *controller.Condition, w controller.Wort) (units.Points, bool) {
	switch c.Kind {
	case controller.PointsLeft:
		return c.Points, true
	case controller.Terminal:
		return 0, true
	case controller.GravityAtMost:
		return max(0, c.Gravity.Minus(w.Final)), true
	case controller.ApparentAttenuation:
		now := w.Original.Plus(-units.Points(c.Attenuation * float64(w.Original.Minus(1))))
		return max(0, now.Minus(w.Final)), true
	case controller.All:
		return fewest(c.Of, w)
	case controller.Any:
		return mostOf(c.Of, w)
	case controller.Never, controller.Dwell, controller.BeerAt, controller.Pitched, controller.Confirmed:
	}
	return 0, false
}

// fewest: all of them hold, so the strictest tells.
func fewest(of []controller.Condition, w controller.Wort) (units.Points, bool) {
	var least units.Points
	known := false
	for i := range of {
		if p, ok := leftWhen(&of[i], w); ok && (!known || p < least) {
			least, known = p, true
		}
	}
	return least, known
}

// mostOf: any of them may hold, so one that does not tell leaves all open.
func mostOf(of []controller.Condition, w controller.Wort) (units.Points, bool) {
	var most units.Points
	for i := range of {
		p, ok := leftWhen(&of[i], w)
		if !ok {
			return 0, false
		}
		most = max(most, p)
	}
	return most, len(of) > 0
}
