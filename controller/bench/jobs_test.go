package bench_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/units"
)

// working is a schedule that asks for one job an hour after pitching.
func working(mark controller.MarkKind) *controller.Schedule {
	s := ale()
	s.Stages[1].Remind = []controller.Reminder{{When: controller.RemindAfter, By: time.Hour, Say: "do it", Mark: mark}}
	return s
}

// What a job says that was done to the beer is really done to it, once.
func TestJobsAreReallyDone(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		mark       controller.MarkKind
		end, rises units.Points // of the true end and of the gravity
	}{
		{controller.DryHop, -3, 0}, // the trade reckons with one to three points (common practice)
		{controller.Addition, 0, 10},
		{controller.Rouse, 0, 0},
		{controller.Dump, 0, 0},
		{"", 0, 0},
	} {
		s := bench.Simulate("fv1", bench.Brew{Kind: bench.Bucket, Wort: plant.PaleAle(), Noise: plant.Quiet(), Seed: 1}, working(c.mark))
		other := bench.Simulate("fv1", bench.Brew{Kind: bench.Bucket, Wort: plant.PaleAle(), Noise: plant.Quiet(), Seed: 1}, ale())
		done := 0
		for s.Rig.Elapsed < 3*time.Hour {
			s.Step()
			other.Step()
			for _, e := range s.Tank.Out.Events {
				if e.Kind == controller.OrderTaken && e.Verb == controller.Done {
					done++
				}
			}
		}
		rose := s.Tank.Gravity().Minus(other.Tank.Gravity())
		end := s.Tank.Gravity().Plus(-s.Tank.Left()).Minus(other.Tank.Beer.End())
		if done != 1 || math.Abs(float64(rose-c.rises)) > 0.1 || math.Abs(float64(end-c.end)) > 0.3 {
			t.Errorf("%q: done %d times, the gravity is up by %v, the end by %v, want %v and %v", c.mark, done, rose, end, c.rises, c.end)
		}
	}
}

// Sugar that is fed is read at once and ferments to the end at which the beer
// would have ended without it.
func TestSugarFermentsOut(t *testing.T) {
	t.Parallel()
	rig, tank := brewing(bench.Conical, plant.Quiet(), 1)
	for rig.Elapsed < 50*time.Hour {
		rig.Step(bench.Step)
	}
	before := tank.Gravity()
	read, _ := tank.Beer.ReadHydrometer()
	tank.Feed(12)
	after, _ := tank.Beer.ReadHydrometer()
	if up := float64(tank.Gravity().Minus(before)); math.Abs(up-12) > 0.01 {
		t.Errorf("true gravity up by %.2f", up)
	}
	if up := float64(after.Minus(read)); math.Abs(up-12) > 0.2 {
		t.Errorf("read gravity up by %.2f", up)
	}
	for rig.Elapsed < 21*units.Day && tank.Out.Decision.Kind != controller.Crash {
		rig.Step(bench.Step)
	}
	if end := tank.Gravity().Plus(-tank.Left()).Minus(1.010); math.Abs(float64(end)) > 0.05 || tank.Left() > 1 {
		t.Errorf("it ends %v from where it would have ended, %v are left at the crash", end, tank.Left())
	}
}

// A vessel of a simulation can stand what its schedule asks, with a margin; what
// suffices for others is left as it is.
func TestTheVesselIsMadeForItsSchedule(t *testing.T) {
	t.Parallel()
	hot := ale()
	hot.Stages[1].Target.To = 36
	for _, c := range []struct {
		s    *controller.Schedule
		want units.Celsius
	}{{ale(), 30}, {hot, 39}} {
		sim := bench.Simulate("fv1", bench.Brew{Kind: bench.Tank1k, Wort: plant.PaleAle()}, c.s)
		sim.Step()
		sim.Step()
		if got := sim.Tank.Vessel.Limits.Highest; got != c.want || sim.Tank.Out.Decision.Stage != "fill" {
			t.Errorf("highest %v, want %v; in %q", got, c.want, sim.Tank.Out.Decision.Stage)
		}
	}
}

// Nobody confirms what a job will make void, and a job of the desk is no reason
// to wait.
func TestJobsComeBeforeConfirmations(t *testing.T) {
	t.Parallel()
	for mark, want := range map[controller.MarkKind]int{"": 1, controller.Dump: 0, controller.DryHop: 0} {
		o := bench.Operator{Schedule: ale(), Batch: "b1"}
		o.Orders(controller.Decision{})
		got, _ := o.Orders(controller.Decision{
			NeedsWhat: "confirm: clean", Reasons: []controller.Reason{{Code: controller.CodeWaitsConfirm}},
			Jobs: []controller.Due{{No: 1, Mark: mark, For: time.Minute}},
		})
		if len(got) != want {
			t.Errorf("with a job %q open: %+v", mark, got)
		}
	}
}

func TestScriptsOfWhatGoesIn(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct{ script, want string }{
		"hops move the true end":         {"> vessel fv1 conical\n> hops fv1 3 points\n> expect fv1 left 44.5 45.5", ""},
		"sugar does not, but is read":    {"> noise quiet\n> vessel fv1 conical\n> sugar fv1 10 points\n> expect fv1 left 51.5 52.5\n> show fv1", "gravity 1.062"},
		"yeast of another kind is told":  {"> wort 1.090 0.994 pitch 2 vigour 0.4\n> vessel fv1 conical\n> start fv1 pale-ale-with-rest\n> tell fv1 pitched\n> run 60 h\n> expect fv1 left 70 95", ""},
		"a stuck wort is told in one go": {"> wort 1.050 1.010 vigour 0.9 stuck at 1.020 pitch 2\n> vessel fv1 conical\n> expect fv1 left 29.5 30.5", ""},
		"a vessel for the heat":          {"> vessel fv1 conical up to 40 C wort at 35 C\n> tell fv1 mode pre-chill 38 C\n> run 10 min\n> expect fv1 mode pre-chill", ""},
	} {
		script := bench.Script{Schedules: library}
		got, err := script.Play(c.script)
		if err != nil || !strings.Contains(got, c.want) {
			t.Errorf("%s: %v, no %q in\n%s", name, err, c.want, got)
		}
	}
	const vessel = "> vessel fv1 conical\n"
	for text, want := range map[string]string{
		"> wort 1.050 1.010 vigour":       `"vigour" lacks its figure`,
		"> wort 1.050 1.010 stuck at":     `"at" lacks its figure`,
		"> wort 1.050 1.010 colour 12":    `a wort has no "colour"`,
		"> wort 1.050 1.010 pitch much":   "invalid syntax",
		"> vessel fv1 conical up to warm": "not a temperature",
		vessel + "> hops fv1 many":        "not a difference",
		vessel + "> sugar fv1 3":          "unit is missing",
		vessel + "> sugar fv9 3 points":   `no vessel "fv9"`,
		vessel + "> tell fv1 mode pre-chill 38 C\n> run 1 min\n> expect fv1 mode pre-chill": `mode is "idle"`,
	} {
		script := bench.Script{Schedules: library}
		if _, err := script.Play(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}
