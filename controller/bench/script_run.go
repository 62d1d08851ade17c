package bench

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/units"
)

// longestWait is how long a scenario waits for something before it gives up.
const longestWait = 40 * units.Day

// run: run 3 d, or run until stage diacetyl rest, or run until alarm-over.
func (s *Script) run(w []string) error {
	if len(w) > 1 && w[0] == "until" {
		want := strings.Join(w[1:], " ")
		s.met = false
		s.until = func(_ *Tank, e controller.Event) bool {
			return string(e.Kind) == want || e.Kind == controller.StageEntered && "stage "+e.Stage == want ||
				e.Kind == controller.AlarmRaised && "alarm "+e.Alarm == want
		}
		defer func() { s.until = nil }()
		for end := s.rig.Elapsed + longestWait; !s.met; {
			if s.rig.Elapsed >= end {
				return fmt.Errorf("%q did not happen within %s", want, units.Duration(longestWait))
			}
			s.step(Step)
		}
		return nil
	}
	d, err := units.ParseDuration(strings.Join(w, " "))
	if err != nil {
		return err
	}
	for end := s.rig.Elapsed + d; s.rig.Elapsed < end; {
		s.step(Step)
	}
	return nil
}

// disturb: power cut 40 min [unknown], late 2 min, clock jump 3 y.
func (s *Script) disturb(what string, w []string) error {
	switch what {
	case "clock":
		// The core has no clock to jump. The step that follows is like any other.
		s.step(Step)
		return nil
	case "late":
		d, err := units.ParseDuration(strings.Join(w, " "))
		if err != nil {
			return err
		}
		s.step(d)
		return nil
	}
	words := strings.TrimPrefix(strings.Join(w, " "), "cut ")
	length, unknown := strings.CutSuffix(words, " unknown")
	d, err := units.ParseDuration(length)
	if err != nil {
		return err
	}
	s.rig.Restart(controller.Outage{Length: d, Known: !unknown})
	s.step(Step)
	return nil
}

// hardware: probe fv1 off|on|out|in, hydrometer fv1 off|on|held|free|step 4,
// relay fv1 fails|works|heat-sticks|cool-sticks|free, yeast fv1 sticks, room fv1 5 C, hops fv1 3 points, sugar fv1 10 points. What goes
// into the beer is told to the program by "tell fv1 mark" only.
func (s *Script) hardware(w []string) error {
	if len(w) < 3 {
		return fmt.Errorf("%s needs a vessel and what happens to it", w[0])
	}
	t, err := s.tank(w[1])
	if err != nil {
		return err
	}
	switch what := w[0] + " " + w[2]; what {
	case "probe off", "probe on":
		t.ProbeOff = w[2] == "off"
	case "probe out", "probe in":
		t.Beer.ProbeOut(w[2] == "out")
	case "hydrometer off", "hydrometer on":
		t.HydrometerOff = w[2] == "off"
	case "relay fails", "relay works":
		t.RelayFault = w[2] == "fails"
	case "relay heat-sticks", "relay cool-sticks", "relay free":
		t.Welded = controller.Outputs{Heat: w[2] == "heat-sticks", Cool: w[2] == "cool-sticks"}
	case "hydrometer held", "hydrometer free":
		t.Beer.HoldHydrometer(w[2] == "held")
	case "hydrometer step":
		if len(w) < 4 {
			return fmt.Errorf("a step needs its points")
		}
		points, err := strconv.ParseFloat(w[3], 64)
		if err != nil {
			return err
		}
		t.Beer.StepHydrometer(units.Points(points))
	case "yeast sticks":
		t.Beer.Stick()
	default:
		return s.happens(t, w[0], strings.Join(w[2:], " "), what)
	}
	return nil
}

// happens is what comes with a quantity: to the room, into the beer.
func (s *Script) happens(t *Tank, to, rest, what string) error {
	switch to {
	case "room":
		c, err := units.ParseCelsius(rest)
		if err != nil {
			return err
		}
		t.Beer.SetWeather(plant.Ambient{Mean: c})
	case "hops", "sugar":
		p, err := units.ParsePoints(rest)
		if err != nil {
			return err
		}
		if to == "hops" {
			t.Beer.DryHop(p)
		} else {
			t.Feed(p)
		}
	default:
		return fmt.Errorf("%q cannot happen", what)
	}
	return nil
}

// show prints where a vessel is, and the truth that the program cannot see.
func (s *Script) show(name string) error {
	t, err := s.tank(name)
	if err != nil {
		return err
	}
	d := t.Out.Decision
	parts := []string{stamp(s.rig.Elapsed)}
	if d.Stage != "" {
		parts = append(parts, d.Stage)
	} else {
		parts = append(parts, string(d.Mode))
	}
	parts = append(parts, "beer "+t.Beer.Beer().Fixed(1), "seen "+seen(d.Beer))
	if d.HasTarget {
		parts = append(parts, "target "+d.Target.Fixed(1))
	}
	parts = append(parts, "heat "+onOff(t.Driven.Heat), "cool "+onOff(t.Driven.Cool), "gravity "+t.Gravity().Fixed(3))
	if d.Gravity.Known {
		parts = append(parts, "points left "+strconv.FormatFloat(float64(d.Gravity.Left), 'f', 1, 64))
	}
	s.notes = append(s.notes, strings.Join(parts, ", "))
	for _, r := range d.Reasons {
		s.notes = append(s.notes, "  "+r.String())
	}
	return nil
}

func seen(t controller.Thermometer) string {
	if !t.Usable() {
		return "nothing"
	}
	return t.Celsius.Fixed(1)
}

func onOff(on bool) string {
	if on {
		return "on"
	}
	return "off"
}

// expect: expect fv1 stage primary, expect fv1 beer 18.5 19.5, expect fv1 heat
// off, expect fv1 left 0 6. What is not so ends the scenario with an error.
func (s *Script) expect(w []string) error {
	if len(w) < 3 {
		return fmt.Errorf("expect needs a vessel and what is so")
	}
	t, err := s.tank(w[0])
	if err != nil {
		return err
	}
	rest := strings.Join(w[2:], " ")
	var got string
	switch w[1] {
	case "stage":
		got = t.Out.Decision.Stage
	case "heat":
		got = onOff(t.Driven.Heat)
	case "cool":
		got = onOff(t.Driven.Cool)
	case "mode":
		got = string(t.Out.Decision.Mode)
	case "beer":
		return between(float64(t.Beer.Beer()), w[2:])
	case "left": // the truth, not the estimate
		return between(float64(t.Left()), w[2:])
	default:
		return fmt.Errorf("nothing is known of %q", w[1])
	}
	if got != rest {
		return fmt.Errorf("%s is %q at %s", w[1], got, stamp(s.rig.Elapsed))
	}
	return nil
}

func between(x float64, w []string) error {
	if len(w) != 2 {
		return fmt.Errorf("two numbers are needed")
	}
	low, err := strconv.ParseFloat(w[0], 64)
	if err != nil {
		return err
	}
	high, err := strconv.ParseFloat(w[1], 64)
	if err != nil {
		return err
	}
	if !(x >= low && x <= high) {
		return fmt.Errorf("it is %.2f", x)
	}
	return nil
}

// Stamp is counted time as days, hours and minutes: " 3d 04:10".
func Stamp(d time.Duration) string { return stamp(d) }
