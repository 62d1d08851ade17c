package main

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
	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/units"
)

// recording is a recorded batch: rows in the order of time.
type recording struct {
	rows                []recordedRow
	hasBeer, hasGravity bool
	steps               bool      // it is an export of ours: each row is a step
	began               time.Time // of the first row, where rows have times
	firstHours          float64   // of the first row, where rows have hours
}

type recordedRow struct {
	at      time.Duration // since the first row
	beer    float64
	gravity float64
	hasBeer bool
	hasGrav bool
	orders  []controller.Order // of an export
}

func (r *recording) length() time.Duration { return r.rows[len(r.rows)-1].at }

const (
	maxRows       = 5_000_000
	maxRecordTime = 400 * units.Day
)

// columns are where the known columns stand; -1 is nowhere.
type columns struct{ time, hours, beer, gravity, who, order int }

// readRecording reads a CSV record (RFC 4180; lines that begin with # are remarks).
func readRecording(name string, in io.Reader) (*recording, error) {
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
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	cols, err := findColumns(head)
	if err != nil {
		return nil, fmt.Errorf("%s:1: %w", name, err)
	}
	rec := &recording{steps: cols.order >= 0}
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if errors.Is(err, csv.ErrFieldCount) {
			n, _ := r.FieldPos(0)
			return nil, fmt.Errorf("%s:%d: there are %d cells under a header of %d; is a decimal comma among them?", name, n, len(cells), len(head))
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		if err := rec.add(cols, cells); err != nil {
			n, _ := r.FieldPos(0)
			return nil, fmt.Errorf("%s:%d: %w", name, n, err)
		}
	}
	if len(rec.rows) < 2 {
		return nil, fmt.Errorf("%s: %d rows are no record of a batch", name, len(rec.rows))
	}
	if !rec.hasGravity && !rec.sampled() {
		return nil, fmt.Errorf("%s: there is no gravity in it: column gravity_sg is missing or empty", name)
	}
	return rec, nil
}

// add takes one more row.
func (r *recording) add(cols columns, cells []string) error {
	row, err := cols.row(cells, r)
	if err != nil {
		return err
	}
	if n := len(r.rows); n > 0 && row.at <= r.rows[n-1].at {
		return errors.New("the row is not later than the one before it")
	}
	if row.at > maxRecordTime || len(r.rows) >= maxRows {
		return fmt.Errorf("the record is longer than %s or %d rows", units.Duration(maxRecordTime), maxRows)
	}
	r.rows = append(r.rows, row)
	r.hasBeer = r.hasBeer || row.hasBeer
	r.hasGravity = r.hasGravity || row.hasGrav
	return nil
}

func findColumns(head []string) (columns, error) {
	c := columns{-1, -1, -1, -1, -1, -1}
	for i, h := range head {
		at := map[string]*int{"time": &c.time, "hours": &c.hours, "beer_celsius": &c.beer, "gravity_sg": &c.gravity, "who": &c.who, "order": &c.order}[strings.TrimSpace(h)]
		if at == nil {
			continue
		}
		if *at >= 0 {
			return c, fmt.Errorf("column %q is there twice", h)
		}
		*at = i
	}
	if c.time < 0 && c.hours < 0 {
		return c, fmt.Errorf("there is no column time (RFC 3339) or hours; columns are %.200q", head)
	}
	return c, nil
}

func (c columns) row(cells []string, r *recording) (recordedRow, error) {
	var row recordedRow
	first := len(r.rows) == 0
	if c.time >= 0 {
		t, err := time.Parse(time.RFC3339, strings.TrimSpace(cells[c.time]))
		if err != nil {
			return row, fmt.Errorf("time: %q is not a time after RFC 3339 such as 2026-03-01T18:30:00Z", cells[c.time])
		}
		if first {
			r.began = t
		}
		row.at = t.Sub(r.began)
	} else {
		h, ok, err := numberCell("hours", cells[c.hours], -1e5, 1e5)
		if err != nil {
			return row, err
		}
		if !ok {
			return row, errors.New("hours: the cell is empty")
		}
		if first {
			r.firstHours = h
		}
		row.at = time.Duration((h - r.firstHours) * float64(time.Hour)).Round(time.Millisecond)
	}
	var err error
	if c.beer >= 0 {
		if row.beer, row.hasBeer, err = numberCell("beer_celsius", cells[c.beer], -60, 150); err != nil {
			return row, err
		}
	}
	if c.gravity >= 0 {
		row.gravity, row.hasGrav, err = numberCell("gravity_sg", cells[c.gravity], 0.9, 1.3)
	}
	if err == nil && c.order >= 0 {
		row.orders, err = c.orders(cells)
	}
	return row, err
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

// ordered tells whether somebody gave an order of that kind.
func (r *recording) ordered(kind controller.VerbKind) bool {
	for i := range r.rows {
		for _, o := range r.rows[i].orders {
			if o.Do.Kind == kind {
				return true
			}
		}
	}
	return false
}

// sampled tells whether a person read the gravity.
func (r *recording) sampled() bool { return r.ordered(controller.Sample) }

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
		return 0, false, fmt.Errorf("%s: %s is not possible, %g to %g is", name, text, low, high)
	}
	return v, true, nil
}

