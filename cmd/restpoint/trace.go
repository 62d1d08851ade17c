package main

import (
	"bytes"
	"fmt"
	"html"
	"io"
	"strings"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/bench"
)

// sampleEvery is the time between two rows of a written record.
const sampleEvery = 15 * time.Minute

// trace is the course of a simulated batch.
type trace struct {
	title, volume string
	rows          []sample
	stages        []stageMark
	gravity       float64 // newest reading; 0 = none since the last row
	heatOn        time.Duration
	coolOn        time.Duration
}

type sample struct {
	at                     time.Duration
	beer, target           float64
	reading, left, gravity float64
	hasReading, hasLeft    bool
	heat, cool             float64 // share of the time
	stage                  string
}

type stageMark struct {
	at   time.Duration
	name string
}

func (t *trace) note(at time.Duration, tank *bench.Tank, events []controller.Event) {
	for _, e := range events {
		if e.Kind == controller.StageEntered {
			t.stages = append(t.stages, stageMark{at, e.Stage})
		}
	}
	for _, r := range tank.Readings {
		if r.Probe == tank.Vessel.Probes.Hydrometer && r.Fault == controller.NoFault {
			t.gravity = float64(r.Value.Gravity)
		}
	}
	if tank.Driven.Heat {
		t.heatOn += bench.Step
	}
	if tank.Driven.Cool {
		t.coolOn += bench.Step
	}
	if at%sampleEvery != 0 {
		return
	}
	d := tank.Out.Decision
	t.rows = append(t.rows, sample{
		at: at, beer: float64(d.Beer.Celsius), target: float64(d.Target), stage: d.Stage,
		reading: t.gravity, hasReading: t.gravity != 0,
		left: float64(d.Gravity.Left), gravity: float64(d.Gravity.Now), hasLeft: d.Gravity.Known,
		heat: t.heatOn.Seconds() / sampleEvery.Seconds(), cool: t.coolOn.Seconds() / sampleEvery.Seconds(),
	})
	t.gravity, t.heatOn, t.coolOn = 0, 0, 0
}

// csv is the record in the form that replay reads (RFC 4180).
func (t *trace) csv() []byte {
	var b bytes.Buffer
	b.WriteString("hours,beer_celsius,gravity_sg,target_celsius,points_left,heat_share,cool_share,stage\r\n")
	for _, r := range t.rows {
		reading, left := "", ""
		if r.hasReading {
			reading = fmt.Sprintf("%.4f", r.reading)
		}
		if r.hasLeft {
			left = fmt.Sprintf("%.2f", r.left)
		}
		fmt.Fprintf(&b, "%.4f,%.4f,%s,%.3f,%s,%.3f,%.3f,%s\r\n", r.at.Hours(), r.beer, reading, r.target, left, r.heat, r.cool, csvField(r.stage))
	}
	return b.Bytes()
}

func csvField(s string) string {
	if strings.ContainsAny(s, ",\"\r\n") {
		return `"` + strings.ReplaceAll(s, `"`, `""`) + `"`
	}
	return s
}

// span is the range of a curve with a little room.
func span(rows []sample, value func(sample) (float64, bool)) (low, high float64) {
	first := true
	for _, r := range rows {
		v, ok := value(r)
		if !ok {
			continue
		}
		if first {
			low, high, first = v, v, false
		}
		low, high = min(low, v), max(high, v)
	}
	if high-low < 1e-9 {
		high = low + 1
	}
	return low, high
}

func beerOf(r sample) (float64, bool)    { return r.beer, true }
func gravityAt(r sample) (float64, bool) { return r.gravity, r.hasLeft }

const (
	plotWidth  = 66
	plotHeight = 9
)

