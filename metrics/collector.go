package metrics

import (
	"math"
	"strings"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/thermal"
)

// New makes a collector of the newest snapshot. latest may give nil as long as no
// step is finished; it is called at every scrape, from any goroutine, and so is
// written, which tells what the process has written, where that is known.
func New(latest func() *controller.Snapshot, build controller.Build, written func() (float64, bool)) prometheus.Collector {
	c := &collector{latest: latest, build: build, written: written, metrics: map[string]metric{}}
	for _, r := range Table() {
		kind := prometheus.GaugeValue
		if r.Type == Counter {
			kind = prometheus.CounterValue
		}
		c.metrics[r.Name] = metric{prometheus.NewDesc(r.Name, r.Help, r.Labels, nil), kind}
	}
	return c
}

// Registry makes a registry of its own with the collector, and with what is
// usual of the Go runtime and the process.
func Registry(latest func() *controller.Snapshot, build controller.Build) *prometheus.Registry {
	r := prometheus.NewRegistry()
	r.MustRegister(New(latest, build, Written), collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return r
}

type metric struct {
	desc *prometheus.Desc
	kind prometheus.ValueType
}

type collector struct {
	latest  func() *controller.Snapshot
	build   controller.Build
	written func() (float64, bool)
	metrics map[string]metric
}

// Describe lists every metric, whether there is a value for it or not.
func (c *collector) Describe(to chan<- *prometheus.Desc) {
	for _, r := range Table() {
		to <- c.metrics[r.Name].desc
	}
}

// Collect exports the newest snapshot.
func (c *collector) Collect(to chan<- prometheus.Metric) {
	s := scrape{c, to}
	s.put(buildInfo, 1, c.build.Version, c.build.Revision, c.build.Go)
	if bytes, known := c.written(); known {
		s.put(writtenBytes, bytes)
	}
	snapshot := c.latest()
	if snapshot == nil {
		return
	}
	s.put(lastStep, unix(snapshot.At))
	s.put(stepDuration, snapshot.StepTook.Seconds())
	s.put(recordFailing, truth(snapshot.RecordFailing))
	for i := range snapshot.Vessels {
		s.vessel(&snapshot.Vessels[i], snapshot.At)
	}
}

type scrape struct {
	*collector
	to chan<- prometheus.Metric
}

// put exports one value. What is not a number is left out: a gap is honest.
func (s scrape) put(name string, value float64, labels ...string) {
	if math.IsNaN(value) || math.IsInf(value, 0) {
		return
	}
	for i := range labels {
		labels[i] = strings.ToValidUTF8(labels[i], "?") // else the whole scrape would fail
	}
	m := s.metrics[name]
	s.to <- prometheus.MustNewConstMetric(m.desc, m.kind, value, labels...)
}

func (s scrape) vessel(v *controller.View, at time.Time) {
	d := &v.Decision
	for _, t := range []struct {
		name string
		controller.Thermometer
	}{{beerTemperature, d.Beer}, {surroundTemperature, d.Surround}, {ambientTemperature, d.Ambient}, {floatTemperature, d.Float}} {
		if t.Usable() {
			s.put(t.name, float64(t.Celsius), v.Name)
		}
	}
	for _, w := range d.Wells {
		if w.Usable() {
			s.put(wellTemperature, float64(w.Celsius), v.Name, place(v.Name, w.Probe))
		}
	}
	if d.Gauge.Usable() {
		s.put(topPressure, float64(d.Gauge.Gauge), v.Name)
	}
	if d.Residual > 0 {
		s.put(residualCO2, float64(d.Residual), v.Name)
	}
	if d.Mode == controller.InBatch && d.Heat.Off == thermal.On {
		s.put(yeastHeat, float64(d.Heat.Watts), v.Name)
	}
	s.put(openReminders, float64(len(d.Jobs)), v.Name)
	if d.HasTarget {
		s.put(targetTemperature, float64(d.Target), v.Name)
	}
	if g := d.Gravity; g.Known {
		s.put(specificGravity, float64(g.Now), v.Name)
		s.put(pointsLeft, float64(g.Left), v.Name)
		s.put(pointsLeftBound, float64(g.Low), v.Name, "low")
		s.put(pointsLeftBound, float64(g.High), v.Name, "high")
	}
	s.forecasts(v, at)
	s.states(v)
	s.relay(v.Name, "heat", &v.Heat)
	s.relay(v.Name, "cool", &v.Cool)
	for i := range v.Probes {
		s.probe(v.Name, &v.Probes[i])
	}
	for _, c := range v.Verdicts {
		s.put(gravityReadings, float64(c.Count), v.Name, c.Verdict.Word())
	}
}

// forecasts labels what is counted from the step with the wall clock's time.
func (s scrape) forecasts(v *controller.View, at time.Time) {
	for _, f := range v.Decision.Forecast.From() {
		for _, b := range []struct {
			bound string
			in    time.Duration
		}{{"early", f.Early}, {"middle", f.Middle}, {"late", f.Late}} {
			s.put(forecastAt, unix(at.Add(b.in)), v.Name, string(f.Event), b.bound)
		}
	}
}

// states exports each state as a series, so that none is ever missing.
func (s scrape) states(v *controller.View) {
	d := &v.Decision
	for _, m := range controller.Modes() {
		s.put(modeActive, truth(d.Mode == m), v.Name, string(m))
	}
	if d.Mode == controller.InBatch {
		for i, stage := range v.Stages {
			s.put(stageActive, truth(i == d.Index), v.Name, stage.Name, string(stage.Kind))
		}
	}
	for _, row := range alarms.Table() {
		s.put(alarmActive, truth(alarms.State{List: d.Alarms}.Raised(row.ID)), v.Name, string(row.ID), string(row.Priority))
	}
	s.put(alarmsStanding, float64(d.Counts.Standing), v.Name)
	s.put(alarmsChattering, float64(d.Counts.Chattering), v.Name)
}

func (s scrape) relay(vessel, relay string, r *controller.RelayView) {
	if !r.Fitted {
		return
	}
	s.put(relayOn, truth(r.On), vessel, relay)
	s.put(relaySwitches, float64(r.Switches), vessel, relay)
	s.put(relayOnSeconds, r.OnFor.Seconds(), vessel, relay)
}

func (s scrape) probe(vessel string, p *controller.ProbeView) {
	place := place(vessel, p.ID)
	for _, fault := range controller.Faults() {
		var count int64
		for _, f := range p.Faults {
			if f.Fault == fault {
				count += f.Count
			}
		}
		s.put(probeFaults, float64(count), vessel, place, string(fault))
	}
	if !p.Last.IsZero() {
		s.put(lastReading, unix(p.Last), vessel, place)
	}
}

// place is where in its vessel a probe is.
func place(vessel string, id controller.ProbeID) string {
	return strings.TrimPrefix(string(id), vessel+"/")
}

func truth(so bool) float64 {
	if so {
		return 1
	}
	return 0
}

// unix is the time in seconds since 1970, with its milliseconds.
func unix(t time.Time) float64 { return float64(t.UnixMilli()) / 1000 }
