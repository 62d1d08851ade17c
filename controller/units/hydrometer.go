package units

// Glass hydrometers are made for one temperature of the sample.
const (
	Glass20C Celsius = 20
	Glass60F Celsius = (60 - 32) * 5.0 / 9
	// glassExpansion is the volume expansion of soda-lime glass a kelvin
	// (ASTM E100 value, from memory).
	glassExpansion = 25e-6
)

// WaterDensity gives kg/m3 of air-free water at 0 to 40 C by the formula of
// Tanaka et al. 2001 (CIPM; uncertainty below 0.001 kg/m3).
func WaterDensity(t Celsius) float64 {
	c := float64(t)
	a := c - 3.983035
	return 999.974950 * (1 - float64(a*a)*(c+301.797)/(522528.9*(c+69.34881)))
}

// CorrectHydrometer gives the gravity at 20/20 C from the reading of a glass
// hydrometer made for one temperature in a sample at another, wort being taken
// to expand as water does. Good to half a point from 10 to 30 C.
func CorrectHydrometer(reading Gravity, sample, glass Celsius) Gravity {
	stretch := 1 - float64(glassExpansion*float64(sample-glass))
	return Gravity(float64(reading) * WaterDensity(glass) / WaterDensity(sample) * stretch)
}
