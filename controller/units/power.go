package units

// Watts is a power.
type Watts float64

const (
	wattsPerKilo = 1000
	wantWatts    = `a power such as "80 W" or "1.5 kW"`
)

// ParseWatts reads "80 W" or "1.5 kW".
func ParseWatts(text string) (Watts, error) {
	v, err := scaled(text, wantWatts, "", map[string]float64{"W": 1, "kW": wattsPerKilo})
	return Watts(v), err
}

// Kilowatts gives thousands of watts.
func (w Watts) Kilowatts() float64 { return float64(w) / wattsPerKilo }

func (w Watts) String() string { return exact(float64(w)) + " W" }
