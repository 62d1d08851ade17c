// Package report writes a batch down on one page that a brewer can print, keep and
// show: one file, that needs nothing else and no script.
//
// It refuses to judge the beer and to decide anything: it tells what was recorded.
package report

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"slices"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/history"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
)

//go:embed report.html
var pageText string

// Powers are what the relays switch; 0 = not known.
type Powers struct{ Heat, Cool units.Watts }

// page is what the template shows: words, each number with its unit.
type page struct {
	ID, Schedule, State, Version string
	Facts                        []fact
	Curve                        template.HTML
	Decisions                    []decision
	Stages                       []stageRow
	Relays                       []relayRow
	Foreseen                     []foreseenRow
	Alarms                       []alarmRow
	Orders                       []orderRow
	Readings                     []fact
	Bright                       []fact
	Program                      []fact
	Source                       string // the schedule's text
}

type fact struct{ Name, Value, How string }

// decision is one that is numbered on the curve.
type decision struct {
	no         int
	at         time.Duration
	row        int
	No         int
	When, Date string
	What, Why  string
}

type (
	stageRow    struct{ Name, Kind, Began, Took, Low, High, Error, Share string }
	relayRow    struct{ Name, Starts, Hours, Energy string }
	foreseenRow struct {
		What, Came, Inside string
		Ahead              []string
	}
	alarmRow struct{ When, Name, Priority, Why, Took string }
	orderRow struct{ When, Who, What, Why, Answer string }
)

// Write writes the report of a batch by a program of the given version.
func Write(w io.Writer, b *history.Batch, p Powers, version string) error {
	t, err := template.New("report").Parse(pageText)
	if err != nil {
		return fmt.Errorf("read the form of the report: %w", err)
	}
	if err := t.Execute(w, pageOf(b, p, version)); err != nil {
		return fmt.Errorf("write the report: %w", err)
	}
	return nil
}

func pageOf(b *history.Batch, p Powers, version string) page {
	d := decisions(b)
	v := page{
		ID: b.ID, Schedule: b.Name, Version: version, State: "it was running when this was written",
		Facts: facts(b), Curve: template.HTML(drawing(b, d)), //nolint:gosec // drawn here; every name in it is escaped
		Decisions: d, Relays: relays(b, p), Readings: readings(b), Bright: bright(b), Program: program(b), Source: b.Schedule,
	}
	if !b.Ended.IsZero() {
		v.State = "it ended " + date(b.Ended)
	}
	for _, s := range b.Stages() {
		v.Stages = append(v.Stages, rowOf(&s))
	}
	for _, f := range b.Foreseen() {
		row := foreseenRow{What: milestone(f.Milestone), Came: after(f.Came), Inside: fmt.Sprintf("%d of %d", f.Inside, f.Made)}
		for _, a := range f.Ahead {
			row.Ahead = append(row.Ahead, fmt.Sprintf("%s before: %s", units.Rough(a.By), off(a.Off)))
		}
		v.Foreseen = append(v.Foreseen, row)
	}
	for _, a := range b.Alarms() {
		took := units.Rough((a.To - a.From).Round(time.Second))
		if a.Open {
			took = "stood at the end of the record"
		}
		v.Alarms = append(v.Alarms, alarmRow{after(a.From), a.Name, a.Priority, a.Why, took})
	}
	for _, o := range b.Orders {
		answer := "refused: " + o.Text
		if o.Taken {
			answer = o.Text
		}
		v.Orders = append(v.Orders, orderRow{after(o.At), o.Order.Order.Who, o.Words, o.Order.Order.Why, answer})
	}
	return v
}

// date is a moment as people in the place write it.
func date(t time.Time) string { return t.Format("2006-01-02 15:04 -0700") }

// after is how long after the start of the batch.
func after(d time.Duration) string {
	d = max(0, d).Round(time.Minute)
	return fmt.Sprintf("%d d %02d:%02d", int(d/units.Day), int(d/time.Hour)%24, int(d/time.Minute)%60)
}

func off(d time.Duration) string {
	switch hours := d.Hours(); {
	case math.Abs(hours) < 0.5:
		return "right to the hour"
	case hours > 0:
		return fmt.Sprintf("%.0f h too late", hours)
	default:
		return fmt.Sprintf("%.0f h too early", -hours)
	}
}

func milestone(m controller.Milestone) string {
	switch m {
	case controller.RestBegins:
		return "rest began"
	case controller.TerminalMet:
		return "gravity terminal"
	case controller.Crashed:
		return "crash over"
	case controller.Ready:
		return "ready for the bright tank"
	}
	return string(m)
}

func facts(b *history.Batch) []fact {
	list := []fact{
		{"vessel", b.Vessel + ", " + b.Volume.String(), ""},
		{"begun", date(b.Started) + " by " + b.Who, ""},
		{"recorded", units.Rough(b.Length.Round(time.Minute)), ""},
	}
	f := b.Figures()
	if !f.Known {
		return append(list, fact{"original gravity", b.Original.Fixed(4) + ", " + b.Original.Plato().Fixed(1), "as declared; no gravity was read"})
	}
	how := "as declared"
	if f.Added {
		how = "declared " + b.Original.Fixed(4) + "; turns of wort and sugar are counted in"
	}
	end := "as estimated last; it was not found terminal"
	if f.Terminal {
		end = "as estimated when it was found terminal"
	}
	return append(list,
		fact{"original gravity", f.Original.Fixed(4) + ", " + f.Original.Plato().Fixed(1), how},
		fact{"final gravity", f.Final.Fixed(4) + ", " + f.Final.Plato().Fixed(1), end + ", " + after(f.FinalAt) + " after the start; " + b.Final.Fixed(4) + " was expected"},
		fact{"apparent attenuation", percent(f.Apparent), "gravities over water; schedules count this way"},
		fact{"real attenuation", percent(f.Real), "Balling"},
		fact{"alcohol", f.ByVolume.Fixed(1), "Balling; within 0.15 % by volume of breweries' analyses, if the gravities are right"},
		fact{"alcohol", f.ByMass.Fixed(2), "Balling"},
	)
}

