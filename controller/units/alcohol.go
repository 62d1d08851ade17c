package units

// MassPercent is alcohol in per cent by mass of the beer.
type MassPercent float64

// VolumePercent is alcohol in per cent by volume of the beer, as labels have it.
type VolumePercent float64

// Balling: so many grams of real extract make a gram of alcohol, less what the
// yeast takes for itself; as quoted by Spencer (attenuation).
const (
	ballingAlcohol = 2.0665
	ballingYeast   = 0.010665
	// ethanolDensity is the gravity of ethanol at 20/20 C as ASBC Beer-4 uses it
	// (from memory).
	ethanolDensity = 0.791
)

// AlcoholBalling is the alcohol from the real extract fermented, after Balling.
func AlcoholBalling(original, apparent Plato) MassPercent {
	fermented := float64(original - RealExtract(original, apparent))
	return MassPercent(fermented / (ballingAlcohol - float64(ballingYeast*float64(original))))
}

// AlcoholCutaia is the alcohol by the fit of Cutaia, Reid and Speers to breweries'
// analyses (J. Inst. Brew. 115, 2009, table VI).
func AlcoholCutaia(original, apparent Plato) MassPercent {
	return MassPercent(float64(original-apparent) * (0.372 + float64(0.00357*float64(original))))
}

// AlcoholQuick is the rule that brewers keep in the head, 131.25 times the fall of
// gravity (quoted in a brewers' forum). It falls behind in strong beer.
func AlcoholQuick(original, final Gravity) VolumePercent {
	return VolumePercent(131.25 * float64(original-final))
}

// ByVolume turns per cent by mass to per cent by volume by the beer's own gravity
// and that of ethanol (ASBC Beer-4).
func (a MassPercent) ByVolume(beer Gravity) VolumePercent {
	return VolumePercent(float64(a) * float64(beer) / ethanolDensity)
}

// ByMass is the inverse of ByVolume.
func (a VolumePercent) ByMass(beer Gravity) MassPercent {
	return MassPercent(float64(a) * ethanolDensity / float64(beer))
}

// OriginalExtract is what a beer's wort held, from its alcohol and the real
// extract left (ASBC Beer-6, from memory; the exact inverse of AlcoholBalling).
func OriginalExtract(alcohol MassPercent, left Plato) Plato {
	a := float64(alcohol)
	return Plato(100 * (float64(ballingAlcohol*a) + float64(left)) / (100 + float64(100*ballingYeast*a)))
}

func (a MassPercent) String() string   { return exact(float64(a)) + " % by mass" }
func (a VolumePercent) String() string { return exact(float64(a)) + " % by volume" }

// Fixed prints with a fixed number of decimals, for people.
func (a MassPercent) Fixed(decimals int) string { return fixed(float64(a), decimals) + " % by mass" }

// Fixed prints with a fixed number of decimals, for people.
func (a VolumePercent) Fixed(decimals int) string {
	return fixed(float64(a), decimals) + " % by volume"
}
