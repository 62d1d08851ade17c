package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"example.org/restpoint/cmd/restpoint/internal/web"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/gravity"
	"example.org/restpoint/controller/units"
)

type stepFlags struct{ site, schedule, og, fg, vessel string }

func stepCommand(e env) *cobra.Command {
	var f stepFlags
	c := &cobra.Command{
		Use:   "step -c SITE --schedule S",
		Short: "Couple any plant or logger by a pipe: JSON in, JSON out",
		Long: `Read one JSON object a line, take one step, write one JSON object a line. Any
plant model or logger in any language can be coupled so. The batch is started
with the first line; the nominal step is the first elapsed_s that is not 0.

in   {"elapsed_s":10,"readings":[{"probe":"fv1/thermowell","celsius":19.0625},
      {"probe":"fv1/hydrometer","sg":1.0312}],"orders":["pitched"]}
     A reading has celsius, or sg or plato (with at_celsius: not corrected yet),
     or kilopascals, or fault; and age_s. A hydrometer that the site file
     calibrates by a polynomial has raw instead of sg. What it gives is
     calibrated first, and corrected for temperature then.
     An order is its words, or {"do":WORDS,"who":..,"why":..,"id":..}.
     "actual":{"heat":false,"cool":true} tells what was really driven,
     "gap":{"length_s":600,"known":true} with elapsed_s 0 that the program was away,
     "contacts":{"heat":"closed"} what is measured of a relay, open or closed,
     "quiet":true that nobody wants to be woken now.
out  {"vessel":"fv1","stage":"primary","kind":"primary","target_celsius":19,
      "heat":false,"cool":true,"points_left":21.4,"points_left_low":19.0,
      "points_left_high":24.1,"alarms":[],"events":[],"reasons":["..."]}
     "gravity_readings" says of each what was made of it (sg) and its verdict:
     accepted, stepped (a new level of the device), or why it was not believed.
     "diacetyl_milligrams_per_litre" is advice in a rest: a model's, no measurement.
     "forecast" lists what is ahead (rest, terminal, crashed, ready), in seconds
     from now: early_s, middle_s, late_s are the 10, 50 and 90 % of it.

A line that cannot be read is answered by {"error":"..."}, changes nothing, and
makes the exit code 1 in the end.`,
		Example: "  my-plant | restpoint step -c site.yaml --schedule pale-ale-with-rest",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return stepLoop(cmd.Context(), e, f)
		},
	}
	c.Flags().StringVarP(&f.site, "site", "c", "", "the site file")
	c.Flags().StringVar(&f.schedule, "schedule", "", "schedule: a file, or the name of a built-in one")
	c.Flags().StringVar(&f.og, "og", "", "original gravity, instead of the schedule's")
	c.Flags().StringVar(&f.fg, "fg", "", "expected final gravity, instead of the schedule's")
	c.Flags().StringVar(&f.vessel, "vessel", "", "the vessel, where the site has several")
	return c
}

// maxLine is how long a line of input may be.
const maxLine = 1 << 20

// longLineError is the one error of a line that the next line mends.
type longLineError struct{}

func (longLineError) Error() string { return fmt.Sprintf("longer than %d bytes", maxLine) }

func stepLoop(ctx context.Context, e env, f stepFlags) error {
	p, err := newPipe(e, f)
	if err != nil {
		return err
	}
	in := bufio.NewReaderSize(e.in, 64<<10)
	out := json.NewEncoder(e.out)
	bad := 0
	for n := 1; ctx.Err() == nil; n++ {
		text, err := readLine(in)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil && !errors.Is(err, longLineError{}) {
			return fmt.Errorf("read line %d: %w", n, err)
		}
		var answer any
		if err == nil {
			if len(bytes.TrimSpace(text)) == 0 {
				continue
			}
			answer, err = p.step(text)
		}
		if err != nil {
			bad++
			answer = map[string]string{"error": fmt.Sprintf("line %d: %v", n, err)}
		}
		if err := out.Encode(answer); err != nil {
			return fmt.Errorf("write: %w", err)
		}
	}
	if bad > 0 {
		return fmt.Errorf("%d lines could not be read", bad)
	}
	return nil
}

