package again_test

import (
	"context"
	"errors"
	"iter"
	"os"
	"runtime"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/again"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles"
)

// lived is the record of some days of a cellar.
func lived(t *testing.T) *record.Reader {
	t.Helper()
	if testing.Short() {
		t.Skip("some days of a cellar take some seconds")
	}
	var path string
	folder := memory(t)
	synctest.Test(t, func(t *testing.T) {
		c := newCellar(t, folder, 7)
		life(c)
		path = c.path
	})
	if to := os.Getenv("RECORD_TO_WRITE"); to != "" {
		b, err := os.ReadFile(path)
		if err := errors.Join(err, os.WriteFile(to, b, 0o600)); err != nil {
			t.Fatal(err)
		}
	}
	return read(t, path)
}

func read(t *testing.T, path string) *record.Reader {
	t.Helper()
	r, err := record.Read(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = r.Close() })
	return r
}

// TestARecordOfAnotherProcessor takes the record of some days that another kind of
// processor wrote: the same decisions at the same steps. The last bits of a state may
// differ there, and add up from the first step to the last.
func TestARecordOfAnotherProcessor(t *testing.T) {
	path := os.Getenv("RECORD_TO_TAKE")
	if path == "" {
		t.Skip("there is no record of another processor; .ci/arch brings one")
	}
	report, differences := play(t, read(t, path), again.Options{Vessel: "fv1", Own: true}, &again.Differ{Loose: true})
	for _, d := range differences {
		t.Errorf("%v %s: was %q, now %q", d.At, d.What, d.Was, d.Now)
	}
	t.Logf("%d steps on %s", report.Steps, runtime.GOARCH)
	if report.Steps < 5000 {
		t.Errorf("only %d steps were taken again", report.Steps)
	}
}

