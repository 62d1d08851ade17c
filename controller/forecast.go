package controller

import (
	"math"
	"strconv"
	"time"

	"example.org/restpoint/controller/gravity"
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

// What is to come, for people who plan their week. A forecast is a span of time
// and no promise; nothing waits for it and nothing follows from it.

// Milestone is a moment of a batch that is forecast.
type Milestone string

// The milestones, in the order in which a batch meets them as a rule.
const (
	RestBegins  Milestone = "rest"     // the next stage of kind rest begins
	TerminalMet Milestone = "terminal" // the gravity is found terminal
	Crashed     Milestone = "crashed"  // the last crash of the schedule is over
	Ready       Milestone = "ready"    // for the bright tank: the last hold begins
)

// Milestones lists every milestone.
func Milestones() []Milestone { return []Milestone{RestBegins, TerminalMet, Crashed, Ready} }

// Forecast is when a milestone is reached, counted from when the forecast was made.
// One case in ten comes before Early, half before Middle, one in ten after Late.
type Forecast struct {
	Event  Milestone
	Stage  string // that begins or is over by then; terminal: none
	Early  time.Duration
	Middle time.Duration
	Late   time.Duration
	// Person: somebody has to confirm or arm on the way; it is reckoned as given at once.
	Person bool
}

// Outlook is the newest forecasts. A milestone of which nothing can be told, or
// that has passed, is not in it.
type Outlook struct {
	Made bool
	Age  time.Duration // counted since they were made
	List []Forecast
}

// From gives the forecasts as they stand some time after they were made.
func (o Outlook) From() []Forecast {
	list := make([]Forecast, 0, len(o.List))
	for _, f := range o.List {
		f.Early, f.Middle, f.Late = max(0, f.Early-o.Age), max(0, f.Middle-o.Age), max(0, f.Late-o.Age)
		list = append(list, f)
	}
	return list
}

// What names the milestone as people do.
func (f Forecast) What() string {
	switch f.Event {
	case RestBegins:
		return f.Stage
	case TerminalMet:
		return "terminal gravity"
	case Crashed:
		return f.Stage + " over"
	case Ready:
		return "ready for the bright tank"
	}
	return string(f.Event)
}

// openEnd is what is so far off that its hour says nothing: a curve that may end
// above what was asked for never gets there.
const openEnd = 14 * units.Day

// String is the forecast in words: "diacetyl rest in 14 h (9 to 22 h)".
func (f Forecast) String() string {
	size, unit, unit2, digits := time.Hour, "h", "h", 0
	if f.Middle >= 3*units.Day {
		size, unit, unit2, digits = units.Day, "d", "d", 1
	}
	in := func(d time.Duration) string { return strconv.FormatFloat(d.Hours()/size.Hours(), 'f', digits, 64) }
	span := in(f.Early) + " to " + in(f.Late)
	if f.Late > openEnd {
		span = in(f.Early) + " " + unit + " to more than 14"
		unit2 = "d"
	}
	text := f.What() + " in " + in(f.Middle) + " " + unit + " (" + span + " " + unit2 + ")"
	if f.Person {
		text += ", if nobody is waited for"
	}
	return text
}

// foreseeEvery is how often the forecasts are made: a curve says nothing new faster.
const foreseeEvery = time.Hour

// farthest is how far ahead anything is forecast.
const farthest = 365 * units.Day

// forecast keeps the outlook. It is made each hour, and anew when what was reckoned
// with is no longer so; each goes into the record, where it can be judged.
func (r *run) forecast() {
	if r.stage() == nil {
		r.s.Outlook = Outlook{}
		return
	}
	beer := r.s.Sense.Beer
	r.s.Pace = r.s.Pace.Step(beer.Celsius, beer.Usable(), r.in.Actual.Cool, r.elapsed)
	if r.s.Outlook.Age += r.elapsed; r.s.Outlook.Made && r.s.Outlook.Age < foreseeEvery {
		return
	}
	r.s.Outlook = Outlook{Made: true, List: r.foresee()}
	if len(r.s.Outlook.List) > 0 {
		st := r.stage()
		r.out.Notes = append(r.out.Notes, Event{Kind: ForecastMade, Stage: st.Name, StageKind: st.Kind, Forecasts: r.s.Outlook.List})
	}
}

// unforesee makes the outlook void: it is made anew with the next look.
func (r *run) unforesee() { r.s.Outlook = Outlook{} }

// foresee walks through the stages to come.
func (r *run) foresee() []Forecast {
	b := &r.s.Batch
	if !b.Pitched || b.Told.Stuck || r.s.Gravity.Silent() > lostCurve && !r.v.ByHand {
		return nil
	}
	list := make([]Forecast, 0, len(Milestones()))
	var at ahead // of the stage's begin
	at.beer, at.known = r.s.Sense.Beer.Celsius, r.s.Sense.Beer.Usable()
	now := r.s.Stage.Index
	within, over, _ := r.nextTerminal()
	r.remember(within)
	if !b.Told.Terminal && r.awaitsTerminal() {
		if span, ok := r.untilTerminal(within, over); ok {
			list = append(list, Forecast{Event: TerminalMet, Early: span.Early, Middle: span.Middle, Late: span.Late})
		}
	}
	if b.Paused {
		return list
	}
	rest, crash := false, r.lastCrash()
	for i := now; i < len(r.sch.Stages); i++ {
		st := &r.sch.Stages[i]
		if st.Kind == Rest && i > now && !rest {
			rest = true
			list = append([]Forecast{at.of(RestBegins, st)}, list...)
		}
		if i > now && i == len(r.sch.Stages)-1 && st.Kind == Hold {
			list = append(list, at.of(Ready, st))
		}
		var ok bool
		if at, ok = r.past(at, i); !ok {
			break
		}
		if i == crash {
			list = append(list, at.of(Crashed, st))
		}
	}
	return list
}

// awaitsTerminal tells whether terminal gravity still means something.
func (r *run) awaitsTerminal() bool {
	_, _, asked := r.nextTerminal()
	return asked || !r.beenCold()
}

// beenCold tells whether the beer is in its crash or past it: what stands still then
// is not the end.
func (r *run) beenCold() bool {
	for i := range r.s.Stage.Index + 1 {
		if r.sch.Stages[i].Kind == Crash {
			return true
		}
	}
	return false
}

// lastCrash is the stage after which the beer stays cold, or -1.
func (r *run) lastCrash() int {
	last := -1
	for i := range r.sch.Stages {
		if r.sch.Stages[i].Kind == Crash {
			last = i
		}
	}
	return last
}

// lostCurve is without a gravity until the curve says nothing of now any more: as
// long as a curve takes for its last turn (engineering judgement).
const lostCurve = 36 * time.Hour

// ahead is a moment to come.
type ahead struct {
	gravity.Span
	person bool
	beer   units.Celsius // where the beer will be
	known  bool
}

func (a ahead) of(m Milestone, st *Stage) Forecast {
	return Forecast{Event: m, Stage: st.Name, Early: a.Early, Middle: a.Middle, Late: a.Late, Person: a.person}
}

// past is the moment at which a stage is over that begins at one. The running stage
// has begun, and brings what its conditions have seen.
func (r *run) past(at ahead, i int) (ahead, bool) {
	st := &r.sch.Stages[i]
	var leaves []Leaf
	in := time.Duration(0)
	if i == r.s.Stage.Index {
		leaves, in = r.s.Stage.Leaves, r.s.Stage.In
	}
	w := walk{run: r, st: st, from: at, leaves: leaves, in: in}
	end, ok := w.end(&st.Until)
	next := st.Kind != Crash && i+1 < len(r.sch.Stages) && r.sch.Stages[i+1].Kind != Crash
	if limit := st.Longest; limit.Then == Advance && limit.For > 0 && next {
		by := after(at.Span, same(limit.For-in))
		if ok {
			by = earlier(by, end)
		}
		end, ok = by, true
	}
	person := at.person || w.person || i+1 < len(r.sch.Stages) && r.sch.Stages[i+1].Kind == Crash && !r.mayCrash()
	return ahead{end, person, st.Target.To, true}, ok && end.Middle < farthest
}

// walk is the way through one stage.
type walk struct {
	*run
	st     *Stage
	from   ahead
	leaves []Leaf // of the running stage; nil = it has not begun
	in     time.Duration
	at     int // the leaf that comes next
	person bool
}

// end is when a condition holds; false where that cannot be told.
func (w *walk) end(c *Condition) (gravity.Span, bool) {
	if c.Kind != All && c.Kind != Any {
		l := Leaf{}
		if w.at < len(w.leaves) {
			l = w.leaves[w.at]
		}
		w.at++
		if l.Met {
			return w.from.Span, true
		}
		return w.leaf(c, l)
	}
	var out gravity.Span
	some, all := false, true
	for i := range c.Of {
		span, ok := w.end(&c.Of[i])
		if c.Kind == Any && c.Of[i].Kind == Confirmed {
			ok = false // a person may say so at any time: that is no forecast
		}
		all = all && ok
		switch {
		case !ok:
		case !some:
			out, some = span, true
		case c.Kind == All:
			out = later(out, span)
		default:
			out = earlier(out, span)
		}
	}
	return out, some && (all || c.Kind == Any)
}

func (w *walk) leaf(c *Condition, l Leaf) (gravity.Span, bool) {
	from := w.from.Span
	switch c.Kind {
	case PointsLeft:
		return w.left(float64(c.Points), l)
	case ApparentAttenuation:
		return w.left(w.s.Gravity.Fallen(w.prior)+w.toEnd()-float64(c.Attenuation*w.prior.Original), l)
	case GravityAtMost:
		return w.left(float64(c.Gravity.Minus(1))-w.s.Gravity.True()+w.toEnd(), l)
	case Terminal:
		span, ok := w.untilTerminal(float64(c.Points), c.Over)
		return later(from, span), ok
	case Dwell:
		if c.HasBeerAbove {
			from = after(from, w.warm(c.Beer))
		}
		return after(from, same(c.AtLeast-l.Held)), true
	case BeerAt:
		return after(from, w.move(c.Beer), same(beerFor-l.Held)), w.from.known
	case Pitched:
		return from, w.s.Batch.Pitched
	case Confirmed:
		w.person = true
		return from, true
	case Never, All, Any:
	}
	return gravity.Span{}, false
}

// toEnd is how far the beer is above its end.
func (r *run) toEnd() float64 { return r.s.Gravity.Est.Level - r.s.Gravity.Est.Final }

// left is when n points are left. What has to stay so for an hour is looked at an
// hour ahead, so that only what is missing now of that hour is waited for.
func (w *walk) left(n float64, l Leaf) (gravity.Span, bool) {
	span, ok := w.s.Gravity.Until(n)
	if !ok {
		return span, false
	}
	return later(w.from.Span, later(span, same(min(gravityHold, gravityHold-l.Held)))), true
}

// nextTerminal is the test by which terminal gravity will be found: that of the next
// stage that asks for it, or as usual where none does.
func (r *run) nextTerminal() (within float64, over time.Duration, asked bool) {
	for i := r.s.Stage.Index; i < len(r.sch.Stages); i++ {
		for _, c := range r.sch.Stages[i].Until.Leaves() {
			if c.Kind == Terminal {
				return float64(c.Points), c.Over, true
			}
		}
	}
	return float64(terminalWithin), terminalOver, false
}

// The device's drift moves what falls within the window, for the better or the worse,
// by a point or more, and takes half a day to turn. So the window begins as a rule
// with more points left than may fall within it: a line through a fall that fades
// sees two thirds of it.
const (
	fades    = 1.5
	kind     = 1.5       // points by which drift may hide a fall, one time in ten
	driftFor = units.Day // by so much longer drift may hide that the beer is still
)

// creeps is how long the enzymes of hops may go on to free sugar that no curve has
// seen yet (engineering judgement).
const creeps = 5 * units.Day

// low is when so little is left that the window may begin: soon, as likely as not,
// and surely.
func (r *run) low(within float64) ([3]time.Duration, bool) {
	early, ok := r.s.Gravity.Until(float64(within*fades) + kind)
	middle, ok2 := r.s.Gravity.Until(within * fades)
	late, ok3 := r.s.Gravity.Until(within)
	return [3]time.Duration{early.Early, middle.Middle, late.Late}, ok && ok2 && ok3
}

// remember notes since when so little has been left: a forecast of what is to come
// forgets what has been.
func (r *run) remember(within float64) {
	low, ok := r.low(within)
	for i, d := range low {
		since := &r.s.Batch.Low[i]
		switch {
		case !ok || d > driftFor/2:
			*since = 0
		case d <= 0 && *since == 0:
			*since = r.s.Gravity.Now
		}
	}
}

// untilTerminal is when the gravity is found terminal: a window behind the time at
// which little is left, less what has passed of it.
func (r *run) untilTerminal(within float64, over time.Duration) (gravity.Span, bool) {
	g := &r.s.Gravity
	q, ok := r.low(within)
	if !ok {
		return gravity.Span{}, false
	}
	for i := range q {
		if since := r.s.Batch.Low[i]; since > 0 {
			q[i] = max(since, g.JudgeFrom) - g.Now
		}
		q[i] = max(0, q[i]+over)
	}
	// What is missing of the window by the readings alone, which drift too.
	least := g.UntilTerminal(within, over, r.prior)
	early := q[0]
	if r.s.Batch.Low[0] > 0 {
		early = min(early, least)
	}
	middle := max(early, q[1], min(least, driftFor/2))
	late := max(q[2], max(middle, least)+driftFor)
	if g.Lower > 0 {
		late = max(late, g.LowerAt+creeps+over-g.Now)
	}
	return gravity.Span{Early: early, Middle: middle, Late: late}, true
}

// How long a beer takes to another temperature, in kelvins an hour, where the vessel
// has not shown it: a room or a weak heater to yeast at its best and a strong heater
// (a pale ale at 4.7 P a day warms by 0.235 K/h; engineering judgement).
const (
	warmSlow, warmQuick units.KelvinsPerHour = 0.05, 0.5
	// A cabinet cools a full bucket by 0.5 K/h at the best, a jacket by some kelvins:
	// a ramp that no cooling was seen to follow may take twice as long (engineering judgement).
	unseen = 2.0
	// What cooling does at one temperature it does not at another: near the coolant
	// it takes longer (engineering judgement).
	coldest = 1.5
)

// warm is how long the beer takes until it is above a temperature.
func (w *walk) warm(to units.Celsius) gravity.Span {
	gap := float64(to.Minus(w.from.beer))
	if !w.from.known || gap <= 0 {
		return gravity.Span{}
	}
	early := hours(gap / float64(warmQuick))
	late := hours(gap / float64(warmSlow))
	if w.v.Heat.Fitted {
		late = min(late, max(0, w.st.Target.HeatAfter-w.in)+2*early)
	}
	late = max(early, late)
	return gravity.Span{Early: early, Middle: early + (late-early)/3, Late: late}
}

// move is how long the beer takes to a temperature: as the ramp asks for, or slower
// where the vessel's cooling has shown no more than that.
func (w *walk) move(to units.Celsius) gravity.Span {
	gap := math.Abs(float64(w.from.beer.Minus(to))) - float64(beerWithin)
	if !w.from.known || gap <= 0 {
		return gravity.Span{}
	}
	early, ramps := 0.0, w.st.Target.Kind == Ramp && w.st.Target.Rate > 0
	if ramps {
		near := to.Plus(beerWithin)
		if w.from.beer < to {
			near = to.Plus(-beerWithin)
		}
		early = thermal.LedFor(w.from.beer, near, w.st.Target.Rate)
	}
	pace, slow := float64(w.s.Pace.Of), coldest
	if pace <= 0 {
		pace, slow = float64(warmQuick), 1
		if ramps {
			pace, slow = gap/early, unseen
		}
	}
	middle := max(early, gap/pace)
	return gravity.Span{Early: hours(early), Middle: hours(middle), Late: hours(max(middle, gap/pace*slow))}
}

func hours(h float64) time.Duration {
	return time.Duration(min(max(0, h), farthest.Hours()) * float64(time.Hour))
}

// same is a time that is known.
func same(d time.Duration) gravity.Span {
	d = min(max(0, d), farthest)
	return gravity.Span{Early: d, Middle: d, Late: d}
}

// later is when both have come, earlier when one has.
func later(a, b gravity.Span) gravity.Span {
	return gravity.Span{Early: max(a.Early, b.Early), Middle: max(a.Middle, b.Middle), Late: max(a.Late, b.Late)}
}

func earlier(a, b gravity.Span) gravity.Span {
	return gravity.Span{Early: min(a.Early, b.Early), Middle: min(a.Middle, b.Middle), Late: min(a.Late, b.Late)}
}

// after is one thing after the other. They have nothing to do with each other, so
// that what they spread by adds as squares do.
func after(parts ...gravity.Span) gravity.Span {
	var middle time.Duration
	var down, up float64
	for _, p := range parts {
		middle += p.Middle
		d, u := (p.Middle - p.Early).Hours(), (p.Late - p.Middle).Hours()
		down += float64(d * d)
		up += float64(u * u)
	}
	return gravity.Span{Early: max(0, middle-hours(math.Sqrt(down))), Middle: middle, Late: middle + hours(math.Sqrt(up))}
}
