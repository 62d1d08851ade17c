package profiles

import (
	"fmt"
	"strconv"
	"strings"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

const columns = 80

// Explain tells a brewer in words what a schedule does, a short paragraph a
// stage.
func Explain(s *controller.Schedule) string {
	var b strings.Builder
	b.WriteString(s.Name + "\n")
	if s.About != "" {
		b.WriteString(wrap(sentence(s.About), ""))
	}
	wort := fmt.Sprintf("Wort of %s, expected to end at %s, give or take %v (one standard deviation).",
		s.Wort.Original.Fixed(3), s.Wort.Final.Fixed(3), s.Wort.FinalSD)
	if s.Carbonation > 0 {
		wort += fmt.Sprintf(" Carbonation of %v.", s.Carbonation)
	}
	b.WriteString(wrap(wort, ""))
	for i := range s.Stages {
		b.WriteString("\n")
		head := fmt.Sprintf("%d. %s (%s). ", i+1, s.Stages[i].Name, s.Stages[i].Kind)
		b.WriteString(wrap(head+strings.Join(explainStage(s, i), " "), "   "))
	}
	return b.String()
}

func explainStage(s *controller.Schedule, i int) []string {
	st := &s.Stages[i]
	out := explainTarget(s, i)
	if st.Until.Kind == controller.Never {
		out = append(out, "Holds until a person ends the batch.")
	} else {
		out = append(out, "Ends when "+words(&st.Until)+".")
	}
	if st.ByClock {
		out = append(out, "It is accepted that the clock alone may end it.")
	}
	if st.Longest.For > 0 {
		out = append(out, explainLongest(st))
	}
	out = append(out, explainStuck(s, i)...)
	if i+1 < len(s.Stages) && intoCold(st, &s.Stages[i+1]) && !st.Until.MustBe(controller.Confirmed) {
		out = append(out, "Then crashes without a taste test: nobody is asked to confirm anything first.")
	}
	if st.Kind == controller.Rest {
		out = append(out, "An estimate of diacetyl is shown as advice, by a model of one lager yeast whose rates know no temperature; it decides nothing: trust the forced test.")
	}
	for _, r := range st.Remind {
		out = append(out, explainReminder(r))
	}
	return out
}

// explainStuck says what happens when gravity cannot end the stage.
func explainStuck(s *controller.Schedule, i int) []string {
	st := &s.Stages[i]
	toRest := st.Kind == controller.Primary && i+1 < len(s.Stages) && s.Stages[i+1].Kind == controller.Rest
	const silent = "when the hydrometer has been silent past the late forecast: late warmth costs more than early."
	var out []string
	switch {
	case st.Stuck == controller.Ask:
		out = append(out, "When the beer is stuck an alarm asks a person what to do.")
	case st.Stuck == controller.Advance:
		out = append(out, "When the beer is stuck an alarm is raised and the next stage begins all the same, however far above its end it is.")
	case toRest:
		return []string{fmt.Sprintf("Moves on with an alarm when the beer is stuck %v or less above its expected end, or "+silent, controller.StuckRest)}
	}
	if toRest {
		out = append(out, "Moves on with an alarm "+silent)
	}
	return out
}

func explainTarget(s *controller.Schedule, i int) []string {
	t := s.Stages[i].Target
	switch t.Kind {
	case controller.At:
		return []string{fmt.Sprintf("Keeps the beer at %s.", degrees(t.To))}
	case controller.Ramp:
		led := fmt.Sprintf("Leads the beer to %s at %s, from wherever it is, and waits for it when it trails by more than 1 K.", degrees(t.To), speed(t.Rate))
		if t.To < thermal.SlowBelow {
			led += fmt.Sprintf(" On the way down it goes at half that below %s.", degrees(thermal.SlowBelow))
		}
		return []string{led}
	case controller.FreeRise:
		out := []string{fmt.Sprintf("Lets the yeast warm the beer up to %s; no cooling below that, and no falling back.", degrees(t.To))}
		if t.HeatAfter > 0 {
			out = append(out, fmt.Sprintf("A heater helps after %s, or at once when the yeast cannot do it.", units.Duration(t.HeatAfter)))
		} else {
			out = append(out, "A heater helps only when the yeast cannot do it.")
		}
		if i > 0 {
			if left, ok := leftWhen(&s.Stages[i-1].Until, s.Wort); ok && left > 0 {
				out = append(out, fmt.Sprintf("The %s left by then can warm it by %s at most.", left.Fixed(0), thermal.YeastRise(left).Fixed(1)))
			}
		}
		return out
	}
	return nil
}

func explainLongest(st *controller.Stage) string {
	after := units.Duration(st.Longest.For)
	if st.Longest == controller.DefaultLongest(st.Kind) {
		after += " (the default)"
	}
	if st.Longest.Then == controller.Advance {
		return "After " + after + " an alarm is raised and the next stage begins all the same."
	}
	return "After " + after + " an alarm asks a person what to do."
}

func explainReminder(r controller.Reminder) string {
	said := remindsOf(r)
	if r.Mark != "" {
		said += fmt.Sprintf(" Doing it marks %q: judging starts again.", r.Mark)
		said += effect(r.Mark)
	}
	return said
}

// effect says what a mark does to what is expected of the beer.
func effect(k controller.MarkKind) string {
	e, _ := k.Does()
	said := ""
	if e.Moves {
		said += " No gravity read before counts any more."
	}
	if e.Lower != 0 {
		said += fmt.Sprintf(" The expected end moves down by %v.", units.Points(e.Lower))
	}
	if e.Wider != 1 {
		said += fmt.Sprintf(" The spread of the expected end grows by a factor of %v.", e.Wider)
	}
	return said
}

func remindsOf(r controller.Reminder) string {
	switch r.When {
	case controller.RemindBefore:
		return fmt.Sprintf("Reminds a person %s before %s can begin: %s", units.Duration(r.By), r.Stage, sentence(r.Say))
	case controller.RemindAfter:
		return fmt.Sprintf("Reminds a person %s into this stage: %s", units.Duration(r.By), sentence(r.Say))
	case controller.RemindPoints:
		return fmt.Sprintf("Reminds a person when %v or fewer are left: %s", r.Points, sentence(r.Say))
	case controller.RemindHeat:
		return fmt.Sprintf("Where there is no hydrometer and no sample, reminds a person when %v or fewer may be left by the heat of the beer: %s", r.Points, sentence(r.Say))
	}
	return ""
}

// words says a condition.
func words(c *controller.Condition) string {
	switch c.Kind {
	case controller.PointsLeft:
		return fmt.Sprintf("%v or fewer are left to the end of this beer", c.Points)
	case controller.ApparentAttenuation:
		return fmt.Sprintf("the apparent attenuation is %s or more", percent(c.Attenuation))
	case controller.GravityAtMost:
		return fmt.Sprintf("the gravity is %s or lower", figure(c.Gravity))
	case controller.Terminal:
		return fmt.Sprintf("the gravity is terminal (no more than %v of change over %s)", c.Points, units.Duration(c.Over))
	case controller.Dwell:
		if c.HasBeerAbove {
			return fmt.Sprintf("the beer has spent %s above %s", units.Duration(c.AtLeast), degrees(c.Beer))
		}
		return fmt.Sprintf("this stage has lasted %s", units.Duration(c.AtLeast))
	case controller.BeerAt:
		return fmt.Sprintf("the beer is at %s (within 0.3 K for 30 min)", degrees(c.Beer))
	case controller.Pitched:
		return "a person says that the yeast is in"
	case controller.Confirmed:
		return fmt.Sprintf("a person confirms %q", c.Say)
	case controller.All:
		return joined(c.Of, "and")
	case controller.Any:
		return joined(c.Of, "or")
	case controller.Never:
	}
	return "a person ends it"
}

// joined says several conditions; those that are made of others stand in
// brackets, so that "and" and "or" cannot be mistaken.
func joined(of []controller.Condition, by string) string {
	parts := make([]string, len(of))
	for i := range of {
		parts[i] = words(&of[i])
		if len(of[i].Of) > 1 && len(of) > 1 {
			parts[i] = "(" + parts[i] + ")"
		}
	}
	return strings.Join(parts, ", "+by+" ")
}

// figure prints a gravity to the points that were written, and no more.
func figure(g units.Gravity) string {
	return strings.TrimSuffix(g.Fixed(4), "0")
}

func percent(share float64) string { return short(100*share) + " %" }

// degrees prints a temperature to a tenth, so that 66 F does not get sixteen digits.
func degrees(t units.Celsius) string { return strings.Replace(t.Fixed(1), ".0 ", " ", 1) }

// speed prints a rate by the day where it is slow.
func speed(r units.KelvinsPerHour) string {
	if r < 0.5 {
		return short(float64(r)*24) + " K/d"
	}
	return short(float64(r)) + " K/h"
}

// short prints a number to a tenth, and without ".0".
func short(v float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0") }

// sentence ends a text that people wrote with a full stop, in one line.
func sentence(text string) string {
	text = strings.Join(strings.Fields(text), " ")
	if strings.ContainsAny(text[max(0, len(text)-1):], ".!?") {
		return text
	}
	return text + "."
}

// wrap breaks a paragraph into lines; all but the first are indented.
func wrap(text, indent string) string {
	var b strings.Builder
	length := 0
	for i, word := range chunks(text) {
		size := len([]rune(word))
		switch {
		case i == 0:
		case length+1+size > columns:
			b.WriteString("\n" + indent)
			length = len(indent)
		default:
			b.WriteByte(' ')
			length++
		}
		b.WriteString(word)
		length += size
	}
	return b.String() + "\n"
}

// chunks are the parts between which a line may break: never between a number and
// its unit.
func chunks(text string) []string {
	var out []string
	number := false
	for word := range strings.FieldsSeq(text) {
		if number {
			out[len(out)-1] += " " + word
		} else {
			out = append(out, word)
		}
		_, err := strconv.ParseFloat(word, 64)
		number = err == nil
	}
	return out
}
