package units

// Alcohol of a beer from its extracts after Balling, whose factors say how much
// extract makes how much alcohol. All by mass unless the name says volume.

// Balling's factors, as quoted by Spencer (attenuation): the share of the original
// in the real extract, and the alcohol from a gram of real extract.
const (
	ballingOriginal = 0.1808
	ballingApparent = 0.8192
	ballingAlcohol  = 2.0665
	ballingYeast    = 0.010665
	// ethanolDensity is the gravity of ethanol at 20/20 C as ASBC Beer-4 uses it
	// (from memory).
	ethanolDensity = 0.791
	// rdfFactor is the ASBC's correction of the real degree of fermentation (from
	// memory; Savel et al. 2020 say that it raises Balling's by 1 to 2 %).
	rdfFactor = 0.005161
)

// RealExtract is the extract that is left in a beer, without what alcohol hides
// from a hydrometer (Balling).
func RealExtract(original, apparent Plato) Plato {
	return Plato(float64(ballingOriginal*float64(original)) + float64(ballingApparent*float64(apparent)))
}

// AlcoholByMass is the alcohol in per cent by mass (Balling).
func AlcoholByMass(original, apparent Plato) float64 {
	fermented := float64(original - RealExtract(original, apparent))
	return fermented / (ballingAlcohol - float64(ballingYeast*float64(original)))
}

// AlcoholByVolume is the alcohol in per cent by volume: Balling's by mass, turned
// by the beer's gravity and that of ethanol (ASBC Beer-4). Honest to 0.15.
func AlcoholByVolume(original, final Gravity) float64 {
	return AlcoholByMass(original.Plato(), final.Plato()) * float64(final) / ethanolDensity
}

// AlcoholByMassCutaia is the alcohol by mass by the fit of Cutaia, Reid and Speers
// (J. Inst. Brew. 115, 2009, table VI).
func AlcoholByMassCutaia(original, apparent Plato) float64 {
	return float64(original-apparent) * (0.372 + float64(0.00357*float64(original)))
}

// OriginalExtract is what a beer's wort held, from the alcohol by mass and the
// real extract (Balling, the exact inverse of AlcoholByMass).
func OriginalExtract(alcohol float64, left Plato) Plato {
	return Plato(100 * (float64(ballingAlcohol*alcohol) + float64(left)) / (100 + float64(1.0665*alcohol)))
}

// RealDegreeOfFermentation is the share of the extract that is really gone, in
// per cent, as the ASBC reports it.
func RealDegreeOfFermentation(original, apparent Plato) float64 {
	if original <= 0 {
		return 0
	}
	left := float64(RealExtract(original, apparent))
	return 100 * (float64(original) - left) / float64(original) / (1 - float64(rdfFactor*left))
}
