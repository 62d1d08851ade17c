package controller

import (
	"time"

	"example.org/restpoint/controller/guard"
)

// Plant is what several vessels share.
type Plant struct {
	Serves  []bool      // by vessel, in site order; a vessel not served passes through
	Chiller guard.Relay // the shared chiller; not fitted = it runs by itself
	AtOnce  int         // most vessels cooled together; 0 = no limit
	// Before are groups without a chiller that is driven, such as the vessels on one
	// fuse. They have their say first, so that no compressor starts for a vessel that
	// is refused.
	Before []Plant
}

// PlantState is what the shared plant remembers. The level that the chiller
// shall be driven to is ChillerOn.
type PlantState struct {
	Version   int
	ChillerOn bool
	Chiller   guard.Line
	Vessels   []Turn   // one a vessel
	Before    [][]Turn // the same of each group of Plant.Before
}

// Turn is one vessel's place in the queue for cooling.
type Turn struct {
	On      bool
	For     time.Duration // served without a break
	Waiting time.Duration // wanted and refused without a break
}

// slice is how long a vessel is served while another waits as long: some
// compressor runs, short against the hours in which beer moves.
const slice = 20 * time.Minute

// startEvery is the shortest time between two starts of a shared compressor: six an
// hour are the usual limit of a hermetic one (from memory). Vessels that want a little
// each are so served together.
const startEvery = 10 * time.Minute

// Started is the plant after any start of the program: its compressor counts as
// just stopped.
func (s PlantState) Started() PlantState {
	s.ChillerOn = false
	s.Chiller = guard.Line{Switches: s.Chiller.Switches, OnFor: s.Chiller.OnFor}
	s.Vessels = make([]Turn, len(s.Vessels))
	before := s.Before
	s.Before = nil
	for _, turns := range before {
		s.Before = append(s.Before, make([]Turn, len(turns)))
	}
	return s
}

// Share lets the shared plant have its say over what the vessels want. It
// refuses starts; it never switches anything on that was not wanted, and it
// never holds back an OFF. Where there are several groups, who is refused by one is
// not asked for of the next.
func Share(p *Plant, s PlantState, elapsed time.Duration, wants []Outputs) (PlantState, []Outputs) {
	before := s.Before
	s.Before = nil
	for i := range p.Before {
		var group PlantState
		if i < len(before) {
			group.Vessels = before[i]
		}
		group, wants = p.Before[i].share(group, elapsed, wants)
		s.Before = append(s.Before, group.Vessels)
	}
	return p.share(s, elapsed, wants)
}

// share is the say of one group.
func (p *Plant) share(s PlantState, elapsed time.Duration, wants []Outputs) (PlantState, []Outputs) {
	s.Version = StateVersion
	s.Chiller = guard.State{Cool: s.Chiller}.Observe(false, s.ChillerOn, elapsed).Cool
	turns := make([]Turn, len(wants))
	copy(turns, s.Vessels)
	outs := make([]Outputs, len(wants))
	copy(outs, wants)

	free := len(wants)
	if p.AtOnce > 0 {
		free = p.AtOnce
	}
	for i := range outs {
		if !p.serves(i) {
			continue
		}
		turns[i] = turns[i].count(elapsed, wants[i].Cool)
		outs[i].Cool = wants[i].Cool && turns[i].On && free > 0
		if outs[i].Cool {
			free--
		}
	}
	free += p.makeRoom(turns, outs, wants, free)
	mayStart := s.ChillerOn || s.mayStart(p)
	for free > 0 && mayStart {
		next := p.longestWaiting(turns, outs, wants)
		if next < 0 {
			break
		}
		outs[next].Cool = true
		free--
	}
	called := false
	for i := range outs {
		if p.serves(i) {
			called = called || outs[i].Cool
			if outs[i].Cool != turns[i].On {
				turns[i].On, turns[i].For = outs[i].Cool, 0
			}
		}
	}
	s.Vessels = turns
	v := guard.State{Cool: s.Chiller}.Decide(guard.Relay{}, p.Chiller, guard.Wish{Cool: called})
	s.ChillerOn = v.Cool
	return s, outs
}

func (p *Plant) serves(i int) bool { return i < len(p.Serves) && p.Serves[i] }

// mayStart tells whether the compressor has rested and is not started too often.
func (s PlantState) mayStart(p *Plant) bool {
	if p.Chiller.Profile == guard.Compressor && s.Chiller.Worked && s.Chiller.LastRun+s.Chiller.For < startEvery {
		return false
	}
	return !p.Chiller.Fitted || guard.State{Cool: s.Chiller}.Decide(guard.Relay{}, p.Chiller, guard.Wish{Cool: true}).Cool
}

func (t Turn) count(elapsed time.Duration, wanted bool) Turn {
	t.For += elapsed
	if wanted && !t.On {
		t.Waiting += elapsed
	} else {
		t.Waiting = 0
	}
	return t
}

// makeRoom ends the longest turn where another vessel has waited its slice. The
// vessel that makes room waits from now on, and starts behind the others.
func (p *Plant) makeRoom(turns []Turn, outs, wants []Outputs, free int) int {
	if free > 0 {
		return 0
	}
	next := p.longestWaiting(turns, outs, wants)
	if next < 0 || turns[next].Waiting < slice {
		return 0
	}
	longest := -1
	for i := range outs {
		if p.serves(i) && outs[i].Cool && turns[i].For >= slice && (longest < 0 || turns[i].For > turns[longest].For) {
			longest = i
		}
	}
	if longest < 0 {
		return 0
	}
	outs[longest].Cool = false
	return 1
}

func (p *Plant) longestWaiting(turns []Turn, outs, wants []Outputs) int {
	next := -1
	for i := range outs {
		if p.serves(i) && wants[i].Cool && !outs[i].Cool && !turns[i].On && (next < 0 || turns[i].Waiting > turns[next].Waiting) {
			next = i
		}
	}
	return next
}
