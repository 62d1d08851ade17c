package report

import (
	"fmt"
	"html"
	"math"
	"strings"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/history"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
)

// The drawing, in its own units. Every curve has a form of its own, so that no
// meaning hangs on a colour.
const (
	width, height = 1000.0, 560.0
	left, right   = 60.0, 960.0
	stagesAt      = 14.0 // baseline of the names of stages, the second row below it
	gravityTop    = 50.0
	gravityBottom = 270.0
	beerTop       = 300.0
	beerBottom    = 450.0
	heatLane      = 484.0
	coolLane      = 510.0
	laneHeight    = 18.0
	axisAt        = 545.0
)

// chart draws a batch.
type chart struct {
	b   *history.Batch
	out []byte
}

// drawing is the curve of the batch as an SVG of its own.
func drawing(b *history.Batch, decisions []decision) string {
	c := &chart{b: b}
	c.put(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.0f %.0f" role="img" aria-labelledby="curve-title" font-size="12">`, width, height)
	c.put(`<title id="curve-title">Gravity, temperature and relays of batch %s</title>`, html.EscapeString(b.ID))
	c.stages()
	c.gravity()
	c.beer()
	c.lanes()
	c.days()
	c.marks(decisions)
	c.put(`</svg>`)
	return string(c.out)
}

func (c *chart) put(format string, args ...any) {
	c.out = append(fmt.Appendf(c.out, format, args...), '\n')
}

func (c *chart) x(at time.Duration) float64 {
	return left + (right-left)*at.Seconds()/max(1, c.b.Length.Seconds())
}

// scale is a linear axis with round steps.
type scale struct{ low, high, step, top, bottom float64 }

// scaleOf spreads values over a panel.
func scaleOf(low, high, top, bottom float64, steps []float64) scale {
	s := scale{top: top, bottom: bottom, step: steps[len(steps)-1]}
	for i := len(steps) - 1; i >= 0 && (high-low)/steps[i] <= 8; i-- {
		s.step = steps[i]
	}
	s.low, s.high = math.Floor(low/s.step)*s.step, math.Ceil(high/s.step)*s.step
	if s.high-s.low < s.step {
		s.high = s.low + s.step
	}
	return s
}

func (s scale) y(v float64) float64 { return s.bottom - (s.bottom-s.top)*(v-s.low)/(s.high-s.low) }

// grid draws an axis with its numbers.
func (c *chart) grid(s scale, name string, decimals int) {
	n := int(math.Round((s.high - s.low) / s.step))
	for i := range n + 1 {
		v := s.low + float64(i)*s.step
		c.put(`<path class="grid" d="M%.1f %.1fH%.1f"/><text x="%.1f" y="%.1f" text-anchor="end">%.*f</text>`, left, s.y(v), right, left-6, s.y(v)+4, decimals, v)
	}
	c.put(`<text transform="translate(14 %.1f) rotate(-90)" text-anchor="middle">%s</text>`, (s.top+s.bottom)/2, name)
}

// line draws a curve through what is known; a gap where nothing is.
func (c *chart) line(class, title string, point func(m *history.Moment) (float64, bool), y func(float64) float64) {
	var d strings.Builder
	on := false
	lastX, lastY := -10.0, 0.0
	for i := range c.b.Course {
		m := &c.b.Course[i]
		v, ok := point(m)
		if !ok {
			on = false
			continue
		}
		px, py := c.x(m.At), y(v)
		if on && math.Abs(px-lastX) < 0.6 && math.Abs(py-lastY) < 0.6 {
			continue // it would not be seen
		}
		verb := byte('L')
		if !on {
			verb = 'M'
		}
		fmt.Fprintf(&d, "%c%.1f %.1f", verb, px, py)
		on, lastX, lastY = true, px, py
	}
	if d.Len() > 0 {
		c.put(`<path class="%s" d="%s"><title>%s</title></path>`, class, d.String(), title)
	}
}

// warm tells whether what a hydrometer says then is of a fermenting beer.
func warm(m *history.Moment) bool {
	return m.Gravity.Known && m.Kind != controller.Crash && m.Kind != controller.Hold
}

func (c *chart) gravity() {
	low, high := math.Inf(1), math.Inf(-1)
	see := func(v units.Gravity) { low, high = min(low, float64(v)), max(high, float64(v)) }
	for i := range c.b.Course {
		if m := &c.b.Course[i]; m.Gravity.Known {
			see(m.Gravity.Now)
			see(m.Gravity.Original)
		}
	}
	for _, r := range c.b.Readings {
		if r.Believed {
			see(r.Gravity)
		}
	}
	if math.IsInf(low, 1) {
		c.put(`<text x="%.1f" y="%.1f" text-anchor="middle">no gravity was read</text>`, (left+right)/2, (gravityTop+gravityBottom)/2)
		return
	}
	s := scaleOf(low, high, gravityTop, gravityBottom, []float64{0.002, 0.005, 0.01, 0.02, 0.05})
	c.grid(s, "specific gravity", 3)
	c.expected(s)
	c.dots(s)
	c.line("estimate", "gravity as estimated", func(m *history.Moment) (float64, bool) { return float64(m.Gravity.Now), m.Gravity.Known }, s.y)
}

// expected is where the beer was expected to end, with the span of four in five.
func (c *chart) expected(s scale) {
	clamp := func(v float64) float64 { return max(s.top, min(s.bottom, s.y(v))) }
	var up, down []string
	lastX := -10.0
	for i := range c.b.Course {
		m := &c.b.Course[i]
		px := c.x(m.At)
		if !warm(m) || px-lastX < 1 {
			continue
		}
		lastX = px
		up = append(up, fmt.Sprintf("%.1f,%.1f", px, clamp(float64(m.Gravity.Now.Plus(-m.Gravity.Low)))))
		down = append(down, fmt.Sprintf("%.1f,%.1f", px, clamp(float64(m.Gravity.Now.Plus(-m.Gravity.High)))))
	}
	if len(up) > 1 {
		for i, j := 0, len(down)-1; i < j; i, j = i+1, j-1 {
			down[i], down[j] = down[j], down[i]
		}
		c.put(`<polygon class="span" points="%s %s"><title>where the beer was expected to end, four times in five</title></polygon>`, strings.Join(up, " "), strings.Join(down, " "))
	}
	c.line("end", "where the beer was expected to end", func(m *history.Moment) (float64, bool) { return float64(m.Gravity.Final), warm(m) }, clamp)
}

// dots are what was read: by the hydrometer, believed or not, and by hand.
func (c *chart) dots(s scale) {
	var believed, not, hand strings.Builder
	for _, r := range c.b.Readings {
		x, y := c.x(r.At), max(s.top, min(s.bottom, s.y(float64(r.Gravity))))
		if r.Believed {
			fmt.Fprintf(&believed, "M%.1f %.1fh0", x, y)
		} else {
			fmt.Fprintf(&not, "M%.1f %.1fl4 4m0 -4l-4 4", x-2, y-2)
		}
	}
	for _, r := range c.b.Samples() {
		fmt.Fprintf(&hand, "M%.1f %.1fl5 5l-5 5l-5 -5z", c.x(r.At), max(s.top, min(s.bottom, s.y(float64(r.Gravity))))-5)
	}
	for _, kind := range []struct{ class, title, d string }{
		{"dots", "readings of the hydrometer", believed.String()},
		{"crosses", "readings that were not believed", not.String()},
		{"hand", "samples read by hand", hand.String()},
	} {
		if kind.d != "" {
			c.put(`<path class="%s" d="%s"><title>%s</title></path>`, kind.class, kind.d, kind.title)
		}
	}
}

func (c *chart) beer() {
	low, high := math.Inf(1), math.Inf(-1)
	for i := range c.b.Course {
		m := &c.b.Course[i]
		if m.HasBeer {
			low, high = min(low, float64(m.Beer)), max(high, float64(m.Beer))
		}
		if m.HasTarget {
			low, high = min(low, float64(m.Target)), max(high, float64(m.Target))
		}
	}
	if math.IsInf(low, 1) {
		c.put(`<text x="%.1f" y="%.1f" text-anchor="middle">no temperature was read</text>`, (left+right)/2, (beerTop+beerBottom)/2)
		return
	}
	s := scaleOf(low, high, beerTop, beerBottom, []float64{0.5, 1, 2, 5, 10})
	decimals := 0
	if s.step < 1 {
		decimals = 1
	}
	c.grid(s, "temperature, C", decimals)
	c.line("target", "target", func(m *history.Moment) (float64, bool) { return float64(m.Target), m.HasTarget }, s.y)
	c.line("beer", "beer", func(m *history.Moment) (float64, bool) { return float64(m.Beer), m.HasBeer }, s.y)
}

// lanes hatch the time in which a relay was on: the denser, the busier.
func (c *chart) lanes() {
	c.lane("heat", heatLane, func(m *history.Moment) time.Duration { return m.Heat.On })
	c.lane("cool", coolLane, func(m *history.Moment) time.Duration { return m.Cool.On })
}

func (c *chart) lane(name string, y float64, on func(*history.Moment) time.Duration) {
	const bin = 2.0 // of the drawing's units
	c.put(`<path class="grid" d="M%.1f %.1fH%.1f"/><text x="%.1f" y="%.1f" text-anchor="end">%s</text>`, left, y+laneHeight, right, left-6, y+laneHeight-3, name)
	n := int((right - left) / bin)
	busy, all := make([]time.Duration, n+1), make([]time.Duration, n+1)
	for i := 1; i < len(c.b.Course); i++ {
		was, is := &c.b.Course[i-1], &c.b.Course[i]
		if is.Run != was.Run {
			continue
		}
		k := max(0, min(n, int((c.x(is.At)-left)/bin)))
		busy[k] += max(0, on(is)-on(was))
		all[k] += is.At - was.At
	}
	var d strings.Builder
	for k := range busy {
		if all[k] > 0 && busy[k] > 0 {
			share := min(1, busy[k].Seconds()/all[k].Seconds())
			fmt.Fprintf(&d, "M%.1f %.1fv%.1f", left+(float64(k)+0.5)*bin, y+laneHeight, -2-(laneHeight-2)*share)
		}
	}
	if d.Len() > 0 {
		c.put(`<path class="hatch" d="%s"><title>%s: the taller, the more of the time it was on</title></path>`, d.String(), name)
	}
}

// stages names the stages where they begin, in two rows so that short ones keep
// apart.
func (c *chart) stages() {
	for i, s := range c.b.Stages() {
		x := c.x(s.From)
		c.put(`<path class="stage" d="M%.1f %.1fV%.1f"/><text x="%.1f" y="%.1f">%s</text>`, x, stagesAt-10, coolLane+laneHeight, x+3, stagesAt+14*float64(i%2), html.EscapeString(s.Name))
	}
}

// days are the axis of time.
func (c *chart) days() {
	all := c.b.Length.Hours() / 24
	every := 1.0
	for _, n := range []float64{1, 2, 5, 10, 20, 50} {
		if every = n; all/n <= 14 {
			break
		}
	}
	for day := 0.0; day <= all; day += every {
		x := left + (right-left)*day/max(all, 1.0/86400)
		c.put(`<path class="grid" d="M%.1f %.1fv5"/><text x="%.1f" y="%.1f" text-anchor="middle">%.0f</text>`, x, coolLane+laneHeight, x, axisAt, day)
	}
	c.put(`<text x="%.1f" y="%.1f" text-anchor="end">days</text>`, width-4, axisAt)
}

// marks number the decisions on the curve of gravity, or below it.
func (c *chart) marks(list []decision) {
	for _, d := range list {
		x := c.x(d.at)
		c.put(`<circle class="mark" cx="%.1f" cy="%.1f" r="8"/><text class="mark" x="%.1f" y="%.1f" text-anchor="middle">%d</text>`, x, gravityBottom+15-float64(d.row)*17, x, gravityBottom+19-float64(d.row)*17, d.no)
	}
}
