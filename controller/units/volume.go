package units

// Litres is a volume of beer.
type Litres float64

// Exact by definition, but for the word "barrel": this one is that of US beer.
const (
	litresPerHecto          = 100
	litresPerUSGallon       = 3.785411784   // 231 cubic inches
	litresPerUSBarrel       = 117.347765304 // 31 US gallons
	litresPerImperialGallon = 4.54609
	wantLitres              = `a volume such as "60 L", "10 hL", "5 gal" (US) or "7 bbl" (US beer)`
)

// ParseLitres reads "60 L", "10 hL", "5 gal" (US), "7 bbl" (US beer barrels) or
// "4 imp gal".
func ParseLitres(text string) (Litres, error) {
	v, err := scaled(text, wantLitres, "", map[string]float64{
		"L": 1, "l": 1, "hL": litresPerHecto, "hl": litresPerHecto,
		"gal": litresPerUSGallon, "bbl": litresPerUSBarrel, "imp gal": litresPerImperialGallon,
	})
	return Litres(v), err
}

// Hectolitres gives hundreds of litres.
func (v Litres) Hectolitres() float64 { return float64(v) / litresPerHecto }

// USGallons gives US gallons.
func (v Litres) USGallons() float64 { return float64(v) / litresPerUSGallon }

// USBarrels gives US beer barrels.
func (v Litres) USBarrels() float64 { return float64(v) / litresPerUSBarrel }

// ImperialGallons gives imperial gallons.
func (v Litres) ImperialGallons() float64 { return float64(v) / litresPerImperialGallon }

func (v Litres) String() string { return exact(float64(v)) + " L" }
