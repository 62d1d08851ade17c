package bench_test

import (
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"reflect"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/controller/guard"
)

// vesselDays is how long random scenarios run, all together.
var vesselDays = flag.Int("vessel-days", 15, "how many vessel-days of random scenarios TestTheLawsHoldInEveryScenario plays")

// scenarioDays is the length of one random scenario.
const scenarioDays = 5

// lawyer holds the laws at every step of one tank. It believes nothing that the
// program says of itself where it can look at the levels and count the time.
type lawyer struct {
	heat, cool contact
	index      int
	batch      string
	judged     bool // terminal gravity was found, or a person confirmed, since the beer was last touched
	armed      bool
	raised     map[string]bool
	steps      int
}

// contact is what can be seen of one relay.
type contact struct {
	on, ran, long bool
	since         time.Duration // in this position; after a start from nothing
	gone          time.Duration // since it was on, starts or not; outages are not counted
}

func (c *contact) see(on bool, dt time.Duration) {
	// What is driven now acts from now on; the time since the last step belongs to
	// the level before.
	c.since += dt
	c.gone += dt
	if c.on {
		c.gone = 0
	}
	if on != c.on {
		c.long = c.on && c.since >= guard.Of(guard.Heater).MaxRun
		c.on, c.since, c.ran = on, 0, c.ran || on
	}
}

func (l *lawyer) look(t *bench.Tank, dt time.Duration) error {
	l.steps++
	restarted := t.State.Up == 0
	if restarted {
		for _, c := range []*contact{&l.heat, &l.cool} {
			c.long = c.on && c.since >= guard.Of(guard.Heater).MaxRun || !c.on && c.long && c.since < 30*time.Minute
			if c.on {
				c.gone = 0
			}
			c.on, c.since = false, 0
		}
		dt = 0
	}
	late := dt > 3*t.Vessel.Step
	errs := []error{l.relays(t, dt, late), l.moves(t), l.alarms(t)}
	if l.steps%1000 == 0 || restarted {
		errs = append(errs, l.stored(t))
	}
	return errors.Join(errs...)
}

func broken(so bool, text string, args ...any) error {
	if !so {
		return nil
	}
	return fmt.Errorf(text, args...)
}

// relays: law 1 and 2.
func (l *lawyer) relays(t *bench.Tank, dt time.Duration, late bool) error {
	driven, d, v := t.Driven, t.Out.Decision, t.Vessel
	heat, cool := l.heat, l.cool
	startsHeat, startsCool := driven.Heat && !heat.on, driven.Cool && !cool.on
	beer := d.Beer
	errs := []error{
		broken(driven.Heat && driven.Cool, "heat and cool together"),
		broken(driven.Heat && !t.Out.Outputs.Heat || driven.Cool && !t.Out.Outputs.Cool, "driven and not wanted"),
		broken(driven.Heat && !beer.Usable(), "heat without a believable temperature"),
		broken(driven.Heat && late, "heat in a late step"),
		broken(driven.Heat && beer.Celsius >= v.Limits.Highest, "heat at %.2f C", beer.Celsius),
		broken(driven.Heat && d.Backup == controller.ByHydrometer, "heat by the hydrometer's thermometer"),
		broken(driven.Heat && d.Dry, "heat in a tank that may be empty"),
		broken((driven.Heat || driven.Cool) && (t.RelayFault || d.Mode == controller.Idle || d.Mode == controller.Cleaning), "on in mode %s, relay fault %v", d.Mode, t.RelayFault),
		broken(driven.Cool && beer.Usable() && beer.Celsius <= v.Limits.Lowest, "cooling at %.2f C", beer.Celsius),
		broken(startsCool && cool.since+dt < v.Cool.MinOff, "cooling after a rest of %v", cool.since+dt),
		broken(startsHeat && heat.since+dt < v.Heat.MinOff, "heat after a rest of %v", heat.since+dt),
		broken(startsHeat && cool.ran && (cool.on || cool.gone+dt < 20*time.Minute), "heat %v after cooling", cool.gone+dt),
		broken(startsCool && heat.ran && (heat.on || heat.gone+dt < 20*time.Minute), "cooling %v after heat", heat.gone+dt),
		broken(driven.Heat && heat.on && heat.since+dt >= v.Heat.MaxRun, "heat for %v", heat.since+dt),
		broken(startsHeat && heat.long && heat.since+dt < 30*time.Minute, "heat %v after its longest run", heat.since+dt),
		broken(d.HasTarget && (d.Target < v.Limits.Lowest || d.Target > v.Limits.Highest), "target %.2f C", d.Target),
	}
	l.heat.see(driven.Heat, dt)
	l.cool.see(driven.Cool, dt)
	return errors.Join(errs...)
}

