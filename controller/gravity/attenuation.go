package gravity

// Fallen is by how much the gravity has fallen since pitching.
func (s *State) Fallen(p Prior) float64 {
	if !s.Est.Known {
		return 0
	}
	start := p.Original
	if !s.allHand() {
		start += s.Offset.Mean
	}
	return start - s.Est.Level
}

// Attenuation is the apparent attenuation by points, true gravities on both sides.
func (s *State) Attenuation(p Prior) (float64, bool) {
	if !s.Est.Known || !s.Est.Ready || p.Original <= 0 {
		return 0, false
	}
	return s.Fallen(p) / p.Original, true
}
