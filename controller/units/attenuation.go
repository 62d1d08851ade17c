package units

// Attenuation is the share of the extract that is gone, 0 to 1. Apparent: as the
// hydrometer shows it, alcohol making the beer lighter than its extract. Real:
// without what the alcohol hides.

// Balling's shares of the original and the apparent extract in the real one, as
// quoted by Spencer (attenuation).
const (
	ballingOriginal = 0.1808
	ballingApparent = 0.8192
	// rdfFactor is the ASBC's correction of the real degree of fermentation (from
	// memory; Savel et al. 2020 say that it raises Balling's by 1 to 2 %).
	rdfFactor = 0.005161
)

// ApparentAttenuationByPoints is (original - now) / (original - 1) of gravities. It
// is 0.005 to 0.016 above the same figure by degrees Plato.
func ApparentAttenuationByPoints(original, now Gravity) float64 {
	if original <= 1 {
		return 0
	}
	return float64(original-now) / float64(original-1)
}

// ApparentAttenuationByPlato is (original - apparent) / original of extracts.
func ApparentAttenuationByPlato(original, apparent Plato) float64 {
	if original <= 0 {
		return 0
	}
	return float64(original-apparent) / float64(original)
}

// RealExtract is the extract that is left in a beer, without what alcohol hides
// from a hydrometer (Balling).
func RealExtract(original, apparent Plato) Plato {
	return Plato(float64(ballingOriginal*float64(original)) + float64(ballingApparent*float64(apparent)))
}

// RealAttenuation is the share of the extract that is really gone (Balling).
func RealAttenuation(original, apparent Plato) float64 {
	if original <= 0 {
		return 0
	}
	return float64(original-RealExtract(original, apparent)) / float64(original)
}

// RealDegreeOfFermentation is RealAttenuation raised by the ASBC's factor, 1 to 3
// percentage points in beer.
func RealDegreeOfFermentation(original, apparent Plato) float64 {
	return RealAttenuation(original, apparent) / (1 - float64(rdfFactor*float64(RealExtract(original, apparent))))
}
