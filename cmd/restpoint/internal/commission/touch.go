package commission

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors"
)

// How long a search may take, and what counts as warmed: a hand brings several
// kelvins to a probe, and a room less than one in two minutes (common practice).
const (
	ShortestTouch               = 10 * time.Second
	LongestTouch                = 30 * time.Minute
	warmed        units.Kelvins = 1
	touchInterval               = time.Second
	clearly       units.Kelvins = 0.25 // more than any other: they are read one after another, and their steps are 0.06 K
	touchStep     units.Kelvins = 0.25 // that is worth a line
	skin          units.Celsius = 33   // of a hand (from memory): it warms nothing that is warmer
)

// Touchable is a thermometer that may be taken in a hand.
type Touchable struct {
	Name   string // no other has it
	Says   string // what to do when it is the one
	Sensor sensors.Sensor
}

// Touch reads all thermometers in turn until one has risen by a kelvin above its own
// start, and clearly more than any other, and names it. It tells whether it found one; that
// the context ended is no error.
func (t *Talk) Touch(ctx context.Context, all []Touchable, d time.Duration) (found bool, err error) {
	if err := t.say("Reading %s. Take the one in question in your hand. Ctrl-C ends.\n", counted(len(all), "probe", "probes")); err != nil {
		return false, err
	}
	searching, enough := context.WithTimeout(ctx, d)
	defer enough()
	poll := sensors.Poll{Interval: touchInterval}
	for _, p := range all {
		poll.Probes = append(poll.Probes, sensors.Probe{ID: controller.ProbeID(p.Name), Sensor: p.Sensor})
	}
	w := watch{talk: t, all: all, seen: make([]warmth, len(all))}
	found, err = follow(searching, poll, w.look)
	if err != nil || found || ctx.Err() != nil {
		return found, err
	}
	return false, t.say("No probe rose by %s in %s. Hold it longer, or ask: restpoint probes list\n", warmed, units.Duration(d))
}

// warmth is what is known of one thermometer.
type warmth struct {
	started, faulty bool
	start, now      units.Celsius
	told            units.Kelvins // the rise that was said last
}

func (w *warmth) rise() units.Kelvins { return w.now.Minus(w.start) }

// watch follows the thermometers.
type watch struct {
	talk *Talk
	all  []Touchable
	seen []warmth
}

// look takes a reading and tells whether its thermometer is the one.
func (w *watch) look(r controller.Reading) (bool, error) {
	i := slices.IndexFunc(w.all, func(p Touchable) bool { return controller.ProbeID(p.Name) == r.Probe })
	if i < 0 {
		return false, nil
	}
	if err := w.take(i, r); err != nil || !w.isTheOne(i) {
		return false, err
	}
	return true, w.name(i)
}

// take notes a reading, and says what is worth a line.
func (w *watch) take(i int, r controller.Reading) error {
	s, name := &w.seen[i], w.all[i].Name
	if r.Fault != controller.NoFault {
		was := s.faulty
		s.faulty = true
		if was {
			return nil
		}
		return w.talk.say("  %s: %s\n", name, Why(r.Fault))
	}
	s.faulty, s.now = false, r.Value.Celsius
	if !s.started {
		s.started, s.start = true, s.now
		return w.talk.say("  %s: %s\n", name, s.now.Fixed(2))
	}
	if math.Abs(float64(s.rise()-s.told)) < float64(touchStep) {
		return nil
	}
	s.told = s.rise()
	return w.talk.say("  %s: %s, %s from its start\n", name, s.now.Fixed(2), signed(s.told))
}

// isTheOne tells whether a thermometer has risen enough, and clearly more than any
// other.
func (w *watch) isTheOne(i int) bool {
	if w.seen[i].faulty || w.seen[i].rise() < warmed || w.seen[i].start > skin {
		return false
	}
	for k := range w.seen {
		if k != i && w.seen[k].start <= skin && w.seen[k].rise() > w.seen[i].rise()-clearly {
			return false
		}
	}
	return true
}

// name says which one it is.
func (w *watch) name(i int) error {
	if err := w.talk.say("It is %s, %s from its start", w.all[i].Name, signed(w.seen[i].rise())); err != nil {
		return err
	}
	next := -1
	for k := range w.seen {
		if k != i && w.seen[k].started && (next < 0 || w.seen[k].rise() > w.seen[next].rise()) {
			next = k
		}
	}
	if next >= 0 {
		if err := w.talk.say("; the next one, %s, moved by %s", w.all[next].Name, signed(w.seen[next].rise())); err != nil {
			return err
		}
	}
	return w.talk.say(".\n%s\n", w.all[i].Says)
}

func signed(d units.Kelvins) string { return fmt.Sprintf("%+.2f K", float64(d)) }
