package profiles

import (
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles/strict"
)

// Ranges of what may be written. Wider than any beer needs, narrow enough to
// catch a wrong unit or a slipped finger.
const (
	coldest units.Celsius = -3 // strong beer freezes below; also the brine side of a jacket
	warmest units.Celsius = 45 // the hottest farmhouse yeasts work at 40 C

	slowest units.KelvinsPerHour = 0.01 // a quarter of a kelvin a day
	fastest units.KelvinsPerHour = 20   // faster than any jacket

	fewestPoints units.Points = 0.5 // below is the noise of every hydrometer
	mostPoints   units.Points = 60

	narrowest units.Points = 0.1
	widest    units.Points = 5

	defaultSpread units.Points = 2 // how well a brewer knows the end of a beer that was made before
	mostSpread    units.Points = 15

	shortestWait = time.Minute
	longestWait  = 365 * units.Day

	shortestTerminal = units.Day // a still beer for less than a day is a pause, not an end
	longestTerminal  = 14 * units.Day

	mostStages = 20 // one screen
	nameLength = 60
	textLength = 500
)

// draft is a stage with the places where its parts stand, for the checks that
// look across fields.
type draft struct {
	stage *controller.Stage

	item, name, kind, to, until, longest, then, byClock, stuck, stuckThen *strict.Value

	whole   bool // until was read without a problem
	endless bool // until is left out, not misspelt
	leaves  []leaf
	reminds []reminder
}

// leaf is a condition that is not made of others, and where it stands.
type leaf struct {
	condition controller.Condition
	at        *strict.Value
}

type reminder struct {
	controller.Reminder
	at   *strict.Value // the stage's name, the points, or the time
	mark *strict.Value
}

func read(doc *strict.Doc) *controller.Schedule {
	m := doc.Root()
	s := &controller.Schedule{
		Name:  m.Need("schedule").Line(nameLength),
		About: m.Opt("about").Text(textLength),
	}
	s.Wort = wort(m.Need("wort").Map("the expected gravities, such as {original-gravity: 1.052, final-gravity: 1.010}"))
	s.Carbonation = m.Opt("carbonation").Volumes(0.5, 6) // flat cask beer to the most that a bottle holds
	stages := m.Need("stages")
	items := stages.List("a list of stages, each beginning with \"- name: ...\"")
	m.Done()
	if len(items) > mostStages {
		stages.Fail(ManyStages, "there are %d stages, and %d are allowed", len(items), mostStages)
		return s
	}
	s.Stages = make([]controller.Stage, len(items))
	drafts := make([]*draft, len(items))
	for i, item := range items {
		drafts[i] = stage(item, &s.Stages[i])
	}
	check(s, drafts)
	return s
}

func wort(m *strict.Map) controller.Wort {
	original, final := m.Need("original-gravity"), m.Need("final-gravity")
	w := controller.Wort{
		Original: original.Gravity(units.LowestGravity, units.HighestGravity),
		Final:    final.Gravity(units.LowestGravity, units.HighestGravity),
		FinalSD:  defaultSpread,
	}
	if sd := m.Opt("final-gravity-sd"); sd.Given() {
		w.FinalSD = sd.Points(narrowest, mostSpread)
	}
	m.Done()
	if original.Good() && final.Good() && w.Final >= w.Original {
		final.Fail(WortOrder, "the final gravity %s is not below the original gravity %s", w.Final.Fixed(3), w.Original.Fixed(3))
	}
	return w
}

