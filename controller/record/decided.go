package record

import (
	"context"
	"database/sql"
	"encoding/json"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/units"
)

// Decided is what was believed at one moment, what was wanted, and why. The numbers
// of the relays count over the whole life of their contacts.
type Decided struct {
	Run       int64 // this and the next five are filled when it is read back
	Batch     string
	Vessel    string
	At        time.Time
	Synced    bool // the clock of At could be believed
	Counted   time.Duration
	Stage     string
	Kind      controller.Kind
	HasTarget bool
	Target    units.Celsius
	HasBeer   bool
	Beer      units.Celsius
	Gravity   controller.Gravity // without what it falls by a day
	Outputs   controller.Outputs
	Heat      Use
	Cool      Use
	Reasons   []controller.Reason
}

// decisionsSince is the version of the file that holds them.
const decisionsSince = 3

// Use is how much a relay has been used.
type Use struct {
	Switches int64 // how often it was switched on
	On       time.Duration
}

// lookEvery is how often a decision is kept where nothing happens: a beer of 60 L
// moves by less than 0.1 K meanwhile, and 21 days stay below two megabytes.
const lookEvery = 5 * time.Minute

// looked is when a decision of a vessel was kept last.
type looked struct {
	vessel string
	at     time.Duration // counted
}

// decide gives what is to be kept of a step's decision: something happened, or it
// is time.
func (p *pending) decide(e *Entry) *Decided {
	if e.Decision == nil {
		return nil
	}
	i := 0
	for i < len(p.looked) && p.looked[i].vessel != e.Vessel {
		i++
	}
	if i == len(p.looked) {
		p.looked = append(p.looked, looked{e.Vessel, e.Counted - lookEvery})
	}
	if len(e.Events) == 0 && e.Counted-p.looked[i].at < lookEvery {
		return nil
	}
	p.looked[i].at = e.Counted
	d := e.Decision
	return &Decided{
		Batch: d.Batch, Stage: d.Stage, Kind: d.Kind, HasTarget: d.HasTarget, Target: d.Target,
		HasBeer: d.Beer.Usable(), Beer: d.Beer.Celsius, Gravity: d.Gravity, Outputs: d.Allowed,
		Heat: useOf(e.State.Guard.Heat), Cool: useOf(e.State.Guard.Cool), Reasons: d.Reasons,
	}
}

func useOf(l guard.Line) Use { return Use{l.Switches, l.OnFor} }

// decided writes one.
func (w *writer) decided(l *line) {
	d := l.decided
	reasons, ok := w.json("a decision of "+l.vessel, d.Reasons)
	if !ok {
		return
	}
	g := d.Gravity
	w.exec(`INSERT INTO decisions (run, batch, vessel, wall, synced, counted, stage, kind, target, beer, original, gravity,
			points_left, points_low, points_high, final, heat, cool, heat_switches, heat_on, cool_switches, cool_on, reasons)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		w.run, d.Batch, l.vessel, l.at.wall.UnixMilli(), l.at.synced, l.counted.Milliseconds(), d.Stage, string(d.Kind),
		known(d.HasTarget, d.Target), known(d.HasBeer, d.Beer), known(g.Known, g.Original), known(g.Known, g.Now),
		known(g.Known, g.Left), known(g.Known, g.Low), known(g.Known, g.High), known(g.Known, g.Final),
		d.Outputs.Heat, d.Outputs.Cool, d.Heat.Switches, d.Heat.On.Milliseconds(), d.Cool.Switches, d.Cool.On.Milliseconds(), reasons)
}

// known is a number that the file holds as null where it is not known.
func known[T ~float64](is bool, v T) sql.NullFloat64 {
	return sql.NullFloat64{Float64: float64(v), Valid: is}
}

// Decisions lists what was decided in a batch, in order.
func (q questions) Decisions(ctx context.Context, batch string) ([]Decided, error) {
	var list []Decided
	err := q.do(ctx, func(f *file) (err error) {
		list, err = f.decisions(batch)
		return err
	})
	return list, err
}

func (f *file) decisions(batch string) ([]Decided, error) {
	var list []Decided
	if f.version < decisionsSince {
		return nil, nil // a file of before, that nobody may write to
	}
	const query = `SELECT run, vessel, wall, synced, counted, stage, kind, target, beer, original, gravity,
			points_left, points_low, points_high, final, heat, cool, heat_switches, heat_on, cool_switches, cool_on, reasons
		FROM decisions WHERE batch = ? ORDER BY id`
	err := f.each(query, []any{batch}, func(scan scan) error {
		d := Decided{Batch: batch}
		var at, counted, heat, cool int64
		var target, beer, original, now, left, low, high, final sql.NullFloat64
		var reasons []byte
		if err := scan(&d.Run, &d.Vessel, &at, &d.Synced, &counted, &d.Stage, &d.Kind, &target, &beer, &original, &now,
			&left, &low, &high, &final, &d.Outputs.Heat, &d.Outputs.Cool, &d.Heat.Switches, &heat, &d.Cool.Switches, &cool, &reasons); err != nil {
			return err
		}
		d.At, d.Counted = wall(at), time.Duration(counted)*time.Millisecond
		d.HasTarget, d.Target = target.Valid, units.Celsius(target.Float64)
		d.HasBeer, d.Beer = beer.Valid, units.Celsius(beer.Float64)
		d.Gravity = controller.Gravity{
			Known: now.Valid, Original: units.Gravity(original.Float64), Now: units.Gravity(now.Float64), Final: units.Gravity(final.Float64),
			Left: units.Points(left.Float64), Low: units.Points(low.Float64), High: units.Points(high.Float64),
		}
		d.Heat.On, d.Cool.On = time.Duration(heat)*time.Millisecond, time.Duration(cool)*time.Millisecond
		err := json.Unmarshal(reasons, &d.Reasons)
		list = append(list, d)
		return err
	})
	return list, err
}
