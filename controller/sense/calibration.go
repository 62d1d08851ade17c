package sense

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"example.org/restpoint/controller/units"
)

// MostTerms is how many coefficients a calibration may have: a polynomial of the
// fourth degree. A higher one follows the scatter of what it was fitted to
// (engineering judgement).
const MostTerms = 5

// Calibration makes a gravity of the number that a hydrometer gives, by a
// polynomial. It comes before any correction for temperature. The zero value is
// none: the number is the gravity.
type Calibration struct {
	Terms    [MostTerms]float64 // SG; for the number to the power of 0, 1, 2, ...
	Count    int                // of the terms; 0 = none
	From, To float64            // the numbers that it was made for; both 0 = any
	Own      bool               // the number is the device's own, such as an angle, and no gravity
}

// Pair is a gravity that is known, and what the hydrometer read in it.
type Pair struct{ Reads, Is units.Gravity }

const (
	// leastApart is how far apart two readings must be: one that is a point off
	// (measured scatter 0.8 points) makes 5 % of slope of it.
	leastApart units.Points = 20
	// A hydrometer whose slope is beyond these does not float as one: the two
	// points are swapped or mistyped (engineering judgement).
	flattest = 0.5
	steepest = 2.0
	// Beyond these a slope or an offset is doubtful: hydrometers are found 1 to 5
	// points off (assumption of the noise study).
	doubtfulSlope               = 0.15
	doubtfulOffset units.Points = 10
)

// OfOffset is the calibration of a hydrometer that reads wrong by the same
// everywhere; the offset is what has to be added.
func OfOffset(p units.Points) Calibration {
	return Calibration{Terms: [MostTerms]float64{float64(p) / 1000, 1}, Count: 2}
}

// OfPairs is the straight line through two pairs, in any order.
func OfPairs(a, b Pair) (Calibration, error) {
	apart := b.Reads.Minus(a.Reads)
	if !(math.Abs(float64(apart)) >= float64(leastApart)-1e-9) { // which a NaN is not; 1.0520 - 1.0320 may miss by its last bit
		return Calibration{}, fmt.Errorf("readings of %s and %s are too near each other; they must be %v apart", a.Reads.Fixed(3), b.Reads.Fixed(3), leastApart)
	}
	slope := float64((b.Is - a.Is) / (b.Reads - a.Reads))
	if !(slope >= flattest && slope <= steepest) {
		return Calibration{}, fmt.Errorf("a slope of %.2f is none of a hydrometer; %g to %g is", slope, flattest, steepest)
	}
	return Calibration{Terms: [MostTerms]float64{float64(a.Is) - float64(slope*float64(a.Reads)), slope}, Count: 2}, nil
}

// OfTerms is a polynomial of the device's own number, for numbers between two
// ends; both 0 is any number. Check says whether it can be used.
func OfTerms(terms []float64, from, to float64) Calibration {
	c := Calibration{From: from, To: to, Own: true}
	c.Count = copy(c.Terms[:], terms)
	return c
}

// Given tells whether there is a calibration.
func (c Calibration) Given() bool { return c.Count > 0 }

// Apply gives the gravity that belongs to a number, or false where there is none:
// the number is none, or not one that the calibration was made for.
func (c Calibration) Apply(number float64) (units.Gravity, bool) {
	if math.IsNaN(number) || math.IsInf(number, 0) || c.ranged() && !(number >= c.From && number <= c.To) {
		return 0, false
	}
	if !c.Given() {
		return units.Gravity(number), true
	}
	g := value(c.Terms[:c.Count], number)
	return units.Gravity(g), !math.IsNaN(g) && !math.IsInf(g, 0)
}

// Doubt says why the calibration is not to be believed, or nothing. Of the
// device's own numbers nobody knows what to expect.
func (c Calibration) Doubt() string {
	if c.Own || !c.Given() {
		return ""
	}
	water, _ := c.Apply(1)
	switch off, slope := water.Minus(1), c.Terms[1]; {
	case math.Abs(float64(off)) > float64(doubtfulOffset):
		return fmt.Sprintf("%s in water are beyond %v: another device, or no water", off.Fixed(1), doubtfulOffset)
	case math.Abs(slope-1) > doubtfulSlope:
		return fmt.Sprintf("a slope of %.3f is beyond %g %% of 1: look at what was read", slope, doubtfulSlope*100)
	}
	return ""
}

