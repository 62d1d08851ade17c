package gravity

import "time"

// startedFall is the fall, in points, from which a fermentation counts as begun.
const startedFall = 2.0

// Begun tells whether the gravity has fallen since pitching: from the original
// gravity, or steadily once the device's own start-up is over.
func (s *State) Begun(p Prior) bool { return s.Moving || s.Fallen(p) >= startedFall }

// Lateness is how late a fermentation is to begin.
type Lateness int

// How late it may be.
const (
	InTime Lateness = iota
	Late
	TooLate
)

// Late tells how late a fermentation is that has not begun so long after pitching:
// an ale after 18 and 30 h, a lager, which is slower, after 30 and 48 h (common
// practice).
func (s *State) Late(p Prior, since time.Duration, lager bool) Lateness {
	late, tooLate := 18*time.Hour, 30*time.Hour
	if lager {
		late, tooLate = 30*time.Hour, 48*time.Hour
	}
	switch {
	case !s.Est.Known || s.Begun(p) || since < late:
		return InTime
	case since < tooLate:
		return Late
	}
	return TooLate
}
