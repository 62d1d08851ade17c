package web

import (
	"time"

	"example.org/restpoint/controller"
)

// ForecastJSON is when a milestone is reached, counted from now: one case in ten
// comes before early, half before middle, one in ten after late. It is no promise.
type ForecastJSON struct {
	Event   string     `json:"event"` // rest, terminal, crashed, ready
	Stage   string     `json:"stage,omitempty"`
	EarlyS  float64    `json:"early_s"`
	MiddleS float64    `json:"middle_s"`
	LateS   float64    `json:"late_s"`
	Person  bool       `json:"waits_for_person,omitempty"` // reckoned as if it were given at once
	Time    *time.Time `json:"middle_time,omitempty"`      // by the wall clock
	Text    string     `json:"text,omitempty"`             // the same in words
}

// Forecasts puts the forecasts into the form that scripts read.
func Forecasts(o controller.Outlook) []ForecastJSON {
	list := make([]ForecastJSON, 0, len(o.List))
	for _, f := range o.From() {
		list = append(list, ForecastJSON{
			Event: string(f.Event), Stage: f.Stage, Person: f.Person,
			EarlyS: whole(f.Early), MiddleS: whole(f.Middle), LateS: whole(f.Late),
		})
	}
	return list
}

func whole(d time.Duration) float64 { return d.Round(time.Second).Seconds() }

// forecastsAt gives them with the hour of the wall clock.
func forecastsAt(at time.Time, o controller.Outlook) []ForecastJSON {
	list := Forecasts(o)
	for i, f := range o.From() {
		list[i].Text = f.String()
		when := at.Add(time.Duration(list[i].MiddleS) * time.Second)
		list[i].Time = &when
	}
	return list
}

// Line is the forecast for people: "diacetyl rest in 14 h (9 to 22 h), about Sat 14:00".
func (f ForecastJSON) Line() string {
	if f.Time == nil {
		return f.Text
	}
	day := "Mon 15:04"
	if f.MiddleS > (6 * 24 * time.Hour).Seconds() {
		day = "Mon 2 Jan" // its hour says nothing
	}
	return f.Text + ", about " + f.Time.Round(time.Hour).Format(day)
}
