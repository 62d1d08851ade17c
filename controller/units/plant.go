package units

// Litres is a volume of beer.
type Litres float64

// Watts is a power.
type Watts float64

// Volumes is dissolved carbon dioxide: litres of gas at 0 C and 1 atm in a litre of beer.
type Volumes float64

const (
	litresPerUSGallon = 3.785411784   // exact: 231 cubic inches
	litresPerUSBarrel = 117.347765304 // exact: 31 US gallons
	wantLitres        = `a volume such as "60 L", "10 hL", "5 gal" (US) or "7 bbl" (US beer)`
	wantWatts         = `a power such as "80 W" or "1.5 kW"`
	wantVolumes       = `a carbonation such as "2.5 volumes"`
)

// ParseLitres reads "60 L", "10 hL", "5 gal" (US) or "7 bbl" (US beer barrels).
func ParseLitres(text string) (Litres, error) {
	v, err := scaled(text, wantLitres, "", map[string]float64{
		"L": 1, "l": 1, "hL": 100, "hl": 100, "gal": litresPerUSGallon, "bbl": litresPerUSBarrel,
	})
	return Litres(v), err
}

// ParseWatts reads "80 W" or "1.5 kW".
func ParseWatts(text string) (Watts, error) {
	v, err := scaled(text, wantWatts, "", map[string]float64{"W": 1, "kW": 1000})
	return Watts(v), err
}

// ParseVolumes reads "2.5 volumes".
func ParseVolumes(text string) (Volumes, error) {
	v, err := scaled(text, wantVolumes, "", map[string]float64{"volumes": 1, "volume": 1})
	return Volumes(v), err
}

func (v Litres) String() string  { return exact(float64(v)) + " L" }
func (w Watts) String() string   { return exact(float64(w)) + " W" }
func (v Volumes) String() string { return exact(float64(v)) + " volumes" }
