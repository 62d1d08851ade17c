package bench

import (
	"strconv"
	"strings"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
)

// Operator is the person of a simulation. It starts the batch, pitches after a
// while, arms and confirms as soon as it is asked, does a job within the hour, and
// says who it is.
type Operator struct {
	Name     string
	Schedule *controller.Schedule
	Batch    string
	given    int
	started  bool
	pitched  bool
}

// pitchAfter is how long the wort stands before the yeast goes in.
const pitchAfter = 30 * time.Minute

// jobTakes is how long a job of a reminder waits for its person.
const jobTakes = time.Hour

// Orders looks at the newest decision and gives what it wants done, and whether
// yeast goes in now.
func (o *Operator) Orders(d controller.Decision) (orders []controller.Order, pitch bool) {
	switch {
	case !o.started:
		o.started = true
		if o.Schedule.Stages[0].Kind != controller.Fill {
			o.pitched, pitch = true, true
		}
		return []controller.Order{o.order(controller.Verb{Kind: controller.Start, Batch: o.Batch, Schedule: o.Schedule, Say: o.Schedule.Name})}, pitch
	case d.NeedsWhat == string(controller.PitchedNow) && d.In >= pitchAfter && !o.pitched:
		o.pitched = true
		return []controller.Order{o.order(controller.Verb{Kind: controller.PitchedNow})}, true
	case len(d.Jobs) > 0 && d.Jobs[0].For >= jobTakes:
		return []controller.Order{o.order(controller.Verb{Kind: controller.Done, Job: d.Jobs[0].No})}, false
	case d.NeedsWhat == string(controller.Arm):
		return []controller.Order{o.order(controller.Verb{Kind: controller.Arm})}, false
	case strings.HasPrefix(d.NeedsWhat, string(controller.Confirm)) && onlyPerson(d):
		return []controller.Order{o.order(controller.Verb{Kind: controller.Confirm})}, false
	}
	return nil, false
}

// onlyPerson tells whether everything but the confirmation is there: a brewer does
// not taste before the beer is ready to be tasted.
func onlyPerson(d controller.Decision) bool {
	for _, r := range d.Reasons {
		if r.Code == controller.CodeWaitsConfirm {
			return true
		}
	}
	return false
}

func (o *Operator) order(v controller.Verb) controller.Order {
	o.given++
	return controller.Order{ID: o.Name + "-" + strconv.Itoa(o.given), Who: o.Name, Why: "simulated", Do: v}
}

// Simulated is a rig with one tank and its operator.
type Simulated struct {
	Rig      *Rig
	Tank     *Tank
	Operator *Operator
}

// Simulate fills a vessel for a schedule and gives it an operator.
func Simulate(name string, b Brew, s *controller.Schedule) *Simulated {
	if b.Start == 0 {
		b.Start = s.Stages[0].Target.To
	}
	t := NewTank(name, b)
	t.Vessel.SuckBack = controller.VacuumBreaker // so that the crash has to be armed
	return &Simulated{
		Rig: &Rig{Tanks: []*Tank{t}}, Tank: t,
		Operator: &Operator{Name: "simulated brewer", Schedule: s, Batch: "simulated"},
	}
}

// Step runs it for one step.
func (s *Simulated) Step() {
	orders, pitch := s.Operator.Orders(s.Tank.Out.Decision)
	for _, o := range orders {
		s.Tank.Tell(o)
	}
	if pitch {
		s.Tank.Beer.Pitch()
	}
	s.Rig.Step(Step)
}

// Longest is how long a simulation goes on at the most.
const Longest = 60 * units.Day
