package history_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"math"
	"path/filepath"
	"reflect"
	"strconv"
	"testing"
	"time"

	"go.uber.org/goleak"

	"example.org/restpoint/cmd/restpoint/internal/history"
	"example.org/restpoint/cmd/restpoint/internal/history/historytest"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/record"
	"example.org/restpoint/controller/units"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// pale records eight days of a simulated pale ale: its crash is over by then.
func pale(t *testing.T, between func(*bench.Simulated)) *record.Reader {
	t.Helper()
	b := bench.Brew{Kind: bench.Conical, Seed: 2, Noise: plant.Typical(), Wort: plant.PaleAle(), Ambient: plant.Ambient{Mean: 20, Swing: 3}}
	return open(t, historytest.Brew(t, "pale-ale-with-rest", b, time.Hour, 8*units.Day, between))
}

func open(t *testing.T, path string) *record.Reader {
	t.Helper()
	r, err := record.Read(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = r.Close() })
	return r
}

func gather(t *testing.T, r *record.Reader) *history.Batch {
	t.Helper()
	info, err := history.Find(t.Context(), r, "")
	if err != nil {
		t.Fatal(err)
	}
	b, err := history.Gather(t.Context(), r, info)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// What is told of a batch is what the simulation did, seen from outside.
func TestABatchIsToldAsItWas(t *testing.T) {
	type stay struct {
		name string
		at   time.Duration
	}
	var stays []stay
	var heat, cool time.Duration
	var starts int64
	var was controller.Outputs
	var first bool
	var after time.Duration
	r := pale(t, func(s *bench.Simulated) {
		for _, e := range s.Tank.Out.Events {
			if e.Kind == controller.StageEntered {
				stays = append(stays, stay{e.Stage, s.Rig.Elapsed})
			}
		}
		if now := s.Tank.Driven; first { // what the relays are at for the step to come
			if now.Cool && !was.Cool {
				starts++
			}
			if now.Heat {
				heat += bench.Step
			}
			if now.Cool {
				cool += bench.Step
			}
			was = now
		}
		first, after = true, s.Rig.Elapsed
	})
	b := gather(t, r)
	if err := b.ReadGravities(t.Context(), r); err != nil {
		t.Fatal(err)
	}
	if d := after + bench.Step - b.Length; d < 0 || d > 5*time.Minute {
		t.Errorf("recorded %s, simulated %s", b.Length, after)
	}
	stages := b.Stages()
	if len(stages) != len(stays) || len(stages) != 5 {
		t.Fatalf("%d stages, the simulation had %d: %+v", len(stages), len(stays), stages)
	}
	for i, s := range stages {
		if s.Name != stays[i].name || s.From != stays[i].at {
			t.Errorf("stage %s from %s, was %+v", s.Name, s.From, stays[i])
		}
		if i > 0 && stages[i-1].To != s.From {
			t.Errorf("stage %s ends at %s, the next begins at %s", stages[i-1].Name, stages[i-1].To, s.From)
		}
	}
	if p := stages[1]; !p.Held.Known || p.Held.Error > 0.25 || p.Held.Share < 0.95 || p.Held.High > 20 {
		t.Errorf("primary held %+v", p.Held)
	}
	gotHeat, gotCool := b.Relays()
	if d := (gotHeat.On - heat).Abs(); d > 5*time.Minute {
		t.Errorf("heat on for %s, was %s", gotHeat.On, heat)
	}
	if d := (gotCool.On - cool).Abs(); d > 5*time.Minute || gotCool.Starts < starts-1 || gotCool.Starts > starts {
		t.Errorf("cool on for %s with %d starts, was %s with %d", gotCool.On, gotCool.Starts, cool, starts)
	}
	f := b.Figures()
	if !f.Known || !f.Terminal || f.Added || f.Original != 1.052 || math.Abs(float64(f.Final.Minus(1.010))) > 2 {
		t.Errorf("figures %+v", f)
	}
	// 1.052 to 1.010 is 5.5 % by volume within what two points of the end make.
	if f.ByVolume < 5.1 || f.ByVolume > 5.9 || f.Apparent < 0.75 || f.Apparent > 0.85 || f.Real < 0.61 || f.Real > 0.69 {
		t.Errorf("figures %+v", f)
	}
	if all, why := b.Rejected(); all < 700 || len(why) == 0 {
		t.Errorf("%d readings, not believed: %v", all, why)
	}
	names := map[controller.Milestone]bool{}
	for _, m := range b.Foreseen() {
		names[m.Milestone] = true
		if m.Made < 24 || m.Inside*2 < m.Made {
			t.Errorf("%+v", m)
		}
		for _, a := range m.Ahead {
			if a.Off.Abs() > 3*units.Day {
				t.Errorf("%s: %s ahead it was off by %s", m.Milestone, a.By, a.Off)
			}
		}
	}
	if len(names) != 4 {
		t.Errorf("judged %v", names)
	}
}

func TestAnExportHasEveryStep(t *testing.T) {
	steps := 0
	r := pale(t, func(*bench.Simulated) { steps++ })
	b := gather(t, r)
	var out bytes.Buffer
	if err := b.WriteCSV(t.Context(), r, &out); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&out).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(rows[0], history.Columns()) {
		t.Errorf("head %q", rows[0])
	}
	if len(rows)-1 != steps {
		t.Errorf("%d rows of %d steps", len(rows)-1, steps)
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	last, orders, gravities := -1.0, 0, 0
	for _, row := range rows[1:] {
		hours, err := strconv.ParseFloat(row[column["hours"]], 64)
		if err != nil || hours <= last {
			t.Fatalf("hours %q after %v: %v", row[column["hours"]], last, err)
		}
		last = hours
		if row[column["order"]] != "" {
			orders++
			if row[column["who"]] != "simulated brewer" {
				t.Errorf("who %q ordered %q", row[column["who"]], row[column["order"]])
			}
		}
		if row[column["gravity_sg"]] != "" {
			gravities++
		}
	}
	if orders < 4 || gravities < 700 { // start, pitched, arm, and jobs; a reading each 15 min
		t.Errorf("%d orders, %d gravities", orders, gravities)
	}
	var doc struct {
		Batch     string  `json:"batch"`
		Original  float64 `json:"original_gravity_sg"`
		Columns   []string
		Rows      [][]any
		Events    []struct{ Hours float64 }
		Decisions []struct{ Reasons []string }
	}
	out.Reset()
	if err := b.WriteJSON(t.Context(), r, &out); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(out.Bytes(), &doc); err != nil {
		t.Fatal(err)
	}
	if doc.Batch != "simulated" || doc.Original != 1.052 || !reflect.DeepEqual(doc.Columns, history.Columns()) || len(doc.Rows) != steps || len(doc.Events) < 10 {
		t.Errorf("batch %q, original %v, columns %q, %d rows, %d events", doc.Batch, doc.Original, doc.Columns, len(doc.Rows), len(doc.Events))
	}
	for i, d := range doc.Decisions {
		if len(d.Reasons) == 0 {
			t.Fatalf("decision %d has no reason", i)
		}
	}
}

func TestABatchThatIsNotThereIsNamedWithThoseThatAre(t *testing.T) {
	r := open(t, historytest.Brew(t, "pale-ale-with-rest", bench.Brew{Kind: bench.Bucket, Wort: plant.PaleAle()}, time.Hour, time.Hour, nil))
	_, err := history.Find(t.Context(), r, "b-12")
	var missing *history.NotFoundError
	if !errors.As(err, &missing) || err.Error() != `there is no batch "b-12"; the record holds simulated` {
		t.Errorf("%v", err)
	}
	if info, err := history.Find(t.Context(), r, "simulated"); err != nil || info.Vessel != "fv1" {
		t.Errorf("%+v, %v", info, err)
	}
}

// lives writes a batch through several runs of the program, each on a clock of its own.
type lives struct {
	path   string
	wall   time.Time
	synced bool
}

func (l *lives) run(t *testing.T, outage controller.Outage, first bool, minutes int) {
	t.Helper()
	r, _, err := record.Open(t.Context(), record.Options{Path: l.path, Flush: units.Day, Version: "test", Now: func() time.Time { return l.wall }, Synchronised: func() bool { return l.synced }})
	if err != nil {
		t.Fatal(err)
	}
	counted := 10 * time.Second
	for m := range minutes {
		s := controller.Fresh()
		s.Mode, s.Batch.ID = controller.InBatch, "b1"
		e := record.Entry{Vessel: "fv1", State: s, Counted: counted, Decision: &controller.Decision{Batch: "b1", Stage: "primary"}}
		switch {
		case m == 0 && first:
			e.Batch = &record.BatchInfo{ID: "b1", Vessel: "fv1", Name: "ale", Original: 1.050, Final: 1.010, Volume: 20}
			e.Events = []controller.Event{{Kind: controller.BatchStarted}, {Kind: controller.StageEntered, Stage: "primary"}}
		case m == 0:
			e.Events = []controller.Event{{Kind: controller.Resumed, Reason: controller.Reason{Code: controller.CodeResumedBlind}}}
			if outage.Known {
				e.Events[0].Reason = controller.Reason{Code: controller.CodeResumed, Numbers: []controller.Number{{Name: "outage", Value: outage.Length.Seconds(), Unit: controller.InTime}}}
			}
		}
		r.Keep([]record.Entry{e}, controller.PlantState{})
		counted += time.Minute
		l.wall = l.wall.Add(time.Minute)
	}
	if err := r.Close(t.Context()); err != nil {
		t.Fatal(err)
	}
}

// The runs of a program stand on one line: by what each counted, and by how long it
// was away, as far as anybody knows.
func TestRunsOfTheProgramStandOnOneLine(t *testing.T) {
	for _, row := range []struct {
		name   string
		synced bool
		gap    controller.Outage
		jump   time.Duration // of the wall clock between the runs
		want   time.Duration
		known  bool
	}{
		{"an outage that was measured", false, controller.Outage{Length: 2 * time.Hour, Known: true}, 90 * units.Day, 2 * time.Hour, true},
		{"one that only the labels of set clocks tell", true, controller.Outage{}, 3 * time.Hour, 3*time.Hour + 4*time.Minute + 50*time.Second, false},
		{"one that nobody knows", false, controller.Outage{}, 3 * time.Hour, 0, false},
		{"a clock that was set back tells nothing", true, controller.Outage{}, -units.Day, 0, false},
	} {
		t.Run(row.name, func(t *testing.T) {
			l := lives{filepath.Join(t.TempDir(), "record.db"), time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC), row.synced}
			l.run(t, controller.Outage{}, true, 60)
			l.wall = l.wall.Add(row.jump)
			l.run(t, row.gap, false, 60)
			b := gather(t, open(t, l.path))
			if len(b.Runs) != 2 || b.Runs[1].Outage != row.want || b.Runs[1].Known != row.known {
				t.Fatalf("runs %+v, want an outage of %s, known %v", b.Runs, row.want, row.known)
			}
			if b.Runs[0].From != 0 || b.Runs[0].To != 55*time.Minute || b.Runs[1].From != 55*time.Minute+row.want {
				t.Errorf("runs %+v", b.Runs)
			}
			for i := 1; i < len(b.Course); i++ {
				if b.Course[i].At < b.Course[i-1].At {
					t.Fatalf("moment %d at %s, the one before at %s", i, b.Course[i].At, b.Course[i-1].At)
				}
			}
		})
	}
}
