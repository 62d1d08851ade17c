package units

// Celsius is a temperature on the Celsius scale.
type Celsius float64

// Kelvins is a difference between two temperatures.
type Kelvins float64

// KelvinsPerHour is how fast a temperature moves.
type KelvinsPerHour float64

// Both are exact by definition of the Fahrenheit scale.
const (
	fahrenheitZero = 32
	fahrenheitStep = 5.0 / 9
)

const (
	wantCelsius = `a temperature such as "19 C" or "66 F"`
	wantKelvins = `a difference of temperature such as "2 K" or "4 F"`
	wantRate    = `a rate such as "1 C/h" or "2 F/h" or "3 C/d"`
)

// Fahrenheit gives the temperature for degrees Fahrenheit.
func Fahrenheit(f float64) Celsius { return Celsius((f - fahrenheitZero) * 5 / 9) }

// ParseCelsius reads "19 C" or "66 F".
func ParseCelsius(text string) (Celsius, error) {
	v, unit, err := split(text, wantCelsius)
	if err != nil {
		return 0, err
	}
	switch unit {
	case "C", "°C":
		return Celsius(v), nil
	case "F", "°F":
		return Fahrenheit(v), nil
	case "":
		return 0, &ParseError{text, wantCelsius, "the unit is missing"}
	case "K":
		return 0, &ParseError{text, wantCelsius, "K is for differences"}
	default:
		return 0, &ParseError{Text: text, Want: wantCelsius}
	}
}

// ParseKelvins reads a difference: "2 K" or "4 F".
func ParseKelvins(text string) (Kelvins, error) {
	v, err := scaled(text, wantKelvins, "a difference is written in K or F",
		map[string]float64{"K": 1, "F": fahrenheitStep, "°F": fahrenheitStep})
	return Kelvins(v), err
}

// ParseRate reads "1 C/h", "0.5 K/h", "2 F/h" or any of these a day ("/d").
func ParseRate(text string) (KelvinsPerHour, error) {
	v, err := scaled(text, wantRate, "", map[string]float64{
		"C/h": 1, "K/h": 1, "F/h": fahrenheitStep,
		"C/d": 1.0 / 24, "K/d": 1.0 / 24, "F/d": fahrenheitStep / 24,
	})
	return KelvinsPerHour(v), err
}

// Minus is the difference t - o.
func (t Celsius) Minus(o Celsius) Kelvins { return Kelvins(t - o) }

// Plus is the temperature moved by a difference.
func (t Celsius) Plus(d Kelvins) Celsius { return t + Celsius(d) }

// Fahrenheit gives the temperature in degrees Fahrenheit.
func (t Celsius) Fahrenheit() float64 { return float64(float64(t)*9/5) + fahrenheitZero }

// Fahrenheit gives the difference in degrees Fahrenheit: no offset of the scale.
func (d Kelvins) Fahrenheit() float64 { return float64(d) / fahrenheitStep }

// Fahrenheit gives the rate in degrees Fahrenheit an hour.
func (r KelvinsPerHour) Fahrenheit() float64 { return float64(r) / fahrenheitStep }

func (t Celsius) String() string        { return exact(float64(t)) + " C" }
func (d Kelvins) String() string        { return exact(float64(d)) + " K" }
func (r KelvinsPerHour) String() string { return exact(float64(r)) + " K/h" }

// Fixed prints with a fixed number of decimals, for people.
func (t Celsius) Fixed(decimals int) string { return fixed(float64(t), decimals) + " C" }

// Fixed prints with a fixed number of decimals, for people.
func (d Kelvins) Fixed(decimals int) string { return fixed(float64(d), decimals) + " K" }
