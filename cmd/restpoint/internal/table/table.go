// Package table reads a batch that somebody else recorded, or that was exported: a
// CSV file, row by row, and says in which line what is wrong.
//
// It refuses to guess: no unit is taken for another one, and no row for what it may
// have meant.
package table

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
)

// Table is a recorded batch: rows in the order of time.
type Table struct {
	Rows                []Row
	HasBeer, HasGravity bool
	Steps               bool // it is an export of ours: each row is a step

	began      time.Time // of the first row, where rows have times
	firstHours float64   // of the first row, where rows have hours
}

// Row is one line of it.
type Row struct {
	At         time.Duration // since the first row
	Beer       units.Celsius
	Gravity    units.Gravity
	HasBeer    bool
	HasGravity bool
	Stage      string             // of an export: where the batch was
	Orders     []controller.Order // of an export
}

// Length is the time from the first row to the last.
func (r *Table) Length() time.Duration { return r.Rows[len(r.Rows)-1].At }

const (
	maxRows       = 5_000_000
	maxRecordTime = 400 * units.Day
)

// columns are where the known columns stand; -1 is nowhere.
type columns struct{ time, hours, beer, gravity, stage, who, order int }

// Read reads a CSV record (RFC 4180; lines that begin with # are remarks).
func Read(name string, in io.Reader) (*Table, error) {
	text := bufio.NewReader(in)
	if mark, _ := text.Peek(3); string(mark) == "\ufeff" { // spreadsheets write a byte-order mark, before quotes too
		_, _ = text.Discard(3) // it is there
	}
	r := csv.NewReader(text)
	r.Comment = '#'
	r.ReuseRecord = true
	head, err := r.Read()
	if errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("%s: the file is empty; a header with hours or time, beer_celsius and gravity_sg is needed", name)
	}
	if err != nil {
		return nil, torn(name, err)
	}
	head = slices.Clone(head)
	cols, err := findColumns(head)
	if err != nil {
		return nil, fmt.Errorf("%s:1: %w", name, err)
	}
	rec := &Table{Steps: cols.order >= 0}
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if errors.Is(err, csv.ErrFieldCount) {
			n, _ := r.FieldPos(0)
			return nil, fmt.Errorf("%s:%d: there are %d cells under a header of %d; is it torn, or a decimal comma among them?", name, n, len(cells), len(head))
		}
		if err != nil {
			return nil, torn(name, err)
		}
		if err := rec.add(cols, cells); err != nil {
			n, _ := r.FieldPos(0)
			return nil, fmt.Errorf("%s:%d: %w", name, n, err)
		}
	}
	return rec.whole(name)
}

// whole holds what was read to what a replay needs.
func (r *Table) whole(name string) (*Table, error) {
	if len(r.Rows) < 2 {
		return nil, fmt.Errorf("%s: %d rows are no record of a batch", name, len(r.Rows))
	}
	if !r.HasGravity && !r.sampled() {
		return nil, fmt.Errorf("%s: there is no gravity in it: column gravity_sg is missing or empty", name)
	}
	if warm := r.warmth(); warm > warmest {
		return nil, fmt.Errorf("%s: half of beer_celsius is above %.0f: no beer ferments so warm; are these Fahrenheit?", name, float64(warm))
	}
	return r, nil
}

// torn says in which line a file stops being a table.
func torn(name string, err error) error {
	if e, ok := errors.AsType[*csv.ParseError](err); ok {
		return fmt.Errorf("%s:%d: column %d: %w; is the file torn?", name, e.Line, e.Column, e.Err)
	}
	return fmt.Errorf("read %s: %w", name, err)
}

// warmest is what half of a fermentation's readings may reach: the warmest yeasts end
// at 40 C (common practice). In Fahrenheit every ale is beyond it.
const warmest units.Celsius = 45

// warmth is the median of the beer's temperature.
func (r *Table) warmth() units.Celsius {
	var list []units.Celsius
	for i := range r.Rows {
		if r.Rows[i].HasBeer {
			list = append(list, r.Rows[i].Beer)
		}
	}
	if len(list) == 0 {
		return 0
	}
	slices.Sort(list)
	return list[len(list)/2]
}

// add takes one more row.
func (r *Table) add(cols columns, cells []string) error {
	row, err := cols.row(cells, r)
	if err != nil {
		return err
	}
	if n := len(r.Rows); n > 0 && row.At <= r.Rows[n-1].At {
		return errors.New("the row is not later than the one before it")
	}
	if row.At > maxRecordTime || len(r.Rows) >= maxRows {
		return fmt.Errorf("the record is longer than %s or %d rows", units.Duration(maxRecordTime), maxRows)
	}
	r.Rows = append(r.Rows, row)
	r.HasBeer = r.HasBeer || row.HasBeer
	r.HasGravity = r.HasGravity || row.HasGravity
	return nil
}

func findColumns(head []string) (columns, error) {
	c := columns{-1, -1, -1, -1, -1, -1, -1}
	for i, h := range head {
		at := map[string]*int{"time": &c.time, "hours": &c.hours, "beer_celsius": &c.beer, "gravity_sg": &c.gravity, "stage": &c.stage, "who": &c.who, "order": &c.order}[strings.TrimSpace(h)]
		if at == nil {
			continue
		}
		if *at >= 0 {
			return c, fmt.Errorf("column %q is there twice", h)
		}
		*at = i
	}
	if len(head) == 1 && strings.ContainsAny(head[0], ";\t") {
		return c, errors.New("there is one column only; cells are separated by commas (RFC 4180), numbers have a decimal point")
	}
	if err := c.units(head); err != nil {
		return c, err
	}
	if c.time < 0 && c.hours < 0 {
		return c, fmt.Errorf("there is no column time (RFC 3339) or hours; columns are %.200q", head)
	}
	return c, nil
}

