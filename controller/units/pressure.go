package units

// Pascals is a pressure. Gauges show it above that of the air.
type Pascals float64

// Exact by definition of the units.
const (
	PascalsPerPSI  = 0.45359237 * 9.80665 / (0.0254 * 0.0254)
	PascalsPerBar  = 100000
	PascalsPerKilo = 1000
	// Atmosphere is the standard pressure of the air at sea level.
	Atmosphere Pascals = 101325
)

const wantPascals = `a pressure such as "0.8 bar", "80 kPa" or "12 psi"`

// ParsePascals reads "0.8 bar", "80 kPa", "12 psi" or "500 Pa".
func ParsePascals(text string) (Pascals, error) {
	v, err := scaled(text, wantPascals, "", map[string]float64{"bar": PascalsPerBar, "kPa": PascalsPerKilo, "psi": PascalsPerPSI, "Pa": 1})
	return Pascals(v), err
}

// PSI gives pounds a square inch.
func (p Pascals) PSI() float64 { return float64(p) / PascalsPerPSI }

// Bar gives bar.
func (p Pascals) Bar() float64 { return float64(p) / PascalsPerBar }

// Kilo gives kilopascals.
func (p Pascals) Kilo() float64 { return float64(p) / PascalsPerKilo }

func (p Pascals) String() string { return exact(float64(p)) + " Pa" }
