package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/units"
)

// means is what a vessel is warmed and cooled by.
type means string

const (
	fridge   means = "fridge"      // a cabinet with a compressor, and a heater
	glycol   means = "glycol"      // a jacket with a valve, and a heater
	heatOnly means = "heater only" // a sleeve and a heater
	coldOnly means = "cool only"   // one of the first two without its heater
)

// cellar is one vessel, where it stands and what is asked of it.
type cellar struct {
	name       string
	means      means
	body       plant.Vessel
	cool, heat guard.Relay
	room       plant.Ambient
	target     units.Celsius
	yeast      bool          // it ferments meanwhile
	door       time.Duration // between two openings of the cabinet; 0 = it stays shut
	surround   bool          // there is a probe in the cabinet or on the jacket
	noise      plant.Noise
	seed       uint64
	drawn      bool // by chance
}

// scaled gives a vessel of another size: what it holds grows with the litres, what
// passes through its walls with their area.
func scaled(v plant.Vessel, litres units.Litres) plant.Vessel {
	side := math.Cbrt(float64(litres / v.Volume))
	area := side * side
	v.Volume = litres
	v.WallCapacity *= area
	v.SurroundCapacity *= area
	v.BeerToSurround *= area
	v.BeerToAmbient *= area
	v.SurroundToAmbient *= area
	v.Heater *= units.Watts(area)
	v.HeaterCapacity *= area
	v.HeaterToBeer *= area
	v.HeaterToSurround *= area
	v.Compressor *= units.Watts(area)
	v.EvaporatorCapacity *= area
	v.EvaporatorToSurround *= area
	v.GlycolFlow *= area
	return v
}

// body gives the vessel of a size and the relays that it is run by.
func (c *cellar) build(litres units.Litres, lag time.Duration) {
	base, cool := plant.Conical60(), guard.Of(guard.Valve)
	switch {
	case c.means == fridge, c.means == coldOnly && litres < 40:
		base, cool = plant.Bucket20(), guard.Of(guard.Compressor)
	case litres > 300:
		base = plant.Tank1000()
	}
	c.body, c.cool, c.heat = scaled(base, litres), cool, guard.Of(guard.Heater)
	c.body.ThermowellLag = lag
	if c.means == heatOnly {
		c.body.GlycolFlow, c.cool = 0, guard.Relay{}
	}
	if c.means == coldOnly {
		c.body.Heater, c.heat = 0, guard.Relay{}
	}
}

// cellars lists the named ones: three sizes by four means, and some of them again
// with a door that is opened, a swinging room, a slow probe or noise.
func cellars() []cellar {
	still := func(c units.Celsius) plant.Ambient { return plant.Ambient{Mean: c} }
	swing := func(c units.Celsius, k units.Kelvins) plant.Ambient {
		return plant.Ambient{Mean: c, Swing: k, Coldest: 5 * time.Hour}
	}
	const minute = time.Minute
	list := []struct {
		litres units.Litres
		lag    time.Duration
		cellar
	}{
		{20, 3 * minute, cellar{means: fridge, room: still(21), target: 18, yeast: true}},
		{60, 5 * minute, cellar{means: fridge, room: swing(20, 3), target: 12, surround: true}},
		{1000, 10 * minute, cellar{means: fridge, room: still(16), target: 19, yeast: true}},
		{20, 1 * minute, cellar{means: glycol, room: swing(18, 4), target: 19}},
		{60, 2 * minute, cellar{means: glycol, room: still(20), target: 18, yeast: true, surround: true}},
		{1000, 4 * minute, cellar{means: glycol, room: still(15), target: 12, yeast: true}},
		{20, 2 * minute, cellar{means: heatOnly, room: swing(17, 2), target: 21}},
		{60, 10 * minute, cellar{means: heatOnly, room: still(8), target: 20, yeast: true}},
		{1000, 5 * minute, cellar{means: heatOnly, room: swing(12, 3), target: 20}},
		{20, 3 * minute, cellar{means: coldOnly, room: still(22), target: 12}},
		{60, 1 * minute, cellar{means: coldOnly, room: swing(22, 3), target: 10, yeast: true}},
		{1000, 10 * minute, cellar{means: coldOnly, room: still(24), target: 4, surround: true}},
		{20, 5 * minute, cellar{means: fridge, room: swing(19, 4), target: 18, door: 5 * time.Hour}},
		{30, 10 * minute, cellar{means: fridge, room: still(24), target: 4, door: 8 * time.Hour, surround: true, noise: plant.Typical()}},
		{200, 10 * minute, cellar{means: glycol, room: swing(18, 5), target: 18, noise: plant.Nasty()}},
		{20, 3 * minute, cellar{means: coldOnly, room: swing(23, 3), target: 18, yeast: true, door: 6 * time.Hour}},
	}
	var out []cellar
	for i, l := range list {
		c := l.cellar
		c.seed = uint64(i + 1)
		c.build(l.litres, l.lag)
		c.title()
		out = append(out, c)
	}
	return out
}

