package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"example.org/restpoint/controller/units"
)

// result is what came of one cellar.
type result struct {
	*cellar
	ours, plain held
	best        score // no more starts than ours
	bestPlain   score // no more starts than the plain one: what the bars leave room for
	crash       crash
	above       units.Kelvins
}

func judge(c *cellar) result {
	r := result{cellar: c}
	r.ours = c.hold(c.program(c.holding()))
	r.plain = c.hold(&plain{c: c})
	r.best = c.search(r.ours)
	r.bestPlain = c.search(r.plain)
	if c.crashes() {
		r.crash = c.crash()
		r.above = c.rise()
	}
	return r
}

func (c *cellar) search(h held) score {
	s := &search{c: c, from: h.from, n: len(h.trains)}
	list := pulses(h.trains)
	best := s.best(list)
	if even := evenly(list, s.n); len(even) > 0 {
		if other := s.best(even); other.rms < best.rms {
			best = other
		}
	}
	return best
}

func table(w io.Writer, head []string, rows [][]string) error {
	lines := append([][]string{head, slices.Repeat([]string{"---"}, len(head))}, rows...)
	for _, cells := range lines {
		if _, err := fmt.Fprintf(w, "| %s |\n", strings.Join(cells, " | ")); err != nil {
			return err
		}
	}
	_, err := fmt.Fprintln(w)
	return err
}

func (r *result) title() string {
	if r.drawn {
		return "drawn: " + r.name
	}
	return r.name
}

func ratio(a, b float64) string {
	if b == 0 {
		return "-"
	}
	return fmt.Sprintf("%.2f", a/b)
}

// spent is the energy that a hold took, against that of the best. What the two
// leave in the vessel at the end differs, and is no waste: it is allowed for.
func (r *result) spent() float64 {
	o, b := &r.ours.settled, &r.best
	left := math.Abs(o.kept - b.kept)
	if b.energy()+left == 0 {
		return 1
	}
	return o.energy() / (b.energy() + left)
}

func pair(h, c int) string { return fmt.Sprintf("%d / %d", h, c) }

// kilo gives kJ.
func kilo(j float64) string { return fmt.Sprintf("%.0f", j/1000) }

// writeHold is the table of the holds.
func writeHold(w io.Writer, results []result) error {
	head := []string{
		"vessel", "first day, ours", "plain", "settled, ours K", "plain K", "best K", "ours / plain", "ours / best", "best at plain's starts / plain",
		"starts heat / cool, ours", "plain", "kJ heat / cool, ours", "plain", "best", "energy ours / best",
	}
	var rows [][]string
	for i := range results {
		r := &results[i]
		o, p, b := r.ours.settled, r.plain.settled, r.best
		rows = append(rows, []string{
			r.title(), kelvins(r.ours.first.rms), kelvins(r.plain.first.rms), kelvins(o.rms), kelvins(p.rms), kelvins(b.rms), ratio(o.rms, p.rms), ratio(o.rms, b.rms), ratio(r.bestPlain.rms, p.rms),
			pair(o.heatStarts, o.coolStarts), pair(p.heatStarts, p.coolStarts), kilo(o.heat) + " / " + kilo(o.cold), kilo(p.heat) + " / " + kilo(p.cold), kilo(b.heat) + " / " + kilo(b.cold), fmt.Sprintf("%.2f", r.spent()),
		})
	}
	return table(w, head, rows)
}

func kelvins(k float64) string { return fmt.Sprintf("%.3f", k) }

// writeMoves is the table of crashes and free rises.
func writeMoves(w io.Writer, results []result) error {
	head := []string{"vessel", "crash 20 to 1 C, h", "shortest, h", "ratio", "undershoot K", "free rise above its cap K"}
	var rows [][]string
	for i := range results {
		r := &results[i]
		if !r.crashes() {
			continue
		}
		row := []string{r.title(), "never", "none", "-", fmt.Sprintf("%.2f", float64(r.crash.undershoot)), fmt.Sprintf("%.2f", float64(r.above))}
		if r.crash.took > 0 {
			row[1] = fmt.Sprintf("%.1f", r.crash.took.Hours())
		}
		if r.crash.shortest > 0 {
			row[2] = fmt.Sprintf("%.1f", r.crash.shortest.Hours())
			row[3] = ratio(r.crash.took.Hours(), r.crash.shortest.Hours())
		}
		rows = append(rows, row)
	}
	return table(w, head, rows)
}

// writeSums counts how many cellars hold what is asked.
func writeSums(w io.Writer, results []result) error {
	head := []string{"asked", "named", "drawn"}
	var rows [][]string
	for _, b := range bars() {
		row := []string{b.text}
		for _, drawn := range []bool{false, true} {
			met, of := 0, 0
			for i := range results {
				if r := &results[i]; r.drawn == drawn && (b.only == nil || b.only(r)) {
					if of++; b.met(r) {
						met++
					}
				}
			}
			row = append(row, fmt.Sprintf("%d of %d", met, of))
		}
		rows = append(rows, row)
	}
	return table(w, head, rows)
}

// bar is something that is asked.
type bar struct {
	text string
	met  func(*result) bool
	only func(*result) bool
}

func bars() []bar {
	crashes := func(r *result) bool { return r.crashes() && r.crash.shortest > 0 }
	return []bar{
		{"settled error at most 0.40 of the plain one's", func(r *result) bool { return r.ours.settled.rms <= 0.40*r.plain.settled.rms }, nil},
		{"  the same where the best with no more starts than the plain one can", func(r *result) bool { return r.ours.settled.rms <= 0.40*r.plain.settled.rms }, func(r *result) bool { return r.bestPlain.rms <= 0.40*r.plain.settled.rms }},
		{"settled error at most 1.5 of the best with no more starts", func(r *result) bool { return r.ours.settled.rms <= 1.5*r.best.rms }, nil},
		{"no more starts of a compressor than the plain one", func(r *result) bool { return r.ours.settled.coolStarts <= r.plain.settled.coolStarts }, func(r *result) bool { return r.cool.Profile == "compressor" }},
		{"energy at most 1.10 of the best", func(r *result) bool { return r.spent() <= 1.10 }, nil},
		{"error of the first day no more than the plain one's", func(r *result) bool { return r.ours.first.rms <= r.plain.first.rms }, nil},
		{"crash within 1.10 of the shortest", func(r *result) bool {
			return r.crash.took > 0 && r.crash.took.Hours() <= 1.10*r.crash.shortest.Hours()
		}, crashes},
		{"undershoot of a crash at most 0.2 K", func(r *result) bool { return r.crash.undershoot <= under }, crashes},
		{"free rise at most 0.2 K above its cap", func(r *result) bool { return r.above <= under }, func(r *result) bool { return r.crashes() }},
	}
}
