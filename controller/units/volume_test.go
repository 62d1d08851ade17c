package units_test

import (
	"testing"

	"example.org/restpoint/controller/units"
)

// Exact by definition: 231 cubic inches, 31 US gallons, 4.54609 L, 0.3048 m.
func TestVolumesOfBrewHouses(t *testing.T) {
	near(t, "US gallons", units.Litres(3.785411784).USGallons(), 1, 1e-15)
	near(t, "cubic inches in a US gallon", 231*0.254*0.254*0.254, float64(units.Litres(3.785411784)), 1e-12)
	near(t, "US gallons in a barrel", units.Litres(117.347765304).USGallons(), 31, 1e-12)
	near(t, "US beer barrels", units.Litres(117.347765304).USBarrels(), 1, 1e-15)
	near(t, "imperial gallons", units.Litres(4.54609).ImperialGallons(), 1, 1e-15)
	near(t, "hectolitres", units.Litres(250).Hectolitres(), 2.5, 1e-15)
	near(t, "feet", units.Metres(0.3048).Feet(), 1, 1e-15)
}
