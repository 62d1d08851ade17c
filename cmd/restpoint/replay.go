package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"example.org/restpoint/cmd/restpoint/internal/again"
	"example.org/restpoint/cmd/restpoint/internal/table"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles"
)

type replayFlags struct {
	schedule, og, fg, every string
	batch, suckBack         string
	confirmed, json, diff   bool
}

func replayCommand(e env) *cobra.Command {
	var f replayFlags
	c := &cobra.Command{
		Use:   "replay RECORD [--schedule FILE]",
		Short: "Take the decisions of a recorded batch again",
		Long: `Take a recorded batch through today's rules and tell what is decided, and when.

RECORD is the program's own record: a copy, or the one of a program at work.
Every input goes whole into the same rules, and what comes out is held against
what was decided then: events, verdicts and relays at every step, and the state
at every write to the last bit. A difference is an error. What the record lacks
is said. With --diff what today's rules decide otherwise is told, with both
sentences; with --schedule another schedule is tried on the same readings, the
relays being of no account.

Or RECORD is a table of somebody else's batch, and needs --schedule: a CSV file
with a header and the columns time (RFC 3339) or hours, beer_celsius and
gravity_sg, in any order; other columns are ignored, an empty cell is no reading.
Pitching counts from the first row. With a column order, and who, as restpoint
export writes them, each row is a step and what people asked is asked again; an
export as JSON brings its own schedule and gravities. What only a person could have
given (arming, confirmations) blocks, unless --assume-confirmed. With --json each
reading of the hydrometer that is not believed is a line too, with its verdict.`,
		Example: `  restpoint replay /var/lib/restpoint/record.db --batch b12
  restpoint replay batch-12.csv --schedule pale-ale-with-rest --og 1.051 --every 6h`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if isRecord(args[0]) {
				return replayRecord(cmd.Context(), e, args[0], f)
			}
			if f.schedule == "" && !isJSON(args[0]) {
				return badUse("replay of a table needs a schedule: --schedule FILE")
			}
			if f.batch != "" || f.diff {
				return badUse("--batch and --diff are for a record of the program itself; %s is none", args[0])
			}
			return replay(cmd.Context(), e, args[0], f)
		},
	}
	c.Flags().StringVar(&f.batch, "batch", "", "the batch, where the record holds several")
	c.Flags().BoolVar(&f.diff, "diff", false, "tell only what today's rules decide otherwise")
	c.Flags().StringVar(&f.schedule, "schedule", "", "schedule: a file, or the name of a built-in one")
	c.Flags().StringVar(&f.og, "og", "", "original gravity, instead of the schedule's")
	c.Flags().StringVar(&f.fg, "fg", "", "expected final gravity, instead of the schedule's")
	c.Flags().StringVar(&f.every, "every", "", "also print what is believed this often, such as 6h")
	c.Flags().StringVar(&f.suckBack, "suck-back", "", "how air is kept out in the crash, as the site has it:\nco2-supply needs no arming; of a table none is the usual one,\nof an export that goes into a crash unarmed co2-supply")
	c.Flags().BoolVar(&f.confirmed, "assume-confirmed", false, "a person arms and confirms as soon as it is asked")
	c.Flags().BoolVar(&f.json, "json", false, "print one JSON object an event")
	return c
}

// withGravities gives the schedule with the gravities of the command line.
func withGravities(s *controller.Schedule, og, fg string) (*controller.Schedule, error) {
	c, err := profiles.WithGravities(s, og, fg)
	if err != nil {
		return nil, badUse("--og, --fg: %w", err)
	}
	return c, nil
}

// read gives the schedule that was asked for, or nil, and how often to tell what is
// believed.
func (f *replayFlags) read() (sch *controller.Schedule, every time.Duration, err error) {
	if f.every != "" {
		if every, err = units.ParseDuration(f.every); err != nil || every < time.Minute {
			return nil, 0, badUse("--every: %q is not a time of a minute or more, such as 6h", f.every)
		}
	}
	if f.schedule == "" {
		return nil, every, nil
	}
	file, err := loadSchedule(f.schedule)
	if err != nil {
		return nil, 0, err
	}
	sch, err = withGravities(file.Schedule, f.og, f.fg)
	return sch, every, err
}

