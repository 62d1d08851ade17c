package bench

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/units"
)

// Script plays a scenario: lines of words in, a transcript out. A line that
// begins with "> " is a command, one with "#" a remark; what stands below a
// command is what happened.
type Script struct {
	// Schedules finds a schedule by its name; the bench itself knows none.
	Schedules func(name string) (*controller.Schedule, error)
	// Watch looks at the rig after each step; what it finds wrong ends the scenario.
	Watch func(r *Rig, dt time.Duration) error

	rig    Rig
	brew   Brew
	orders int
	notes  []string
	until  func(t *Tank, e controller.Event) bool
	met    bool
	broken error // what Watch found first
}

// Play runs a whole scenario and returns it with its transcript made anew.
func (s *Script) Play(text string) (string, error) {
	s.brew = Brew{Kind: Conical, Wort: plant.PaleAle(), Noise: plant.Typical(), Seed: 1, Start: 17, Ambient: plant.Ambient{Mean: 18}}
	var out strings.Builder
	for n, line := range strings.Split(strings.TrimRight(text, "\n"), "\n") {
		switch {
		case strings.HasPrefix(line, "> "):
			out.WriteString(line + "\n")
			s.notes = nil
			if err := errors.Join(s.command(strings.Fields(line[2:])), s.broken); err != nil {
				return "", fmt.Errorf("line %d: %q: %w", n+1, line, err)
			}
			for _, note := range s.notes {
				out.WriteString("  " + note + "\n")
			}
		case strings.HasPrefix(line, "#"), line == "":
			out.WriteString(line + "\n")
		}
	}
	return out.String(), nil
}

func (s *Script) command(w []string) error {
	if len(w) == 0 {
		return fmt.Errorf("no command")
	}
	rest := strings.Join(w[1:], " ")
	switch w[0] {
	case "wort", "noise", "ambient", "vessel", "chiller":
		return s.setUp(w[0], w[1:])
	case "start", "tell":
		return s.order(w)
	case "run":
		return s.run(w[1:])
	case "power", "late", "clock":
		return s.disturb(w[0], w[1:])
	case "probe", "hydrometer", "yeast", "room", "hops", "sugar", "relay":
		return s.hardware(w)
	case "show":
		return s.show(rest)
	case "expect":
		return s.expect(w[1:])
	}
	return fmt.Errorf("there is no command %q", w[0])
}

// setUp says what is in the cellar before anything begins.
func (s *Script) setUp(what string, w []string) error {
	rest := strings.Join(w, " ")
	switch what {
	case "wort": // wort 1.052 1.010 [stuck at 1.022] [pitch 1.5] [vigour 0.4]
		return s.wort(w)
	case "noise": // noise quiet|mild|typical|nasty [seed]
		return s.noise(w)
	case "ambient": // ambient 18 C [swing 4 K]
		t, swing, _ := strings.Cut(rest, " swing ")
		c, err := units.ParseCelsius(t)
		if err != nil {
			return err
		}
		s.brew.Ambient = plant.Ambient{Mean: c}
		if swing != "" {
			s.brew.Ambient.Swing, err = units.ParseKelvins(swing)
		}
		return err
	case "chiller": // chiller at-once 1
		s.rig.Chiller = plant.NewChiller(60, 700, -3)
		s.rig.Shared = &controller.Plant{Chiller: guard.Of(guard.Compressor)}
		for _, t := range s.rig.Tanks {
			t.Beer.Couple(s.rig.Chiller)
			s.rig.Shared.Serves = append(s.rig.Shared.Serves, true)
		}
		if len(w) == 2 && w[0] == "at-once" && w[1] == "1" {
			s.rig.Shared.AtOnce = 1
		}
		return nil
	}
	return s.vessel(w)
}

func (s *Script) wort(w []string) error {
	if len(w) < 2 {
		return fmt.Errorf("wort needs an original and a final gravity")
	}
	var err error
	if s.brew.Wort.Original, err = units.ParseGravity(w[0]); err != nil {
		return err
	}
	if s.brew.Wort.Final, err = units.ParseGravity(w[1]); err != nil {
		return err
	}
	s.brew.Wort.StuckAt, s.brew.Wort.PitchRate, s.brew.Wort.Vigour = 0, 0, 0
	return s.yeast(w[2:])
}

