package plant

import "example.org/restpoint/controller/units"

// Curve is the apparent extract of a beer so many hours after pitching, by other
// kinetics than the plant's own, at whatever temperature they hold for.
type Curve func(hours float64) units.Plato

// Follow lets the beer ferment along a curve from its pitching on. The curve must
// not rise, and must begin at the wort's original extract and end near its final
// one: what is read of foam and bubbles goes by them.
func (p *Plant) Follow(c Curve) { p.curve = c }

// follows takes the curve through one kinetic step. All that is left is counted
// as one sugar.
func (p *Plant) follows(hours float64) {
	before := float64(p.curve(p.ripe))
	p.ripe += hours
	now := min(before, float64(p.curve(p.ripe)))
	p.broth[glucose], p.broth[maltotriose] = 0, 0
	p.broth[maltose] = now - p.end
	p.dropRate = (before - now) / hours
	p.yeastPower = (before - now) * realShare / 100 * p.mass * fermentationHeat / (hours * 3600)
}
