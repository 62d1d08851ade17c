package main

import (
	"math"
	"slices"
	"time"
)

// The search for the best train of pulses knows the vessel, the room, the yeast and
// what will come. It begins with a train and shifts the edges of all its pulses
// together by damped least squares, each simulated in the true model, as long as
// that gets better. No pulse is added: it has no more starts than it began with.

// pulse is one run of a relay, in steps.
type pulse struct {
	at, long int
	heat     bool
}

// pulses takes a train apart.
func pulses(t train) []pulse {
	var out []pulse
	for i, l := range t {
		if !l.Heat && !l.Cool {
			continue
		}
		if n := len(out); n > 0 && out[n-1].heat == l.Heat && out[n-1].at+out[n-1].long == i {
			out[n-1].long++
			continue
		}
		out = append(out, pulse{i, 1, l.Heat})
	}
	return out
}

// evenly spreads the same pulses, all of one length, over the whole time. It
// leaves a train with both heat and cold as it is.
func evenly(list []pulse, steps int) []pulse {
	sum := 0
	for _, p := range list {
		if sum += p.long; p.heat != list[0].heat {
			return nil
		}
	}
	out := slices.Clone(list)
	for i := range out {
		out[i].at, out[i].long = (2*i+1)*steps/(2*len(out)), sum/len(out)
		out[i].at -= out[i].long / 2
	}
	return out
}

const (
	samples = 6 // steps between two looks at the beer
	rounds  = 8
)

// search is one at work.
type search struct {
	c    *cellar
	from world
	n    int // steps
}

// tape plays a train of pulses to the vessel.
type tape struct {
	list []pulse
	next int
}

func (t *tape) at(i int) levels {
	for t.next < len(t.list) && i >= t.list[t.next].at+t.list[t.next].long {
		t.next++
	}
	if t.next < len(t.list) && i >= t.list[t.next].at {
		return levels{Heat: t.list[t.next].heat, Cool: !t.list[t.next].heat}
	}
	return levels{}
}

// moment is the vessel as it was before a pulse.
type moment struct {
	world
	at int
}

// run gives the beer's errors under a train of pulses from a moment on, and the
// moments before its pulses if they are wanted.
func (s *search) run(list []pulse, from moment, marks bool) ([]float64, []moment) {
	w, t := from.copied(), tape{list: list}
	errs := make([]float64, 0, (s.n-from.at)/samples+1)
	var before []moment
	for i := from.at; i < s.n; i++ {
		for marks && len(before) < len(list) && list[len(before)].at == i {
			before = append(before, moment{w.copied(), i})
		}
		if i%samples == 0 {
			errs = append(errs, float64(w.beer.Beer().Minus(s.c.target)))
		}
		w.advance(t.at(i))
	}
	return errs, before
}

// judge gives the score of a train.
func (s *search) judge(list []pulse) score {
	w, t := s.from.copied(), tape{list: list}
	begin := w.beer.Ledger()
	var sc score
	var was levels
	for i := range s.n {
		now := t.at(i)
		sc.look(float64(w.beer.Beer().Minus(s.c.target)), was, now)
		was = now
		w.advance(now)
	}
	sc.done(begin, w.beer.Ledger())
	return sc
}

func squares(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return sum
}

// best improves a train.
func (s *search) best(list []pulse) score {
	list = s.mend(list)
	errs, before := s.run(list, s.begin(), true)
	cost, reach := squares(errs), 60.0
	for range rounds {
		moves := s.solve(list, errs, before, reach)
		tried := s.mend(s.moved(list, moves))
		got, marks := s.run(tried, s.begin(), true)
		better := squares(got)
		if better < cost {
			done := better > 0.995*cost
			list, errs, before, cost = tried, got, marks, better
			if done {
				break
			}
			continue
		}
		if reach /= 4; reach < 1 {
			break
		}
	}
	return s.judge(list)
}

func (s *search) begin() moment { return moment{s.from, 0} }

func (s *search) moved(list []pulse, by []float64) []pulse {
	out := slices.Clone(list)
	for i := range out {
		out[i].at += int(math.Round(by[2*i]))
		out[i].long += int(math.Round(by[2*i+1]))
	}
	return out
}

// solve gives by how many steps each pulse shall move and grow, in a model that
// was straightened about the train as it is.
func (s *search) solve(list []pulse, errs []float64, before []moment, reach float64) []float64 {
	n := 2 * len(list)
	slopes := make([][]float64, n)
	for i := range n {
		moved := slices.Clone(list)
		by := 3
		if i%2 == 0 {
			moved[i/2].at += by
		} else {
			moved[i/2].long += by
		}
		got, _ := s.run(moved, before[i/2], false)
		// What was before the pulse did not change.
		slope := make([]float64, len(errs))
		first := len(errs) - len(got)
		for k, x := range got {
			slope[first+k] = (x - errs[first+k]) / float64(by)
		}
		slopes[i] = slope
	}
	return descend(slopes, errs, reach)
}

// descend minimises |errs + slopes x| with every x within reach, one after another.
func descend(slopes [][]float64, errs []float64, reach float64) []float64 {
	left := slices.Clone(errs)
	x := make([]float64, len(slopes))
	for range 60 {
		for i, s := range slopes {
			den, num := squares(s), 0.0
			if den < 1e-12 {
				continue
			}
			for k := range s {
				num += s[k] * left[k]
			}
			to := min(reach, max(-reach, x[i]-num/den))
			d := to - x[i]
			if d == 0 {
				continue
			}
			for k := range s {
				left[k] += d * s[k]
			}
			x[i] = to
		}
	}
	return x
}

// mend makes a train one that the guard lets through: minimum times on and off,
// one after the other. What does not fit is pushed later.
func (s *search) mend(list []pulse) []pulse {
	out := slices.Clone(list)
	free := 0
	for i := range out {
		r := s.c.cool
		if out[i].heat {
			r = s.c.heat
		}
		rest := steps(r.MinOff)
		if i > 0 && out[i-1].heat != out[i].heat {
			rest = max(rest, steps(changing))
		}
		out[i].long = max(out[i].long, steps(r.MinOn))
		if i > 0 {
			out[i].at = max(out[i].at, free+rest)
		}
		out[i].at = max(out[i].at, 0)
		free = out[i].at + out[i].long
	}
	for len(out) > 0 && out[len(out)-1].at+out[len(out)-1].long > s.n {
		last := &out[len(out)-1]
		if last.long = s.n - last.at; last.long >= 1 && last.at >= 0 {
			break
		}
		out = out[:len(out)-1]
	}
	return out
}

// changing is the dead time of the guard between cooling and heating.
const changing = 20 * time.Minute

func steps(d time.Duration) int { return int((d + step - 1) / step) }
