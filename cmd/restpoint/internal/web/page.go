package web

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

//go:embed page.html
var pageText string

// pageView is what the template shows. Every number carries its unit.
type pageView struct {
	Site, Version, At, Age string
	Demo, RecordFailing    bool
	Vessels                []vesselView
}

type vesselView struct {
	Name, Mode, Batch, Schedule      string
	Stage, In, Since, Needs, NeedTip string
	Beer, Target, Surround, Gravity  string
	Left, Span, Final                string
	Heat, Cool                       string
	Stages                           []stageView
	Reasons                          []string
	Ahead                            []string // what is forecast
	Alarms                           []alarmView
	Events                           []string
	More                             []factView // further probes, where there are any
	Jobs                             []jobView
}

type factView struct{ Name, Value string }

type jobView struct{ Say, Open, Done string }

type stageView struct{ Name, State string }

type alarmView struct{ Name, Priority, Cause, Do, Consequence, Phase string }

func (o Options) page(w http.ResponseWriter, _ *http.Request) {
	s := o.Latest()
	if s == nil {
		http.Error(w, "no step is finished yet; look again in a moment", http.StatusServiceUnavailable)
		return
	}
	t, err := template.New("page").Parse(pageText)
	if err != nil {
		http.Error(w, "the page is broken", http.StatusInternalServerError)
		return
	}
	var b bytes.Buffer
	if err := t.Execute(&b, o.view(s)); err != nil {
		http.Error(w, "the page is broken", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	_, _ = w.Write(b.Bytes()) // the reader has gone if this fails
}

func (o Options) view(s *controller.Snapshot) pageView {
	p := pageView{Site: s.Site, Version: s.Build.Version, At: s.At.Format("2006-01-02 15:04:05"), Demo: s.Demo, RecordFailing: s.RecordFailing}
	if age := o.Now().Sub(s.At); age > o.Stale {
		p.Age = units.Rough(age.Round(time.Second))
	}
	for i := range s.Vessels {
		p.Vessels = append(p.Vessels, viewOf(&s.Vessels[i], s.At))
	}
	return p
}

const nothing = "–"

func viewOf(v *controller.View, at time.Time) vesselView {
	d := &v.Decision
	w := vesselView{
		Name: v.Name, Mode: string(d.Mode), Batch: d.Batch, Schedule: v.Schedule, Stage: d.Stage,
		Beer: shown(d.Beer), Surround: shown(d.Surround), Target: nothing, Gravity: nothing, Left: nothing,
		Heat: relayWords(v.Heat), Cool: relayWords(v.Cool), Needs: d.NeedsWhat,
	}
	if w.Needs != "" {
		w.NeedTip = "restpoint tell " + v.Name + " " + strings.SplitN(w.Needs, ":", 2)[0]
	}
	if d.Stage != "" {
		w.In = units.Rough(d.In.Round(time.Minute))
	}
	if d.Pitched {
		w.Since = units.Rough(d.Since.Round(time.Minute))
	}
	if d.HasTarget {
		w.Target = d.Target.Fixed(1)
	}
	if g := d.Gravity; g.Known {
		w.Gravity, w.Final = g.Now.Fixed(4), g.Final.Fixed(4)
		w.Left = g.Left.Fixed(1)
		w.Span = fmt.Sprintf("%.1f to %s", float64(g.Low), g.High.Fixed(1))
	}
	for i, s := range v.Stages {
		state := "to come"
		if i < d.Index {
			state = "done"
		} else if i == d.Index {
			state = "now"
		}
		w.Stages = append(w.Stages, stageView{s.Name, state})
	}
	for _, f := range forecastsAt(at, d.Forecast) {
		w.Ahead = append(w.Ahead, f.Line())
	}
	for _, r := range d.Reasons {
		w.Reasons = append(w.Reasons, r.String())
	}
	for _, a := range d.Alarms {
		if row, ok := alarms.Find(a.ID); ok && a.Raised() {
			w.Alarms = append(w.Alarms, alarmView{string(a.ID), string(row.Priority), row.Cause, row.Do, row.Consequence, phase(a)})
		}
	}
	w.More = moreFacts(d)
	for _, j := range d.Jobs {
		w.Jobs = append(w.Jobs, jobView{j.Say, units.Rough(j.For.Round(time.Minute)), fmt.Sprintf("restpoint tell %s done %d", v.Name, j.No)})
	}
	for _, e := range slices.Backward(v.Recent) {
		w.Events = append(w.Events, e.At.Format("2006-01-02 15:04")+"  "+e.String())
	}
	return w
}

// moreFacts says what is known beside the beer's temperature and gravity.
func moreFacts(d *controller.Decision) (list []factView) {
	for _, w := range d.Wells {
		list = append(list, factView{string(w.Probe), shown(w.Thermometer)})
	}
	if d.Float.Usable() {
		list = append(list, factView{"hydrometer's thermometer", shown(d.Float)})
	}
	if d.Backup != controller.NoBackup {
		list = append(list, factView{"stands in for the lost probe", string(d.Backup)})
	}
	if d.Gauge.Usable() {
		list = append(list, factView{"pressure above the air's", fmt.Sprintf("%.1f kPa", d.Gauge.Gauge.Kilo())})
	}
	if d.Pitched && (d.Kind == controller.Primary || d.Kind == controller.Rest) {
		list = append(list, factView{"heat of the yeast", yeastHeat(d.Heat)})
	}
	if words := responseJSON(&d.Response).Words(); words != "" {
		list = append(list, factView{"learnt of the vessel", words})
	}
	if d.Residual > 0 {
		list = append(list, factView{"CO2 in the beer, at least", fmt.Sprintf("%.2f volumes", float64(d.Residual))})
	}
	if d.Dry {
		list = append(list, factView{"heat", "locked, the tank may be empty"})
	}
	return list
}

func yeastHeat(h thermal.Heat) string {
	if h.Off != thermal.On {
		return "cannot be told: " + h.Off.String()
	}
	return fmt.Sprintf("%.1f W, %.2f points an hour (likely %.2f to %.2f)", float64(h.Watts), float64(h.Rate), float64(h.Low), float64(h.High))
}

func phase(a alarms.Entry) string {
	if a.Shelved > 0 {
		return string(a.Phase) + ", shelved for " + units.Rough(a.Shelved.Round(time.Minute))
	}
	return string(a.Phase)
}

func shown(t controller.Thermometer) string {
	if !t.Usable() {
		return "not known"
	}
	return t.Celsius.Fixed(1)
}

func relayWords(r controller.RelayView) string {
	if !r.Fitted {
		return "not fitted"
	}
	word := "off"
	if r.On {
		word = "ON"
	}
	starts := "starts"
	if r.Switches == 1 {
		starts = "start"
	}
	return fmt.Sprintf("%s for %s; %d %s, %s in all", word, units.Rough(r.For.Round(time.Second)), r.Switches, starts, units.Rough(r.OnFor.Round(time.Minute)))
}
