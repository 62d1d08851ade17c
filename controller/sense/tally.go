package sense

import "time"

// tallyHours is how many hours a tally goes back: a day.
const tallyHours = 24

// Tally counts the readings of a probe over the last day, hour by hour, and those
// among them that were not believed. It decides nothing.
type Tally struct {
	Hour     int64 // number of the open hour
	All      [tallyHours]int
	Rejected [tallyHours]int
	Why      string // the newest rejection's
}

// At is the tally at a counted time: hours of more than a day ago are forgotten.
func (t Tally) At(now time.Duration) Tally {
	hour := int64(now / time.Hour)
	if hour == t.Hour {
		return t
	}
	if hour < t.Hour || hour-t.Hour >= tallyHours {
		return Tally{Hour: hour}
	}
	for h := t.Hour + 1; h <= hour; h++ {
		t.All[h%tallyHours], t.Rejected[h%tallyHours] = 0, 0
	}
	t.Hour = hour
	return t
}

// Accept counts a reading that was believed.
func (t Tally) Accept() Tally {
	t.All[t.Hour%tallyHours]++
	return t
}

// Reject counts one that was not.
func (t Tally) Reject(why string) Tally {
	t = t.Accept()
	t.Rejected[t.Hour%tallyHours]++
	t.Why = why
	return t
}

// Sum is how many readings there were in the last day, and how many of them were
// not believed.
func (t Tally) Sum() (all, rejected int) {
	for h := range t.All {
		all += t.All[h]
		rejected += t.Rejected[h]
	}
	return all, rejected
}
