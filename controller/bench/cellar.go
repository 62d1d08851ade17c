package bench

import (
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/units"
)

// Step is the nominal time between two steps of the rig.
const Step = 10 * time.Second

// Report is the usual time between two readings of a hydrometer in the tank.
const Report = 15 * time.Minute

// Kind is a modelled vessel that users can name.
type Kind string

// The modelled vessels.
const (
	Bucket  Kind = "bucket"  // 20 L in a fridge with a heating belt
	Conical Kind = "conical" // 60 L, jacket on glycol, heating pad
	Tank1k  Kind = "tank"    // 1000 L, jacket on glycol
)

// Kinds lists the modelled vessels.
func Kinds() []Kind { return []Kind{Bucket, Conical, Tank1k} }

// Brew is what a modelled batch is made of.
type Brew struct {
	Kind    Kind
	Wort    plant.Wort
	Noise   plant.Noise
	Seed    uint64
	Start   units.Celsius // of the wort at knock-out
	Ambient plant.Ambient
}

// NewTank fills a modelled vessel. A Kind that is not known is a conical.
func NewTank(name string, b Brew) *Tank {
	body, cool := plant.Conical60(), guard.Of(guard.Valve)
	switch b.Kind {
	case Bucket:
		body, cool = plant.Bucket20(), guard.Of(guard.Compressor)
	case Tank1k:
		body = plant.Tank1000()
	case Conical:
	}
	heat := guard.Of(guard.Heater)
	heat.Power = body.Heater
	v := &controller.Vessel{
		Name: name, Step: Step, Volume: body.Volume, Heat: heat, Cool: cool,
		Probes: controller.Probes{
			Thermowell: controller.ProbeID(name + "/thermowell"), Surround: controller.ProbeID(name + "/surround"),
			Ambient: controller.ProbeID(name + "/ambient"), Hydrometer: controller.ProbeID(name + "/hydrometer"),
		},
		Limits:   controller.Limits{Lowest: -1, Highest: 30},
		SuckBack: controller.CO2Supply, InAir: body.Air,
	}
	beer := plant.New(body, b.Wort, b.Noise, b.Seed, b.Start)
	beer.SetWeather(b.Ambient)
	return &Tank{Vessel: v, State: controller.Fresh(), Beer: beer, Report: Report}
}

// Feed puts sugar into the beer, worth so many points. The plant knows no sugar
// that goes in later; it knows extract that is set free over two days, and a
// device whose level changes. Both together read as sugar does: the gravity is up
// at once and falls to the end where it would have ended without.
func (t *Tank) Feed(worth units.Points) {
	now, end := t.Beer.Extract(), t.Beer.End()
	sugar := end.Plato() - end.Plus(-worth).Plato()
	t.Beer.DryHop(now.Gravity().Minus((now - sugar).Gravity()))
	t.Beer.StepHydrometer(worth)
	t.fed += worth
}

// Gravity is the true gravity of the beer, with the sugar that was fed.
func (t *Tank) Gravity() units.Gravity { return t.Beer.Gravity().Plus(t.fed) }

// Left is how many points the beer will really still fall.
func (t *Tank) Left() units.Points { return t.Beer.Gravity().Minus(t.Beer.End()) }
