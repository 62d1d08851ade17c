package record_test

import (
	"os"
	"reflect"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
)

// Whatever a step is given comes back from a pack: a field of the input that is
// forgotten on the way shows here.
func TestEveryFieldOfAnInputIsKept(t *testing.T) {
	in := full[controller.Input]()
	in.Orders = nil // stand in a table of their own
	in.Elapsed, in.Gap.Length = 5*time.Second, time.Hour
	in.Contacts = controller.Contacts{Heat: controller.Closed, Cool: controller.Open}
	in.Readings = []controller.Reading{
		{Probe: "fv1/thermowell", Age: 3 * time.Millisecond, Value: controller.OfTemperature(19.0625)},
		{Probe: "fv1/pressure", Value: controller.OfPressure(51250), Fault: controller.BusError},
		{Probe: "fv1/hydrometer", Value: controller.Value{Quantity: controller.SpecificGravity, Gravity: 1.05, Celsius: 19, HasCelsius: true, Corrected: true}},
		{Probe: "fv1/hydrometer", Value: controller.OfNumber(45.5)},
	}
	out := controller.Outcome{Outputs: controller.Outputs{Cool: true}}
	for _, c := range []struct {
		name   string
		change func(*controller.Input)
	}{
		{"every field", func(*controller.Input) {}},
		{"an outage of unknown length", func(in *controller.Input) { in.Gap = controller.Outage{} }},
		{"a known outage of no length", func(in *controller.Input) { in.Gap = controller.Outage{Known: true} }},
		{"no contact", func(in *controller.Input) { in.Contacts = controller.Contacts{} }},
		{"one contact", func(in *controller.Input) { in.Contacts.Heat = controller.Unmeasured }},
		{"no fault of an edge", func(in *controller.Input) { in.RelayFault, in.RecordFault = false, false }},
		{"nothing rare", func(in *controller.Input) { *in = controller.Input{Elapsed: time.Second} }},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := in
			c.change(&in)
			pack, err := record.Pack([]record.Telemetry{record.Of(&in, &out), record.Of(&in, &out)})
			if err != nil {
				t.Fatal(err)
			}
			steps, err := record.Unpack(pack)
			if err != nil || len(steps) != 2 {
				t.Fatalf("%d steps, %v", len(steps), err)
			}
			for i := range steps {
				if got := steps[i].Input(); !reflect.DeepEqual(got, in) || steps[i].Outputs != out.Outputs {
					t.Errorf("step %d came back as\n%+v, want\n%+v", i, got, in)
				}
			}
		})
	}
}

func TestWhatARunBeganWithComesBack(t *testing.T) {
	d := newDesk(t)
	wired := full[controller.Vessel]
	type key struct {
		run            int64
		batch, site    string
		counted        time.Duration
		stage, program string
	}
	var want []key
	sites := []string{"name: fv1\nvolume: 60 L", "name: fv1\nvolume: 60 L", "name: fv1\nvolume: 65 L"}
	for n, site := range sites {
		r, _ := d.open(t)
		state := running("b1")
		state.Stage.Name = site
		first := record.Entry{Vessel: "fv1", State: running("b1"), Begin: &record.Begin{State: state, Vessel: wired(), Site: site}}
		if n == 0 {
			first.Begin.State = controller.Fresh()
			first.Batch, first.Events = ale("b1"), []controller.Event{{Kind: controller.BatchStarted}}
		}
		r.Keep([]record.Entry{first, {Vessel: "fv2", State: controller.Fresh(), Begin: &record.Begin{Site: "name: fv2"}}}, controller.PlantState{})
		want = append(want, key{int64(n + 1), "b1", site, 0, first.Begin.State.Stage.Name, "test"}, key{int64(n + 1), "", "name: fv2", 0, "", "test"})
		shut(t, r)
		d.pass(time.Minute)
	}
	r := read(t, d.path)
	runs, err := r.Runs(t.Context())
	if err != nil || len(runs) != 3 || !runs[0].Ended.Equal(runs[0].At) {
		t.Fatalf("runs %+v (%v)", runs, err)
	}
	list, err := r.Begins(t.Context())
	if err != nil || len(list) != len(want) {
		t.Fatalf("%d begins (%v), want %d", len(list), err, len(want))
	}
	for i, s := range list {
		got := key{s.Run, s.Batch, s.Site, s.Counted, s.State.Stage.Name, runs[s.Run-1].Version}
		if got != want[i] || s.Err != nil {
			t.Errorf("begin %d is %+v (%v), want %+v", i, got, s.Err, want[i])
		}
		if s.Name == "fv1" && !reflect.DeepEqual(s.Vessel, wired()) {
			t.Errorf("begin %d: the vessel came back as %+v", i, s.Vessel)
		}
	}
	newest, run, err := r.Newest(t.Context(), "fv1")
	if err != nil || run != 3 || !reflect.DeepEqual(newest, running("b1")) {
		t.Errorf("the newest state is of run %d (%v)", run, err)
	}
}

