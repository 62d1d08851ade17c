package commission

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/units"
)

// Line is one relay that can be switched.
type Line interface {
	Set(on bool) error
}

// Relay is what is to be tried.
type Relay struct {
	Name    string // "fv1 heat"
	Where   string // "gpiochip0 GPIO17, works at the low level"
	Profile guard.Profile
	Line    Line
}

// How long a relay may be on for a look at it.
const (
	ShortestPulse = time.Second
	LongestPulse  = 30 * time.Second
	UsualPulse    = 2 * time.Second
	countdown     = 3
)

// What a person may have seen.
const (
	Right = "right" // this relay went on, and off again
	Other = "other" // another one did
	None  = "none"  // nothing did
	Stays = "stays" // it is still on
)

// Seen lists the answers.
func Seen() []string { return []string{Right, Other, None, Stays} }

// caution is what must be so before the relay is switched, and the word that says
// that it is.
func (r *Relay) caution() (text, word string) {
	switch r.Profile {
	case guard.Heater, guard.SSR:
		return "A heater in an empty tank burns. Fill the tank, or pull the heater's plug.", "yes"
	case guard.Compressor:
		return "A pulse starts a compressor against its own pressure. Pull its plug first; only the relay\nis to be tried.", "unplugged"
	case guard.Valve, guard.Pump:
	}
	return "Valves and pumps may start: hands off, and no hose open.", "yes"
}

// Pulse switches one relay on for a moment, if the person agrees, and asks what
// was seen. It is off on every way out. Refused is true if the person did not agree.
func (t *Talk) Pulse(ctx context.Context, r Relay, d time.Duration) (seen string, refused bool, err error) {
	text, word := r.caution()
	if err := t.say("\n%s (%s), %s\n%s\n", r.Name, r.Profile, r.Where, text); err != nil {
		return "", false, err
	}
	answer, err := t.ask(ctx, "It goes on for %s. Type %q if that may happen now: ", units.Duration(d), word)
	if err != nil {
		return "", false, err
	}
	if !strings.EqualFold(answer, word) {
		return "", true, t.say("Left alone.\n")
	}
	if err := t.drive(ctx, r, d); err != nil {
		return "", false, err
	}
	question := "What happened? right: this one went on and off; other: another one did; none: nothing did;\nstays: it is still on."
	seen, err = t.choose(ctx, question, Seen()...)
	if err == nil && seen == Stays {
		err = errors.Join(r.Line.Set(false), t.say("Switch the mains of what hangs on it OFF now. The contact is welded, the wiring is inverted,\nor \"active\" in the site file is wrong.\n"))
	}
	return seen, false, err
}

// drive counts down and switches the relay on and off.
func (t *Talk) drive(ctx context.Context, r Relay, d time.Duration) (err error) {
	for n := countdown; n > 0; n-- {
		if err := t.say("%d ", n); err != nil {
			return err
		}
		if err := wait(ctx, time.Second); err != nil {
			return fmt.Errorf("count down: %w", err)
		}
	}
	defer func() {
		if off := r.Line.Set(false); off != nil {
			err = errors.Join(err, fmt.Errorf("switch %s off: %w; pull its plug", r.Name, off))
		}
	}()
	if err := t.say("ON\n"); err != nil {
		return err
	}
	if err := r.Line.Set(true); err != nil {
		return fmt.Errorf("switch %s on: %w", r.Name, err)
	}
	if err := wait(ctx, d); err != nil {
		return fmt.Errorf("wait with %s on: %w", r.Name, err)
	}
	return t.say("off\n")
}
