package units

// FreezingPoint is where a beer with so much alcohol by mass and such an original
// extract begins to freeze. The formula is widely quoted with a sign that would
// have beer freeze warmer than plain alcohol and water of its strength, which is
// impossible; this is the older form, which alone gives its own worked example
// (24 P and 8.5 % give -4.73 C).
func FreezingPoint(alcohol float64, original Plato) Celsius {
	return Celsius(-(float64(0.42*alcohol) + float64(0.04*float64(original)) + 0.2))
}

// FreezingPointAtLeast is the warmest that the beer can begin to freeze: as
// alcohol and water of that strength, whatever else is in it. Ice-point depressions
// of the CRC Handbook's table of concentrative properties (from memory).
func FreezingPointAtLeast(alcohol float64) Celsius {
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
	if alcohol <= 0 {
		return 0
	}
	for i := 1; i < len(table); i++ {
		if a, b := table[i-1], table[i]; alcohol <= b[0] {
			share := (alcohol - a[0]) / (b[0] - a[0])
			return Celsius(-(a[1] + float64(share*(b[1]-a[1]))))
		}
	}
	return Celsius(-table[len(table)-1][1]) // stronger beer freezes colder; no more is promised
}
