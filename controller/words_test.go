package controller_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
)

// codes lists every Code of the package by reading its source, so that none can
// be forgotten.
func codes(t *testing.T) map[string]controller.Code {
	t.Helper()
	f, err := parser.ParseFile(token.NewFileSet(), "words.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	found := map[string]controller.Code{}
	ast.Inspect(f, func(n ast.Node) bool {
		s, ok := n.(*ast.ValueSpec)
		if !ok || len(s.Values) != 1 {
			return true
		}
		if id, typed := s.Type.(*ast.Ident); typed && id.Name == "Code" {
			if lit, text := s.Values[0].(*ast.BasicLit); text {
				v, _ := strconv.Unquote(lit.Value)
				found[s.Names[0].Name] = controller.Code(v)
			}
		}
		return true
	})
	return found
}

func TestEveryCodeHasItsSentence(t *testing.T) {
	all := codes(t)
	if len(all) < 80 {
		t.Fatalf("only %d codes found", len(all))
	}
	seen := map[controller.Code]string{}
	for name, c := range all {
		if other, twice := seen[c]; twice {
			t.Errorf("%s and %s are both %q", name, other, c)
		}
		seen[c] = name
		text := controller.Reason{Code: c, Name: "NAME"}.String()
		if text == string(c) || strings.TrimSpace(text) != text || text == "" {
			t.Errorf("%s reads %q", name, text)
		}
		if strings.HasSuffix(text, ".") || strings.Count(text, "{") != strings.Count(text, "}") {
			t.Errorf("%s reads %q", name, text)
		}
	}
}

func TestReasonsInWords(t *testing.T) {
	figures := []controller.Number{
		{Name: "beer", Value: 19.06, Unit: controller.InCelsius},
		{Name: "target", Value: -0.04, Unit: controller.InCelsius},
		{Name: "left", Value: 5.55, Unit: controller.InPoints},
		{Name: "limit", Value: 6, Unit: controller.InPoints},
		{Name: "held", Value: 3725, Unit: controller.InTime},
	}
	for want, r := range map[string]controller.Reason{
		"":                                 {},
		"unknown":                          {Code: "unknown"},
		"cools: beer 19.1 C, 0.0 C wanted": {Code: controller.CodeCools, Numbers: figures},
		"5.5 points left, 6.0 points or fewer were asked for, so for 1 h 2 min": {Code: controller.CodePointsLeft, Numbers: figures},
		"advanced by Anna":                        {Code: controller.CodeAdvanced, Name: "Anna"},
		"waits for a person to confirm: the nose": {Code: controller.CodeWaitsConfirm, Name: "the nose"},
	} {
		if got := r.String(); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

func TestNumbersCarryTheirUnits(t *testing.T) {
	for want, n := range map[string]controller.Number{
		"19.5 C": {Value: 19.46, Unit: controller.InCelsius}, "0.25 K": {Value: 0.25, Unit: controller.InKelvins},
		"1.0 points": {Value: 0.96, Unit: controller.InPoints}, "1.0123": {Value: 1.01234, Unit: controller.InGravity},
		"2 d": {Value: 172800, Unit: controller.InTime}, "81 %": {Value: 80.8, Unit: controller.InPercent},
		"3.14": {Value: math.Pi}, "0 s": {Value: 0.2, Unit: controller.InTime},
	} {
		if got := n.String(); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

func TestEventsAsLines(t *testing.T) {
	met := controller.Reason{Code: controller.CodePitched}
	points := func(name string, v float64) controller.Number {
		return controller.Number{Name: name, Value: v, Unit: controller.InPoints}
	}
	left := controller.Reason{Code: controller.CodeHeatLeft, Numbers: []controller.Number{points("left", 6), points("low", 2), points("high", 10)}}
	for want, e := range map[string]controller.Event{
		"stage-entered primary: the yeast is in":       {Kind: controller.StageEntered, Stage: "primary", Reason: met},
		"order-taken pitched by Anna: the yeast is in": {Kind: controller.OrderTaken, Verb: controller.PitchedNow, Who: "Anna", Reason: met},
		"order-refused pitched: the yeast is in":       {Kind: controller.OrderRefused, Verb: controller.PitchedNow, Reason: met},
		"alarm stuck (high): it stopped":               {Kind: controller.AlarmRaised, Alarm: "stuck", Priority: "high", Reason: controller.Reason{Code: controller.CodeAlarm, Name: "it stopped"}},
		"alarm-over stuck":                             {Kind: controller.AlarmOver, Alarm: "stuck", Priority: "high", Reason: met},
		"reminder 3: Dump the cone.":                   {Kind: controller.ReminderDue, Job: 3, Say: "Dump the cone.", Reason: met},
		"reminder 4: Measure. (by its heat the beer has 6.0 points left (likely 2.0 points to 10.0 points): taste or measure, then advance)": {
			Kind: controller.ReminderDue, Job: 4, Say: "Measure.", Reason: left,
		},
		"schedule-differs":        {Kind: controller.ScheduleDiffers},
		"mode-changed: mode idle": {Kind: controller.ModeChanged, Reason: controller.Reason{Code: controller.CodeMode, Name: "idle"}},
	} {
		if got := e.String(); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

// A stage says what it waits for, whatever it waits for.
func TestEveryWaitIsExplained(t *testing.T) {
	for code, until := range map[controller.Code]condition{
		controller.CodeWaitsPoints:      {Kind: controller.PointsLeft, Points: 1},
		controller.CodeWaitsAttenuation: {Kind: controller.ApparentAttenuation, Attenuation: 0.99},
		controller.CodeWaitsBelow:       {Kind: controller.GravityAtMost, Gravity: 0.99},
		controller.CodeWaitsTerminal:    {Kind: controller.Terminal, Points: 1, Over: 12 * time.Hour},
		controller.CodeWaitsWindow:      {Kind: controller.Terminal, Points: 1, Over: 48 * time.Hour},
		controller.CodeWaitsTime:        {Kind: controller.Dwell, AtLeast: 90 * time.Hour},
		controller.CodeWaitsBeer:        {Kind: controller.BeerAt, Beer: 25},
		controller.CodeWaitsConfirm:     {Kind: controller.Confirmed, Say: "it is good"},
		controller.CodeHolds:            {},
	} {
		d := on(t, two(until)).wide()
		if until.Kind == controller.PointsLeft && !d.reason(controller.CodeWaitsGravity) {
			t.Errorf("before any gravity: %v", d.said())
		}
		d.sg = fall(1.010)
		d.run(40 * time.Hour)
		if !d.reason(code) {
			t.Errorf("%s: %v", code, d.said())
		}
		want := ""
		if until.Kind == controller.Confirmed {
			want = "confirm: it is good"
		}
		if got := d.out.Decision.NeedsWhat; got != want {
			t.Errorf("%s: needs %q", code, got)
		}
	}
	d := on(t, ale())
	if !d.reason(controller.CodeWaitsPitched) || d.out.Decision.NeedsWhat != "pitched" {
		t.Errorf("%v, needs %q", d.said(), d.out.Decision.NeedsWhat)
	}
	d.mute = true
	if d.run(5 * time.Minute); !d.reason(controller.CodeStageBlind) {
		t.Errorf("%v", d.said())
	}
}

func TestThePictureIsInTrueGravities(t *testing.T) {
	d := brewing(t)
	if d.out.Decision.Gravity.Known {
		t.Error("a gravity is known before any reading")
	}
	d.sg = func(since time.Duration) units.Gravity { return fall(1.010)(since).Plus(3) }
	d.run(70 * time.Hour)
	g := d.out.Decision.Gravity
	if off := g.Now.Minus(fall(1.010)(d.s.Batch.Since)); off > 1.5 || off < -1.5 {
		t.Errorf("now %v, truly %v", g.Now, fall(1.010)(d.s.Batch.Since))
	}
	if !g.Ready || g.Low > g.Left || g.Left > g.High || g.PerDay <= 0 || g.Final < 1.005 || g.Final > 1.015 {
		t.Errorf("%+v", g)
	}
}
