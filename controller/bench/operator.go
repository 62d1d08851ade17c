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
// says who it is. What a job does to the beer really happens to it.
type Operator struct {
	Name     string
	Schedule *controller.Schedule
	Batch    string
	tank     *Tank // it works on; nil: it only says so
	given    int
	started  bool
	pitched  bool
	done     int // the newest job that it said is done; what it sees may be a step old
}

// pitchAfter is how long the wort stands before the yeast goes in.
const pitchAfter = 30 * time.Minute

// jobTakes is how long a job of a reminder waits for its person.
const jobTakes = time.Hour

// What goes into the beer of a simulation. Hops: five to ten points are published
// for warm beer on much hop, the trade reckons with one to three (common practice).
// Sugar: a tenth of a strong wort.
const (
	hopCreep units.Points = 3
	sugarFed units.Points = 10
)

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
	case len(d.Jobs) > 0 && d.Jobs[0].For >= jobTakes && d.Jobs[0].No > o.done:
		return []controller.Order{o.order(o.work(d.Jobs[0]))}, false
	case d.NeedsWhat == string(controller.Arm):
		return []controller.Order{o.order(controller.Verb{Kind: controller.Arm})}, false
	case strings.HasPrefix(d.NeedsWhat, string(controller.Confirm)) && onlyPerson(d) && !toDo(d):
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

// toDo tells whether a job waits that touches the beer: what is confirmed before it
// is void after it.
func toDo(d controller.Decision) bool {
	for _, j := range d.Jobs {
		if j.Mark != "" {
			return true
		}
	}
	return false
}

// work does to the beer what a job does to it, as far as the plant knows, and says
// that it is done.
func (o *Operator) work(j controller.Due) controller.Verb {
	o.done = j.No
	said := controller.Verb{Kind: controller.Done, Job: j.No}
	if j.Mark == controller.Addition {
		said.Points = sugarFed
	}
	if o.tank == nil {
		return said
	}
	switch j.Mark {
	case controller.DryHop:
		o.tank.Beer.DryHop(hopCreep)
	case controller.Addition:
		o.tank.Feed(sugarFed)
	case controller.Rouse:
		o.tank.Beer.Knock()
	default: // nothing that the modelled beer would feel
	}
	return said
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

// aboveTarget is how far above the warmest target of its schedule the highest
// temperature of a simulated vessel lies at the least, as a person would write it.
const aboveTarget units.Celsius = 3

// Simulate fills a vessel for a schedule and gives it an operator.
func Simulate(name string, b Brew, s *controller.Schedule) *Simulated {
	if b.Start == 0 {
		b.Start = s.Stages[0].Target.To
	}
	t := NewTank(name, b)
	t.Vessel.SuckBack = controller.VacuumBreaker // so that the crash has to be armed
	for i := range s.Stages {
		t.Vessel.Limits.Highest = max(t.Vessel.Limits.Highest, s.Stages[i].Target.To+aboveTarget)
	}
	return &Simulated{
		Rig: &Rig{Tanks: []*Tank{t}}, Tank: t,
		Operator: &Operator{Name: "simulated brewer", Schedule: s, Batch: "simulated", tank: t},
	}
}

// Step runs it for one step.
func (s *Simulated) Step() { s.StepBy(Step) }

// StepBy runs it for one step of another length, for weeks in which only time is
// waited for. The vessel must be told that its steps may be so long.
func (s *Simulated) StepBy(dt time.Duration) {
	orders, pitch := s.Operator.Orders(s.Tank.Out.Decision)
	for _, o := range orders {
		s.Tank.Tell(o)
	}
	if pitch {
		s.Tank.Beer.Pitch()
	}
	s.Rig.Step(dt)
}

// Longest is how long a simulation goes on at the most.
const Longest = 60 * units.Day
