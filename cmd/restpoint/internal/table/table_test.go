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

// An export as JSON is read as the same rows; what is wrong with it is said.
func TestAnExportInJSON(t *testing.T) {
	const head = `{"batch":"b1","schedule":"ale","schedule_text":"x","original_gravity_sg":1.05,"final_gravity_sg":1.01,"events":[{"hours":1}],` +
		`"columns":["time","hours","stage","beer_celsius","gravity_sg","heat","who","order"],"rows":[`
	const rows = `["2026-03-01T00:00:00.000Z",0,"fill",17.5,null,false,"anna","pitched"],["2026-03-01T00:00:10.000Z",0.00277,"fill",null,1.0501,true,"",""]`
	got, b, err := table.ReadJSON("x", strings.NewReader(head+rows+"]}"))
	if err != nil {
		t.Fatal(err)
	}
	want := []table.Row{
		{Beer: 17.5, HasBeer: true, Stage: "fill", Orders: []controller.Order{{Who: "anna", Do: controller.Verb{Kind: controller.PitchedNow}}}},
		{At: 10 * time.Second, Gravity: 1.0501, HasGravity: true, Stage: "fill"},
	}
	if !reflect.DeepEqual(got.Rows, want) || b != (table.Batch{Batch: "b1", Schedule: "ale", ScheduleText: "x", Original: 1.05, Final: 1.01}) {
		t.Errorf("%+v %+v", got.Rows, b)
	}
	for _, c := range []struct{ name, text, says string }{
		{"torn within a row", head + rows[:40], "x: rows: row 1: unexpected EOF"},
		{"torn behind a row", head + rows, "x: rows: "},
		{"torn at its end", head + rows + "]", "x: the file is torn"},
		{"rows that go back", head + rows + `,["2026-03-01T00:00:05.000Z",0,"",null,null,false,"",""]]}`, "x: rows: row 3: the row is not later"},
		{"a row too short", head + `["2026-03-01T00:00:00.000Z"]]}`, "x: rows: row 1: there are 1 values"},
		{"a list", "[1]", "x: it is no export: [ stands where { should"},
		{"rows before their columns", `{"rows":[]}`, "x: rows: rows stand before their columns"},
		{"a gravity in Plato", head + `["2026-03-01T00:00:00.000Z",0,"",null,12.5,false,"",""]]}`, "row 1: gravity_sg: 12.5 is not possible"},
		{"nothing in it", "{}", "0 rows are no record"},
	} {
		if _, _, err := table.ReadJSON("x", strings.NewReader(c.text)); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want %q", c.name, err, c.says)
		}
	}
}

func FuzzReadJSON(f *testing.F) {
	f.Add(`{"columns":["hours","gravity_sg","order"],"rows":[[0,1.05,"pitched"],[1,1.04,""]]}`)
	f.Add(`{"columns":["hours"],"rows":[[0],[1]]}`)
	f.Add(`{"rows":1}`)
	f.Fuzz(func(t *testing.T, text string) {
		rec, _, err := table.ReadJSON("x", strings.NewReader(text))
		if err == nil && (len(rec.Rows) < 2 || rec.Length() <= 0) {
			t.Fatalf("%+v", rec)
		}
	})
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