// A killed run has no end, and the steps of its last flush carry the state's sum.
func TestTheStateOfEachFlushLeavesItsSum(t *testing.T) {
	d, r := atWork(t)
	state := running("b1")
	state.Up = 7 * step
	r.Note(record.Telemetry{Vessel: "fv1", Batch: "b1", Counted: 6 * step, Elapsed: 2 * step})
	r.Note(record.Telemetry{Vessel: "fv1", Batch: "b1", Counted: 7 * step, Elapsed: step})
	commit(t, r, record.Entry{Vessel: "fv1", State: state})
	reader := read(t, d.path)
	want, err := record.Sum(&state)
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for s, err := range reader.StepsOf(t.Context(), 1, "fv1", 3*step) {
		if err != nil {
			t.Fatal(err)
		}
		n++
		switch last := s.Counted == 7*step; {
		case last && string(s.Sum) != string(want[:]):
			t.Errorf("the sum is %x, want %x", s.Sum, want)
		case !last && s.Sum != nil:
			t.Errorf("the step at %v has the sum %x", s.Counted, s.Sum)
		}
	}
	if n != 4 {
		t.Errorf("%d steps from the third on, want 4", n)
	}
	if runs, err := reader.Runs(t.Context()); err != nil || !runs[0].Ended.IsZero() {
		t.Errorf("a run that goes on has ended: %+v (%v)", runs, err)
	}
}

// What the first version of the program wrote is read as it is, and brought up to
// date by whoever writes to it.
func TestAFileOfTheFirstVersionIsReadAndBroughtUpToDate(t *testing.T) {
	d := newDesk(t)
	edit(t, d.path, record.FirstVersion()+`;PRAGMA journal_mode = WAL;
		INSERT INTO runs VALUES (1, 'boot-0', 1772366400000, 60000, 1, 'v1');
		INSERT INTO batches VALUES ('b0', 'fv1', 'ale', 'schedule: ale', 1.05, 1.01, 2, 60, 'name: fv1', 'anna', 1772366400000, 1772366500000);
		INSERT INTO events VALUES (1, 1, 'b0', 'fv1', 1772366400000, 1, 0, 'batch-started', 'fill', '{"Kind":"batch-started"}');
		INSERT INTO orders VALUES (1, 1, 'b0', 'fv1', 1772366400000, 1, 0, 'o1', 'anna', '', 'start ale', '{"ID":"o1"}', 1, 'batch b0 is started');
		INSERT INTO telemetry VALUES (1, 1, 'b0', 'fv1', 1772366400000, 1, 5000, 10000, 2, X'`+firstPack+`')`)
	look := func(r *record.Reader) {
		t.Helper()
		steps := 0
		for _, err := range r.Telemetry(t.Context(), "b0") {
			if err != nil {
				t.Error(err)
			}
			steps++
		}
		events, errE := r.Events(t.Context(), "b0")
		orders, errO := r.Orders(t.Context(), "b0")
		runs, errR := r.Runs(t.Context())
		begins, errB := r.Begins(t.Context())
		_, _, errN := r.Newest(t.Context(), "fv1")
		if steps != 2 || len(events) != 1 || len(orders) != 1 || orders[0].Order.ID != "o1" || len(runs) == 0 || len(begins) != 0 {
			t.Errorf("%d steps, %+v, %+v, %+v, %+v", steps, events, orders, runs, begins)
		}
		for _, err := range []error{errE, errO, errR, errB, errN} {
			if err != nil {
				t.Error(err)
			}
		}
	}
	old := read(t, d.path)
	look(old)
	if err := old.Close(); err != nil {
		t.Fatal(err)
	}
	before, err := os.ReadFile(d.path)
	if err != nil || before[63] != 1 { // user_version, the last byte of the big-endian number at 60
		t.Fatalf("reading brought the file to version %d (%v)", before[63], err)
	}
	r, _ := d.open(t)
	commit(t, r, started("b1"))
	look(read(t, d.path))
	shut(t, r)
}