// readLine reads one line; one that is too long is skipped whole.
func readLine(in *bufio.Reader) ([]byte, error) {
	var line []byte
	for {
		part, err := in.ReadSlice('\n')
		if len(line) <= maxLine {
			line = append(line, part...)
		}
		if errors.Is(err, bufio.ErrBufferFull) {
			continue
		}
		if err != nil && (len(line) == 0 || !errors.Is(err, io.EOF)) {
			return nil, err
		}
		if len(line) > maxLine {
			return nil, longLineError{}
		}
		return line, nil
	}
}

// pipe is a vessel coupled to somebody else's plant.
type pipe struct {
	v      *controller.Vessel
	state  controller.State
	driven controller.Outputs
	start  *controller.Order
	begun  bool
	paced  bool
	orders int
}

func newPipe(e env, f stepFlags) (*pipe, error) {
	if f.schedule == "" {
		return nil, badUse("step needs a schedule: --schedule S")
	}
	s, err := loadSite(e, f.site)
	if err != nil {
		return nil, err
	}
	file, err := loadSchedule(f.schedule)
	if err != nil {
		return nil, err
	}
	warn(e, file.Warnings)
	sch, err := withGravities(file.Schedule, f.og, f.fg)
	if err != nil {
		return nil, err
	}
	i := 0
	if f.vessel != "" {
		i = s.Find(f.vessel)
	}
	if i < 0 {
		return nil, badUse("there is no vessel %q at site %q", f.vessel, s.Name)
	}
	if f.vessel == "" && len(s.Vessels) > 1 {
		return nil, badUse("the site has %d vessels; choose one with --vessel", len(s.Vessels))
	}
	if _, err := s.CheckFit(i, file); err != nil {
		return nil, configError{err}
	}
	return &pipe{
		v: s.Vessel(i), state: controller.Fresh(),
		start: &controller.Order{ID: "start", Who: "step", Do: controller.Verb{Kind: controller.Start, Batch: "step", Schedule: sch}},
	}, nil
}

// The shape of a line of input.
type (
	pipeIn struct {
		Elapsed  *float64          `json:"elapsed_s"`
		Readings []pipeReading     `json:"readings"`
		Orders   []json.RawMessage `json:"orders"`
		Actual   *pipeOutputs      `json:"actual"`
		Contacts struct {
			Heat controller.Contact `json:"heat"`
			Cool controller.Contact `json:"cool"`
		} `json:"contacts"`
		Quiet bool `json:"quiet"`
		Gap   *struct {
			Length float64 `json:"length_s"`
			Known  bool    `json:"known"`
		} `json:"gap"`
	}
	pipeReading struct {
		Probe   string   `json:"probe"`
		Age     float64  `json:"age_s"`
		Celsius *float64 `json:"celsius"`
		SG      *float64 `json:"sg"`
		Plato   *float64 `json:"plato"`
		Raw     *float64 `json:"raw"`
		At      *float64 `json:"at_celsius"`
		Kilo    *float64 `json:"kilopascals"`
		Fault   string   `json:"fault"`
	}
	pipeOrder struct {
		ID  string `json:"id"`
		Who string `json:"who"`
		Why string `json:"why"`
		Do  string `json:"do"`
	}
	pipeOutputs struct {
		Heat bool `json:"heat"`
		Cool bool `json:"cool"`
	}
)

