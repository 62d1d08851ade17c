package table_test

import (
	"reflect"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/table"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
)

// What is read is what stands there, wherever its columns are; what people asked
// comes with who asked it, and the start is the first row's own.
func TestRowsAreReadAsTheyStand(t *testing.T) {
	const text = "\ufeff# mine\ngravity_sg,other,hours,beer_celsius,order,who\n" +
		"1.0500,x,2,19.0625,\"start ale as b1\npitched\",\"anna\nben\"\n,,2.5,,,\n1.0480,y,4,20,arm,\n"
	got, err := table.Read("x", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	want := []table.Row{
		{Beer: 19.0625, HasBeer: true, Gravity: 1.05, HasGravity: true, Orders: []controller.Order{{Who: "ben", Do: controller.Verb{Kind: controller.PitchedNow}}}},
		{At: 30 * time.Minute},
		{At: 2 * time.Hour, Beer: 20, HasBeer: true, Gravity: 1.048, HasGravity: true, Orders: []controller.Order{{Who: "replay", Do: controller.Verb{Kind: controller.Arm}}}},
	}
	if !reflect.DeepEqual(got.Rows, want) || !got.Steps || !got.HasBeer || !got.HasGravity || got.Length() != 2*time.Hour {
		t.Errorf("got  %+v\nwant %+v", got.Rows, want)
	}
	if !got.Ordered(controller.PitchedNow) || got.Ordered(controller.Start) || got.Ordered(controller.Sample) {
		t.Error("what was ordered is not told")
	}
	if got := got.Spacing(func(r table.Row) bool { return r.HasGravity }); got != 2*time.Hour {
		t.Errorf("gravities lie %s apart", got)
	}
}

func FuzzRead(f *testing.F) {
	f.Add("hours,beer_celsius,gravity_sg\n0,19,1.05\n1,19,1.04\n")
	f.Add("time,gravity_sg\n2026-03-01T00:00:00Z,1.05\n2026-03-01T01:00:00+02:00,1.04\n")
	f.Add("\ufeff\"hours\",gravity_sg\n#\n-1e5,\n1e5,1.3\n")
	f.Add("hours,gravity_sg,who,order\n0,,\"a\nb\",\"pitched\nsample 1.050 at 20 C\"\n1,1.04,,arm\n")
	f.Fuzz(func(t *testing.T, text string) {
		rec, err := table.Read("x", strings.NewReader(text))
		if err != nil {
			return
		}
		last := rec.Rows[0].At
		for _, r := range rec.Rows[1:] {
			if r.At <= last || r.At > 400*units.Day {
				t.Fatalf("rows at %v and %v", last, r.At)
			}
			last = r.At
		}
		if rec.Spacing(func(table.Row) bool { return true }) <= 0 || rec.Length() != last {
			t.Fatalf("length %v, last row at %v", rec.Length(), last)
		}
	})
}