// moves: law 5, and that no stage ends on a lost thermowell.
func (l *lawyer) moves(t *bench.Tank) error {
	var errs []error
	person := false
	for i := range t.Out.Events {
		e := &t.Out.Events[i]
		switch e.Kind { //nolint:exhaustive // the others move nothing
		case controller.OrderTaken:
			l.told(e)
			person = person || e.Who != "" && (e.Verb == controller.Start || e.Verb == controller.AdvanceNow || e.Verb == controller.Return || e.Verb == controller.Adopt || e.Verb == controller.EndCold || e.Verb == controller.EndOff)
		case controller.TerminalReached:
			l.judged = true
		case controller.StageEntered:
			d := t.Out.Decision
			errs = append(errs,
				broken(e.Reason.Code == "" || e.Reason.String() == "", "into %s and nobody knows why", e.Stage),
				broken(e.StageKind == controller.Crash && !person && !l.judged, "into a crash before terminal gravity"),
				broken(e.StageKind == controller.Crash && t.Vessel.SuckBack != controller.CO2Supply && !l.armed, "into a crash in a tank that is not armed"),
				broken(!person && !t.State.Sense.Wells[0].Usable(), "a stage ends on a lost probe"),
			)
			l.index = max(l.index, d.Index)
		}
	}
	d := t.Out.Decision
	if d.Batch != l.batch {
		l.batch, l.index = d.Batch, d.Index
	}
	errs = append(errs, broken(!person && d.Index < l.index, "back to stage %d without a person", d.Index))
	l.index = d.Index
	return errors.Join(errs...)
}

// told is what an order does to what was found before.
func (l *lawyer) told(e *controller.Event) {
	switch e.Verb { //nolint:exhaustive // the others void nothing
	case controller.Arm:
		l.armed = true
	case controller.Confirm:
		l.judged = true
	case controller.Start, controller.Return:
		l.judged, l.armed = false, false
	}
}

// alarms: raised and over take turns.
func (l *lawyer) alarms(t *bench.Tank) error {
	var errs []error
	for _, e := range t.Out.Events {
		if e.Kind == controller.AlarmRaised || e.Kind == controller.AlarmOver {
			now := e.Kind == controller.AlarmRaised
			errs = append(errs, broken(l.raised[e.Alarm] == now, "alarm %s: raised %v twice", e.Alarm, now))
			l.raised[e.Alarm] = now
		}
	}
	if t.Out.Decision.Beer.Failed && t.Out.Decision.Backup == controller.NoBackup {
		errs = append(errs, broken(!l.raised["probe-lost"], "the probe is lost and nobody is called"))
	}
	return errors.Join(errs...)
}

// stored: the state is a plain value that goes through the record unchanged.
func (l *lawyer) stored(t *bench.Tank) error {
	text, err := json.Marshal(t.State)
	if err != nil {
		return err
	}
	var back controller.State
	if err := json.Unmarshal(text, &back); err != nil {
		return err
	}
	again, err := json.Marshal(back)
	if err != nil {
		return err
	}
	if string(again) != string(text) || !reflect.DeepEqual(back, t.State) {
		return fmt.Errorf("the state is changed by being stored: %s\n%s", text, again)
	}
	if len(text) > 16<<10 {
		return fmt.Errorf("the state takes %d bytes", len(text))
	}
	t.State = back
	return nil
}

