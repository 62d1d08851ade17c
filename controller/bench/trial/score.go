package main

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
)

// row is what came of a group of cases. Stuck beers count for stuck only.
type row struct {
	name                        string
	heldOut                     bool
	ours, script                rule
	stuck, stuckSaid            int // stuck beers, and those said within 48 h
	falseStuck, falseTerminal   int
	estimates, intervals, cover int
	ends                        struct{ intervals, cover int } // of beers that end where they should
	widths                      []float64
}

// rule is how well a way to begin the rest did.
type rule struct {
	cases, missed, early int     // early: more than 12 h
	off, hours           float64 // sums of |points left - 6| and of |h from the true moment|
	each                 []float64
}

func (r *rule) add(fired bool, left, late float64) {
	r.cases++
	if !fired {
		r.missed++
		return
	}
	r.off += math.Abs(left - asked)
	r.each = append(r.each, math.Abs(left-asked))
	r.hours += math.Abs(late)
	if late < -12 {
		r.early++
	}
}

func (r *rule) mean(sum float64) string {
	if n := r.cases - r.missed; n > 0 {
		return fmt.Sprintf("%.1f", sum/float64(n))
	}
	return "-"
}

// count sums the cases that are wanted.
func count(name string, heldOut bool, trials []trial, wanted func(*trial) bool) row {
	r := row{name: name, heldOut: heldOut}
	for i := range trials {
		if wanted(&trials[i]) {
			r.add(&trials[i])
		}
	}
	slices.Sort(r.widths)
	return r
}

func (r *row) add(t *trial) {
	r.estimates += t.estimates
	r.intervals += t.intervals
	r.cover += t.inside
	r.widths = append(r.widths, t.widths...)
	if t.falseStuck {
		r.falseStuck++
	}
	if t.falseTerminal {
		r.falseTerminal++
	}
	if !t.stuck {
		r.ours.add(t.fired, t.left, t.late)
		r.script.add(t.scripted, t.leftScript, t.lateScript)
		r.ends.intervals += t.intervals
		r.ends.cover += t.inside
		return
	}
	r.stuck++
	if t.stuckAt-t.stopAt <= 48 {
		r.stuckSaid++
	}
}

func share(n, of int) string {
	if of == 0 {
		return "-"
	}
	return fmt.Sprintf("%.0f %%", 100*float64(n)/float64(of))
}

// write prints the rows as a table in Markdown.
func write(w io.Writer, rows []row) error {
	head := []string{
		"sensor or kinetics", "held out", "cases", "points off", "scripted", "hours off", "scripted", "missed", "over 12 h early",
		"stuck said", "stuck falsely", "terminal falsely", "interval given", "covers", "not stuck", "median width",
	}
	lines := [][]string{head, slices.Repeat([]string{"---"}, len(head))}
	for _, r := range rows {
		held, width := "no", "-"
		if r.heldOut {
			held = "yes"
		}
		if n := len(r.widths); n > 0 {
			width = fmt.Sprintf("%.1f", r.widths[n/2])
		}
		lines = append(lines, []string{
			r.name, held, fmt.Sprint(r.ours.cases), r.ours.mean(r.ours.off), r.script.mean(r.script.off), r.ours.mean(r.ours.hours), r.script.mean(r.script.hours),
			fmt.Sprint(r.ours.missed), fmt.Sprint(r.ours.early), fmt.Sprintf("%d of %d", r.stuckSaid, r.stuck),
			fmt.Sprint(r.falseStuck), fmt.Sprint(r.falseTerminal), share(r.intervals, r.estimates), share(r.cover, r.intervals), share(r.ends.cover, r.ends.intervals), width,
		})
	}
	for _, cells := range lines {
		if _, err := fmt.Fprintf(w, "| %s |\n", strings.Join(cells, " | ")); err != nil {
			return fmt.Errorf("write the table: %w", err)
		}
	}
	return nil
}

// limits are the 5 % and 95 % bounds of a mean, by drawing the cases again a
// thousand times.
func limits(each []float64) (low, high float64) {
	if len(each) == 0 {
		return 0, 0
	}
	r := rand.New(rand.NewPCG(1, 2)) //nolint:gosec // chance that can be repeated
	means := make([]float64, 1000)
	for i := range means {
		for range each {
			means[i] += each[r.IntN(len(each))] / float64(len(each))
		}
	}
	slices.Sort(means)
	return means[50], means[949]
}

// writeLimits says how sure the figure of the kinetics that were held out is.
func writeLimits(w io.Writer, r row) error {
	low, high := limits(r.ours.each)
	lowScript, highScript := limits(r.script.each)
	_, err := fmt.Fprintf(w, "\nHeld out, drawn again a thousand times: %.1f to %.1f points off, the scripted rule %.1f to %.1f (5 to 95 %%).\n", low, high, lowScript, highScript)
	return err
}
