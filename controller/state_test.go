package controller_test

import (
	"encoding/json"
	"reflect"
	"testing"
	"time"

	"example.org/restpoint/controller"
)

// The state is a plain value: copied by assignment, stored as JSON, the same on
// every board.
func TestStateIsAPlainValue(t *testing.T) {
	seen := 0
	var walk func(path string, typ reflect.Type)
	walk = func(path string, typ reflect.Type) {
		seen++
		switch typ.Kind() {
		case reflect.Pointer, reflect.Map, reflect.Func, reflect.Chan, reflect.Interface, reflect.UnsafePointer, reflect.Complex64, reflect.Complex128:
			t.Errorf("%s is a %s", path, typ.Kind())
		case reflect.Struct:
			if typ == reflect.TypeFor[time.Time]() {
				t.Errorf("%s is a clock time", path)
				return
			}
			for f := range typ.Fields() {
				if !f.IsExported() || f.Tag != "" {
					t.Errorf("%s.%s would not go through JSON as it is", path, f.Name)
				}
				walk(path+"."+f.Name, f.Type)
			}
		case reflect.Slice, reflect.Array:
			walk(path+"[]", typ.Elem())
		default:
		}
	}
	walk("State", reflect.TypeFor[controller.State]())
	walk("PlantState", reflect.TypeFor[controller.PlantState]())
	if seen < 80 {
		t.Errorf("only %d types were looked at", seen)
	}
}

// After sixty days with everything that a batch can bring, the state fits into
// 16 KiB, and a process that reads it goes on as if there had been no other.
func TestStateAfterSixtyDays(t *testing.T) {
	d := brewing(t).wide()
	d.sg = fall(1.010)
	largest := 0
	for day := range 60 {
		switch day % 6 {
		case 1:
			d.must(controller.Verb{Kind: controller.Mark, Mark: controller.Rouse})
		case 2:
			d.mute = true
			d.run(time.Hour)
			d.mute = false
		case 3:
			d.must(controller.Verb{Kind: controller.Sample, Value: controller.OfSample(d.sg(d.s.Batch.Since), 20)})
		case 4:
			d.must(target(20))
		}
		d.run(23 * time.Hour)
		text := mustJSON(t, d.s)
		largest = max(largest, len(text))
		var back controller.State
		if err := json.Unmarshal([]byte(text), &back); err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(back, d.s) {
			t.Fatalf("day %d: changed by JSON:\n%s\n%s", day, text, mustJSON(t, back))
		}
		one, out := controller.Step(d.v, d.s, controller.Input{Elapsed: d.dt})
		two, out2 := controller.Step(d.v, back, controller.Input{Elapsed: d.dt})
		if !reflect.DeepEqual(one, two) || !reflect.DeepEqual(out, out2) {
			t.Fatalf("day %d: what was stored decides otherwise", day)
		}
	}
	t.Logf("largest state %d bytes of JSON, %d levels", largest, len(d.s.Gravity.Levels))
	if largest > 16<<10 {
		t.Errorf("%d bytes of JSON", largest)
	}
}

func TestWithLeavesTheVesselAlone(t *testing.T) {
	v := vessel()
	w := v.With(ale())
	if v.Schedule != nil || w.Schedule == nil || w.Name != v.Name {
		t.Errorf("%+v, %+v", v.Schedule, w.Schedule)
	}
}