// court is a lawyer for each tank, and one for the compressor that they share.
func court() func(r *bench.Rig, dt time.Duration) error {
	lawyers := map[*bench.Tank]*lawyer{}
	var shared contact
	return func(r *bench.Rig, dt time.Duration) error {
		var errs []error
		for _, t := range r.Tanks {
			if lawyers[t] == nil {
				lawyers[t] = &lawyer{raised: map[string]bool{}}
			}
			errs = append(errs, lawyers[t].look(t, dt))
		}
		if r.Shared != nil {
			if r.Tanks[0].State.Up == 0 {
				shared, dt = contact{}, 0
			}
			errs = append(errs, broken(r.Plant.ChillerOn && !shared.on && shared.since+dt < r.Shared.Chiller.MinOff, "the chiller after a rest of %v", shared.since+dt))
			shared.see(r.Plant.ChillerOn, dt)
		}
		return errors.Join(errs...)
	}
}

// scenario draws a random scenario, in the words of the scenario files.
func scenario(t *rapid.T) (text string, tanks int) {
	pick := func(label string, of ...string) string { return rapid.SampledFrom(of).Draw(t, label) }
	kind := pick("vessel", "bucket", "conical", "tank")
	tanks = 1
	lines := []string{
		"wort " + pick("wort", "1.052 1.010", "1.040 1.008", "1.090 1.020", "1.052 1.010 stuck at 1.022", "1.050 1.010 pitch 0.4"),
		"noise " + pick("noise", "quiet", "mild", "typical", "nasty") + " " + strconv.Itoa(rapid.IntRange(1, 99).Draw(t, "seed")),
		"ambient " + pick("room", "18 C", "5 C", "-4 C", "28 C", "12 C swing 8 K"),
		"vessel fv1 " + kind + pick("options", "", " vacuum-breaker", " vacuum-breaker no-heat", " no-hydrometer", " vacuum-breaker wort at 28 C", " wort at 8 C"),
	}
	if kind != "bucket" && rapid.IntRange(0, 3).Draw(t, "two") == 0 {
		tanks = 2
		lines = append(lines, "vessel fv2 conical", "chiller at-once "+pick("at once", "1", "2"), "start fv2 pale-ale-with-rest", "tell fv2 pitched")
	}
	if rapid.IntRange(0, 9).Draw(t, "batch") > 0 {
		lines = append(lines, "start fv1 "+pick("schedule", "pale-ale-with-rest", "fast-warm-ale", "warm-finish-lager", "mixed-culture"), "tell fv1 pitched")
	} else {
		lines = append(lines, "tell fv1 mode pre-chill 10 C")
	}
	left := scenarioDays * 24 * 60
	for _, m := range rapid.SliceOfN(rapid.IntRange(1, 600), 0, 24).Draw(t, "minutes") {
		lines = append(lines, pick("happens", happenings()...))
		if m = min(m, left); m > 0 {
			lines = append(lines, fmt.Sprintf("run %d min", m))
			left -= m
		}
	}
	if left > 0 {
		lines = append(lines, fmt.Sprintf("run %d min", left))
	}
	return "> " + strings.Join(lines, "\n> ") + "\n", tanks
}

// happenings are orders, faults, restarts and clock jumps. Orders that do not fit
// are refused, which is fine; those that matter most stand several times.
func happenings() []string {
	return []string{
		"probe fv1 off", "probe fv1 off", "probe fv1 on", "probe fv1 on", "probe fv1 out", "probe fv1 in",
		"hydrometer fv1 off", "hydrometer fv1 on", "hydrometer fv1 held", "hydrometer fv1 free", "hydrometer fv1 step 8",
		"relay fv1 fails", "relay fv1 works", "relay fv1 works", "relay fv1 heat-sticks", "relay fv1 cool-sticks", "relay fv1 free", "relay fv1 free",
		"room fv1 -8 C", "room fv1 4 C", "room fv1 18 C", "room fv1 35 C", "yeast fv1 sticks", "hops fv1 3 points", "sugar fv1 10 points",
		"power cut 20 s", "power cut 4 min", "power cut 3 h", "power cut 2 d unknown", "power cut 1 min unknown", "power cut 5 s",
		"late 31 s", "late 5 min", "late 2 h", "clock jump 30 y",
		"tell fv1 arm", "tell fv1 confirm", "tell fv1 advance", "tell fv1 advance", "tell fv1 advance", "tell fv1 advance", "tell fv1 return primary", "tell fv1 return crash",
		"tell fv1 pause", "tell fv1 resume", "tell fv1 target 1 C", "tell fv1 target 29 C", "tell fv1 target 12 C", "tell fv1 target 24 C",
		"tell fv1 mark dump", "tell fv1 mark dry-hop", "tell fv1 mark transfer", "tell fv1 mark fill", "tell fv1 sample 1.012", "tell fv1 sample 1.030 at 20 C",
		"tell fv1 acknowledge", "tell fv1 acknowledge", "tell fv1 shelve probe-lost for 2 h", "tell fv1 done", "tell fv1 skip",
		"tell fv1 end-cold", "tell fv1 end-off", "tell fv1 mode cleaning for 1 h", "tell fv1 mode idle", "tell fv1 mode pre-chill 4 C", "tell fv1 mode pre-chill 25 C", "tell fv1 unlock",
		"start fv1 pale-ale-with-rest", "start fv1 fast-warm-ale", "tell fv1 pitched", "tell fv1 adopt fast-warm-ale",
	}
}

