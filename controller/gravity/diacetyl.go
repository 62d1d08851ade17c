package gravity

import (
	"math"
	"time"
)

// The diacetyl of the beer fermentation model of de Andres-Toro and others (1998),
// as several public codings agree on it, in g/L, mg/L and hours:
//
//	diacetyl' = made * sugar * yeast - removed * diacetyl * ethanol
//	sugar'    = -uptake * sugar/(half + sugar) * yeast
//
// so that a gram of sugar that is eaten makes made*(half + sugar)/uptake of it:
// nothing has to be known of the yeast. It is the model of one lager yeast, fitted
// from 8 to 15 C, and neither of the two rates of diacetyl knows the temperature:
// it cannot show what a warm rest does. It is advice, and decides nothing.
const (
	diacetylMade    = 1.27672e-4
	diacetylRemoved = 1.13864e-3
	coldestModel    = 8.0 // C
	warmestModel    = 15.0
	kelvin          = 273.15

	// A point of gravity stands for so much, in g/L: 2.6 of apparent extract (52 of
	// them for 12.9 P, which are 135 g/L), of which 0.8192 are real (Balling); and 131.25 %
	// by volume for a whole gravity (the quick rule), at 789 g/L.
	sugarOfPoint   = 2.6 * 0.8192
	ethanolOfPoint = 0.13125 * 7.89

	// followFrom is when a device's start-up is over, after pitching: until then its
	// fall is no yeast's.
	followFrom = 12 * time.Hour
	// blindAfter is how long a beer may go unseen and still count as followed.
	blindAfter = 24 * time.Hour
)

// Diacetyl is an estimate that follows a beer from pitching on.
type Diacetyl struct {
	Followed bool
	Lost     bool          // the beer was not followed all the way: there is no estimate
	At       time.Duration // since pitching, when it was followed last
	Eaten    float64       // points
	MgL      float64       // mg/L
}

// Sight is what is seen of a beer at one time after pitching.
type Sight struct {
	Since   time.Duration
	Seen    bool    // gravity and temperature are known
	Eaten   float64 // points that have fallen since pitching
	Left    float64 // points
	Celsius float64
}

// Known tells whether there is an estimate.
func (d Diacetyl) Known() bool { return d.Followed && !d.Lost }

// Lose ends the estimate: something happened that was not followed.
func (d Diacetyl) Lose() Diacetyl { return Diacetyl{Lost: true} }

// Follow takes the estimate on. What real gravity cannot do, a rise, makes nothing
// and takes nothing back.
func (d Diacetyl) Follow(s Sight) Diacetyl {
	switch {
	case d.Lost:
		return d
	case s.Since-d.At > blindAfter:
		return d.Lose()
	case !s.Seen || s.Since < followFrom || s.Since <= d.At:
		return d
	}
	eaten := max(d.Eaten, s.Eaten)
	after := float64(max(0, s.Left) * sugarOfPoint)
	before := after + float64((eaten-d.Eaten)*sugarOfPoint)
	ethanol := (d.Eaten + eaten) / 2 * ethanolOfPoint
	d.MgL = DiacetylAfter(d.MgL, before, after, ethanol, (s.Since - d.At).Hours(), s.Celsius)
	d.Followed, d.At, d.Eaten = true, s.Since, eaten
	return d
}

// DiacetylAfter is what the model makes of a diacetyl in mg/L over some hours in
// which the sugar fell from one figure to another, in g/L, evenly, under so much
// ethanol in g/L. Beer outside of what the model was fitted to counts as at its
// nearest end.
func DiacetylAfter(was, before, after, ethanol, hours, celsius float64) float64 {
	t := kelvin + min(max(celsius, coldestModel), warmestModel)
	uptake := math.Exp(-41.92 + 11654.64/t)
	half := math.Exp(-119.63 + 34203.95/t)
	eaten := max(0, before-after)
	made := diacetylMade / uptake * eaten * (half + float64((before+after)/2))
	lost := diacetylRemoved * max(0, ethanol) * max(0, hours)
	keep := math.Exp(-lost)
	share := 1.0 // of what was made meanwhile and is still there
	if lost > 1e-9 {
		share = (1 - keep) / lost
	}
	return float64(was*keep) + float64(made*share)
}
