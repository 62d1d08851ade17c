package thermal

import "example.org/restpoint/controller/units"

// Around bounds what is beside the beer, where that is measured: the jacket, or the
// air of a cabinet. Beyond its bound it waits until it is well within again.
type Around struct {
	Cold bool // no colder: ice may form at the wall, and the probe in the beer sees nothing of it
	Hot  bool // no warmer: the yeast at the wall would be spoilt
}

// How far beside the beer it may be colder than the beer's own floor, which lies a
// kelvin above ice. A jacket's wall is nearly as cold as the jacket: glycol of -4 C is
// common practice, and colder glycol makes ice. Still air passes so little heat (5 to
// 10 W/m2/K, common practice, against 100 and more on the beer's side, from memory)
// that a wall is colder than its beer by a fifteenth of the difference or less.
const (
	jacketBelow units.Kelvins = 4
	airBelow    units.Kelvins = 12
	// Where the coldest beer rises it stays at the wall: a kelvin less (engineering
	// judgement).
	risesLess units.Kelvins = 1
	// A wall may be so much warmer than the vessel's highest temperature (5 K above
	// the beer is a usual clamp of a loop around a loop).
	wallAbove units.Kelvins = 5
	// So far within its bound again before it counts as within (engineering judgement).
	wellWithin units.Kelvins = 1
)

// Step looks at what is beside a beer that may be led to floor and highest.
func (a Around) Step(around, beer, floor, highest units.Celsius, air bool) Around {
	below := jacketBelow
	if air {
		below = airBelow
	}
	if beer < SlowBelow {
		below -= risesLess
	}
	coldest, hottest := floor.Plus(-below), highest.Plus(wallAbove)
	if a.Cold {
		coldest = coldest.Plus(wellWithin)
	}
	if a.Hot {
		hottest = hottest.Plus(-wellWithin)
	}
	return Around{Cold: around < coldest, Hot: around > hottest}
}
