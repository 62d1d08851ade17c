package history

import (
	"math"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
)

// Figures are a beer's numbers, from gravities as they were estimated.
type Figures struct {
	Known       bool
	Original    units.Gravity
	Added       bool // the original is not the one that the batch was started with
	Final       units.Gravity
	FinalAt     time.Duration
	Terminal    bool // it was found terminal then
	Apparent    float64
	Real        float64
	ByMass      units.MassPercent
	ByVolume    units.VolumePercent
	Temperature units.Celsius // of the beer, last
	HasBeer     bool
}

// Figures works them out. The final gravity is the one at which the beer was last
// found terminal: a hydrometer rises in a crash, and gas hangs on it.
func (b *Batch) Figures() Figures {
	var f Figures
	last := -1
	for i, m := range b.Course {
		if m.HasBeer {
			f.Temperature, f.HasBeer = m.Beer, true
		}
		if m.Gravity.Known && (last < 0 || m.Kind != controller.Crash && m.Kind != controller.Hold) {
			last = i
		}
	}
	if last < 0 {
		return f
	}
	for _, e := range b.Events {
		if e.Kind == controller.TerminalReached {
			for i, m := range b.Course {
				if m.At >= e.At && m.Gravity.Known {
					last, f.Terminal = i, true
					break
				}
			}
		}
	}
	m := &b.Course[last]
	f.Known, f.Original, f.Final, f.FinalAt = true, m.Gravity.Original, m.Gravity.Now, m.At
	f.Added = math.Abs(float64(f.Original.Minus(b.Original))) > 0.05
	oe, ae := f.Original.Plato(), f.Final.Plato()
	f.Apparent, f.Real = units.ApparentAttenuationByPoints(f.Original, f.Final), units.RealAttenuation(oe, ae)
	f.ByMass = units.AlcoholBalling(oe, ae)
	f.ByVolume = f.ByMass.ByVolume(f.Final)
	return f
}

// Stage is one stay in a stage.
type Stage struct {
	Name     string
	Kind     controller.Kind
	From, To time.Duration
	Why      string // it began
	Held     Held
}

// Held is how well the beer kept its target once it had first come there.
type Held struct {
	Known     bool
	Error     units.Kelvins // root of the mean square of beer less target
	Share     float64       // of the time within half a kelvin
	Low, High units.Celsius // of the beer, in the whole stage
}

// arrived is how close to its target a beer must come to be held from then on, and
// near is what counts as held.
const (
	arrived = 0.3
	near    = 0.5
)

// Stages lists the stages in the order in which the batch went through them.
func (b *Batch) Stages() []Stage {
	var list []Stage
	for _, e := range b.Events {
		if e.Kind != controller.StageEntered {
			continue
		}
		if n := len(list); n > 0 {
			list[n-1].To = e.At
		}
		list = append(list, Stage{Name: e.Stage, Kind: e.StageKind, From: max(0, e.At), To: b.Length, Why: e.Reason.String()})
	}
	for i := range list {
		list[i].Held = b.held(&list[i])
	}
	return list
}

func (b *Batch) held(s *Stage) Held {
	var h Held
	seen := false
	n, within, squares := 0, 0, 0.0
	for _, m := range b.Course {
		if m.At < s.From || m.At >= s.To || !m.HasBeer {
			continue
		}
		if !seen {
			h.Low, h.High, seen = m.Beer, m.Beer, true
		}
		h.Low, h.High = min(h.Low, m.Beer), max(h.High, m.Beer)
		if !m.HasTarget {
			continue
		}
		off := math.Abs(float64(m.Beer.Minus(m.Target)))
		if n == 0 && off > arrived {
			continue
		}
		n++
		squares += off * off
		if off <= near {
			within++
		}
	}
	h.Known = seen
	if n > 0 {
		h.Error, h.Share = units.Kelvins(math.Sqrt(squares/float64(n))), float64(within)/float64(n)
	} else {
		h.Share = math.NaN() // it never came there
	}
	return h
}

// Primary is how well the beer was held in its primary, the first where it had more
// than one; false where it had none, or never came to its target.
func (b *Batch) Primary() (Held, bool) {
	for _, s := range b.Stages() {
		if s.Kind == controller.Primary && s.Held.Known {
			return s.Held, !math.IsNaN(s.Held.Share)
		}
	}
	return Held{}, false
}

// Worked is how much a relay worked in the batch.
type Worked struct {
	Starts int64
	On     time.Duration
}

// Relays sums the starts and the time of both relays.
func (b *Batch) Relays() (heat, cool Worked) {
	for i := 1; i < len(b.Course); i++ {
		was, is := &b.Course[i-1], &b.Course[i]
		heat.Starts += max(0, is.Heat.Switches-was.Heat.Switches) // a lost state begins at nothing
		heat.On += max(0, is.Heat.On-was.Heat.On)
		cool.Starts += max(0, is.Cool.Switches-was.Cool.Switches)
		cool.On += max(0, is.Cool.On-was.Cool.On)
	}
	return heat, cool
}

// Alarm is one alarm from its raising to its end.
type Alarm struct {
	Name     string
	Priority string
	Why      string
	From, To time.Duration
	Open     bool // it stood when the record ended
}

// Alarms lists the alarms in the order in which they were raised.
func (b *Batch) Alarms() []Alarm {
	var list []Alarm
	for _, e := range b.Events {
		switch e.Kind {
		case controller.AlarmRaised:
			list = append(list, Alarm{Name: e.Alarm, Priority: e.Priority, Why: e.Reason.String(), From: e.At, To: b.Length, Open: true})
		case controller.AlarmOver:
			for i := range list {
				if list[i].Name == e.Alarm && list[i].Open {
					list[i].To, list[i].Open = e.At, false
				}
			}
		default:
		}
	}
	return list
}
