package main

import (
	"fmt"
	"strings"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/table"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/units"
)

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
func replayTable(ctx canceller, r *table.Table, sch *controller.Schedule, o replayOptions, emit func(line) error) error {
	if r.Steps {
		return replaySteps(ctx, r, sch, o, emit)
	}
	beerGap := max(time.Hour, 3*r.Spacing(func(x table.Row) bool { return x.HasBeer }))
	gravGap := r.Spacing(func(x table.Row) bool { return x.HasGravity })
	v := &controller.Vessel{
		Name: "replay", Step: replayStep,
		Probes:  controller.Probes{Hydrometer: "replay/hydrometer"},
		Limits:  controller.Limits{Lowest: -5, Highest: 45},
		Silence: max(time.Hour, 3*gravGap), ByHand: gravGap > byHand, Coarse: true,
		SuckBack: o.suckBack,
	}
	if r.HasBeer {
		v.Probes.Thermowell = "replay/thermowell"
	}
	p := player{rec: r, v: v, state: controller.Fresh(), beerGap: beerGap, options: o, emit: emit}
	return p.play(ctx, sch)
}

// replaySteps takes an export through the rules: what came and what was asked at each
// step is given to the same step again.
func replaySteps(ctx canceller, r *table.Table, sch *controller.Schedule, o replayOptions, emit func(line) error) error {
	v := &controller.Vessel{
		Name: "replay", Step: max(time.Second, r.Spacing(func(table.Row) bool { return true })),
		Limits: controller.Limits{Lowest: -5, Highest: 45}, SuckBack: o.suckBack,
	}
	if r.HasGravity {
		v.Probes.Hydrometer = "replay/hydrometer"
	}
	if r.HasBeer {
		v.Probes.Thermowell = "replay/thermowell"
	}
	p := player{rec: r, v: v, state: controller.Fresh(), options: o, emit: emit}
	p.begin(sch)
	last := time.Duration(0)
	for i := range r.Rows {
		row := &r.Rows[i]
		in := controller.Input{Elapsed: row.At - last, Readings: p.readings(row.At), Orders: append(p.orders, row.Orders...)}
		if in.Elapsed > max(away, 3*v.Step) {
			in.Elapsed, in.Gap = 0, controller.Outage{Length: in.Elapsed, Known: true}
		}
		last, p.orders = row.At, nil
		if err := p.give(row.At, in); err != nil {
			return err
		}
		if i%10_000 == 0 && ctx.Err() != nil {
			return fmt.Errorf("replay ended at %s: %w", units.Rough(row.At), ctx.Err())
		}
	}
	return nil
}

// player is a replay at work.
type player struct {
	rec     *table.Table
	v       *controller.Vessel
	state   controller.State
	beerGap time.Duration
	options replayOptions
	emit    func(line) error

	next     int // row not yet given
	beer     units.Celsius
	beerAt   time.Duration
	beerSeen bool
	orders   []controller.Order
	said     time.Duration
}

// begin gives the orders that start the batch. The yeast is in from the first row,
// unless the record says when it went in.
func (p *player) begin(sch *controller.Schedule) {
	p.orders = []controller.Order{{ID: "start", Who: "replay", Do: controller.Verb{Kind: controller.Start, Batch: "replay", Schedule: sch}}}
	if sch.Stages[0].Kind == controller.Fill && !p.rec.Ordered(controller.PitchedNow) {
		p.orders = append(p.orders, controller.Order{ID: "pitched", Who: "replay", Do: controller.Verb{Kind: controller.PitchedNow}})
	}
}

func (p *player) play(ctx canceller, sch *controller.Schedule) error {
	p.begin(sch)
	end := p.rec.Length()
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
	for p.next < len(p.rec.Rows) && p.rec.Rows[p.next].At <= at {
		row := p.rec.Rows[p.next]
		p.next++
		if row.HasBeer {
			p.beer, p.beerAt, p.beerSeen = row.Beer, row.At, true
		}
		if row.HasGravity {
			list = append(list, controller.Reading{Probe: p.v.Probes.Hydrometer, Value: controller.OfGravity(row.Gravity)})
		}
	}
	if p.beerSeen && at-p.beerAt <= p.beerGap { // an export holds nothing: a step without a reading had none
		list = append(list, controller.Reading{Probe: p.v.Probes.Thermowell, Value: controller.OfTemperature(p.beer)})
	}
	return list
}