// pipeOut is the shape of a line of output.
type pipeOut struct {
	Vessel string   `json:"vessel"`
	Mode   string   `json:"mode"`
	Stage  string   `json:"stage"`
	Kind   string   `json:"kind"`
	Target *float64 `json:"target_celsius"`
	Beer   *float64 `json:"beer_celsius"`
	Heat   bool     `json:"heat"`
	Cool   bool     `json:"cool"`
	Left   *float64 `json:"points_left"`
	Low    *float64 `json:"points_left_low"`
	High   *float64 `json:"points_left_high"`
	Final  *float64 `json:"final_gravity"`
	// Diacetyl is advice only, and there in a rest only; null: not known.
	Diacetyl *float64           `json:"diacetyl_milligrams_per_litre"`
	Forecast []web.ForecastJSON `json:"forecast"`
	Needs    string             `json:"needs,omitempty"`
	Alarms   []string           `json:"alarms"`
	Events   []pipeEvent        `json:"events"`
	Reasons  []string           `json:"reasons"`
	Answers  []answerOut        `json:"answers,omitempty"`
	Read     []pipeRead         `json:"gravity_readings,omitempty"`
	WaitS    float64            `json:"wait_s,omitempty"`
}

type pipeEvent struct {
	Event  string `json:"event"`
	Stage  string `json:"stage,omitempty"`
	Kind   string `json:"kind,omitempty"`
	Alarm  string `json:"alarm,omitempty"`
	Order  string `json:"order,omitempty"`
	Say    string `json:"say,omitempty"`
	Reason string `json:"reason"`
}

// pipeRead is what became of a reading of the hydrometer.
type pipeRead struct {
	Probe   string   `json:"probe"`
	Raw     float64  `json:"raw"`
	SG      *float64 `json:"sg"` // calibrated, corrected for temperature then; null: it has none
	Verdict string   `json:"verdict"`
	Reason  string   `json:"reason,omitempty"` // where it was not simply accepted
}

func newPipeRead(v controller.ReadingVerdict) pipeRead {
	r := pipeRead{Probe: string(v.Probe), Raw: round(v.Raw, 6), Verdict: v.Verdict.Word()}
	if v.Used != 0 {
		r.SG = number(float64(v.Used), 5)
	}
	if v.Verdict != gravity.Accepted {
		r.Reason = string(v.Verdict)
	}
	return r
}

type answerOut struct {
	ID     string `json:"id"`
	Taken  bool   `json:"taken"`
	Reason string `json:"reason"`
}

func (p *pipe) step(text []byte) (any, error) {
	in, err := p.read(text)
	if err != nil {
		return nil, err
	}
	if !p.paced && in.Elapsed > 0 {
		p.paced, p.v = true, p.atPace(in.Elapsed)
	}
	if !p.begun {
		p.begun = true
		in.Elapsed = 0
		in.Orders = append([]controller.Order{*p.start}, in.Orders...)
	}
	var out controller.Outcome
	p.state, out = controller.Step(p.v, p.state, in)
	if out.Schedule != nil {
		p.v = p.v.With(out.Schedule)
	}
	p.driven = out.Outputs
	return p.answer(out), nil
}

// atPace gives the vessel with another nominal step: the plant on the pipe says
// how often it calls.
func (p *pipe) atPace(step time.Duration) *controller.Vessel {
	v := *p.v
	v.Step = step
	return &v
}

func (p *pipe) read(text []byte) (controller.Input, error) {
	var raw pipeIn
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&raw); err != nil {
		return controller.Input{}, fmt.Errorf("not the JSON that is wanted: %w", err)
	}
	if d.More() {
		return controller.Input{}, errors.New("more than one JSON value on the line")
	}
	if raw.Elapsed == nil {
		return controller.Input{}, errors.New("elapsed_s is missing")
	}
	in := controller.Input{Actual: p.driven, Quiet: raw.Quiet, Contacts: controller.Contacts{Heat: raw.Contacts.Heat, Cool: raw.Contacts.Cool}}
	for _, c := range [...]controller.Contact{in.Contacts.Heat, in.Contacts.Cool} {
		if c != controller.Unmeasured && c != controller.Open && c != controller.Closed {
			return in, fmt.Errorf("contacts: %q is neither open nor closed", c)
		}
	}
	var err error
	if in.Elapsed, err = seconds("elapsed_s", *raw.Elapsed); err != nil {
		return in, err
	}
	if raw.Gap != nil {
		if in.Gap.Length, err = seconds("gap.length_s", raw.Gap.Length); err != nil {
			return in, err
		}
		in.Gap.Known, in.Elapsed = raw.Gap.Known, 0
	}
	if in.Elapsed == 0 {
		in.Actual = controller.Outputs{} // a program that was away has left every relay off
	}
	if raw.Actual != nil {
		in.Actual = controller.Outputs{Heat: raw.Actual.Heat, Cool: raw.Actual.Cool}
	}
	for i := range raw.Readings {
		r, err := p.reading(&raw.Readings[i])
		if err != nil {
			return in, fmt.Errorf("readings[%d]: %w", i, err)
		}
		in.Readings = append(in.Readings, r)
	}
	orders, err := p.readOrders(raw.Orders)
	in.Orders = orders
	return in, err
}