func stage(item *strict.Value, s *controller.Stage) *draft {
	m := item.Map("a stage such as {name: primary, kind: primary, target: {at: 19 C}, until: {points-left: 6}}")
	d := &draft{stage: s, item: item, name: m.Need("name"), kind: m.Need("kind")}
	s.Name = d.name.Line(nameLength)
	s.Kind = controller.Kind(d.kind.Word(kinds()...))
	d.target(m.Need("target"))
	if d.until = m.Opt("until"); d.until.Given() {
		s.Until, d.whole = d.condition(d.until)
	}
	d.endless = !d.until.Given() && !m.Misspelt("until")
	s.Longest = controller.DefaultLongest(s.Kind)
	if d.longest = m.Opt("longest"); d.longest.Given() {
		s.Longest = d.limit(d.longest.Map("a limit such as {for: 10 d, then: ask}"))
	}
	if d.stuck = m.Opt("stuck"); d.stuck.Given() {
		w := d.stuck.Map("what happens when the beer is stuck, such as {then: ask}")
		d.stuckThen = w.Need("then")
		s.Stuck = controller.Then(d.stuckThen.Word(string(controller.Ask), string(controller.Advance)))
		w.Done()
	}
	if d.byClock = m.Opt("by-clock"); d.byClock.Given() {
		s.ByClock = d.byClock.Word("accepted") != ""
	}
	if v := m.Opt("remind"); v.Given() {
		for _, r := range v.List("a list of reminders, each beginning with \"- when: ...\"") {
			d.remind(r.Map(`a reminder such as {when: {after: 2 d}, say: "dump the cone"}`))
		}
	}
	m.Done()
	return d
}

func kinds() []string {
	var out []string
	for _, k := range controller.Kinds() {
		out = append(out, string(k))
	}
	return out
}

func marks() []string {
	var out []string
	for _, k := range controller.MarkKinds() {
		out = append(out, string(k))
	}
	return out
}

func (d *draft) target(v *strict.Value) {
	m := v.Map("a target such as {at: 19 C}")
	key, how := m.One(TargetForm, string(controller.At), string(controller.Ramp), string(controller.FreeRise))
	t := controller.Target{Kind: controller.TargetKind(key)}
	d.to = how
	switch t.Kind {
	case controller.At:
		t.To = how.Celsius(coldest, warmest)
	case controller.Ramp:
		r := how.Map("a ramp such as {to: 1 C, rate: 1 C/h}")
		d.to = r.Need("to")
		t.To = d.to.Celsius(coldest, warmest)
		t.Rate = r.Need("rate").Rate(slowest, fastest)
		r.Done()
	case controller.FreeRise:
		r := how.Map("a free rise such as {to: 21 C, heat-after: 8 h}")
		d.to = r.Need("to")
		t.To = d.to.Celsius(coldest, warmest)
		t.HeatAfter = r.Opt("heat-after").Duration(shortestWait, longestWait)
		r.Done()
	}
	m.Done()
	d.stage.Target = t
}

func (d *draft) limit(m *strict.Map) controller.Longest {
	l := controller.Longest{For: m.Need("for").Duration(shortestWait, longestWait), Then: controller.Ask}
	if d.then = m.Opt("then"); d.then.Given() {
		l.Then = controller.Then(d.then.Word(string(controller.Ask), string(controller.Advance)))
	}
	m.Done()
	return l
}

func (d *draft) remind(m *strict.Map) {
	when := m.Need("when").Map("a time such as {after: 2 d}")
	key, v := when.One(RemindForm, string(controller.RemindBefore), string(controller.RemindAfter), string(controller.RemindPoints), string(controller.RemindHeat))
	r := reminder{Reminder: controller.Reminder{When: controller.ReminderKind(key)}, at: v}
	switch r.When {
	case controller.RemindBefore:
		r.Stage = v.Line(nameLength)
		r.By = when.Need("by").Duration(shortestWait, longestWait)
	case controller.RemindAfter:
		r.By = v.Duration(shortestWait, longestWait)
	case controller.RemindPoints, controller.RemindHeat:
		r.Points = v.BarePoints(fewestPoints, mostPoints)
	}
	when.Done()
	r.Say = m.Need("say").Text(textLength)
	if r.mark = m.Opt("mark"); r.mark.Given() {
		r.Mark = controller.MarkKind(r.mark.Word(marks()...))
	}
	m.Done()
	d.reminds = append(d.reminds, r)
	d.stage.Remind = append(d.stage.Remind, r.Reminder)
}
