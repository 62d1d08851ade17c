package gravity

import "math"

// How a device errs, in four sizes side by side: the data tell which one it is.
// Errors in tanks are not white: a step of a filter with two memories, one that
// wanders for good and one that comes back in half a day, takes from each level
// what the ones before have told of its error.
type noise struct {
	white  float64 // points, of a level of two hours
	drift  float64 // points, with a memory of half a day (measured 1.15 to 2.3)
	walk   float64 // points in an hour's root: creep, deposit, small steps
	day    float64 // points, amplitude of day and night
	bubble float64 // points that gas lifts the device while the yeast works
	unsure float64 // points, how well that is known
	weight float64 // before any data
}

const sizes = 4

// noises lists them: a device that hardly errs, a calm one, a usual one, and one as
// bad as records show. The drift of the calm one is more than a good device has: it
// stands for beers that follow none of the shapes.
func noises() [sizes]noise {
	return [sizes]noise{
		{0.2, 0.3, 0.04, 0.25, 0.4, 0.4, 0.2},
		{0.3, 1.0, 0.06, 0.4, 0.3, 0.3, 0.26},
		{0.4, 1.0, 0.12, 0.9, 1.0, 0.9, 0.27},
		{0.9, 1.9, 0.20, 1.7, 2.5, 2.0, 0.27},
	}
}

const (
	wanders = 12.0 // h, the memory of the drift
	// roughShare is how much of the scatter within a level is left in its median:
	// ripple and gas move many readings together.
	roughShare = 0.4
	handVar    = 1.69 // (1.3 points)^2: measured scatter of hand readings on a 0.002 raster
	usualReads = 6.0  // a level of fewer readings is whiter
)

// gain is what the filter does at one level.
type gain struct {
	keep         float64 // of the drift since the level before
	walk, drift  float64 // shares of the innovation that each memory takes
	weight       float64 // of the innovation, 1/variance
	seesNoDevice bool
}

// filter gives the gains over the levels, and the logarithm of the variances'
// product.
func (z *noise) filter(seen []sight, g []gain) (logs float64) {
	walk, drift, both := 0.0, float64(z.drift*z.drift), 0.0
	last := 0.0
	product := 1.0
	for i := range seen {
		v := &seen[i]
		keep := 1.0
		if i > 0 {
			keep = math.Exp(-(v.t - last) / wanders)
			walk += float64(z.walk*z.walk*(v.t-last)) + float64(v.jump*v.jump)
			both *= keep
			drift = float64(keep*keep*drift) + float64((1-float64(keep*keep))*z.drift*z.drift)
		}
		last = v.t
		if v.hand {
			g[i] = gain{keep: keep, weight: 1 / handVar, seesNoDevice: true}
			product *= handVar
		} else {
			white := float64(z.white*z.white*max(1, usualReads/v.reads)) + float64(roughShare*v.rough*v.rough)
			sum := walk + 2*both + drift + white
			g[i] = gain{keep: keep, walk: (walk + both) / sum, drift: (both + drift) / sum, weight: 1 / sum}
			product *= sum
			w, d := walk+both, both+drift
			walk -= float64(g[i].walk * w)
			both -= float64(g[i].walk * d)
			drift -= float64(g[i].drift * d)
		}
		if product > 1e200 || product < 1e-200 {
			logs += math.Log(product)
			product = 1
		}
	}
	return logs + math.Log(product)
}

// whiten turns one column into what the filter had not foreseen of it.
func whiten(g []gain, in, out []float64) {
	walk, drift := 0.0, 0.0
	for i := range g {
		k := &g[i]
		drift = float64(drift * k.keep)
		if k.seesNoDevice {
			out[i] = in[i]
			continue
		}
		e := in[i] - walk - drift
		out[i] = e
		walk += float64(k.walk * e)
		drift += float64(k.drift * e)
	}
}
