package daemon

import (
	"context"
	"errors"
	"fmt"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
	"example.org/restpoint/controller/relay"
	"example.org/restpoint/controller/thermal"
)

// Run is the loop. It ends with the context, and with every relay off.
func (d *Daemon) Run(ctx context.Context) (err error) {
	defer func() {
		if off := d.cfg.Board.Off(); off != nil {
			err = errors.Join(err, fmt.Errorf("switch every relay off: %w", off))
		}
		d.refuse()
	}()
	if err := d.cfg.Board.Off(); err != nil {
		d.cfg.Log.Error("relays could not be switched off at the start", "error", err)
	}
	for {
		select {
		case <-ctx.Done():
			d.keepLast()
			return nil
		case r := <-d.cfg.Readings:
			d.arrive(r)
		case a := <-d.cfg.Orders:
			d.queue(a)
		case t := <-d.cfg.Ticks:
			d.drain()
			d.step(ctx)
			if t.Done != nil {
				close(t.Done)
			}
		}
	}
}

// drain takes what came before the tick, so that the step sees it.
func (d *Daemon) drain() {
	for {
		select {
		case r := <-d.cfg.Readings:
			d.arrive(r)
		case a := <-d.cfg.Orders:
			d.queue(a)
		default:
			return
		}
	}
}

// most is how many readings of one vessel wait for a step; older ones give way.
const most = 256

func (d *Daemon) arrive(r controller.Reading) {
	for _, t := range d.tanks {
		for i := range t.probes {
			if t.probes[i].ID != r.Probe {
				continue
			}
			if len(t.readings) >= most {
				t.readings = t.readings[1:]
			}
			t.readings = append(t.readings, arrived{r, d.cfg.Now()})
			t.count(i, r, d.cfg.Now())
			return
		}
	}
}

// count notes what came from a probe; the snapshot gets a copy.
func (t *tank) count(i int, r controller.Reading, now time.Time) {
	p := &t.probes[i]
	if r.Fault == controller.NoFault {
		p.Last = now.Add(-r.Age)
		return
	}
	for k := range p.Faults {
		if p.Faults[k].Fault == r.Fault {
			p.Faults[k].Count++
		}
	}
}

// queue puts an order to its vessel. One for nobody is answered at once.
func (d *Daemon) queue(a Ask) {
	for _, t := range d.tanks {
		if t.Vessel.Vessel.Name == a.Vessel {
			t.asks = append(t.asks, a)
			return
		}
	}
	a.Reply <- Reply{Answer: controller.Answer{ID: a.Order.ID, Reason: controller.Reason{Code: controller.CodeNoVessel, Name: a.Vessel}}}
}

// refuse answers what can be carried out no more.
func (d *Daemon) refuse() {
	for {
		select {
		case a := <-d.cfg.Orders:
			a.Reply <- Reply{Answer: controller.Answer{ID: a.Order.ID, Reason: controller.Reason{Code: controller.CodeStopping}}}
		default:
			for _, t := range d.tanks {
				for _, a := range t.asks {
					a.Reply <- Reply{Answer: controller.Answer{ID: a.Order.ID, Reason: controller.Reason{Code: controller.CodeStopping}}}
				}
				t.asks = nil
			}
			return
		}
	}
}

// step takes every vessel one step on and does what was decided.
func (d *Daemon) step(ctx context.Context) {
	began := d.cfg.Now()
	elapsed := d.elapsed(began)
	if elapsed == 0 && d.steps > 1 {
		return // no whole millisecond has passed; 0 means the start of a process
	}
	d.counted += elapsed
	actual, contacts := d.cfg.Board.Actual().Vessels, d.contacts()
	wants, zones := make([]controller.Outputs, len(d.tanks)), make([]thermal.Zones, len(d.tanks))
	var telemetry []record.Telemetry
	commit := false
	for i, t := range d.tanks {
		in := t.input(began, elapsed)
		in.Actual, in.RecordFault, in.Quiet = actual[i], d.recordFails(), d.cfg.Quiet.At(began)
		in.Contacts = contacts[i]
		in.Hurried = d.steps%int64(len(d.tanks)) != int64(i)
		of := d.decide(t, in)
		wants[i], zones[i] = t.out.Outputs, t.out.Zones
		commit = commit || t.out.Commit
		note := record.Of(&in, &t.out)
		note.Vessel, note.Batch, note.Counted = t.Vessel.Vessel.Name, of, d.counted
		telemetry = append(telemetry, note)
	}
	levels := wants
	if d.cfg.Shared != nil {
		d.plant, levels = controller.Share(d.cfg.Shared, d.plant, elapsed, wants)
	}
	board := relay.Levels{Vessels: levels, Zones: zones, Chiller: d.plant.ChillerOn}
	lowered := d.cfg.Board.Lower(board)       // 1
	stored := d.store(ctx, commit, telemetry) // 2
	raised := d.cfg.Board.Raise(board)        // 3
	d.checkRelays(errors.Join(lowered, raised))
	d.publish(began) // 4
	d.tell(stored)   // 5
	if d.cfg.Fed != nil {
		d.cfg.Fed() // 6
	}
}

