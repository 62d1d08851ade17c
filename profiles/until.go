package profiles

import (
	"strings"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles/strict"
)

// conditions lists the keys of a condition, in the order in which they are
// offered to who mistypes one.
func conditions() []string {
	return []string{
		string(controller.PointsLeft), string(controller.ApparentAttenuation), string(controller.GravityAtMost),
		string(controller.Terminal), string(controller.Dwell), string(controller.BeerAt), string(controller.Pitched),
		string(controller.Confirmed), string(controller.All), string(controller.Any),
	}
}

// condition reads one condition and those it is made of. It is whole when
// nothing was wrong anywhere in it.
func (d *draft) condition(v *strict.Value) (controller.Condition, bool) {
	var c controller.Condition
	m := v.Map("a condition such as {points-left: 6}")
	if !m.Given() {
		return c, false
	}
	bare := m.Refuse("attenuation", BareAttenuation,
		`attenuation may be apparent or real; write "apparent-attenuation", counted in points of gravity`)
	given := m.Which(conditions()...)
	defer m.Done()
	switch {
	case len(given) > 1:
		m.Fail(ConditionForm, "%s stand side by side; say whether all or any of them must hold: {all: [{%s: ...}, {%s: ...}]} or {any: [...]}",
			strings.Join(given, " and "), given[0], given[1])
		return c, false
	case len(given) == 0:
		if !bare {
			m.One(ConditionForm, conditions()...)
		}
		return c, false
	}
	c.Kind = controller.ConditionKind(given[0])
	at := m.Opt(given[0])
	if c.Kind == controller.All || c.Kind == controller.Any {
		return d.several(c, at)
	}
	whole := d.single(&c, at)
	if whole {
		d.leaves = append(d.leaves, leaf{c, at})
	}
	return c, whole && !bare
}

func (d *draft) several(c controller.Condition, v *strict.Value) (controller.Condition, bool) {
	items := v.List("a list of conditions such as [{points-left: 6}, {for: 2 d}]")
	whole := len(items) > 0
	for _, item := range items {
		of, ok := d.condition(item)
		c.Of = append(c.Of, of)
		whole = whole && ok
	}
	return c, whole
}

// single reads a condition that is not made of others.
func (d *draft) single(c *controller.Condition, v *strict.Value) bool {
	switch c.Kind {
	case controller.PointsLeft:
		c.Points = v.BarePoints(fewestPoints, mostPoints)
	case controller.ApparentAttenuation:
		c.Attenuation = v.Percent(5, 110) // above 100 % where the beer ends below water
	case controller.GravityAtMost:
		c.Gravity = v.Gravity(units.LowestGravity, units.HighestGravity)
	case controller.Terminal:
		m := v.Map("a pair such as {within: 1 point, over: 48 h}")
		within, over := m.Need("within"), m.Need("over")
		c.Points = within.Points(narrowest, widest)
		c.Over = over.Duration(shortestTerminal, longestTerminal)
		m.Done()
		return within.Good() && over.Good()
	case controller.Dwell:
		return dwell(c, v)
	case controller.BeerAt:
		c.Beer = v.Celsius(coldest, warmest)
	case controller.Pitched:
		if !v.Flag() {
			v.Fail(OnlyTrue, "only {pitched: true} can end a stage")
		}
	case controller.Confirmed:
		c.Say = v.Text(textLength)
	case controller.Never, controller.All, controller.Any:
	}
	return v.Good()
}

// dwell reads "for: 48 h", or with the temperature above which time counts.
func dwell(c *controller.Condition, v *strict.Value) bool {
	if v.IsText() {
		c.AtLeast = v.Duration(shortestWait, longestWait)
		return v.Good()
	}
	m := v.Map(`a duration such as "36 h", or {at-least: 48 h, beer-above: 20.5 C}`)
	least, above := m.Need("at-least"), m.Opt("beer-above")
	c.AtLeast = least.Duration(shortestWait, longestWait)
	if c.HasBeerAbove = above.Given(); c.HasBeerAbove {
		c.Beer = above.Celsius(coldest, warmest)
	}
	m.Done()
	return least.Good() && (!c.HasBeerAbove || above.Good())
}