// Check holds that a greater number is always a greater gravity, wherever it gives
// one that a fermenter can hold, or everywhere between its ends.
func (c Calibration) Check() error {
	if !c.Given() {
		return nil
	}
	terms := trim(c.Terms[:c.Count])
	low, high, err := c.span(terms)
	if err != nil {
		return err
	}
	edges := append(append([]float64{low}, roots(slope(terms), low, high)...), high)
	rising := 0
	for i := 1; i < len(edges); i++ {
		from, to := value(terms, edges[i-1]), value(terms, edges[i])
		beer := max(from, to) > float64(units.LowestGravity) && min(from, to) < float64(units.HighestGravity)
		switch {
		case to > from && beer:
			rising++
		case to <= from && (beer || c.ranged()):
			if i == 1 {
				return fmt.Errorf("it must rise with the number, and it falls up to %.5g at %.4g", to, edges[i])
			}
			return fmt.Errorf("it must rise with the number, and it falls from %.5g at %.4g on", from, edges[i-1])
		}
	}
	switch {
	case rising == 0:
		return fmt.Errorf("it gives no gravity that a fermenter can hold, %v to %v", units.LowestGravity, units.HighestGravity)
	case rising > 1:
		return errors.New("one gravity has several numbers")
	}
	return nil
}

func (c Calibration) ranged() bool { return c.From != 0 || c.To != 0 }

// span is where a polynomial has to be looked at: between its ends, or as far out
// as it can cross any gravity (the bound of Cauchy on the roots).
func (c Calibration) span(terms []float64) (low, high float64, err error) {
	if c.ranged() {
		return c.From, c.To, nil
	}
	if len(terms) < 2 {
		return 0, 0, errors.New("it gives the same gravity for every number")
	}
	most := 2.0 // more than any gravity
	for _, a := range terms {
		most += math.Abs(a)
	}
	far := 1 + most/math.Abs(terms[len(terms)-1])
	if at := value(terms, far); math.IsNaN(at) || math.IsInf(at, 0) {
		return 0, 0, errors.New("its coefficients are no numbers that can be reckoned with")
	}
	return -far, far, nil
}

// trim takes the highest terms away that are nothing.
func trim(terms []float64) []float64 {
	for len(terms) > 0 && terms[len(terms)-1] == 0 {
		terms = terms[:len(terms)-1]
	}
	return terms
}

// value is the polynomial at x, by Horner's rule.
func value(terms []float64, x float64) float64 {
	var y float64
	for _, a := range slices.Backward(terms) {
		y = float64(y*x) + a
	}
	return y
}

// slope is the derivative of a polynomial.
func slope(terms []float64) []float64 {
	if len(terms) < 2 {
		return nil
	}
	out := make([]float64, len(terms)-1)
	for i := range out {
		out[i] = float64(i+1) * terms[i+1]
	}
	return out
}

// roots are where a polynomial changes its sign between two ends, rising: between
// two of its turning points it does so once at most, which halving finds.
func roots(terms []float64, low, high float64) []float64 {
	if len(terms) < 2 {
		return nil
	}
	var out []float64
	from := low
	for _, to := range append(roots(slope(terms), low, high), high) {
		if a, b := value(terms, from), value(terms, to); (a < 0) != (b < 0) {
			out = append(out, halve(terms, from, to))
		}
		from = to
	}
	return out
}

// halvings narrow any interval of floating point numbers down to one.
const halvings = 1100

func halve(terms []float64, low, high float64) float64 {
	below := value(terms, low) < 0
	for range halvings {
		mid := low + float64((high-low)/2)
		if mid <= low || mid >= high {
			break
		}
		if (value(terms, mid) < 0) == below {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}
