package main

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// Whoever couples a plant by the pipe sees what is ahead, in seconds from now, once
// a curve fits the fall.
func TestThePipeSaysWhatIsAhead(t *testing.T) {
	var rows []string
	add := func(h float64, orders string) {
		sg := 1.010 + 0.042/(1+math.Exp(0.09*(h-42))) // an ale that has half of its fall behind it after 42 h
		rows = append(rows, fmt.Sprintf(`{"elapsed_s":%d,"readings":[{"probe":"fv1/thermowell","celsius":19},{"probe":"fv1/hydrometer","sg":%.4f}]%s}`, 600*min(1, len(rows)), sg, orders))
	}
	add(0, `,"orders":["pitched"]`)
	for h := 1.0 / 6; h <= 60; h += 1.0 / 6 {
		add(h, "")
	}
	code, out, errs := try(t, strings.Join(rows, "\n")+"\n", "step", "-c", put(t, "site.yaml", stepSite), "--schedule", "pale-ale-with-rest", "--fg", "1.010")
	if code != exitOK {
		t.Fatalf("exit %d: %s", code, errs)
	}
	all := answers(t, out)
	if first := all[0].Forecast; first == nil || len(first) != 0 || !strings.Contains(out, `"forecast":[]`) {
		t.Errorf("with the first reading %+v", first)
	}
	last := all[len(all)-1]
	var names []string
	for _, f := range last.Forecast {
		names = append(names, f.Event)
		if !(f.EarlyS >= 0 && f.EarlyS <= f.MiddleS && f.MiddleS <= f.LateS) || f.Time != nil {
			t.Errorf("%+v", f)
		}
	}
	if got := strings.Join(names, " "); last.Stage != "primary" || got != "rest terminal crashed ready" {
		t.Errorf("in %s %q is ahead", last.Stage, got)
	}
}

// The lines of a simulation say what was ahead when something happened, and nothing
// of what has passed.
func TestTheLinesOfASimulationSayWhatIsAhead(t *testing.T) {
	code, out, errs := try(t, "", "simulate", "pale-ale-with-rest", "--json", "--seed", "3")
	if code != exitOK {
		t.Fatalf("exit %d: %s", code, errs)
	}
	seen := 0
	for _, l := range jsonLines(t, out) {
		for _, f := range l.Forecast {
			seen++
			if f.Event == "rest" && (l.Kind == "rest" || l.Kind == "crash" || l.Kind == "hold") {
				t.Errorf("after %.0f h in a %s a rest is ahead", l.Hours, l.Kind)
			}
		}
		if l.Kind == "hold" && len(l.Forecast) > 0 {
			t.Errorf("in the last hold %+v is ahead", l.Forecast)
		}
	}
	if seen == 0 {
		t.Error("no line says anything of what is ahead")
	}
}