// Whatever is ordered, breaks, is cut off or jumps: the laws hold at every step. A
// scenario that breaks one is printed in its shortest form; it belongs among the
// scenarios in testdata.
func TestTheLawsHoldInEveryScenario(t *testing.T) {
	if testing.Short() {
		t.Skip("some seconds of simulation")
	}
	checks := flag.Lookup("rapid.checks")
	before := checks.Value.String()
	if err := checks.Value.Set(strconv.Itoa(max(1, *vesselDays/scenarioDays))); err != nil {
		t.Fatal(err)
	}
	defer func() { _ = checks.Value.Set(before) }()
	days := 0
	rapid.Check(t, func(t *rapid.T) {
		text, tanks := scenario(t)
		script := bench.Script{Schedules: library, Watch: court()}
		if _, err := script.Play(text); err != nil {
			t.Fatalf("%v, in\n%s", err, text)
		}
		days += tanks * scenarioDays
	})
	t.Logf("%d vessel-days", days)
}

// The lawyers see what they are there to see: a rig that is driven against the laws
// is caught.
func TestALawThatIsBrokenIsSeen(t *testing.T) {
	warm := func(t *bench.Tank) { t.Out.Decision.Beer.Known, t.Out.Decision.Beer.Celsius = true, 18 }
	for name, c := range map[string]struct {
		do   func(*bench.Tank)
		want string
	}{
		"both":              {func(t *bench.Tank) { t.Driven = controller.Outputs{Heat: true, Cool: true} }, "together"},
		"heat without beer": {func(t *bench.Tank) { t.Driven.Heat = true; t.Out.Decision.Beer = controller.Thermometer{} }, "believable"},
		"a short rest":      {func(t *bench.Tank) { warm(t); t.Driven.Cool = true }, "after a rest"},
		"a failing relay":   {func(t *bench.Tank) { warm(t); t.Driven.Heat, t.RelayFault = true, true }, "relay fault"},
		"a crash": {func(t *bench.Tank) {
			t.Out.Events = append(t.Out.Events, controller.Event{Kind: controller.StageEntered, StageKind: controller.Crash, Stage: "crash", Reason: controller.Reason{Code: controller.CodeMet}})
		}, "before terminal"},
		"an alarm twice": {func(t *bench.Tank) {
			e := controller.Event{Kind: controller.AlarmRaised, Alarm: "stuck"}
			t.Out.Events = append(t.Out.Events, e, e)
		}, "twice"},
	} {
		t.Run(name, func(t *testing.T) {
			tank := bench.NewTank("fv1", bench.Brew{Kind: bench.Bucket, Start: 18})
			r := &bench.Rig{Tanks: []*bench.Tank{tank}}
			watch := court()
			r.Step(bench.Step)
			if err := watch(r, bench.Step); err != nil {
				t.Fatal(err)
			}
			r.Step(bench.Step)
			c.do(tank)
			if err := watch(r, bench.Step); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error %v, want %q", err, c.want)
			}
		})
	}
}
