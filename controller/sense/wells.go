package sense

import "example.org/restpoint/controller/units"

// MostWells is how many thermowells a vessel may have: top, middle and bottom.
const MostWells = 3

// Wells are the thermometers in a vessel's thermowells. The first is the one that
// control goes by, unless it goes by the mean.
type Wells [MostWells]Thermometer

// Beer is the beer's temperature from the first n thermowells: that of the first,
// or the mean of all. Where one of those that control goes by has failed, the
// ones left stand in for it, and backup says so: control then keeps to a wider
// band, because beer lies in layers. If none can be used, it is the first one,
// failed as it is.
func (w Wells) Beer(n int, mean bool) (beer Thermometer, backup bool) {
	first := w[0]
	if n <= 1 || !mean && first.Usable() {
		return first, false
	}
	sum, used, failed := 0.0, 0, false
	var oldest Thermometer
	for _, t := range w[:n] {
		if !t.Usable() {
			failed = failed || !t.Sound()
			continue
		}
		sum += float64(t.Celsius)
		used++
		if used == 1 || t.Age > oldest.Age {
			oldest = t
		}
	}
	if used == 0 || !mean && first.Sound() {
		return first, false // not one of them, or the first has not spoken yet
	}
	oldest.Celsius = units.Celsius(sum / float64(used))
	return oldest, failed
}

// Usable tells whether any of the first n thermowells can be used.
func (w Wells) Usable(n int) bool {
	for _, t := range w[:n] {
		if t.Usable() {
			return true
		}
	}
	return false
}

// Spread is how far the warmest and the coldest of the first n thermowells lie
// apart; it is known when two of them can be used.
func (w Wells) Spread(n int) (units.Kelvins, bool) {
	var low, high units.Celsius
	used := 0
	for _, t := range w[:n] {
		if !t.Usable() {
			continue
		}
		if used++; used == 1 {
			low, high = t.Celsius, t.Celsius
		}
		low, high = min(low, t.Celsius), max(high, t.Celsius)
	}
	return high.Minus(low), used > 1
}
