package watch

import "time"

const dayHours = 24

// Duty is how much of each of the last hours cooling was on.
type Duty struct {
	Hour int64             // number of the open hour
	On   [dayHours]float32 // s
	Seen [dayHours]float32 // s that were counted at all
}

// Step counts.
func (d *Duty) Step(age time.Duration, on bool, elapsed time.Duration) {
	hour := int64(age / time.Hour)
	if hour < d.Hour || hour-d.Hour >= dayHours {
		*d = Duty{Hour: hour}
	}
	for h := d.Hour + 1; h <= hour; h++ {
		d.On[h%dayHours], d.Seen[h%dayHours] = 0, 0
	}
	d.Hour = hour
	d.Seen[hour%dayHours] += float32(elapsed.Seconds())
	if on {
		d.On[hour%dayHours] += float32(elapsed.Seconds())
	}
}

// leastSeen is how much of the day must have been counted for its mean to say
// anything: night and noon differ.
const leastSeen = 12 * time.Hour

// Mean is the share of the last day in which cooling was on, where enough of it was
// seen.
func (d *Duty) Mean() (float64, bool) {
	on, seen := 0.0, 0.0
	for h := range d.On {
		on += float64(d.On[h])
		seen += float64(d.Seen[h])
	}
	if seen < leastSeen.Seconds() {
		return 0, false
	}
	return on / seen, true
}

const (
	startBin  = 5 * time.Minute
	startBins = int64(time.Hour / startBin)
)

// Starts counts how often a relay went on within the last hour.
type Starts struct {
	Bin  int64
	N    [startBins]int32
	Last int64 // switchings counted so far
	Init bool
}

// Step counts, from the number of switchings of the relay's life.
func (s *Starts) Step(age time.Duration, switches int64) {
	bin := int64(age / startBin)
	if !s.Init || bin < s.Bin || bin-s.Bin >= startBins || switches < s.Last {
		was := s.Last
		if !s.Init || switches < was {
			was = switches // of before anybody counted
		}
		*s = Starts{Bin: bin, Last: was, Init: true}
	}
	for b := s.Bin + 1; b <= bin; b++ {
		s.N[b%startBins] = 0
	}
	s.Bin = bin
	s.N[bin%startBins] += int32(min(1000, switches-s.Last))
	s.Last = switches
}

// Hour is how many starts the last hour saw.
func (s *Starts) Hour() int64 {
	sum := int64(0)
	for _, n := range s.N {
		sum += int64(n)
	}
	return sum
}
