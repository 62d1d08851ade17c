package controller_test

import (
	"strings"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

// perPoint is how far a point warms this beer: 1.2531 K a degree Plato (0.8192 of
// 619.5 kJ/kg, 4.05 kJ/kg/K), 0.246 degrees a point about 1.031.
const perPoint = 0.308

// stove is a desk whose beer is warmed by what its yeast really does.
type stove struct {
	*desk
	warm float64       // C, before the probe's raster
	room units.Celsius // 0: nothing measures it
	pace func(since time.Duration) float64
}

func ferments(t *testing.T, pace func(time.Duration) float64) *stove {
	t.Helper()
	d := sit(t)
	d.v.Cool, d.v.Heat, d.v.Loss = guard.Relay{}, guard.Relay{}, 1
	d.v.Limits.Highest = 45
	d.beer = 14
	return &stove{desk: d, warm: 14, room: 14, pace: pace}
}

func (s *stove) let(length time.Duration) {
	s.t.Helper()
	const perHour = 3600 / (60 * 0.9982 * 1.031 * 4050) // of one watt
	for end := s.s.Age + length; s.s.Age < end; s.step() {
		s.warm += s.dt.Hours() * (s.pace(s.s.Batch.Since)*perPoint + perHour*float64(s.room.Minus(units.Celsius(s.warm))))
		s.beer = units.Celsius(float64(int(s.warm*16)) / 16)
		if s.room != 0 {
			s.in.Readings = append(s.in.Readings, controller.Reading{Probe: s.v.Probes.Ambient, Value: controller.OfTemperature(s.room)})
		}
	}
}

func (s *stove) begin(sch *controller.Schedule) *stove {
	s.must(controller.Verb{Kind: controller.Start, Batch: "b1", Schedule: sch})
	s.let(2 * time.Hour)
	s.must(controller.Verb{Kind: controller.PitchedNow})
	return s
}

// truePace is how fast the beer of fall really falls, in points an hour.
func truePace(since time.Duration) float64 {
	f := fall(1.010)
	return float64(f(since).Minus(f(since + time.Hour)))
}

func (s *stove) doubts() (text string) {
	for _, e := range s.log {
		if e.Kind == controller.AlarmRaised && e.Alarm == string(alarms.GravityDoubtful) {
			text = e.String()
		}
	}
	return text
}

func TestAHydrometerThatFollowsTheBeerIsNotDoubted(t *testing.T) {
	s := ferments(t, truePace)
	s.sg = fall(1.010)
	s.begin(ale()).let(100 * time.Hour)
	if text := s.doubts(); text != "" {
		t.Error(text)
	}
	if h := s.out.Decision.Heat; h.Off != thermal.On || h.Fallen < 37 || h.Fallen > 46 {
		t.Errorf("41 points have gone, heat says %+v", h)
	}
}

func TestAHydrometerThatStandsWhileTheBeerWorksIsDoubtedUntilItFalls(t *testing.T) {
	s := ferments(t, truePace)
	f := fall(1.010)
	s.sg = func(since time.Duration) units.Gravity {
		if since > 30*time.Hour && since < 60*time.Hour {
			since = 30 * time.Hour // foam holds it
		}
		return f(since)
	}
	s.begin(ale()).let(60 * time.Hour)
	text := s.doubts()
	if !strings.Contains(text, "in 12 h, and the heat of the beer is that of") || !strings.Contains(text, "points an hour") {
		t.Fatalf("said %q", text)
	}
	t.Log(text)
	for _, e := range s.log {
		if e.Kind == controller.AlarmRaised && e.Alarm == string(alarms.GravityDoubtful) && e.Priority != string(alarms.Low) {
			t.Errorf("priority %s", e.Priority)
		}
	}
	if s.out.Decision.Stage != "primary" {
		t.Errorf("moved to %s", s.out.Decision.Stage)
	}
	s.let(20 * time.Hour)
	if s.s.Alarms.Raised(alarms.GravityDoubtful) {
		t.Error("still doubted when it falls again")
	}
}

func TestAHydrometerThatFallsWhileTheBeerRestsIsDoubted(t *testing.T) {
	s := ferments(t, func(time.Duration) float64 { return 0 })
	s.sg = func(since time.Duration) units.Gravity {
		return units.Gravity(1.052).Plus(units.Points(-0.4 * max(0, since.Hours()-10)))
	}
	s.begin(ale()).let(40 * time.Hour)
	if text := s.doubts(); !strings.Contains(text, "that of no more than") {
		t.Fatalf("said %q", text)
	} else {
		t.Log(text)
	}
}

func TestWhereNothingIsMeasuredAroundTheVesselThereIsNoOpinion(t *testing.T) {
	s := ferments(t, truePace)
	s.room = 14
	s.v.Probes.Ambient = ""
	s.sg = func(time.Duration) units.Gravity { return 1.052 }
	s.begin(ale()).let(60 * time.Hour)
	if s.doubts() != "" || s.out.Decision.Heat.Off != thermal.NoAround || s.out.Decision.Heat.Watts != 0 {
		t.Errorf("%q, %+v", s.doubts(), s.out.Decision.Heat)
	}
}

func TestTheAirOfACabinetStandsForTheRoom(t *testing.T) {
	s := ferments(t, truePace)
	s.v.InAir, s.v.Probes.Surround, s.v.Probes.Ambient = true, s.v.Probes.Ambient, ""
	s.sg = fall(1.010)
	s.begin(ale())
	s.v.Probes.Ambient = s.v.Probes.Surround // where the stove's reading goes
	s.let(60 * time.Hour)
	if h := s.out.Decision.Heat; h.Off != thermal.On {
		t.Errorf("%+v", h)
	}
}

func TestABatchLeavesItsVesselKnownAndItsYeastForgotten(t *testing.T) {
	s := ferments(t, truePace)
	s.sg = fall(1.010)
	s.begin(ale()).let(100 * time.Hour)
	loss := s.out.Decision.Heat.Loss
	s.must(controller.Verb{Kind: controller.EndOff})
	s.sg = nil
	s.must(controller.Verb{Kind: controller.Start, Batch: "b2", Schedule: ale()})
	s.must(controller.Verb{Kind: controller.PitchedNow})
	h := s.out.Decision.Heat
	if units.WattsPerKelvin(0.02) < max(h.Loss-loss, loss-h.Loss) || h.Fallen != 0 || h.Off == thermal.On {
		t.Errorf("before %.3f W/K, now %+v", loss, h)
	}
}

func TestAnOutageOfUnknownLengthLeavesTheSumUnknown(t *testing.T) {
	s := ferments(t, truePace)
	s.sg = fall(1.010)
	s.begin(ale()).let(40 * time.Hour)
	was := s.out.Decision.Heat.FallenSD
	s.restart(controller.Outage{Length: 2 * time.Hour, Known: true})
	s.let(time.Hour)
	short := s.out.Decision.Heat.FallenSD
	s.restart(controller.Outage{})
	s.let(time.Hour)
	if unknown := s.out.Decision.Heat.FallenSD; short < was || short > was+3 || unknown < 30 {
		t.Errorf("± %.1f, after 2 h ± %.1f, after nobody knows how long ± %.1f", was, short, unknown)
	}
}

// hinted is an ale whose primary asks a person when heat says so.
func hinted() *controller.Schedule {
	s := ale()
	s.Stages[1].Remind = []controller.Reminder{{When: controller.RemindHeat, Points: 6, Say: "measure; if it is time for the rest, advance"}}
	return s
}

func (s *stove) proposals() (text []string) {
	for _, e := range s.log {
		if e.Kind == controller.ReminderDue && strings.Contains(e.Say, "measure") {
			text = append(text, e.String())
		}
	}
	return text
}

func TestHeatProposesTheRestAndNeverBeginsIt(t *testing.T) {
	s := ferments(t, truePace)
	s.v.Probes.Hydrometer = ""
	s.begin(hinted()).let(40 * time.Hour)
	if said := s.proposals(); len(said) != 0 {
		t.Fatalf("at half time: %q", said)
	}
	s.let(100 * time.Hour)
	said := s.proposals()
	if len(said) != 1 || !strings.Contains(said[0], "by its heat the beer has") {
		t.Fatalf("said %q", said)
	}
	t.Log(said[0])
	if s.out.Decision.Stage != "primary" {
		t.Errorf("in %s", s.out.Decision.Stage)
	}
	s.must(controller.Verb{Kind: controller.AdvanceNow})
	s.at("diacetyl rest")
}

func TestHeatIsSilentWhereThereIsABetterWord(t *testing.T) {
	for name, change := range map[string]func(s *stove){
		"a hydrometer": func(s *stove) {
			s.v.Probes.Hydrometer, s.sg = "fv1/hydrometer", func(time.Duration) units.Gravity { return 1.040 }
		},
		"a hydrometer that never reports": func(s *stove) { s.v.Probes.Hydrometer = "fv1/hydrometer" },
		"a sample": func(s *stove) {
			s.must(controller.Verb{Kind: controller.Sample, Value: controller.OfSample(1.045, 20)})
		},
		"no thermometer in the room": func(s *stove) { s.v.Probes.Ambient = "" },
	} {
		t.Run(name, func(t *testing.T) {
			s := ferments(t, truePace)
			s.v.Probes.Hydrometer = ""
			s.begin(hinted()).let(20 * time.Hour)
			change(s)
			s.let(100 * time.Hour)
			if said := s.proposals(); len(said) != 0 {
				t.Errorf("said %q", said)
			}
		})
	}
}

func TestAStateThatKeptNoSumDoesNotBeginItInTheMiddle(t *testing.T) {
	s := ferments(t, truePace)
	s.begin(ale()).let(40 * time.Hour)
	s.s.Balance, s.s.Batch.Opinion = thermal.Balance{}, controller.Opinion{}
	s.let(10 * time.Hour)
	if h := s.out.Decision.Heat; h.FallenSD < 30 {
		t.Errorf("fallen %.1f ± %.1f", h.Fallen, h.FallenSD)
	}
}