const longestElapsed = 400 * units.Day

func seconds(name string, s float64) (time.Duration, error) {
	if !(s >= 0 && s <= longestElapsed.Seconds()) {
		return 0, fmt.Errorf("%s: %g is not a time in seconds from 0 to %g", name, s, longestElapsed.Seconds())
	}
	return time.Duration(math.Round(s*1000)) * time.Millisecond, nil
}

// reading takes one reading. What the number means is judged by the core; only
// what is no reading at all is refused here.
func (p *pipe) reading(raw *pipeReading) (controller.Reading, error) {
	known := p.v.Probes.All()
	r := controller.Reading{Probe: controller.ProbeID(raw.Probe), Fault: controller.Fault(raw.Fault)}
	switch {
	case r.Probe == "":
		return r, errors.New("probe is missing")
	case !slices.Contains(known, r.Probe):
		return r, fmt.Errorf("there is no probe %q; probes are %s", raw.Probe, probeList(known))
	}
	var err error
	if r.Age, err = seconds("age_s", raw.Age); err != nil {
		return r, err
	}
	given := 0
	for _, set := range []bool{raw.Celsius != nil, raw.SG != nil, raw.Plato != nil, raw.Raw != nil, raw.Kilo != nil, raw.Fault != ""} {
		if set {
			given++
		}
	}
	if given != 1 {
		return r, errors.New("exactly one of celsius, sg, plato, raw, kilopascals and fault is needed")
	}
	switch {
	case raw.Celsius != nil:
		if r.Probe == p.v.Probes.Hydrometer {
			return r, errors.New("a hydrometer gives sg, plato or raw")
		}
		if r.Probe == p.v.Probes.Pressure {
			return r, errors.New("a pressure transducer gives kilopascals")
		}
		r.Value = controller.OfTemperature(units.Celsius(*raw.Celsius))
	case raw.Kilo != nil:
		if r.Probe != p.v.Probes.Pressure {
			return r, errors.New("only a pressure transducer gives kilopascals")
		}
		r.Value = controller.OfPressure(units.Pascals(*raw.Kilo) * units.PascalsPerKilo)
	case raw.Fault != "":
		if slices.Contains(controller.Faults(), r.Fault) {
			return r, nil
		}
		return r, fmt.Errorf("there is no fault %q", raw.Fault)
	default:
		return r, p.gravity(raw, &r)
	}
	return r, nil
}

