package sense

import (
	"slices"
	"time"

	"example.org/restpoint/controller/units"
)

// Apart is how far two thermometers in one beer may be from each other: beyond, for
// half an hour outside of a crash, one of them is doubted (engineering judgement).
const (
	Apart     units.Kelvins = 1.5
	ApartFor                = 30 * time.Minute
	together  units.Kelvins = 0.75 // the other two must agree so well, else the beer lies in layers
	backAmong units.Kelvins = 1    // so near to the median it is believed again
)

// Odd is the one of three thermometers that the other two contradict. With two
// nobody can tell which.
type Odd struct {
	Of  int           // its place from 1 on; 0 = none
	For time.Duration // it has been so, or has agreed again, for so long
	Out bool          // it is left out
}

// Step lets the median of three decide. Where the beer may lie in layers nothing is
// judged, and what was left out stays out.
func (o Odd) Step(w *Wells, n int, judged bool, elapsed time.Duration) Odd {
	if n < MostWells {
		return Odd{}
	}
	for i := range w {
		judged = judged && w[i].Usable()
	}
	if !judged {
		if o.For = 0; !o.Out {
			o.Of = 0
		}
		return o
	}
	by := []units.Celsius{w[0].Celsius, w[1].Celsius, w[2].Celsius}
	slices.Sort(by)
	if o.Out {
		return o.out(abs(w[o.Of-1].Celsius.Minus(by[1])) <= backAmong, elapsed)
	}
	odd := 0
	switch low, high := by[1].Minus(by[0]), by[2].Minus(by[1]); {
	case low > Apart && high <= together:
		odd = w.at(by[0])
	case high > Apart && low <= together:
		odd = w.at(by[2])
	}
	if odd != o.Of {
		return Odd{Of: odd}
	}
	if odd == 0 {
		return o
	}
	o.For += elapsed
	if o.For >= ApartFor {
		o.For, o.Out = 0, true
	}
	return o
}

// out is one that is left out, until it has agreed for as long as it was doubted.
func (o Odd) out(agrees bool, elapsed time.Duration) Odd {
	if !agrees {
		o.For = 0
		return o
	}
	if o.For += elapsed; o.For >= ApartFor {
		return Odd{}
	}
	return o
}

// at gives the place, from 1 on, of a temperature.
func (w *Wells) at(t units.Celsius) int {
	for i := range w {
		if w[i].Celsius == t {
			return i + 1
		}
	}
	return 0
}

// Without gives the thermometers with the odd one failed.
func (w Wells) Without(o Odd) Wells {
	if o.Out && o.Of > 0 && o.Of <= len(w) {
		w[o.Of-1].Failed, w[o.Of-1].Fault = true, Contradicted
	}
	return w
}