// spacing is the median time between values of a column.
func (r *recording) spacing(has func(recordedRow) bool) time.Duration {
	var gaps []time.Duration
	last := time.Duration(-1)
	for _, row := range r.rows {
		if !has(row) {
			continue
		}
		if last >= 0 {
			gaps = append(gaps, row.at-last)
		}
		last = row.at
	}
	if len(gaps) == 0 {
		return 0
	}
	slices.Sort(gaps)
	return gaps[len(gaps)/2]
}

const (
	replayStep = time.Minute
	// byHand: gravities further apart than this were read by a person.
	byHand = 4 * time.Hour
	// away: rows of an export that are further apart had an outage between them.
	away = 2 * time.Minute
)

// replayOptions are what a replay can be told.
type replayOptions struct {
	suckBack  controller.SuckBack
	confirmed bool
	every     time.Duration
}

// replay takes the record through the rules. The core steps every minute; a value
// is held until the next row of its column, and counts as lost only after three
// times the column's usual spacing, and an hour. Of an export each row is a step.
func (r *recording) replay(ctx canceller, sch *controller.Schedule, o replayOptions, emit func(line) error) error {
	if r.steps {
		return r.replaySteps(ctx, sch, o, emit)
	}
	beerGap := max(time.Hour, 3*r.spacing(func(x recordedRow) bool { return x.hasBeer }))
	gravGap := r.spacing(func(x recordedRow) bool { return x.hasGrav })
	v := &controller.Vessel{
		Name: "replay", Step: replayStep,
		Probes:  controller.Probes{Hydrometer: "replay/hydrometer"},
		Limits:  controller.Limits{Lowest: -5, Highest: 45},
		Silence: max(time.Hour, 3*gravGap), ByHand: gravGap > byHand, Coarse: true,
		SuckBack: o.suckBack,
	}
	if r.hasBeer {
		v.Probes.Thermowell = "replay/thermowell"
	}
	p := player{rec: r, v: v, state: controller.Fresh(), beerGap: beerGap, options: o, emit: emit}
	return p.play(ctx, sch)
}

// replaySteps takes an export through the rules: what came and what was asked at each
// step is given to the same step again.
func (r *recording) replaySteps(ctx canceller, sch *controller.Schedule, o replayOptions, emit func(line) error) error {
	v := &controller.Vessel{
		Name: "replay", Step: max(time.Second, r.spacing(func(recordedRow) bool { return true })),
		Limits: controller.Limits{Lowest: -5, Highest: 45}, SuckBack: o.suckBack,
	}
	if r.hasGravity {
		v.Probes.Hydrometer = "replay/hydrometer"
	}
	if r.hasBeer {
		v.Probes.Thermowell = "replay/thermowell"
	}
	p := player{rec: r, v: v, state: controller.Fresh(), options: o, emit: emit}
	p.begin(sch)
	last := time.Duration(0)
	for i := range r.rows {
		row := &r.rows[i]
		in := controller.Input{Elapsed: row.at - last, Readings: p.readings(row.at), Orders: append(p.orders, row.orders...)}
		if in.Elapsed > max(away, 3*v.Step) {
			in.Elapsed, in.Gap = 0, controller.Outage{Length: in.Elapsed, Known: true}
		}
		last, p.orders = row.at, nil
		if err := p.give(row.at, in); err != nil {
			return err
		}
		if i%10_000 == 0 && ctx.Err() != nil {
			return fmt.Errorf("replay ended at %s: %w", units.Rough(row.at), ctx.Err())
		}
	}
	return nil
}

