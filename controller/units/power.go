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
