package plant

import "math"

// chance is a splitmix64 generator (Steele, Lea and Flood 2014; constants from
// memory). Each source of noise has its own, so that turning one up or down
// leaves the draws of the others as they were.
type chance struct{ state uint64 }

// stream gives the n-th independent generator of a seed.
func stream(seed, n uint64) chance {
	c := chance{seed}
	first := c.next()
	return chance{first ^ (n+1)*0xd1342543de82ef95}
}

func (c *chance) next() uint64 {
	c.state += 0x9e3779b97f4a7c15
	z := c.state
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// uniform is in [0, 1).
func (c *chance) uniform() float64 { return float64(float64(c.next()>>11) / (1 << 53)) }

// between is uniform in [low, high).
func (c *chance) between(low, high float64) float64 { return low + float64((high-low)*c.uniform()) }

// disc gives a point in the unit disc, not its centre: a coordinate and the squared radius.
func (c *chance) disc() (u, w float64) {
	for {
		u = c.between(-1, 1)
		v := c.between(-1, 1)
		w = float64(u*u) + float64(v*v)
		if w > 0 && w < 1 {
			return u, w
		}
	}
}

// normal has mean 0 and standard deviation 1 (Marsaglia's polar form of Box and Muller).
func (c *chance) normal() float64 {
	u, w := c.disc()
	return u * math.Sqrt(-2*ln(w)/w)
}

// student is Student t with 4 degrees of freedom, scaled to a standard
// deviation of 1 (polar form, Bailey 1994; with 4 degrees only square roots are left).
func (c *chance) student() float64 {
	u, w := c.disc()
	return u * math.Sqrt(4*(1/math.Sqrt(w)-1)/w) / math.Sqrt2
}

// within tells whether something that happens once in a mean time has happened in dt.
func (c *chance) within(dt, mean float64) bool {
	if mean <= 0 {
		return false
	}
	return c.uniform() < 1-exp(-dt/mean)
}

// sign is -1 with the given probability, else 1.
func (c *chance) sign(negative float64) float64 {
	if c.uniform() < negative {
		return -1
	}
	return 1
}