// yeast reads how the yeast of the next vessels behaves.
func (s *Script) yeast(w []string) error {
	var err error
	for ; len(w) > 0 && err == nil; w = w[2:] {
		if w[0] == "stuck" && len(w) > 1 && w[1] == "at" {
			w = w[1:]
		}
		switch {
		case len(w) < 2:
			return fmt.Errorf("%q lacks its figure", w[0])
		case w[0] == "at":
			s.brew.Wort.StuckAt, err = units.ParseGravity(w[1])
		case w[0] == "pitch":
			s.brew.Wort.PitchRate, err = strconv.ParseFloat(w[1], 64)
		case w[0] == "vigour":
			s.brew.Wort.Vigour, err = strconv.ParseFloat(w[1], 64)
		default:
			return fmt.Errorf("a wort has no %q", w[0])
		}
	}
	return err
}

func (s *Script) noise(w []string) error {
	if len(w) == 0 {
		return fmt.Errorf("noise needs a level")
	}
	switch w[0] {
	case "quiet":
		s.brew.Noise = plant.Quiet()
	case "mild":
		s.brew.Noise = plant.Mild()
	case "typical":
		s.brew.Noise = plant.Typical()
	case "nasty":
		s.brew.Noise = plant.Nasty()
	default:
		return fmt.Errorf("there is no noise %q", w[0])
	}
	if len(w) == 2 {
		_, err := fmt.Sscan(w[1], &s.brew.Seed)
		return err
	}
	return nil
}

// vessel: vessel fv1 conical [vacuum-breaker] [no-heat] [no-hydrometer] [up to 38 C] [wort at 10 C].
func (s *Script) vessel(w []string) error {
	if len(w) < 2 {
		return fmt.Errorf("vessel needs a name and a kind")
	}
	words, at, cool := strings.Cut(strings.Join(w[1:], " "), " wort at ")
	if cool {
		c, err := units.ParseCelsius(at)
		if err != nil {
			return err
		}
		s.brew.Start = c
	}
	words, most, warm := strings.Cut(words, " up to ")
	options := strings.Fields(words)
	s.brew.Kind = Kind(options[0])
	t := NewTank(w[0], s.brew)
	if warm {
		c, err := units.ParseCelsius(most)
		if err != nil {
			return err
		}
		t.Vessel.Limits.Highest = c
	}
	for _, o := range options[1:] {
		switch o {
		case "vacuum-breaker":
			t.Vessel.SuckBack = controller.VacuumBreaker
		case "no-heat":
			t.Vessel.Heat = guard.Relay{}
		case "no-hydrometer":
			t.Vessel.Probes.Hydrometer = ""
		default:
			return fmt.Errorf("a vessel has no option %q", o)
		}
	}
	s.rig.Tanks = append(s.rig.Tanks, t)
	return nil
}

func (s *Script) tank(name string) (*Tank, error) {
	for _, t := range s.rig.Tanks {
		if t.Vessel.Name == name {
			return t, nil
		}
	}
	return nil, fmt.Errorf("there is no vessel %q", name)
}

// order: start fv1 SCHEDULE, or tell fv1 WORDS. It is carried out at once.
func (s *Script) order(w []string) error {
	if len(w) < 3 {
		return fmt.Errorf("%s needs a vessel and an order", w[0])
	}
	t, err := s.tank(w[1])
	if err != nil {
		return err
	}
	words := w[2:]
	if w[0] == "start" {
		words = []string{"start", strings.Join(w[2:], " "), "as", "batch-1"}
	}
	v, err := controller.ParseVerb(words)
	if err != nil {
		return err
	}
	if v.Kind == controller.Start || v.Kind == controller.Adopt {
		if v.Schedule, err = s.Schedules(v.Say); err != nil {
			return err
		}
	}
	if v.Kind == controller.PitchedNow {
		t.Beer.Pitch()
	}
	s.orders++
	t.Tell(controller.Order{ID: fmt.Sprintf("order-%d", s.orders), Who: "brewer", Do: v})
	s.step(Step)
	return nil
}

// step runs the rig and notes what happened.
func (s *Script) step(dt time.Duration) {
	s.rig.Step(dt)
	if s.Watch != nil && s.broken == nil {
		if err := s.Watch(&s.rig, dt); err != nil {
			s.broken = fmt.Errorf("at %s: %w", stamp(s.rig.Elapsed), err)
		}
	}
	for _, t := range s.rig.Tanks {
		for _, e := range t.Out.Events {
			s.notes = append(s.notes, s.line(t, e))
			if s.until != nil && s.until(t, e) {
				s.met = true
			}
		}
	}
}

func (s *Script) line(t *Tank, e controller.Event) string {
	name := ""
	if len(s.rig.Tanks) > 1 {
		name = t.Vessel.Name + " "
	}
	return stamp(s.rig.Elapsed) + " " + name + e.String()
}

// stamp is counted time as days, hours and minutes.
func stamp(d time.Duration) string {
	m := int64(d / time.Minute)
	return fmt.Sprintf("%2dd %02d:%02d", m/1440, m/60%24, m%60)
}
