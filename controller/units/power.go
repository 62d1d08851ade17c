package units

// Watts is a power.
type Watts float64

const wantWatts = `a power such as "80 W" or "1.5 kW"`

// ParseWatts reads "80 W" or "1.5 kW".
func ParseWatts(text string) (Watts, error) {
	v, err := scaled(text, wantWatts, "", map[string]float64{"W": 1, "kW": 1000})
	return Watts(v), err
}

func (w Watts) String() string { return exact(float64(w)) + " W" }

// WattsPerKelvin is how much heat a vessel loses to its surroundings for each
// kelvin that it is warmer.
type WattsPerKelvin float64

// ParseWattsPerKelvin reads "1.5 W/K".
func ParseWattsPerKelvin(text string) (WattsPerKelvin, error) {
	v, err := scaled(text, `a loss such as "1.5 W/K"`, "", map[string]float64{"W/K": 1})
	return WattsPerKelvin(v), err
}

func (w WattsPerKelvin) String() string { return exact(float64(w)) + " W/K" }
