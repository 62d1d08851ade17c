package units

import "errors"

// Lot is some beer or wort of one gravity.
type Lot struct {
	Volume  Litres
	Gravity Gravity
}

// Blend gives all the lots together: volumes add, gravities by their volumes. That
// sugar and water shrink a little when mixed is left out: below 0.05 points between
// worts of 1.030 to 1.060, 0.3 points between a wort of 1.100 and water.
func Blend(lots ...Lot) (Lot, error) {
	var volume, mass float64
	for _, l := range lots {
		if !(l.Volume > 0) {
			return Lot{}, errors.New("a volume that is blended must be above zero")
		}
		volume += float64(l.Volume)
		mass += float64(float64(l.Volume) * float64(l.Gravity))
	}
	if len(lots) == 0 {
		return Lot{}, errors.New("nothing is blended")
	}
	return Lot{Litres(volume), Gravity(mass / volume)}, nil
}
