package plant

import (
	"time"

	"example.org/restpoint/controller/units"
)

// Chiller is a glycol reservoir with its own compressor that several vessels
// share. Vessels draw on it as they advance; Advance then settles the balance,
// so a load acts one call late.
type Chiller struct {
	Capacity float64     // J/K
	Power    units.Watts // heat taken from the reservoir at -10 C
	Loss     float64     // W/K to the room

	temperature float64
	load        float64 // J that the vessels gave since the last call
}

// NewChiller gives a reservoir of glycol and water (3.6 kJ/L/K, one third
// propylene glycol, from memory), insulated, at a start temperature.
func NewChiller(reservoir units.Litres, power units.Watts, start units.Celsius) *Chiller {
	return &Chiller{Capacity: 3600 * float64(reservoir), Power: power, Loss: 2, temperature: float64(start)}
}

// Temperature is that of the glycol.
func (c *Chiller) Temperature() units.Celsius { return units.Celsius(c.temperature) }

// Advance runs the chiller for dt, after its vessels have been advanced by as much.
func (c *Chiller) Advance(dt time.Duration, compressor bool, room units.Celsius) {
	s := dt.Seconds()
	gain := c.load + float64(c.Loss*(float64(room)-c.temperature)*s)
	if compressor {
		gain -= float64(compressorPower(c.Power, c.temperature) * s)
	}
	c.load = 0
	c.temperature += gain / c.Capacity
}
