package units

import "math"

// Pascals is a pressure. Gauges show it above that of the air.
type Pascals float64

// Metres is a height above the sea.
type Metres float64

// Exact by definition of the units.
const (
	PascalsPerPSI  = 0.45359237 * 9.80665 / (0.0254 * 0.0254)
	PascalsPerBar  = 100000
	PascalsPerKilo = 1000
	// Atmosphere is the standard pressure of the air at sea level.
	Atmosphere Pascals = 101325

	metresPerFoot = 0.3048
)

const (
	wantPascals = `a pressure such as "0.8 bar", "80 kPa", "12 psi" or "1 atm"`
	wantMetres  = `a height such as "1500 m" or "5000 ft"`
)

// ParsePascals reads "0.8 bar", "80 kPa", "12 psi", "1 atm" or "500 Pa".
func ParsePascals(text string) (Pascals, error) {
	v, err := scaled(text, wantPascals, "", map[string]float64{
		"bar": PascalsPerBar, "kPa": PascalsPerKilo, "psi": PascalsPerPSI, "atm": float64(Atmosphere), "Pa": 1,
	})
	return Pascals(v), err
}

// ParseMetres reads "1500 m" or "5000 ft".
func ParseMetres(text string) (Metres, error) {
	v, err := scaled(text, wantMetres, "", map[string]float64{"m": 1, "ft": metresPerFoot})
	return Metres(v), err
}

// PSI gives pounds a square inch.
func (p Pascals) PSI() float64 { return float64(p) / PascalsPerPSI }

// Bar gives bar.
func (p Pascals) Bar() float64 { return float64(p) / PascalsPerBar }

// Kilo gives kilopascals.
func (p Pascals) Kilo() float64 { return float64(p) / PascalsPerKilo }

// Atmospheres gives standard atmospheres.
func (p Pascals) Atmospheres() float64 { return float64(p / Atmosphere) }

// Feet gives feet.
func (m Metres) Feet() float64 { return float64(m) / metresPerFoot }

func (p Pascals) String() string { return exact(float64(p)) + " Pa" }
func (m Metres) String() string  { return exact(float64(m)) + " m" }

// Air is the usual pressure of the air at a height, by the formula of the ICAO
// standard atmosphere up to 11000 m (from memory). Weather moves it by 3 %.
func Air(height Metres) Pascals {
	const (
		fall     = 2.25577e-5 // a metre: 6.5 K a kilometre of 288.15 K
		exponent = 5.25588
	)
	return Pascals(float64(float64(Atmosphere) * math.Pow(1-float64(fall*float64(height)), exponent)))
}

// AtSeaLevel is what a gauge at sea level shows for the same pressure above a vacuum
// as p on a gauge at that height.
func (p Pascals) AtSeaLevel(height Metres) Pascals { return p + Air(height) - Atmosphere }

// AtHeight is the inverse of AtSeaLevel.
func (p Pascals) AtHeight(height Metres) Pascals { return p + Atmosphere - Air(height) }
