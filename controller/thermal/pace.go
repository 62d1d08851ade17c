package thermal

import (
	"time"

	"example.org/restpoint/controller/units"
)

// Pace is how fast cooling at its full strength moves the beer, learnt from hours in
// which it ran nearly all the time: a fill that is cooled, or the crash itself. It
// serves a forecast and moves nothing.
type Pace struct {
	Of   units.KelvinsPerHour // 0 = not seen yet
	From units.Celsius        // beer when the hour began
	Ran  time.Duration        // of the hour
	On   time.Duration        // with cooling on
}

const (
	paceOver  = time.Hour
	paceShare = 0.8 // of it on: a compressor's rests belong to its strength
	// What falls no faster than this through an hour is held, not moved: two steps of
	// the usual probe (0.0625 K).
	paceLeast units.Kelvins = 0.125
)

// Step takes one step.
func (p Pace) Step(beer units.Celsius, known, cool bool, elapsed time.Duration) Pace {
	if !known || elapsed <= 0 || elapsed > paceOver {
		p.Ran, p.On = 0, 0
		return p
	}
	if p.Ran == 0 {
		p.From = beer
	}
	p.Ran += elapsed
	if cool {
		p.On += elapsed
	}
	if p.Ran < paceOver {
		return p
	}
	fell, whole := p.From.Minus(beer), p.On.Seconds() >= p.Ran.Seconds()*paceShare
	if whole && fell >= paceLeast {
		seen := units.KelvinsPerHour(float64(fell) / p.Ran.Hours())
		if p.Of > 0 {
			seen = (seen + p.Of) / 2 // the newest hour is that at the beer's temperature now
		}
		p.Of = seen
	}
	p.Ran, p.On = 0, 0
	return p
}
