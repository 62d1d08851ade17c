package main

import (
	"fmt"
	"io"
	"math"

	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/units"
)

// cascade is the loop around a loop, on a vessel with a probe beside the beer: the
// outer one wants a temperature there, by the beer's error and its sum, and the inner
// one switches on it. It is given what ours has to learn: how fast the beer follows.
// It is here to be compared with, and has the same guard.
type cascade struct {
	c          *cellar
	band       units.Kelvins // that the inner loop switches below and above
	guard      guard.State
	sum        float64 // K
	heat, cool bool
}

// The outer loop by the rules of Skogestad for what integrates after a delay, its
// wish bounded 8 K below and 5 K above the beer.
const (
	outerDelay = 0.5 // h: the inner loop, the wall and the probe
	mostBelow  = -8.0
	mostAbove  = 5.0
)

func (k *cascade) next(w world, driven levels) levels {
	elapsed := step
	if w.beer.Elapsed() == 0 {
		elapsed = 0
	}
	k.guard = k.guard.Observe(driven.Heat, driven.Cool, elapsed)
	b := &k.c.body
	follows := b.BeerToSurround * 3600 / (float64(b.Volume)*1.04*4050 + b.WallCapacity) // of a difference, an hour
	gain, over := 1/(follows*2*outerDelay), 8*outerDelay
	off := float64(k.c.target.Minus(w.beer.ReadThermowell()))
	want := float64(gain*off) + k.sum
	bounded := min(mostAbove, max(mostBelow, want))
	if bounded == want || (want-bounded)*off < 0 {
		k.sum += gain * off * elapsed.Hours() / over
	}
	at := w.beer.ReadSurround().Minus(k.c.target.Plus(units.Kelvins(bounded)))
	k.cool = k.c.cool.Fitted && (k.cool && at > -k.band || at >= k.band)
	k.heat = k.c.heat.Fitted && (k.heat && at < k.band || at <= -k.band)
	v := k.guard.Decide(k.c.heat, k.c.cool, guard.Wish{Heat: k.heat && off > 0, Cool: k.cool})
	return levels{Heat: v.Heat, Cool: v.Cool}
}

// bands that were tried, in K.
func bands() []units.Kelvins { return []units.Kelvins{0.25, 0.5, 1, 2, 3, 4, 6} }

// writeCascades compares it with ours: its best band with no more starts than ours,
// and its best one whatever it starts.
func writeCascades(w io.Writer, list []cellar) error {
	head := []string{"vessel", "ours K", "starts", "cascade K, no more starts", "starts", "cascade K, any starts", "starts"}
	var rows [][]string
	for i := range list {
		c := &list[i]
		if !c.surround {
			continue
		}
		ours := c.hold(c.program(c.holding())).settled
		few, most := score{rms: math.Inf(1)}, score{rms: math.Inf(1)}
		for _, b := range bands() {
			got := c.hold(&cascade{c: c, band: b}).settled
			if got.rms < most.rms {
				most = got
			}
			if got.coolStarts <= ours.coolStarts && got.heatStarts <= ours.heatStarts && got.rms < few.rms {
				few = got
			}
		}
		row := []string{c.name}
		for _, s := range []score{ours, few, most} {
			if math.IsInf(s.rms, 1) {
				row = append(row, "none", "-")
				continue
			}
			row = append(row, kelvins(s.rms), pair(s.heatStarts, s.coolStarts))
		}
		rows = append(rows, row)
	}
	if err := table(w, head, rows); err != nil {
		return fmt.Errorf("write the cascades: %w", err)
	}
	return nil
}
