package plant

import (
	"example.org/restpoint/controller/units"
)

const (
	// specificHeat of beer in J/kg/K: a brewers' cooling note gives 4050, Gee and
	// Ramirez 4016 for wort of 10 to 12 P.
	specificHeat = 4050
	waterDensity = 0.9982 // kg/L at 20 C
	// fermentationHeat in J a kg of real extract: 252 Btu/lb, the figure of the trade.
	fermentationHeat = 586e3
	// realShare: apparent extract falls by 1 when real extract falls by 0.8192 (Balling).
	realShare = 0.8192
	// The compressor's rating point and where it pumps no more (typical of small
	// hermetic compressors, from memory).
	ratedAt, emptyAt = -10, -35
)

// Where each temperature and each integral stands in the thermal state.
const (
	beer = iota
	surround
	heater
	evaporator
	lost   // J given to the room since the start
	cooled // J taken by the compressor or the glycol since the start
)

type thermal = [6]float64

// flows is everything that holds still during one sub-step.
type flows struct {
	beerCapacity  float64
	vessel        *Vessel
	ambient       float64
	glycol        float64
	yeast, heater float64 // W
	cool          bool
}

// slope gives K/s for the temperatures and W for the integrals.
func (f *flows) slope(y thermal) thermal {
	v := f.vessel
	beerSurround := float64(v.BeerToSurround * (y[beer] - y[surround]))
	beerAmbient := float64(v.BeerToAmbient * (y[beer] - f.ambient))
	surroundAmbient := float64(v.SurroundToAmbient * (y[surround] - f.ambient))
	heaterBeer := float64(v.HeaterToBeer * (y[heater] - y[beer]))
	heaterSurround := float64(v.HeaterToSurround * (y[heater] - y[surround]))

	var d thermal
	toSurround := beerSurround + heaterSurround - surroundAmbient
	if v.EvaporatorCapacity > 0 {
		surroundEvaporator := float64(v.EvaporatorToSurround * (y[surround] - y[evaporator]))
		toSurround -= surroundEvaporator
		if f.cool {
			d[cooled] = compressorPower(v.Compressor, y[evaporator])
		}
		d[evaporator] = (surroundEvaporator - d[cooled]) / v.EvaporatorCapacity
	}
	if f.cool && v.GlycolFlow > 0 {
		glycol := float64(v.GlycolFlow * (y[surround] - f.glycol))
		toSurround -= glycol
		d[cooled] += glycol
	}
	toBeer := f.yeast + heaterBeer - beerSurround - beerAmbient
	if v.HeaterCapacity > 0 {
		d[heater] = (f.heater - heaterBeer - heaterSurround) / v.HeaterCapacity
	}
	d[beer] = toBeer / f.beerCapacity
	d[surround] = toSurround / v.SurroundCapacity
	d[lost] = beerAmbient + surroundAmbient
	return d
}

func compressorPower(rated units.Watts, evaporator float64) float64 {
	return float64(rated) * max(0, (evaporator-emptyAt)/(ratedAt-emptyAt))
}

// Ledger is the heat that went in and out of the vessel since the start, in
// joules, and what it holds now against its start.
type Ledger struct{ Yeast, Heater, Cooled, Lost, Held float64 }

// Ledger gives the heat balance: Held = Yeast + Heater - Cooled - Lost.
func (p *Plant) Ledger() Ledger {
	l := p.ledger
	l.Cooled, l.Lost = p.heat[cooled], p.heat[lost]
	l.Held = p.enthalpy() - p.enthalpyAtStart
	return l
}

// enthalpy in J above 0 C of everything inside the vessel's bounds.
func (p *Plant) enthalpy() float64 {
	v := &p.vessel
	return float64(p.beerCapacity()*p.heat[beer]) + float64(v.SurroundCapacity*p.heat[surround]) +
		float64(v.HeaterCapacity*p.heat[heater]) + float64(v.EvaporatorCapacity*p.heat[evaporator])
}

func (p *Plant) beerCapacity() float64 {
	return float64(p.mass*specificHeat) + p.vessel.WallCapacity
}
