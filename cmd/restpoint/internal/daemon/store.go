package daemon

import (
	"context"
	"slices"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/record"
)

func (d *Daemon) recordFails() bool {
	return d.cfg.Record != nil && (d.unsaved || d.cfg.Record.Failing() != nil)
}

// store hands the step to the record. It waits only when something happened that
// must be there before anything is switched on, and no longer than the deadline.
func (d *Daemon) store(ctx context.Context, commit bool, telemetry []record.Telemetry) bool {
	if d.cfg.Record == nil {
		return true
	}
	for _, t := range telemetry {
		d.cfg.Record.Note(t)
	}
	entries := d.entries()
	again := d.unsaved && d.counted >= d.retry
	if !commit && !again {
		d.cfg.Record.Keep(entries, d.plant)
		return true
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), commitDeadline)
	defer cancel()
	err := d.cfg.Record.Commit(ctx, entries, d.plant)
	d.unsaved, d.retry = err != nil, d.counted+commitAgain
	if err != nil {
		d.cfg.Log.Error("the record could not be written in time; control goes on from memory", "error", err)
	}
	return err == nil
}

func (d *Daemon) entries() []record.Entry {
	list := make([]record.Entry, 0, len(d.tanks))
	for _, t := range d.tanks {
		e := record.Entry{Vessel: t.Vessel.Vessel.Name, State: t.State, Counted: d.counted, Events: slices.Concat(t.out.Events, t.out.Notes), Batch: t.wantBatch, Decision: &t.out.Decision, Begin: t.begin}
		for i, a := range t.asks {
			if i < len(t.out.Answers) {
				e.Orders = append(e.Orders, record.Asked{Order: a.Order, Words: a.Words, Answer: t.out.Answers[i]})
			}
		}
		list = append(list, e)
	}
	return list
}

// keepLast hands the newest states over once more before the loop ends.
func (d *Daemon) keepLast() {
	if d.cfg.Record == nil || d.steps == 0 {
		return
	}
	for _, t := range d.tanks {
		t.out.Events, t.out.Notes, t.wantBatch, t.begin, t.out.Answers = nil, nil, nil, nil, nil
	}
	d.cfg.Record.Keep(d.entries(), d.plant)
}

// publish makes the step visible.
func (d *Daemon) publish(began time.Time) {
	s := &controller.Snapshot{
		Site: d.cfg.Site, Build: d.cfg.Build, At: began, Counted: d.counted,
		StepTook: d.cfg.Now().Sub(began), RecordFailing: d.recordFails(), Demo: d.cfg.Demo,
	}
	actual := d.cfg.Board.Actual().Vessels
	for i, t := range d.tanks {
		for _, e := range t.out.Events {
			t.recent = append(t.recent, controller.Stamped{At: began, Event: e})
		}
		if over := len(t.recent) - keepRecent; over > 0 {
			t.recent = slices.Clone(t.recent[over:])
		}
		s.Vessels = append(s.Vessels, t.view(actual[i]))
	}
	d.latest.Store(s)
}

func (t *tank) view(driven controller.Outputs) controller.View {
	v := controller.View{
		Name: t.Vessel.Vessel.Name, Decision: t.out.Decision,
		Heat:   relayView(t.Heat.Fitted, t.State.Guard.Heat, driven.Heat),
		Cool:   relayView(t.Cool.Fitted, t.State.Guard.Cool, driven.Cool),
		Recent: slices.Clone(t.recent), Verdicts: slices.Clone(t.verdicts),
	}
	for _, p := range t.probes {
		p.Faults = slices.Clone(p.Faults)
		v.Probes = append(v.Probes, p)
	}
	if s := t.Vessel.Vessel.Schedule; s != nil && t.State.Mode == controller.InBatch {
		v.Schedule, v.Carbonation, v.Final = s.Name, s.Carbonation, s.Wort.Final
		for i := range s.Stages {
			v.Stages = append(v.Stages, controller.StageName{Name: s.Stages[i].Name, Kind: s.Stages[i].Kind})
		}
	}
	return v
}

func relayView(fitted bool, l guard.Line, on bool) controller.RelayView {
	if on != l.On {
		l.On, l.For = on, 0 // just switched; the core hears of it with the next step
	}
	return controller.RelayView{Fitted: fitted, Line: l}
}

// tell writes the events to the log and answers who asked.
func (d *Daemon) tell(stored bool) {
	for _, t := range d.tanks {
		for _, e := range t.out.Events {
			level := d.cfg.Log.Info
			if e.Kind == controller.AlarmRaised {
				level = d.cfg.Log.Warn
			}
			level(e.String(), "vessel", t.Vessel.Vessel.Name, "stage", e.Stage)
		}
		if d.cfg.Heard != nil && len(t.out.Events) > 0 {
			d.cfg.Heard(t.Vessel.Vessel.Name, t.out.Events, t.out.Decision)
		}
		for i, a := range t.asks {
			if i < len(t.out.Answers) {
				a.Reply <- Reply{Answer: t.out.Answers[i], Stored: stored}
			}
		}
		t.asks = nil
	}
}