func (p *pipe) gravity(raw *pipeReading, r *controller.Reading) error {
	if r.Probe != p.v.Probes.Hydrometer {
		return errors.New("a thermometer gives celsius")
	}
	if own := p.v.Calibration.Own; own != (raw.Raw != nil) {
		if own {
			return errors.New("this hydrometer is calibrated by a polynomial: it gives raw")
		}
		return errors.New("this hydrometer has no polynomial that makes a gravity of raw: it gives sg or plato")
	}
	if raw.Raw != nil {
		r.Value = controller.OfNumber(*raw.Raw)
		if raw.At != nil {
			r.Value.Celsius, r.Value.HasCelsius = units.Celsius(*raw.At), true
		} else {
			r.Value.Corrected = true
		}
		return nil
	}
	var g units.Gravity
	if raw.SG != nil {
		g = units.Gravity(*raw.SG)
	} else {
		g = units.Plato(*raw.Plato).Gravity()
	}
	if !g.Plausible() {
		return fmt.Errorf("%s is not a gravity that a fermenter can hold", g.Fixed(4))
	}
	r.Value = controller.OfGravity(g)
	if raw.At != nil {
		r.Value = controller.OfSample(g, units.Celsius(*raw.At))
	}
	return nil
}

func probeList(all []controller.ProbeID) string {
	list := make([]string, len(all))
	for i, id := range all {
		list[i] = string(id)
	}
	return strings.Join(list, ", ")
}

func (p *pipe) readOrders(raw []json.RawMessage) ([]controller.Order, error) {
	var list []controller.Order
	for i, text := range raw {
		var o pipeOrder
		if json.Unmarshal(text, &o.Do) != nil {
			d := json.NewDecoder(bytes.NewReader(text))
			d.DisallowUnknownFields()
			if err := d.Decode(&o); err != nil {
				return nil, fmt.Errorf("orders[%d]: %w", i, err)
			}
		}
		v, err := controller.ParseVerb([]string{o.Do})
		if err != nil {
			return nil, fmt.Errorf("orders[%d]: %w", i, err)
		}
		if v.Kind == controller.Start || v.Kind == controller.Adopt {
			f, err := loadSchedule(v.Say)
			if err != nil {
				return nil, fmt.Errorf("orders[%d]: %w", i, err)
			}
			v.Schedule = f.Schedule
		}
		p.orders++
		if o.ID == "" {
			o.ID = "line-" + strconv.Itoa(p.orders)
		}
		if o.Who == "" {
			o.Who = "step"
		}
		list = append(list, controller.Order{ID: o.ID, Who: o.Who, Why: o.Why, Do: v})
	}
	return list, nil
}

func (p *pipe) answer(out controller.Outcome) pipeOut {
	d := out.Decision
	a := pipeOut{
		Vessel: p.v.Name, Mode: string(d.Mode), Stage: d.Stage, Kind: string(d.Kind),
		Heat: out.Outputs.Heat, Cool: out.Outputs.Cool, Needs: d.NeedsWhat, WaitS: d.Wait.Seconds(),
		Alarms: []string{}, Events: []pipeEvent{}, Reasons: []string{}, Forecast: web.Forecasts(d.Forecast),
	}
	if d.HasTarget {
		a.Target = number(float64(d.Target), 4)
	}
	if d.Beer.Usable() {
		a.Beer = number(float64(d.Beer.Celsius), 4)
	}
	if g := d.Gravity; g.Known {
		a.Left, a.Low, a.High = number(float64(g.Left), 2), number(float64(g.Low), 2), number(float64(g.High), 2)
		a.Final = number(float64(g.Final), 5)
	}
	if d.Diacetyl.Known() {
		a.Diacetyl = number(d.Diacetyl.MgL, 3)
	}
	for _, al := range d.Alarms {
		if al.Raised() {
			a.Alarms = append(a.Alarms, string(al.ID))
		}
	}
	for _, e := range out.Events {
		a.Events = append(a.Events, pipeEvent{
			Event: string(e.Kind), Stage: e.Stage, Kind: string(e.StageKind), Alarm: e.Alarm,
			Order: string(e.Verb), Say: e.Say, Reason: e.Reason.String(),
		})
	}
	for _, r := range d.Reasons {
		a.Reasons = append(a.Reasons, r.String())
	}
	for _, v := range out.Verdicts {
		a.Read = append(a.Read, newPipeRead(v))
	}
	for _, x := range out.Answers {
		a.Answers = append(a.Answers, answerOut{x.ID, x.Taken, x.Reason.String()})
	}
	return a
}