// title names a cellar by what it is.
func (c *cellar) title() {
	c.name = fmt.Sprintf("%.0f L %s, probe %.0f min, %.0f C in %.0f", float64(c.body.Volume), c.means, c.body.ThermowellLag.Minutes(), float64(c.target), float64(c.room.Mean))
	if c.room.Swing > 0 {
		c.name += fmt.Sprintf("+-%.0f C", float64(c.room.Swing))
	} else {
		c.name += " C"
	}
	for _, s := range []struct {
		so   bool
		text string
	}{{c.yeast, ", yeast"}, {c.door > 0, ", door"}, {c.surround, ", second probe"}, {c.noise != plant.Quiet(), ", noise"}} {
		if s.so {
			c.name += s.text
		}
	}
}

// chances draws cellars of any size, losses, lags and strength of relays.
func chances(n int, seed uint64) []cellar {
	r := rand.New(rand.NewPCG(seed, 3)) //nolint:gosec // chance that can be repeated
	between := func(low, high float64) float64 { return low + (high-low)*r.Float64() }
	var out []cellar
	for i := range n {
		c := cellar{means: []means{fridge, glycol, heatOnly, coldOnly}[i%4], seed: seed + uint64(i), drawn: true, yeast: r.IntN(2) == 0, surround: r.IntN(2) == 0}
		litres := units.Litres(15 * math.Exp(between(0, math.Log(100)))) // 15 to 1500
		c.build(litres, time.Duration(between(60, 600))*time.Second)
		for _, x := range []*float64{&c.body.BeerToSurround, &c.body.BeerToAmbient, &c.body.SurroundToAmbient, &c.body.SurroundCapacity, &c.body.HeaterCapacity, &c.body.GlycolFlow} {
			*x *= between(0.6, 1.6)
		}
		power := units.Watts(between(0.6, 1.6))
		c.body.Heater *= power
		c.body.Compressor *= power
		c.target = units.Celsius(math.Round(between(10, 22)))
		c.room = plant.Ambient{Mean: c.target.Plus(units.Kelvins(math.Round(between(-4, 4)))), Swing: units.Kelvins(math.Round(between(0, 5)))}
		switch c.means {
		case heatOnly: // a beer that warms itself beyond its target is nobody's fault
			c.yeast = false
			c.room.Mean = c.target.Plus(units.Kelvins(-math.Round(between(4, 9))))
		case coldOnly:
			c.room.Mean = c.target.Plus(units.Kelvins(math.Round(between(5, 12))))
		case fridge, glycol:
		}
		c.noise = []plant.Noise{plant.Quiet(), plant.Mild(), plant.Typical()}[r.IntN(3)]
		if c.body.Air && r.IntN(2) == 0 {
			c.door = time.Duration(between(4, 12)) * time.Hour
		}
		c.title()
		out = append(out, c)
	}
	return out
}