// player is a replay at work.
type player struct {
	rec     *recording
	v       *controller.Vessel
	state   controller.State
	beerGap time.Duration
	options replayOptions
	emit    func(line) error

	next     int // row not yet given
	beer     float64
	beerAt   time.Duration
	beerSeen bool
	orders   []controller.Order
	said     time.Duration
}

// begin gives the orders that start the batch. The yeast is in from the first row,
// unless the record says when it went in.
func (p *player) begin(sch *controller.Schedule) {
	p.orders = []controller.Order{{ID: "start", Who: "replay", Do: controller.Verb{Kind: controller.Start, Batch: "replay", Schedule: sch}}}
	if sch.Stages[0].Kind == controller.Fill && !p.rec.ordered(controller.PitchedNow) {
		p.orders = append(p.orders, controller.Order{ID: "pitched", Who: "replay", Do: controller.Verb{Kind: controller.PitchedNow}})
	}
}

func (p *player) play(ctx canceller, sch *controller.Schedule) error {
	p.begin(sch)
	end := p.rec.length()
	for at := time.Duration(0); at < end+replayStep; at += replayStep {
		if err := p.step(at); err != nil {
			return err
		}
		if at%(24*time.Hour) == 0 {
			if err := ctx.Err(); err != nil {
				return fmt.Errorf("replay ended at %s: %w", units.Rough(at), err)
			}
		}
	}
	return nil
}

func (p *player) step(at time.Duration) error {
	in := controller.Input{Elapsed: replayStep, Readings: p.readings(at), Orders: p.orders}
	if at == 0 {
		in.Elapsed = 0
	}
	p.orders = nil
	return p.give(at, in)
}

// give takes one step.
func (p *player) give(at time.Duration, in controller.Input) error {
	var out controller.Outcome
	p.state, out = controller.Step(p.v, p.state, in)
	if out.Schedule != nil {
		p.v = p.v.With(out.Schedule)
	}
	if err := p.tell(at, out); err != nil {
		return err
	}
	if every := p.options.every; every > 0 && at >= p.said+every {
		p.said += every
		if err := p.emit(newEstimate(at, out.Decision)); err != nil {
			return err
		}
	}
	if p.options.confirmed {
		p.answer(out.Decision)
	}
	return nil
}

// tell emits what happened, as far as it is the record's and not the replay's own,
// and each reading that was not believed.
func (p *player) tell(at time.Duration, out controller.Outcome) error {
	for _, ev := range out.Events {
		switch ev.Kind {
		case controller.OrderTaken, controller.OrderRefused, controller.Resumed, controller.LateLoop, controller.BatchStarted:
			continue
		case controller.AlarmRaised, controller.AlarmOver:
			if ev.Alarm == string(alarms.BeerTooWarm) || ev.Alarm == string(alarms.BeerTooCold) {
				continue // somebody else led this beer
			}
		default:
		}
		if err := p.emit(newLine(at, ev, out.Decision)); err != nil {
			return err
		}
	}
	for _, v := range out.Verdicts {
		if v.Verdict.Believed() {
			continue
		}
		if err := p.emit(newRejection(at, v, out.Decision)); err != nil {
			return err
		}
	}
	return nil
}

// answer gives what only a person can give.
func (p *player) answer(d controller.Decision) {
	var verb controller.VerbKind
	switch {
	case d.NeedsWhat == string(controller.Arm):
		verb = controller.Arm
	case strings.HasPrefix(d.NeedsWhat, string(controller.Confirm)):
		verb = controller.Confirm
	default:
		return
	}
	p.orders = append(p.orders, controller.Order{Who: "assumed", Do: controller.Verb{Kind: verb}})
}

// readings gives the rows up to now, and the temperature that is held.
func (p *player) readings(at time.Duration) []controller.Reading {
	var list []controller.Reading
	for p.next < len(p.rec.rows) && p.rec.rows[p.next].at <= at {
		row := p.rec.rows[p.next]
		p.next++
		if row.hasBeer {
			p.beer, p.beerAt, p.beerSeen = row.beer, row.at, true
		}
		if row.hasGrav {
			list = append(list, controller.Reading{Probe: p.v.Probes.Hydrometer, Value: controller.OfGravity(units.Gravity(row.gravity))})
		}
	}
	if p.beerSeen && at-p.beerAt <= p.beerGap { // an export holds nothing: a step without a reading had none
		list = append(list, controller.Reading{Probe: p.v.Probes.Thermowell, Value: controller.OfTemperature(units.Celsius(p.beer))})
	}
	return list
}