func percent(share float64) string { return fmt.Sprintf("%.1f %%", 100*share) }

// shown tells whether an event is a decision that a reader of the curve looks for.
func shown(k controller.EventKind) bool {
	return slices.Contains([]controller.EventKind{
		controller.StageEntered, controller.StageWaits, controller.TerminalReached, controller.StuckFound,
		controller.NotStarted, controller.GravityLost, controller.ProbeLost, controller.Resumed,
	}, k)
}

// most is how many decisions have a number on the curve; a fault that comes and
// goes would hide the rest.
const most = 60

func decisions(b *history.Batch) []decision {
	var list []decision
	for _, e := range b.Events {
		if !shown(e.Kind) || len(list) == most {
			continue
		}
		n := len(list) + 1
		d := decision{no: n, No: n, at: max(0, e.At), When: after(e.At), Date: b.Started.Add(e.At).Format("Mon 2 Jan 15:04"), What: string(e.Kind), Why: e.Reason.String()}
		if e.Kind == controller.StageEntered {
			d.What = "stage " + e.Stage
		}
		// Numbers that would lie on one another stand in the row above.
		if n > 1 && float64(d.at-list[n-2].at) < 0.02*float64(b.Length) {
			d.row = (list[n-2].row + 1) % 4
		}
		list = append(list, d)
	}
	return list
}

func rowOf(s *history.Stage) stageRow {
	row := stageRow{Name: s.Name, Kind: string(s.Kind), Began: after(s.From), Took: units.Rough((s.To - s.From).Round(time.Minute))}
	if h := s.Held; h.Known {
		row.Low, row.High = h.Low.Fixed(1), h.High.Fixed(1)
		if math.IsNaN(h.Share) {
			row.Error, row.Share = "it never came to its target", ""
		} else {
			row.Error, row.Share = h.Error.Fixed(2), percent(h.Share)
		}
	}
	return row
}

func relays(b *history.Batch, p Powers) []relayRow {
	heat, cool := b.Relays()
	row := func(name string, w history.Worked, power units.Watts) relayRow {
		r := relayRow{name, fmt.Sprint(w.Starts), fmt.Sprintf("%.1f h", w.On.Hours()), "its power is not in the site file"}
		if power > 0 {
			r.Energy = fmt.Sprintf("%.2f kWh at %s", float64(power)*w.On.Hours()/1000, power)
		}
		return r
	}
	return []relayRow{row("heat", heat, p.Heat), row("cool", cool, p.Cool)}
}

func readings(b *history.Batch) []fact {
	var list []fact
	if all, why := b.Rejected(); all > 0 {
		list = append(list, fact{"readings of the hydrometer", fmt.Sprint(all), ""})
		names := make([]string, 0, len(why))
		for name := range why {
			names = append(names, name)
		}
		slices.Sort(names)
		for _, name := range names {
			list = append(list, fact{"of them not believed", fmt.Sprint(why[name]), name})
		}
	}
	if n := len(b.Samples()); n > 0 {
		list = append(list, fact{"samples read by hand", fmt.Sprint(n), ""})
	}
	return list
}

// bright is what the bright tank needs.
func bright(b *history.Batch) []fact {
	f := b.Figures()
	if b.Target == 0 || !f.HasBeer {
		return nil
	}
	p := units.CarbonationPressure(b.Target, f.Temperature)
	how := "fit to the ASBC's table, at sea level; less air above adds to the gauge"
	list := []fact{
		{"carbon dioxide that is wanted", fmt.Sprintf("%s, %.1f g/L", b.Target, b.Target.GramsPerLitre()), "the schedule's"},
		{"beer", f.Temperature.Fixed(1), "the last that was read"},
	}
	if p < 0 {
		return append(list, fact{"gauge pressure", "none", "the beer holds as much in the open"})
	}
	return append(list, fact{"gauge pressure, in the end", fmt.Sprintf("%.2f bar, %.0f kPa, %.1f psi", p.Bar(), p.Kilo(), p.PSI()), how})
}

func program(b *history.Batch) []fact {
	list := []fact{{"runs of the program", fmt.Sprint(len(b.Runs)), ""}}
	for i, r := range b.Runs {
		if i == 0 {
			continue
		}
		how := "of unknown length: the clock was not set"
		if r.Known {
			how = "for " + units.Rough(r.Outage.Round(time.Second))
		} else if r.Outage > 0 {
			how = "for about " + units.Rough(r.Outage.Round(time.Minute)) + ", by the labels of the clock"
		}
		list = append(list, fact{"it was away", after(r.From - r.Outage), how})
	}
	if b.Damaged > 0 {
		list = append(list, fact{"pieces of the record that cannot be read", fmt.Sprint(b.Damaged), ""})
	}
	return list
}
