package plant

// OpenDoor lets the room's air into a cabinet: the given share of the surround's
// air is as warm as the room afterwards. What comes in so is lost, or gained, to
// the room. A jacket has no door.
func (p *Plant) OpenDoor(share float64) {
	if !p.vessel.Air {
		return
	}
	swap := float64(min(1, max(0, share)) * (p.ambient.at(p.elapsed) - p.heat[surround]))
	p.heat[surround] += swap
	p.heat[lost] -= float64(swap * p.vessel.SurroundCapacity)
}

// Copy gives a second plant that goes its own way from here. A chiller that is
// coupled stays shared.
func (p *Plant) Copy() *Plant {
	q := *p
	return &q
}