func play(t *testing.T, from again.Source, opt again.Options, d *again.Differ) (again.Report, []again.Difference) {
	t.Helper()
	var list []again.Difference
	report, err := again.Play(t.Context(), from, opt, func(s *again.Step) error {
		list = append(list, d.Look(s)...)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return report, list
}

// Every decision of a record is taken again: same events, answers' sentences, relays
// and verdicts at the same steps, and the same state to the last bit at every flush
// and every end of a run.
func TestARecordIsTakenAgainToTheLastBit(t *testing.T) {
	r := lived(t)
	t.Run("what is otherwise is found", func(t *testing.T) { otherwise(t, r) })
	t.Run("what is missing is said", func(t *testing.T) { missing(t, r) })
	t.Run("another schedule is tried", func(t *testing.T) { rescheduled(t, r) })
	for _, c := range []struct {
		name         string
		opt          again.Options
		runs, states int
	}{
		{"all that the vessel did", again.Options{Vessel: "fv1"}, 4, 1000},
		{"the first batch", again.Options{Vessel: "fv1", Batch: "b1"}, 4, 1000},
		{"the second batch", again.Options{Vessel: "fv1", Batch: "b2"}, 1, 40},
	} {
		t.Run(c.name, func(t *testing.T) {
			report, differences := play(t, r, c.opt, &again.Differ{})
			t.Logf("%+v", report)
			if len(differences) > 0 {
				t.Errorf("%d differences, the first %+v", len(differences), differences[0])
			}
			if report.States < c.states || report.Same != report.States || report.Runs != c.runs {
				t.Errorf("%d of %d states are the same, in %d runs", report.Same, report.States, report.Runs)
			}
		})
	}
	report, _ := play(t, r, again.Options{Vessel: "fv1"}, &again.Differ{})
	cut := 0
	for _, what := range report.Cut {
		if strings.Contains(what, "the program was cut") {
			cut++
		}
	}
	if cut != 2 || len(report.Cut) != 2 {
		t.Errorf("two runs were killed, said is %q", report.Cut)
	}
}

// other is a source whose inputs or rules are not those of the record.
type other struct {
	*record.Reader
	vessel func(*controller.Vessel)
	step   func(*record.Telemetry)
}

func (o other) Begins(ctx context.Context) ([]record.Started, error) {
	list, err := o.Reader.Begins(ctx)
	for i := range list {
		if o.vessel != nil {
			o.vessel(&list[i].Vessel)
		}
	}
	return list, err
}

func (o other) StepsOf(ctx context.Context, run int64, vessel string, from time.Duration) iter.Seq2[record.Telemetry, error] {
	return func(yield func(record.Telemetry, error) bool) {
		for t, err := range o.Reader.StepsOf(ctx, run, vessel, from) {
			if o.step != nil {
				o.step(&t)
			}
			if !yield(t, err) {
				return
			}
		}
	}
}

// A replay that cannot find a difference shows nothing: the least change of an input
// or a rule is found.
func otherwise(t *testing.T, r *record.Reader) {
	t.Helper()
	moved := false
	nudged := other{Reader: r, step: func(s *record.Telemetry) {
		if !moved && s.Counted > 10*time.Hour && len(s.Readings) > 0 {
			s.Readings[0].Value.Celsius += 0.0625
			moved = true
		}
	}}
	if report, _ := play(t, nudged, again.Options{Vessel: "fv1"}, &again.Differ{}); report.Same == report.States {
		t.Errorf("one reading of %d steps was moved by its least digit, and %d of %d states are the same", report.Steps, report.Same, report.States)
	}
	ruled := other{Reader: r, vessel: func(v *controller.Vessel) { v.Limits.Highest = 21.5 }}
	_, differences := play(t, ruled, again.Options{Vessel: "fv1", Own: true}, &again.Differ{Loose: true})
	was, now, heat := "", "", ""
	for _, d := range differences {
		t.Logf("%v %s: was %q, now %q, because %q", d.At, d.What, d.Was, d.Now, d.Why)
		if d.What == "heat" {
			heat = d.Was + " " + d.Now
		}
		if d.What == string(controller.OrderTaken) && was == "" {
			was = d.Was
		}
		if d.What == string(controller.OrderRefused) && now == "" {
			now = d.Now
		}
	}
	if !strings.Contains(was, "target by anna") || !strings.Contains(now, "21.5 C") {
		t.Errorf("an order for 22 C where 21.5 C is the highest: was %q, now %q", was, now)
	}
	if heat != "on off" {
		t.Errorf("heat, on for 22 C and off for 19 C, is told as %q", heat)
	}
	if len(differences) > 20 {
		t.Errorf("%d differences are no overview", len(differences))
	}
}

// missing holds that a replay never guesses: it says what the record lacks, and goes
// on from the next state that is stored.
func missing(t *testing.T, r *record.Reader) {
	t.Helper()
	for _, c := range []struct {
		name string
		skip bool
		step func(*record.Telemetry) error
		want string
	}{
		{"a step that is lost", true, nil, "lacks readings, up to"},
		{"readings that were thinned", false, func(s *record.Telemetry) error { s.Every = time.Minute; return nil }, "one every 1 min: it is too old"},
		{"a pack that is damaged", false, func(*record.Telemetry) error { return record.ErrDamaged }, "a pack of readings that is damaged"},
	} {
		done := false
		lacking := holed{r, func(s *record.Telemetry) (bool, error) {
			if done || s.Counted < 10*time.Hour {
				return false, nil
			}
			done = true
			if c.step == nil {
				return c.skip, nil
			}
			return false, c.step(s)
		}}
		report, differences := play(t, lacking, again.Options{Vessel: "fv1"}, &again.Differ{})
		if len(differences) != 0 || report.Same != report.States {
			t.Errorf("%s: %d differences, %d of %d states the same: what is missing was guessed", c.name, len(differences), report.Same, report.States)
		}
		if len(report.Cut) != 3 || !strings.Contains(report.Cut[0], c.want) { // two more runs were killed
			t.Errorf("%s: said is %q, want %q", c.name, report.Cut, c.want)
		}
		if report.Steps < 4000 {
			t.Errorf("%s: only %d steps were taken again", c.name, report.Steps)
		}
	}
	if _, err := again.Play(t.Context(), r, again.Options{Vessel: "fv1", Batch: "b7"}, nil); err == nil || !strings.Contains(err.Error(), "batch b7") {
		t.Errorf("a batch that is not there: %v", err)
	}
}

// holed is a source with something missing.
type holed struct {
	*record.Reader
	hole func(*record.Telemetry) (skip bool, err error)
}

func (h holed) StepsOf(ctx context.Context, run int64, vessel string, from time.Duration) iter.Seq2[record.Telemetry, error] {
	return func(yield func(record.Telemetry, error) bool) {
		for t, err := range h.Reader.StepsOf(ctx, run, vessel, from) {
			skip, hole := h.hole(&t)
			if !skip && !yield(t, errors.Join(err, hole)) {
				return
			}
		}
	}
}

// rescheduled tries a schedule with another first temperature, and with fewer points
// left for its rest, on the readings of the first batch.
func rescheduled(t *testing.T, r *record.Reader) {
	t.Helper()
	f, err := profiles.Load("pale-ale-with-rest")
	if err != nil {
		t.Fatal(err)
	}
	rest := func(points units.Points) time.Duration {
		s := *f.Schedule
		s.Stages = slices.Clone(s.Stages)
		for i := range s.Stages {
			if s.Stages[i].Until.Kind == controller.PointsLeft {
				s.Stages[i].Until.Points = points
			}
		}
		at := time.Duration(0)
		_, err := again.Play(t.Context(), r, again.Options{Vessel: "fv1", Batch: "b1", Own: true, Schedule: &s}, func(s *again.Step) error {
			for _, e := range s.Out.Events {
				if e.Kind == controller.StageEntered && e.StageKind == controller.Rest && at == 0 {
					at = s.At
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return at
	}
	early, late := rest(25), rest(6)
	t.Logf("with 25 points left the rest begins after %v, with 6 after %v", early, late)
	if early == 0 || late == 0 || early >= late {
		t.Errorf("with 25 points left the rest begins after %v, with 6 after %v", early, late)
	}
}