func replay(ctx canceller, e env, path string, f replayFlags) error {
	sch, every, err := f.read()
	if err != nil {
		return err
	}
	in, err := os.Open(path) //nolint:gosec // the operator names the file
	if err != nil {
		return fmt.Errorf("open record: %w", err)
	}
	var rec *table.Table
	if isJSON(path) {
		rec, sch, err = readJSON(path, in, sch, f)
	} else {
		rec, err = table.Read(path, in)
	}
	if err = errors.Join(err, in.Close()); err != nil {
		return err
	}
	if !f.json {
		if _, err := fmt.Fprintf(e.out, "%s, %d rows over %s, against %s\n\n%s", path, len(rec.Rows), units.Rough(rec.Length()), sch.Name, tableHead); err != nil {
			return err
		}
	}
	if !rec.HasBeer {
		_, _ = fmt.Fprintln(e.err, "note: the record has no beer_celsius: gravity alone is judged, conditions on temperature count as met")
		sch = withoutTemperature(sch)
	}
	o := replayOptions{suckBack: controller.SuckBack(f.suckBack), confirmed: f.confirmed, every: every}
	switch o.suckBack {
	case "":
		o.suckBack = keptOut(rec, sch)
	case controller.CO2Supply, controller.VacuumBreaker, controller.NoProtection:
	default:
		return badUse("--suck-back: %q is not %s, %s or %s", f.suckBack, controller.CO2Supply, controller.VacuumBreaker, controller.NoProtection)
	}
	return replayTable(ctx, rec, sch, o, f.emit(e))
}

// keptOut tells of an export how air was kept out of its tank: where it went into a
// crash and nobody armed it, gas was there.
func keptOut(rec *table.Table, sch *controller.Schedule) controller.SuckBack {
	for i := range rec.Rows {
		for _, o := range rec.Rows[i].Orders {
			if o.Do.Kind == controller.Arm {
				return controller.NoProtection
			}
		}
		for k := range sch.Stages {
			if st := &sch.Stages[k]; st.Kind == controller.Crash && st.Name == rec.Rows[i].Stage {
				return controller.CO2Supply
			}
		}
	}
	return controller.NoProtection
}

// isJSON tells whether a file begins as an export in JSON does.
func isJSON(path string) bool {
	in, err := os.Open(path) //nolint:gosec // the operator names the file
	if err != nil {
		return false // whoever reads it says why
	}
	head := make([]byte, 1)
	_, err = io.ReadFull(in, head)
	return errors.Join(err, in.Close()) == nil && head[0] == '{'
}

// readJSON reads an export in JSON. Its own schedule and gravities serve where no
// others are named.
func readJSON(path string, in io.Reader, sch *controller.Schedule, f replayFlags) (*table.Table, *controller.Schedule, error) {
	rec, b, err := table.ReadJSON(path, in)
	if err != nil || sch != nil {
		return rec, sch, err
	}
	file, err := profiles.Read(b.Schedule, []byte(b.ScheduleText))
	if err != nil {
		return nil, nil, configError{fmt.Errorf("%s: its schedule: %w", path, err)}
	}
	og, fg := f.og, f.fg
	if og == "" {
		og = units.Gravity(b.Original).String()
	}
	if fg == "" {
		fg = units.Gravity(b.Final).String()
	}
	sch, err = withGravities(file.Schedule, og, fg)
	return rec, sch, err
}

// emit writes lines as they were asked for.
func (f *replayFlags) emit(e env) func(line) error {
	return func(l line) error {
		if f.json {
			return l.writeJSON(e.out)
		}
		if l.Event == rejectedEvent {
			return nil // a person is told of runs of them
		}
		return l.writeText(e.out)
	}
}

// isRecord tells whether a file begins as a database does.
func isRecord(path string) bool {
	const magic = "SQLite format 3\x00"
	in, err := os.Open(path) //nolint:gosec // the operator names the file
	if err != nil {
		return false // whoever reads it says why
	}
	head := make([]byte, len(magic))
	_, err = io.ReadFull(in, head)
	return errors.Join(err, in.Close()) == nil && string(head) == magic
}

