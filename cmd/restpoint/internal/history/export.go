package history

import (
	"bufio"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"example.org/restpoint/controller"
)

// Columns are those of an export, in order; a temperature, a gravity and a time say
// their unit. Two orders of one step stand below one another in one cell.
func Columns() []string {
	return []string{
		"time", "hours", "stage", "beer_celsius", "surround_celsius", "ambient_celsius", "hydrometer_celsius",
		"gravity_sg", "gravity_raw", "verdict", "heat", "cool", "who", "order",
	}
}

// row is one step on its way out.
type row struct {
	at                           time.Duration
	stage                        string
	beer, surround, ambient, own number
	gravity, raw                 number
	verdict                      string
	actual                       controller.Outputs
	who, order                   []string
}

// number is one that may be unknown.
type number struct {
	is bool
	v  float64
}

func (n *number) set(v float64) { n.is, n.v = true, v }

// exporter walks through the steps with what happened beside them.
type exporter struct {
	b      *Batch
	events int // of those, the next
	orders int
	stage  string
}

// next makes a row of a step. What people asked belongs to the step that took it,
// which counted the same.
func (x *exporter) next(s *Step) row {
	r := row{at: s.At, actual: s.Actual}
	for ; x.events < len(x.b.Events) && x.b.Events[x.events].At <= s.At; x.events++ {
		if e := &x.b.Events[x.events]; e.Kind == controller.StageEntered {
			x.stage = e.Stage
		}
	}
	r.stage = x.stage
	for ; x.orders < len(x.b.Orders) && x.b.Orders[x.orders].At <= s.At; x.orders++ {
		o := &x.b.Orders[x.orders]
		r.who, r.order = append(r.who, oneLine(o.Order.Order.Who)), append(r.order, oneLine(o.Order.Order.Do.String()))
	}
	for i := range s.Readings {
		r.reading(&s.Readings[i])
	}
	for _, v := range s.Verdicts {
		r.verdict = v.Verdict.Word()
		r.raw.set(v.Raw)
		if v.Used != 0 {
			r.gravity.set(float64(v.Used))
		}
	}
	return r
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// reading puts a thermometer into its column. Of several thermowells the first is
// told, as control goes by it where it can.
func (r *row) reading(rd *controller.Reading) {
	if rd.Fault != controller.NoFault {
		return
	}
	to := map[string]*number{"thermowell": &r.beer, "surround": &r.surround, "ambient": &r.ambient, "hydrometer": &r.own}[place(rd.Probe)]
	if to != nil && rd.Value.HasCelsius && !to.is {
		to.set(float64(rd.Value.Celsius))
	}
}

// place is where a probe is: "thermowell" of "fv1/thermowell" and of "fv1/thermowell-top".
func place(id controller.ProbeID) string {
	_, name, _ := strings.Cut(string(id), "/")
	name, _, _ = strings.Cut(name, "-")
	return name
}

func (n number) text(decimals int) string {
	if !n.is {
		return ""
	}
	return strconv.FormatFloat(n.v, 'f', decimals, 64)
}

func level(on bool) string {
	if on {
		return "1"
	}
	return "0"
}

// WriteCSV writes every step of a batch (RFC 4180): a replay reads it.
func (b *Batch) WriteCSV(ctx context.Context, from Source, to io.Writer) error {
	out := csv.NewWriter(to)
	out.UseCRLF = true
	if err := out.Write(Columns()); err != nil {
		return fmt.Errorf("write the export: %w", err)
	}
	x := exporter{b: b}
	for s, err := range b.Steps(ctx, from) {
		if err != nil {
			return err
		}
		r := x.next(&s)
		err := out.Write([]string{
			b.label(r.at), strconv.FormatFloat(r.at.Hours(), 'f', 7, 64), r.stage, r.beer.text(4), r.surround.text(4), r.ambient.text(4),
			r.own.text(3), r.gravity.text(6), r.raw.text(6), r.verdict, level(r.actual.Heat), level(r.actual.Cool),
			strings.Join(r.who, "\n"), strings.Join(r.order, "\n"),
		})
		if err != nil {
			return fmt.Errorf("write the export: %w", err)
		}
	}
	out.Flush()
	if err := out.Error(); err != nil {
		return fmt.Errorf("write the export: %w", err)
	}
	return nil
}

// label is a moment after RFC 3339, to the millisecond, as the replay wants it.
func (b *Batch) label(at time.Duration) string {
	return b.Started.Add(at).UTC().Format("2006-01-02T15:04:05.000Z07:00")
}

// WriteJSON writes a batch whole as one JSON value: what it was started with, what
// happened, what was asked, what was believed, and every step as the rows of the CSV.
func (b *Batch) WriteJSON(ctx context.Context, from Source, to io.Writer) error {
	out := bufio.NewWriter(to)
	head, err := json.Marshal(b.document())
	if err != nil {
		return fmt.Errorf("write the export: %w", err)
	}
	columns, err := json.Marshal(Columns())
	if err != nil {
		return fmt.Errorf("write the export: %w", err)
	}
	// One row a line, so that a long batch can be read by line as well.
	_, _ = fmt.Fprintf(out, "%s,\n\"columns\":%s,\n\"rows\":[", head[:len(head)-1], columns) // Flush tells
	x, first := exporter{b: b}, true
	for s, err := range b.Steps(ctx, from) {
		if err != nil {
			return err
		}
		line, err := json.Marshal(x.next(&s).values(b))
		if err != nil {
			return fmt.Errorf("write the export: %w", err)
		}
		if !first {
			_ = out.WriteByte(',')
		}
		first = false
		_ = out.WriteByte('\n')
		_, _ = out.Write(line)
	}
	_, _ = out.WriteString("\n]}\n")
	if err := out.Flush(); err != nil {
		return fmt.Errorf("write the export: %w", err)
	}
	return nil
}

// values is a row as a JSON array under the columns; null is unknown.
func (r row) values(b *Batch) []any {
	v := func(n number) any {
		if !n.is {
			return nil
		}
		return n.v
	}
	return []any{
		b.label(r.at), r.at.Hours(), r.stage, v(r.beer), v(r.surround), v(r.ambient), v(r.own), v(r.gravity), v(r.raw),
		r.verdict, r.actual.Heat, r.actual.Cool, strings.Join(r.who, "\n"), strings.Join(r.order, "\n"),
	}
}

type document struct {
	Batch        string     `json:"batch"`
	Vessel       string     `json:"vessel"`
	VolumeLitres float64    `json:"volume_l"`
	Schedule     string     `json:"schedule"`
	ScheduleText string     `json:"schedule_text"`
	Original     float64    `json:"original_gravity_sg"`
	Final        float64    `json:"final_gravity_sg"`
	FinalSD      float64    `json:"final_gravity_sd_points"`
	Who          string     `json:"who"`
	Started      string     `json:"started"`
	Ended        string     `json:"ended,omitempty"`
	Events       []eventRow `json:"events"`
	Orders       []askedRow `json:"orders"`
	Decisions    []lookRow  `json:"decisions"`
}

type eventRow struct {
	Hours  float64 `json:"hours"`
	Event  string  `json:"event"`
	Stage  string  `json:"stage,omitempty"`
	Text   string  `json:"text"`
	Alarm  string  `json:"alarm,omitempty"`
	Reason string  `json:"reason,omitempty"`
}

type askedRow struct {
	Hours  float64 `json:"hours"`
	Who    string  `json:"who"`
	Order  string  `json:"order"`
	Why    string  `json:"why,omitempty"`
	Taken  bool    `json:"taken"`
	Answer string  `json:"answer"`
}

type lookRow struct {
	Hours   float64  `json:"hours"`
	Stage   string   `json:"stage"`
	Target  *float64 `json:"target_celsius"`
	Beer    *float64 `json:"beer_celsius"`
	Gravity *float64 `json:"gravity_sg"`
	Left    *float64 `json:"points_left"`
	Low     *float64 `json:"points_left_low"`
	High    *float64 `json:"points_left_high"`
	Final   *float64 `json:"final_gravity_sg"`
	Reasons []string `json:"reasons"`
}

func (b *Batch) document() document {
	d := document{
		Batch: b.ID, Vessel: b.Vessel, VolumeLitres: float64(b.Volume), Schedule: b.Name, ScheduleText: b.Schedule,
		Original: float64(b.Original), Final: float64(b.Final), FinalSD: float64(b.FinalSD), Who: b.Who, Started: b.label(0),
		Events: []eventRow{}, Orders: []askedRow{}, Decisions: []lookRow{},
	}
	if !b.Ended.IsZero() {
		d.Ended = b.Ended.UTC().Format(time.RFC3339)
	}
	for _, e := range b.Events {
		d.Events = append(d.Events, eventRow{e.At.Hours(), string(e.Kind), e.Stage, e.String(), e.Alarm, e.Reason.String()})
	}
	for _, o := range b.Orders {
		d.Orders = append(d.Orders, askedRow{o.At.Hours(), o.Order.Order.Who, o.Words, o.Order.Order.Why, o.Taken, o.Text})
	}
	for i := range b.Course {
		d.Decisions = append(d.Decisions, b.Course[i].row())
	}
	return d
}

func (m *Moment) row() lookRow {
	known := func(is bool, v float64) *float64 {
		if !is {
			return nil
		}
		return &v
	}
	g := m.Gravity
	r := lookRow{
		Hours: m.At.Hours(), Stage: m.Stage, Target: known(m.HasTarget, float64(m.Target)), Beer: known(m.HasBeer, float64(m.Beer)),
		Gravity: known(g.Known, float64(g.Now)), Left: known(g.Known, float64(g.Left)), Low: known(g.Known, float64(g.Low)),
		High: known(g.Known, float64(g.High)), Final: known(g.Known, float64(g.Final)), Reasons: []string{},
	}
	for _, why := range m.Reasons {
		r.Reasons = append(r.Reasons, why.String())
	}
	return r
}
