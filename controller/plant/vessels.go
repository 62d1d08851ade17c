package plant

import (
	"time"

	"example.org/restpoint/controller/units"
)

// Vessel is what is fixed about a fermenter. Conductances are in W/K and heat
// capacities in J/K. Without a capacity of its own a heater or an evaporator is
// not there; beer and surround always have one.
type Vessel struct {
	Volume units.Litres
	// Air is true when the surround is the air of a cabinet around the vessel,
	// false when it is a jacket or wall in contact with the beer.
	Air bool

	WallCapacity     float64 // of the parts always as warm as the beer
	SurroundCapacity float64 // cabinet air with its liner, or jacket with its fluid

	BeerToSurround    float64
	BeerToAmbient     float64
	SurroundToAmbient float64

	Heater           units.Watts
	HeaterCapacity   float64 // the element and what it heats first
	HeaterToBeer     float64
	HeaterToSurround float64

	// Compressor is the heat taken from the evaporator at -10 C; it falls
	// linearly to nothing at -35 C. With an evaporator the surround is cooled by it.
	Compressor           units.Watts
	EvaporatorCapacity   float64
	EvaporatorToSurround float64

	// GlycolFlow is the conductance between the surround and the glycol while
	// the valve is open: flow times heat capacity times effectiveness.
	GlycolFlow float64
	Glycol     units.Celsius // when no chiller is coupled

	ThermowellLag time.Duration // time constant of the beer probe
	SurroundLag   time.Duration
	ProbeOffset   units.Kelvins // of the beer probe
}

// Bucket20 is a plastic bucket with 20 L in a household refrigerator with a
// heating belt. Bare walls in still air lose 5 to 10 W/m2/K (common practice),
// here 3 W/K from half a square metre: about 7 h to the air of the cabinet, 27 h
// to the room with the cabinet shut and off.
func Bucket20() Vessel {
	return Vessel{
		Volume: 20, Air: true,
		WallCapacity: 1900, SurroundCapacity: 6000,
		BeerToSurround: 3, SurroundToAmbient: 1.2,
		Heater: 40, HeaterCapacity: 600, HeaterToBeer: 2, HeaterToSurround: 1.5,
		Compressor: 120, EvaporatorCapacity: 3000, EvaporatorToSurround: 8,
		ThermowellLag: 3 * time.Minute, SurroundLag: time.Minute,
	}
}

// Conical60 is a 60 L stainless conical with a small glycol jacket, a heating
// pad and a sleeve: U about 2 W/m2/K over 1 m2, passive time constant about 35 h.
func Conical60() Vessel {
	return Vessel{
		Volume:       60,
		WallCapacity: 6000, SurroundCapacity: 6000,
		BeerToSurround: 25, BeerToAmbient: 0.7, SurroundToAmbient: 1.4,
		Heater: 80, HeaterCapacity: 800, HeaterToBeer: 6, HeaterToSurround: 0.5,
		GlycolFlow: 40, Glycol: -3,
		ThermowellLag: 2 * time.Minute, SurroundLag: time.Minute,
	}
}

// Tank1000 is a 1000 L insulated tank with a glycol jacket: U 0.5 W/m2/K over
// 6.6 m2, passive time constant about two weeks.
func Tank1000() Vessel {
	return Vessel{
		Volume:       1000,
		WallCapacity: 60e3, SurroundCapacity: 60e3,
		BeerToSurround: 150, BeerToAmbient: 1, SurroundToAmbient: 2.3,
		Heater: 1000, HeaterCapacity: 5000, HeaterToBeer: 30, HeaterToSurround: 2,
		GlycolFlow: 400, Glycol: -4,
		ThermowellLag: 4 * time.Minute, SurroundLag: 2 * time.Minute,
	}
}

// Ambient is the room: a mean and a sine over 24 h, coldest at the given hour of
// the plant's own time.
type Ambient struct {
	Mean    units.Celsius
	Swing   units.Kelvins // half of the difference between day and night
	Coldest time.Duration // after the start
}

func (a Ambient) at(elapsed time.Duration) float64 {
	if a.Swing == 0 {
		return float64(a.Mean)
	}
	turns := float64((elapsed - a.Coldest).Seconds()) / units.Day.Seconds()
	return float64(a.Mean) + float64(float64(a.Swing)*turnSine(turns-0.25))
}
