package watch

import (
	"time"

	"example.org/restpoint/controller/units"
)

// Lift is a run of heat beside what was learnt of the heater before: whether it still
// warms the beer as it did.
type Lift struct {
	On          bool
	From        units.Celsius // where the beer would have come to rest without the run
	For         time.Duration
	Rate, Drift units.KelvinsPerHour // of the heater at full strength, and of the beer by itself
	Lag         time.Duration
	Weak        bool
	Off         time.Duration
}

// Learnt is what is known of the heater where a run begins.
type Learnt struct {
	Rest        units.Celsius
	Rate, Drift units.KelvinsPerHour // a Rate of 0 is not known
	Lag         time.Duration
}

// Figures of a run of heat (engineering judgement): half an hour or four lags, and half
// a kelvin that is due, which a probe of 0.0625 K shows in eight steps.
const (
	liftLeast                        = 30 * time.Minute
	liftLags                         = 4
	liftDue     units.Kelvins        = 0.5
	liftWeak                         = 0.3
	liftSound                        = 0.5 // from here on it is as it was
	driftDoubt  units.KelvinsPerHour = 0.1 // room and yeast may change by so much
	liftForgets                      = units.Day
)

func (l Lift) step(in *Input) Lift {
	if !in.Heat {
		l.On = false
		if l.Off = min(l.Off+in.Elapsed, liftForgets); l.Off >= liftForgets {
			return Lift{Off: liftForgets}
		}
		return l
	}
	if !l.On {
		next := Lift{On: true, From: in.Learnt.Rest, Rate: in.Learnt.Rate, Drift: in.Learnt.Drift, Lag: in.Learnt.Lag}
		if l.Weak { // what is learnt of a heater that is weak is no measure
			next.Weak, next.Rate, next.Lag = true, l.Rate, l.Lag
		}
		return next
	}
	l.For += in.Elapsed
	due := float64(l.Rate) * (l.For - l.Lag).Hours()
	if l.For < max(liftLeast, liftLags*l.Lag) || due < float64(liftDue) {
		return l
	}
	did := float64(in.Beer.Minus(l.From)) - float64(float64(l.Drift-driftDoubt)*l.For.Hours())
	share := liftWeak
	if l.Weak {
		share = liftSound
	}
	l.Weak = did < share*due
	return l
}
