package thermal_test

import (
	"testing"

	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

// The bounds are engineering judgement, as it is said beside them.
func TestWhatIsBesideTheBeerIsBounded(t *testing.T) {
	cold, hot := thermal.Around{Cold: true}, thermal.Around{Hot: true}
	for name, c := range map[string]struct {
		was          thermal.Around
		around, beer units.Celsius
		air          bool
		want         thermal.Around
	}{
		"a jacket on glycol of -4 C is within":               {thermal.Around{}, -4, 18, false, thermal.Around{}},
		"a colder one is not":                                {thermal.Around{}, -4.1, 18, false, cold},
		"where the coldest beer rises it may be less cold":   {thermal.Around{}, -3.1, 3.9, false, cold},
		"and is within above that":                           {thermal.Around{}, -3, 3.9, false, thermal.Around{}},
		"it stays out of bounds until it is well within":     {cold, -3.1, 18, false, cold},
		"and is then within":                                 {cold, -3, 18, false, thermal.Around{}},
		"the air of a cabinet may be far colder":             {thermal.Around{}, -12, 18, true, thermal.Around{}},
		"but not as cold as it likes":                        {thermal.Around{}, -12.1, 18, true, cold},
		"a wall 5 K above the highest is within":             {thermal.Around{}, 35, 18, false, thermal.Around{}},
		"a warmer one is not":                                {thermal.Around{}, 35.1, 18, true, hot},
		"it stays so until it is well within":                {hot, 34.1, 18, true, hot},
		"and is then within, too":                            {hot, 34, 18, true, thermal.Around{}},
		"what was too cold can be too hot, without a detour": {cold, 40, 18, false, hot},
	} {
		t.Run(name, func(t *testing.T) {
			if got := c.was.Step(c.around, c.beer, 0, 30, c.air); got != c.want {
				t.Errorf("%+v, want %+v", got, c.want)
			}
		})
	}
}