// units finds a column that was meant and has another unit.
func (c columns) units(head []string) error {
	for _, want := range []struct {
		at        int
		stem, has string
	}{{c.beer, "beer", "beer_celsius"}, {c.gravity, "gravity", "gravity_sg"}} {
		for _, h := range head {
			name := strings.ToLower(strings.TrimSpace(h))
			if want.at < 0 && strings.HasPrefix(name, want.stem) && name != "gravity_raw" {
				return fmt.Errorf("column %q is not read: write it as %s", h, want.has)
			}
		}
	}
	return nil
}

// moment is when a row was, since the first one.
func (c columns) moment(cells []string, r *Table) (time.Duration, error) {
	first := len(r.Rows) == 0
	if c.time >= 0 {
		t, err := time.Parse(time.RFC3339, strings.TrimSpace(cells[c.time]))
		if err != nil {
			return 0, fmt.Errorf("time: %q is not a time after RFC 3339 such as 2026-03-01T18:30:00Z", cells[c.time])
		}
		if first {
			r.began = t
		}
		return t.Sub(r.began), nil
	}
	h, ok, err := numberCell("hours", cells[c.hours], -1e5, 1e5)
	if err != nil {
		return 0, err
	}
	if !ok {
		return 0, errors.New("hours: the cell is empty")
	}
	if first {
		r.firstHours = h
	}
	return time.Duration((h - r.firstHours) * float64(time.Hour)).Round(time.Millisecond), nil
}

func (c columns) row(cells []string, r *Table) (Row, error) {
	var row Row
	var err error
	if row.At, err = c.moment(cells, r); err != nil {
		return row, err
	}
	if c.beer >= 0 {
		beer, ok, err := numberCell("beer_celsius", cells[c.beer], -60, 150)
		if err != nil {
			return row, err
		}
		row.Beer, row.HasBeer = units.Celsius(beer), ok
	}
	if c.gravity >= 0 {
		var g float64
		g, row.HasGravity, err = numberCell("gravity_sg", cells[c.gravity], 0.9, 1.3)
		if err != nil && g >= 2 {
			err = fmt.Errorf("%w; it is specific gravity, such as 1.050: neither Plato nor thousandths", err)
		}
		row.Gravity = units.Gravity(g)
	}
	if err == nil && c.order >= 0 {
		row.Orders, err = c.orders(cells)
	}
	if c.stage >= 0 {
		row.Stage = r.stage(cells[c.stage])
	}
	return row, err
}

// stage gives the name that the row before has, where it is the same: of each row only
// that would else keep the whole line in memory.
func (r *Table) stage(name string) string {
	if n := len(r.Rows); n > 0 && r.Rows[n-1].Stage == name {
		return r.Rows[n-1].Stage
	}
	return strings.Clone(name)
}

// orders reads what people asked at one step, an order a line. The start is the
// first row's own, and a schedule that was adopted is not in an export.
func (c columns) orders(cells []string) ([]controller.Order, error) {
	text, who := cells[c.order], ""
	if text == "" {
		return nil, nil
	}
	if c.who >= 0 {
		who = cells[c.who]
	}
	var list []controller.Order
	names := strings.Split(who, "\n")
	for i, words := range strings.Split(text, "\n") {
		verb, err := controller.ParseVerb([]string{words})
		if err != nil {
			return nil, fmt.Errorf("order: %w", err)
		}
		if verb.Kind == controller.Start || verb.Kind == controller.Adopt {
			continue
		}
		o := controller.Order{Who: "replay", Do: verb}
		if i < len(names) && names[i] != "" {
			o.Who = names[i]
		}
		list = append(list, o)
	}
	return list, nil
}

// Ordered tells whether somebody gave an order of that kind.
func (r *Table) Ordered(kind controller.VerbKind) bool {
	for i := range r.Rows {
		for _, o := range r.Rows[i].Orders {
			if o.Do.Kind == kind {
				return true
			}
		}
	}
	return false
}

// sampled tells whether a person read the gravity.
func (r *Table) sampled() bool { return r.Ordered(controller.Sample) }

// numberCell reads one cell. An empty one is no reading; a wrong one is an error.
func numberCell(name, text string, low, high float64) (float64, bool, error) {
	text = strings.TrimSpace(text)
	if text == "" {
		return 0, false, nil
	}
	v, err := strconv.ParseFloat(text, 64)
	switch {
	case err != nil && strings.Contains(text, ","):
		return 0, false, fmt.Errorf("%s: %q is not a number: write a decimal point", name, text)
	case err != nil || math.IsNaN(v) || math.IsInf(v, 0):
		return 0, false, fmt.Errorf("%s: %q is not a number", name, text)
	case v < low || v > high:
		return v, false, fmt.Errorf("%s: %s is not possible, %g to %g is", name, text, low, high)
	}
	return v, true, nil
}

// Spacing is the median time between values of a column.
func (r *Table) Spacing(has func(Row) bool) time.Duration {
	var gaps []time.Duration
	last := time.Duration(-1)
	for _, row := range r.Rows {
		if !has(row) {
			continue
		}
		if last >= 0 {
			gaps = append(gaps, row.At-last)
		}
		last = row.At
	}
	if len(gaps) == 0 {
		return 0
	}
	slices.Sort(gaps)
	return gaps[len(gaps)/2]
}