// contacts are those that are measured, while the relays are still as they were
// driven last. One that cannot be read is unmeasured.
func (d *Daemon) contacts() []controller.Contacts {
	list := make([]controller.Contacts, len(d.tanks))
	if d.cfg.Contacts == nil {
		return list
	}
	got, err := d.cfg.Contacts.Read()
	if err != nil && !d.unread {
		d.cfg.Log.Error("contacts of relays could not be read; they count as not measured", "error", err)
	}
	d.unread = err != nil
	copy(list, got)
	return list
}

// elapsed is the time since the newest step in whole milliseconds; what is below
// is carried on.
func (d *Daemon) elapsed(now time.Time) time.Duration {
	if d.steps++; d.steps == 1 {
		d.last = now
		return 0
	}
	e := max(0, now.Sub(d.last).Truncate(time.Millisecond))
	d.last = d.last.Add(e)
	return e
}

// input gathers what came since the last step.
func (t *tank) input(now time.Time, elapsed time.Duration) controller.Input {
	in := controller.Input{Elapsed: elapsed, RelayFault: t.relayFault}
	if elapsed == 0 {
		in.Gap, t.Gap = t.Gap, controller.Outage{}
	}
	for _, r := range t.readings {
		// Whole milliseconds, as the record keeps them: decisions can be taken again.
		r.Age = (r.Age + max(0, now.Sub(r.at))).Truncate(time.Millisecond)
		in.Readings = append(in.Readings, r.Reading)
	}
	t.readings = nil
	for _, a := range t.asks {
		in.Orders = append(in.Orders, a.Order)
	}
	return in
}

// decide takes one vessel a step on, and tells of which batch the step is: the one
// that ends with it, or the one that runs after it.
func (d *Daemon) decide(t *tank, in controller.Input) (batch string) {
	before, wired := t.State, t.Vessel.Vessel
	t.State, t.out = controller.Step(wired, before, in)
	batch = t.State.Batch.ID
	t.begin = nil
	if d.steps == 1 || batch != "" && batch != before.Batch.ID {
		t.begin = &record.Begin{State: before, Vessel: *wired, Site: t.Section}
	}
	if batch == "" {
		batch = before.Batch.ID
	}
	t.judge()
	t.wantBatch = nil
	if t.Differs {
		t.Differs = false
		t.out.Events = append(t.out.Events, controller.Event{Kind: controller.ScheduleDiffers, Reason: controller.Reason{Code: controller.CodeScheduleDiffers, Name: t.Name}})
		t.out.Commit = true
	}
	if t.out.Schedule == nil {
		return batch
	}
	t.Vessel.Vessel = t.With(t.out.Schedule)
	for _, a := range t.asks {
		if a.File != nil && a.Order.Do.Schedule == t.out.Schedule {
			t.Schedule, t.Name = string(a.File.Source), a.File.Name
			w := t.out.Schedule.Wort
			t.wantBatch = &record.BatchInfo{
				ID: t.State.Batch.ID, Vessel: t.Vessel.Vessel.Name, Name: t.Name, Schedule: t.Schedule,
				Original: w.Original, Final: w.Final, FinalSD: w.FinalSD,
				Volume: t.Volume, Site: t.Section, Who: a.Order.Who,
			}
		}
	}
	return batch
}

// judge counts what became of the hydrometer's readings.
func (t *tank) judge() {
	for _, v := range t.out.Verdicts {
		for i := range t.verdicts {
			if t.verdicts[i].Verdict == v.Verdict {
				t.verdicts[i].Count++
			}
		}
	}
}

// checkRelays notes which vessels could not be driven as they should be. A chiller
// that fails is every vessel's fault.
func (d *Daemon) checkRelays(err error) {
	if err != nil {
		d.cfg.Log.Error("relays could not be set", "error", err)
	}
	for _, t := range d.tanks {
		t.relayFault = relay.Concerns(err, t.Vessel.Vessel.Name)
	}
}