// replayRecord takes the decisions of the program's own record again.
func replayRecord(ctx context.Context, e env, path string, f replayFlags) (err error) {
	if f.confirmed {
		return badUse("--assume-confirmed is for a table: what people confirmed is in the record")
	}
	if f.schedule == "" && (f.og != "" || f.fg != "") {
		return badUse("--og and --fg go with --schedule: the batch's own are in the record")
	}
	sch, every, err := f.read()
	if err != nil {
		return err
	}
	r, err := record.Read(ctx, path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	batches, err := r.Batches(ctx)
	if err != nil {
		return err
	}
	if f.batch != "" {
		batches = slices.DeleteFunc(batches, func(b record.BatchInfo) bool { return b.ID != f.batch })
	}
	if len(batches) == 0 {
		return fmt.Errorf("%s: there is no batch %s in it", path, f.batch)
	}
	otherwise := 0
	for i := range batches {
		n, err := replayBatch(ctx, e, r, &batches[i], &f, again.Options{Schedule: sch, Own: f.diff || sch != nil}, every)
		if err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
		otherwise += n
	}
	if otherwise > 0 && !f.diff {
		return fmt.Errorf("%s: %d decisions or states are not those of the record; see --diff", path, otherwise)
	}
	return nil
}

// replayBatch takes one batch again, and tells how much of it is not as recorded.
func replayBatch(ctx context.Context, e env, r *record.Reader, b *record.BatchInfo, f *replayFlags, opt again.Options, every time.Duration) (int, error) {
	opt.Vessel, opt.Batch = b.Vessel, b.ID
	if !f.json {
		if _, err := fmt.Fprintf(e.out, "batch %s in %s, %s, begun %s\n\n%s", b.ID, b.Vessel, b.Name, b.Started.Format(time.RFC3339), tableHead); err != nil {
			return 0, err
		}
	}
	t := teller{emit: f.emit(e), differ: again.Differ{Loose: f.diff}, compare: opt.Schedule == nil, timeline: !f.diff, every: every}
	report, err := again.Play(ctx, r, opt, t.step)
	if err != nil {
		return t.otherwise, err
	}
	t.otherwise += report.States - report.Same
	return t.otherwise, f.summary(e, &report, &t.differ, t.otherwise)
}

// teller tells of the steps that are taken again.
type teller struct {
	emit              func(line) error
	differ            again.Differ
	compare, timeline bool
	every, said       time.Duration
	otherwise         int
}

func (t *teller) step(s *again.Step) error {
	var lines []line
	if t.compare {
		for _, d := range t.differ.Look(s) {
			t.otherwise++
			lines = append(lines, newDifference(d, s.Out.Decision))
		}
	}
	if t.timeline {
		for _, ev := range s.Out.Events {
			lines = append(lines, newLine(s.At, ev, s.Out.Decision))
		}
		if t.every > 0 && s.At >= t.said+t.every {
			t.said = s.At
			lines = append(lines, newEstimate(s.At, s.Out.Decision))
		}
	}
	for _, l := range lines {
		if err := t.emit(l); err != nil {
			return err
		}
	}
	return nil
}

// summary tells what the replay came to.
func (f *replayFlags) summary(e env, p *again.Report, d *again.Differ, otherwise int) error {
	if f.json {
		return json.NewEncoder(e.out).Encode(struct {
			Event      string   `json:"event"`
			Steps      int      `json:"steps"`
			Runs       int      `json:"runs"`
			States     int      `json:"states"`
			Same       int      `json:"states_same"`
			Differ     int      `json:"differ"`
			Unchecked  int      `json:"steps_unchecked"`
			Lacks      []string `json:"lacks,omitempty"`
			RecordedBy []string `json:"recorded_by"`
		}{"replayed", p.Steps, p.Runs, p.States, p.Same, otherwise, p.Tail, p.Cut, p.Program})
	}
	text := fmt.Sprintf("\n%d steps in %d runs of the program", p.Steps, p.Runs)
	switch {
	case f.schedule != "":
		text += " were taken with another schedule"
	case otherwise == 0:
		text += fmt.Sprintf(" were taken again: the same decisions at the same steps, the same\nstate in %d of %d places", p.Same, p.States)
	default:
		text += fmt.Sprintf(" were taken again: %d differences; recorded by version %s, this is %s", otherwise, strings.Join(p.Program, ", "), build().Version)
	}
	if f.diff {
		text += fmt.Sprintf("\nheat wanted for %s then and %s now, cooling %s and %s", units.Rough(d.Was[0]), units.Rough(d.Now[0]), units.Rough(d.Was[1]), units.Rough(d.Now[1]))
	}
	if p.Tail > 0 {
		text += fmt.Sprintf("\n%d steps behind the newest stored state were not held against anything", p.Tail)
	}
	_, err := fmt.Fprintln(e.out, strings.Join(append([]string{text}, p.Cut...), "\n"))
	return err
}

// withoutTemperature gives the schedule with its conditions on temperature taken
// as met.
func withoutTemperature(s *controller.Schedule) *controller.Schedule {
	c := *s
	c.Stages = append([]controller.Stage(nil), s.Stages...)
	for i := range c.Stages {
		c.Stages[i].Until = gravityOnly(c.Stages[i].Until)
	}
	return &c
}

func gravityOnly(c controller.Condition) controller.Condition {
	switch c.Kind {
	case controller.BeerAt:
		return controller.Condition{Kind: controller.Dwell}
	case controller.Dwell:
		c.HasBeerAbove = false
	case controller.All, controller.Any:
		of := make([]controller.Condition, len(c.Of))
		for i := range c.Of {
			of[i] = gravityOnly(c.Of[i])
		}
		c.Of = of
	case controller.Never, controller.PointsLeft, controller.ApparentAttenuation, controller.GravityAtMost,
		controller.Terminal, controller.Pitched, controller.Confirmed:
	}
	return c
}
