package web_test

import (
	"strings"
	"testing"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/web"
	"example.org/restpoint/controller"
)

// What was made twenty minutes ago is shown as it stands now, with the wall's hour.
func TestForecastsAsTheyStandNow(t *testing.T) {
	list := web.State(fermenting(1)).Vessels[0].Forecast
	if len(list) != 2 {
		t.Fatalf("%+v", list)
	}
	f := list[0]
	const hour = 3600.0
	if f.Event != "rest" || f.Stage != "diacetyl rest" || f.EarlyS != 9*hour || f.MiddleS != 14*hour || f.LateS != 22*hour || f.Person || !f.Time.Equal(at().Add(14*time.Hour)) {
		t.Errorf("%+v", f)
	}
	if want := "diacetyl rest in 14 h (9 to 22 h), about " + at().Add(14*time.Hour).Round(time.Hour).Format("Mon 15:04"); f.Line() != want {
		t.Errorf("%q, want %q", f.Line(), want)
	}
	day := at().Add(7 * 24 * time.Hour).Format("Mon 2 Jan")
	if got := list[1].Line(); !strings.HasSuffix(got, ", if nobody is waited for, about "+day) {
		t.Errorf("%q, want the day %q and that somebody is waited for", got, day)
	}
	if text := page(t, fermenting(1)); !strings.Contains(text, "<dt>likely ahead</dt><dd>"+f.Line()+"<br>") {
		t.Errorf("the page does not show it\n%s", text)
	}
	if text := page(t, idle()); strings.Contains(text, "likely ahead") {
		t.Error("something is ahead of an idle vessel")
	}
}

func TestForecastsForScriptsCarryNoClock(t *testing.T) {
	o := controller.Outlook{Age: 2 * time.Hour, List: []controller.Forecast{{Event: controller.TerminalMet, Early: time.Hour, Middle: 3 * time.Hour, Late: 5 * time.Hour, Person: true}}}
	list := web.Forecasts(o)
	if len(list) != 1 || list[0] != (web.ForecastJSON{Event: "terminal", MiddleS: 3600, LateS: 3 * 3600, Person: true}) {
		t.Errorf("%+v", list)
	}
	if none := web.Forecasts(controller.Outlook{}); none == nil || len(none) != 0 {
		t.Errorf("%v: a list without entries is [] in JSON", none)
	}
}
