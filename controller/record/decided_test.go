package record_test

import (
	"reflect"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
)

// believed is a step with a decision of every number.
func believed(counted time.Duration, kinds ...controller.EventKind) record.Entry {
	e := oneStep("fv1", "b1", kinds...)
	e.Counted = counted
	e.State.Guard.Heat.Switches, e.State.Guard.Heat.OnFor = 7, 90*time.Minute
	e.State.Guard.Cool.Switches, e.State.Guard.Cool.OnFor = 11, 5*time.Second
	d := full[controller.Decision]()
	d.Mode, d.Batch, d.Stage, d.Kind = controller.InBatch, "b1", "primary", controller.Primary
	d.Beer = controller.Thermometer{Known: true, Celsius: 19.0625}
	e.Decision = &d
	return e
}

func TestADecisionComesBackWithItsReasons(t *testing.T) {
	d := newDesk(t)
	d.synced = true
	r, _ := d.open(t)
	commit(t, r, started("b1"))
	e := believed(10 * time.Second)
	commit(t, r, e)
	list, err := r.Decisions(t.Context(), "b1")
	if err != nil || len(list) != 1 {
		t.Fatalf("%d decisions, %v", len(list), err)
	}
	got, was := list[0], e.Decision
	want := record.Decided{
		Run: 1, Batch: "b1", Vessel: "fv1", At: d.wall.Local(), Synced: true, Counted: 10 * time.Second, Stage: "primary", Kind: controller.Primary,
		HasTarget: true, Target: was.Target, HasBeer: true, Beer: 19.0625,
		Gravity: was.Gravity, Outputs: was.Allowed,
		Heat: record.Use{Switches: 7, On: 90 * time.Minute}, Cool: record.Use{Switches: 11, On: 5 * time.Second}, Reasons: was.Reasons,
	}
	want.Gravity.PerDay, want.Gravity.Ready = 0, false
	if !got.At.Equal(want.At) {
		t.Errorf("at %v, want %v", got.At, want.At)
	}
	got.At = want.At
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
}

func TestADecisionIsKeptEveryFewMinutesAndWithWhateverHappens(t *testing.T) {
	d := newDesk(t)
	r, _ := d.open(t)
	commit(t, r, started("b1"))
	for s := 0; s < 3600; s += 10 {
		e := believed(time.Duration(s) * time.Second)
		if s == 200 {
			e.Events = []controller.Event{{Kind: controller.ProbeLost}}
		}
		r.Keep([]record.Entry{e}, controller.PlantState{})
		if s == 1700 {
			commit(t, r) // a flush in between moves nothing
		}
	}
	commit(t, r)
	list, err := r.Decisions(t.Context(), "b1")
	if err != nil {
		t.Fatal(err)
	}
	want := []int{0, 200, 500, 800, 1100, 1400, 1700, 2000, 2300, 2600, 2900, 3200, 3500}
	var got []int
	for _, l := range list {
		got = append(got, int(l.Counted.Seconds()))
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("kept at %v s, want %v", got, want)
	}
}

func TestNumbersThatWereNotKnownStayUnknown(t *testing.T) {
	d := newDesk(t)
	r, _ := d.open(t)
	commit(t, r, started("b1"))
	e := believed(10 * time.Second)
	e.Decision = &controller.Decision{Batch: "b1", Stage: "fill"}
	commit(t, r, e)
	list, err := r.Decisions(t.Context(), "b1")
	if err != nil || len(list) != 1 {
		t.Fatalf("%d decisions, %v", len(list), err)
	}
	if g := list[0]; g.HasTarget || g.HasBeer || g.Gravity.Known {
		t.Errorf("something is known: %+v", g)
	}
}
