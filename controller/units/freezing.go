package units

// FreezingPoint is where a beer with so much alcohol and such an original extract
// begins to freeze. The formula is widely quoted with a sign that would have beer
// freeze warmer than plain alcohol and water of its strength, which is impossible;
// this is the older form, which alone gives its own worked example (24 P and 8.5 %
// give -4.73 C). Good to 0.2 K.
func FreezingPoint(alcohol MassPercent, original Plato) Celsius {
	return Celsius(-(float64(0.42*float64(alcohol)) + float64(0.04*float64(original)) + 0.2))
}

// FreezingPointOfWort is the same before any of it is fermented: far warmer than
// the beer that it becomes.
func FreezingPointOfWort(original Plato) Celsius { return FreezingPoint(0, original) }

// FreezingPointOfEthanol is the warmest that a beer can begin to freeze: as alcohol
// and water of its strength, whatever else is in it. Ice-point depressions of the
// CRC Handbook's table of concentrative properties (from memory).
func FreezingPointOfEthanol(alcohol MassPercent) Celsius {
	table := [...][2]float64{
		{0, 0},
		{0.5, 0.20},
		{1, 0.40},
		{2, 0.81},
		{3, 1.23},
		{4, 1.65},
		{5, 2.09},
		{6, 2.54},
		{7, 2.99},
		{8, 3.47},
		{9, 3.96},
		{10, 4.47},
		{12, 5.56},
	}
	v := float64(alcohol)
	if !(v > 0) {
		return 0
	}
	for i := 1; i < len(table); i++ {
		if a, b := table[i-1], table[i]; v <= b[0] {
			share := (v - a[0]) / (b[0] - a[0])
			return Celsius(-(a[1] + float64(share*(b[1]-a[1]))))
		}
	}
	return Celsius(-table[len(table)-1][1]) // stronger beer freezes colder; no more is promised
}

// What FreezeFloor holds against the beer.
const (
	// FreezeMargin is kept above the freezing point: the wall is colder than the
	// probe, and below 3 C the coldest beer floats up from it.
	FreezeMargin Kelvins = 1
	// againstOriginal is how much weaker the wort may have been than was written
	// down: a reading warm or unmixed, water added after it.
	againstOriginal Points = 2
	// againstNow is how much less may be fermented than is read: a hydrometer in
	// foam or with a bubble, a sample's temperature not corrected.
	againstNow Points = 3
	// warmestFloor holds for a beer of which nothing is known: as wort, which
	// freezes at -0.6 C or colder from 10 P on.
	warmestFloor Celsius = 0
)

// FreezeFloor is the lowest temperature that a beer may be led to, as far as ice
// goes: FreezeMargin above the freezing point of ethanol and water at the lowest
// plausible alcohol, whatever else is in the beer being left out; never above 0 C.
//
// Lowest plausible is the lower of two equations (Balling, Cutaia) from an original
// gravity 2 points lower than is known, and a gravity now 3 points higher. A
// gravity below water's counts as water's: a device that reads too low must not
// invent alcohol. When the gravity is lost (not known, or no gravity at all) the
// beer counts as wort.
func FreezeFloor(original, now Gravity, known bool) Celsius {
	if !known || !original.Plausible() || !now.Plausible() {
		return warmestFloor
	}
	oe := original.Plus(-againstOriginal).Plato()
	ae := max(now.Plus(againstNow), 1).Plato()
	if ae >= oe {
		return warmestFloor
	}
	alcohol := min(AlcoholBalling(oe, ae), AlcoholCutaia(oe, ae))
	return min(warmestFloor, FreezingPointOfEthanol(alcohol).Plus(FreezeMargin))
}
