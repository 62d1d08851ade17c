package web

import (
	"fmt"
	"math"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

// StateJSON is the state of the program as scripts read it. Temperatures are in
// degrees Celsius, times in seconds, gravities relative to water at 20 C.
type StateJSON struct {
	Site          string       `json:"site"`
	Version       string       `json:"version"`
	Time          time.Time    `json:"time"` // wall clock of the newest step
	Demo          bool         `json:"demo,omitempty"`
	RecordFailing bool         `json:"record_failing"`
	Vessels       []VesselJSON `json:"vessels"`
}

// VesselJSON is one vessel. What is not known is null.
type VesselJSON struct {
	Name            string         `json:"vessel"`
	Mode            string         `json:"mode"`
	Batch           string         `json:"batch,omitempty"`
	Schedule        string         `json:"schedule,omitempty"`
	Stage           string         `json:"stage,omitempty"`
	Kind            string         `json:"kind,omitempty"`
	InStageS        float64        `json:"in_stage_s"`
	SincePitchedS   *float64       `json:"since_pitched_s"`
	Paused          bool           `json:"paused"`
	Beer            *float64       `json:"beer_celsius"`
	BeerSignal      string         `json:"beer_signal,omitempty"` // after NE 107; empty = good
	Target          *float64       `json:"target_celsius"`
	Surround        *float64       `json:"surround_celsius"`
	Ambient         *float64       `json:"ambient_celsius"`
	Wells           []WellJSON     `json:"thermowells,omitempty"` // where there are several
	Backup          string         `json:"backup,omitempty"`      // what stands in for a lost probe
	Float           *float64       `json:"hydrometer_celsius"`
	Pressure        *float64       `json:"top_pressure_kilopascals"`
	Residual        *float64       `json:"residual_co2_volumes"`
	Gravity         *float64       `json:"gravity_sg"`
	GravityReadings int            `json:"gravity_readings_last_day"`
	GravityRejected int            `json:"gravity_rejected_last_day"`
	WhyRejected     string         `json:"gravity_rejected_why,omitempty"` // of the newest one
	PointsLeft      *float64       `json:"points_left"`
	YeastHeat       *HeatJSON      `json:"yeast_heat"`
	Response        *ResponseJSON  `json:"response"` // null: no temperature is followed
	PointsLeftLow   *float64       `json:"points_left_low"`
	PointsLeftHigh  *float64       `json:"points_left_high"`
	FinalGravity    *float64       `json:"final_gravity"`
	Diacetyl        *float64       `json:"diacetyl_milligrams_per_litre"` // advice only, in a rest; null: not known
	Forecast        []ForecastJSON `json:"forecast"`
	Heat            *bool          `json:"heat"`        // null: none is fitted
	HeatLocked      bool           `json:"heat_locked"` // the tank may be empty
	Cool            *bool          `json:"cool"`
	WaitS           float64        `json:"wait_s"` // until what is wanted is allowed
	Needs           string         `json:"needs,omitempty"`
	Reminders       []JobJSON      `json:"reminders"`
	Reasons         []string       `json:"reasons"`
	Alarms          []AlarmJSON    `json:"alarms"`
	Standing        int            `json:"alarms_standing"`   // their cause stands for more than a day
	Chattering      int            `json:"alarms_chattering"` // raised three times or more within the hour
	Events          []EventJSON    `json:"events"`
	HeatSwitches    int64          `json:"heat_switches"`
	CoolSwitches    int64          `json:"cool_switches"`
	HeatOnS         float64        `json:"heat_on_s"`
	CoolOnS         float64        `json:"cool_on_s"`
	LastReadingTime []ProbeJSON    `json:"probes"`
}

// HeatJSON is the heat of the yeast. Where it cannot be told, only the reason stands.
type HeatJSON struct {
	Off   string   `json:"off,omitempty"` // why it cannot be told, as a word
	Why   string   `json:"why,omitempty"` // and in words
	Watts *float64 `json:"watts"`
	Rate  *float64 `json:"points_per_hour"` // the fall of gravity that it stands for
	Low   *float64 `json:"points_per_hour_low"`
	High  *float64 `json:"points_per_hour_high"`
}

func heatJSON(h thermal.Heat) *HeatJSON {
	if h.Off != thermal.On {
		return &HeatJSON{Off: string(h.Off), Why: h.Off.String()}
	}
	return &HeatJSON{Watts: number(float64(h.Watts), 1), Rate: number(float64(h.Rate), 3), Low: number(float64(h.Low), 3), High: number(float64(h.High), 3)}
}

// ResponseJSON is what was learnt of the vessel: how fast, how late, from how much
// work of the relay. A relay that has not worked yet has null.
type ResponseJSON struct {
	Drift   *float64 `json:"drift_kelvins_per_hour"` // with both relays off
	Cool    *float64 `json:"cool_kelvins_per_hour"`
	CoolLag *float64 `json:"cool_lag_s"`
	Cooled  float64  `json:"cool_learnt_s"`
	Heat    *float64 `json:"heat_kelvins_per_hour"`
	HeatLag *float64 `json:"heat_lag_s"`
	Heated  float64  `json:"heat_learnt_s"`
}

func responseJSON(r *thermal.Rates) *ResponseJSON {
	if !r.Known {
		return nil
	}
	j := &ResponseJSON{Drift: number(float64(r.Drift), 3), Cooled: r.CoolLearnt.Seconds(), Heated: r.HeatLearnt.Seconds()}
	if r.CoolLearnt > 0 {
		j.Cool, j.CoolLag = number(float64(r.Cool), 3), number(r.CoolLag.Seconds(), 0)
	}
	if r.HeatLearnt > 0 {
		j.Heat, j.HeatLag = number(float64(r.Heat), 3), number(r.HeatLag.Seconds(), 0)
	}
	return j
}

// Words says it for a person; nothing where no relay has worked yet.
func (j *ResponseJSON) Words() string {
	if j == nil || j.Cool == nil && j.Heat == nil {
		return ""
	}
	words := ""
	relay := func(does string, rate, lag *float64, learnt float64) {
		if rate != nil {
			words += fmt.Sprintf("%s by %.1f K/h after %.0f min (from %s of work), ", does, math.Abs(*rate), *lag/60, units.Rough(time.Duration(learnt)*time.Second))
		}
	}
	relay("cools", j.Cool, j.CoolLag, j.Cooled)
	relay("heats", j.Heat, j.HeatLag, j.Heated)
	return words + fmt.Sprintf("drifts by %+.2f K/h", *j.Drift)
}

// AlarmJSON is one raised alarm.
type AlarmJSON struct {
	Alarm        string  `json:"alarm"`
	Priority     string  `json:"priority"`
	Acknowledged bool    `json:"acknowledged"`
	State        string  `json:"state"`           // after ISA-18.2: unanswered, acknowledged, latched
	First        bool    `json:"first,omitempty"` // raised while no other was: the likely cause of the others
	ShelvedS     float64 `json:"shelved_s"`
	Cause        string  `json:"cause"`
	Consequence  string  `json:"consequence"`
	Do           string  `json:"do"`
	Available    string  `json:"time_available"`
}

// WellJSON is one of several thermowells.
type WellJSON struct {
	Probe   string   `json:"probe"`
	Celsius *float64 `json:"celsius"`
}

// JobJSON is a reminder that nobody has answered.
type JobJSON struct {
	Number int     `json:"number"` // for the orders done and skip
	Stage  string  `json:"stage"`
	Say    string  `json:"say"`
	Mark   string  `json:"mark,omitempty"` // what doing it does to the beer
	OpenS  float64 `json:"open_s"`
}

// EventJSON is one event.
type EventJSON struct {
	Time  time.Time `json:"time"`
	Event string    `json:"event"`
	Text  string    `json:"text"`
}

// ProbeJSON is one probe.
type ProbeJSON struct {
	Probe       string     `json:"probe"`
	LastReading *time.Time `json:"last_reading"`
}

// State puts a snapshot into the form that scripts read.
func State(s *controller.Snapshot) StateJSON {
	out := StateJSON{Site: s.Site, Version: s.Build.Version, Time: s.At, Demo: s.Demo, RecordFailing: s.RecordFailing, Vessels: []VesselJSON{}}
	for i := range s.Vessels {
		out.Vessels = append(out.Vessels, vesselJSON(&s.Vessels[i], s.At))
	}
	return out
}

// estimates fills in what is known of the vessel beside its thermowell and hydrometer.
func (j *VesselJSON) estimates(d *controller.Decision) {
	if d.Diacetyl.Known() {
		j.Diacetyl = number(d.Diacetyl.MgL, 3)
	}
	for _, w := range d.Wells {
		j.Wells = append(j.Wells, WellJSON{string(w.Probe), celsius(w.Thermometer)})
	}
	if d.Gauge.Usable() {
		j.Pressure = number(d.Gauge.Gauge.Kilo(), 3)
	}
	if d.Pitched {
		j.YeastHeat = heatJSON(d.Heat)
	}
	if d.Residual > 0 {
		j.Residual = number(float64(d.Residual), 2)
	}
}

func vesselJSON(v *controller.View, at time.Time) VesselJSON {
	d := &v.Decision
	j := VesselJSON{
		Name: v.Name, Mode: string(d.Mode), Batch: d.Batch, Schedule: v.Schedule, Stage: d.Stage, Kind: string(d.Kind),
		InStageS: d.In.Seconds(), Paused: d.Paused, WaitS: d.Wait.Seconds(), Needs: d.NeedsWhat,
		Beer: celsius(d.Beer), BeerSignal: string(d.Signal), Surround: celsius(d.Surround), Ambient: celsius(d.Ambient),
		Float: celsius(d.Float), Backup: string(d.Backup), HeatLocked: d.Dry && v.Heat.Fitted, Response: responseJSON(&d.Response), Reminders: []JobJSON{}, Forecast: forecastsAt(at, d.Forecast),
		Reasons: []string{}, Alarms: []AlarmJSON{}, Events: []EventJSON{}, LastReadingTime: []ProbeJSON{},
		Standing: d.Counts.Standing, Chattering: d.Counts.Chattering,
		HeatSwitches: v.Heat.Switches, CoolSwitches: v.Cool.Switches, HeatOnS: v.Heat.OnFor.Seconds(), CoolOnS: v.Cool.OnFor.Seconds(),
	}
	if d.Pitched {
		j.SincePitchedS = number(d.Since.Seconds(), 0)
	}
	if d.HasTarget {
		j.Target = number(float64(d.Target), 4)
	}
	if g := d.Gravity; g.Known {
		j.Gravity, j.FinalGravity = number(float64(g.Now), 5), number(float64(g.Final), 5)
		j.PointsLeft, j.PointsLeftLow, j.PointsLeftHigh = number(float64(g.Left), 2), number(float64(g.Low), 2), number(float64(g.High), 2)
	}
	j.GravityReadings, j.GravityRejected, j.WhyRejected = d.Rejected.Of, d.Rejected.Count, d.Rejected.Why
	j.estimates(d)
	for _, due := range d.Jobs {
		j.Reminders = append(j.Reminders, JobJSON{due.No, due.Stage, due.Say, string(due.Mark), due.For.Seconds()})
	}
	if v.Heat.Fitted {
		j.Heat = &v.Heat.On
	}
	if v.Cool.Fitted {
		j.Cool = &v.Cool.On
	}
	for _, r := range d.Reasons {
		j.Reasons = append(j.Reasons, r.String())
	}
	for _, a := range d.Alarms {
		if row, ok := alarms.Find(a.ID); ok && a.Raised() {
			j.Alarms = append(j.Alarms, AlarmJSON{
				Alarm: string(a.ID), Priority: string(row.Priority), Acknowledged: a.Phase == alarms.Acknowledged,
				State: string(a.Phase), First: a.First,
				ShelvedS: a.Shelved.Seconds(), Cause: row.Cause, Consequence: row.Consequence, Do: row.Do, Available: row.Time,
			})
		}
	}
	for _, e := range v.Recent {
		j.Events = append(j.Events, EventJSON{e.At, string(e.Kind), e.String()})
	}
	for _, p := range v.Probes {
		pj := ProbeJSON{Probe: string(p.ID)}
		if !p.Last.IsZero() {
			pj.LastReading = &p.Last
		}
		j.LastReadingTime = append(j.LastReadingTime, pj)
	}
	return j
}

func celsius(t controller.Thermometer) *float64 {
	if !t.Usable() {
		return nil
	}
	return number(float64(t.Celsius), 4)
}

func number(v float64, decimals int) *float64 {
	p := math.Pow10(decimals)
	r := math.Round(v*p) / p
	return &r
}
