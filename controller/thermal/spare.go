package thermal

import "time"

// A compressor is worn by its starts, so it shall have no more of them than under
// the plainest thermostat there is, one that switches a quarter of a kelvin above and
// below its target. How often that one would start it is played through with what is
// known of the vessel; the swing that is as rare follows from it.

const (
	spareEvery = time.Hour
	playFor    = 24.0 // h
	playStep   = 1.0 / 30
	spareLeast = 0.4 // K
	spareMost  = 3.0 // K: no beer is let swing further
	spareShare = 0.25
	// What is played knows no doors, days and nights, so with a heater beside it, that
	// answers them, the compressor is let rest longer. Without one runs are long, and
	// long runs have a lower rate than the one that is played.
	careBoth  = 1.15
	careAlone = 0.85
)

// spare keeps the swing of a compressor up to date.
func (s *State) spare(a *Aim, elapsed time.Duration) {
	if !a.Sparing {
		return
	}
	if s.Spare == 0 {
		s.Spare = sparingSwing
	}
	if s.SpareAge += elapsed; s.SpareAge < spareEvery {
		return
	}
	s.SpareAge = 0
	if r := s.Response.Rates(); r.Known && r.CoolLearnt > 0 && r.Drift > 0 {
		s.Spare += float32(spareShare * (r.spare(a) - float64(s.Spare)))
	}
}

// spare is the swing by which cooling starts as rarely as under the plain thermostat.
func (r *Rates) spare(a *Aim) float64 {
	every := r.play(a)
	rise, fall := float64(r.Drift), -float64(r.Cool+r.Drift)
	if fall <= 0 {
		return spareMost // it runs all the time
	}
	care := careAlone
	if a.Both {
		care = careBoth
	}
	swing := care * every / (1/rise + 1/fall)
	return min(spareMost, max(spareLeast, swing))
}

// play gives the hours between two starts of cooling under the plain thermostat.
func (r *Rates) play(a *Aim) float64 {
	beer := 0.0
	var cool, heat, slowC, fastC, slowH, fastH float64
	lagC, lagH := r.CoolLag.Hours(), r.HeatLag.Hours()
	first, last, starts := 0.0, 0.0, 0
	for t := 0.0; t < playFor; t += playStep {
		switch {
		case beer >= plainSwing/2:
			if cool == 0 {
				if starts == 0 {
					first = t
				}
				starts++
				last = t
			}
			cool, heat = 1, 0
		case beer <= -plainSwing/2:
			cool = 0
			if a.Both {
				heat = 1
			}
		}
		slowC += float64((cool - slowC) * (playStep / (playStep + float64(slower*lagC))))
		fastC += float64((slowC - fastC) * (playStep / (playStep + float64((1-slower)*lagC))))
		slowH += float64((heat - slowH) * (playStep / (playStep + float64(slower*lagH))))
		fastH += float64((slowH - fastH) * (playStep / (playStep + float64((1-slower)*lagH))))
		rate := float64(r.Drift) + float64(float64(r.Cool)*fastC) + float64(float64(r.Heat)*fastH)
		beer += float64(rate * playStep)
	}
	if starts < 2 {
		return playFor
	}
	return (last - first) / float64(starts-1)
}