// plot draws two strips for a terminal of 80 columns: temperature and gravity.
func (t *trace) plot(w io.Writer) error {
	if len(t.rows) < 2 {
		return nil
	}
	var b strings.Builder
	b.WriteString("\nbeer, C\n")
	t.strip(&b, beerOf, "%6.1f", 'o')
	b.WriteString("\ngravity as estimated\n")
	t.strip(&b, gravityAt, "%6.3f", '*')
	b.WriteString("        " + t.ruler() + "\n")
	for i, s := range t.stages {
		fmt.Fprintf(&b, "        %c %s, from day %.1f\n", 'A'+rune(i%26), s.name, s.at.Hours()/24)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (t *trace) strip(b *strings.Builder, value func(sample) (float64, bool), format string, mark byte) {
	low, high := span(t.rows, value)
	grid := make([][]byte, plotHeight)
	for i := range grid {
		grid[i] = []byte(strings.Repeat(" ", plotWidth))
	}
	for _, r := range t.rows {
		if v, ok := value(r); ok {
			y := int((high - v) / (high - low) * (plotHeight - 0.001))
			grid[max(0, min(plotHeight-1, y))][t.column(r.at)] = mark
		}
	}
	for i, row := range grid {
		label := "       "
		if i == 0 || i == plotHeight-1 || i == plotHeight/2 {
			label = fmt.Sprintf(format+" ", high-(high-low)*float64(i)/(plotHeight-1))
		}
		b.WriteString(label + "|" + strings.TrimRight(string(row), " ") + "\n")
	}
}

func (t *trace) column(at time.Duration) int {
	end := t.rows[len(t.rows)-1].at
	return min(plotWidth-1, int(float64(plotWidth)*at.Seconds()/max(1, end.Seconds())))
}

// ruler marks where each stage begins.
func (t *trace) ruler() string {
	row := []byte(strings.Repeat("-", plotWidth))
	for i, s := range t.stages {
		if s.at <= t.rows[len(t.rows)-1].at {
			row[t.column(s.at)] = byte('A' + i%26)
		}
	}
	return string(row)
}

// svg draws the batch: temperature, gravity, and a lane for each relay whose
// hatches are as dense as the relay was busy.
func (t *trace) svg() []byte {
	const width, height, left, right = 960, 420, 60, 60
	var b bytes.Buffer
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" font-family="sans-serif" font-size="12">`+"\n", width, height)
	fmt.Fprintf(&b, "<title>%s</title>\n<rect width=\"%d\" height=\"%d\" fill=\"white\"/>\n", html.EscapeString(t.title), width, height)
	if len(t.rows) > 1 {
		end := t.rows[len(t.rows)-1].at.Seconds()
		x := func(at time.Duration) float64 {
			return left + (width-left-right)*at.Seconds()/end
		}
		for i, s := range t.stages {
			fmt.Fprintf(&b, "<line x1=\"%.1f\" y1=\"20\" x2=\"%.1f\" y2=\"380\" stroke=\"#999\" stroke-dasharray=\"2 3\"/>\n", x(s.at), x(s.at))
			fmt.Fprintf(&b, "<text x=\"%.1f\" y=\"%d\">%s</text>\n", x(s.at)+3, 16+14*(i%2), html.EscapeString(s.name))
		}
		curve(&b, t.rows, x, beerOf, "#0072b2", "", "beer, C", left-50)
		curve(&b, t.rows, x, gravityAt, "#d55e00", "6 3", "gravity", width-right+8)
		t.lane(&b, x, "heat", 330, func(r sample) float64 { return r.heat })
		t.lane(&b, x, "cool", 355, func(r sample) float64 { return r.cool })
		for day := 0; float64(day)*86400 <= end; day++ {
			fmt.Fprintf(&b, "<text x=\"%.1f\" y=\"400\" text-anchor=\"middle\">%d d</text>\n", x(time.Duration(day)*24*time.Hour), day)
		}
	}
	b.WriteString("</svg>\n")
	return b.Bytes()
}

func curve(b *bytes.Buffer, rows []sample, x func(time.Duration) float64, value func(sample) (float64, bool), colour, dash, name string, at int) {
	const top, bottom = 45, 310
	low, high := span(rows, value)
	y := func(v float64) float64 { return bottom - (bottom-top)*(v-low)/(high-low) }
	fmt.Fprintf(b, `<polyline fill="none" stroke="%s" stroke-width="1.5" stroke-dasharray="%s" points="`, colour, dash)
	for i, r := range rows {
		if v, ok := value(r); ok && i%2 == 0 {
			fmt.Fprintf(b, "%.1f,%.1f ", x(r.at), y(v))
		}
	}
	format := "%.1f"
	if high < 2 {
		format = "%.3f"
	}
	fmt.Fprintf(b, "\"><title>%s</title></polyline>\n", name)
	fmt.Fprintf(b, "<text x=\"%d\" y=\"%d\" fill=\"%s\">"+format+"</text>\n", at, top+4, colour, high)
	fmt.Fprintf(b, "<text x=\"%d\" y=\"%d\" fill=\"%s\">"+format+"</text>\n", at, bottom+4, colour, low)
	fmt.Fprintf(b, "<text x=\"%d\" y=\"%d\" fill=\"%s\">%s</text>\n", at, (top+bottom)/2, colour, name)
}

// lane hatches the time in which a relay was on.
func (t *trace) lane(b *bytes.Buffer, x func(time.Duration) float64, name string, y float64, share func(sample) float64) {
	fmt.Fprintf(b, "<text x=\"10\" y=\"%.1f\">%s</text>\n<path stroke=\"black\" stroke-width=\"0.7\" d=\"", y+12, name)
	for _, r := range t.rows {
		if s := share(r); s > 0 {
			fmt.Fprintf(b, "M%.1f %.1fv%.1f", x(r.at), y+16, -2-14*s)
		}
	}
	b.WriteString("\"/>\n")
}
