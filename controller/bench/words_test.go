package bench_test

import (
	"strings"
	"testing"
	"time"

	"example.org/restpoint/controller/bench"
)

// Scripts in which something is done to the hardware, and what is seen of it.
func TestScripts(t *testing.T) {
	for name, c := range map[string]struct{ script, want string }{
		"a probe out of its well reads the room": {
			"> ambient 5 C\n> vessel fv1 conical\n> run 10 min\n> probe fv1 out\n> run 2 h\n> show fv1", "seen",
		},
		"a probe that is put back": {
			"> vessel fv1 conical\n> probe fv1 out\n> run 10 min\n> probe fv1 in\n> run 1 h\n> expect fv1 heat off", "",
		},
		"a hydrometer is held, freed and knocked": {
			"> vessel fv1 conical\n> start fv1 pale-ale-with-rest\n> tell fv1 pitched\n> hydrometer fv1 held\n> run 2 h\n> hydrometer fv1 free\n> hydrometer fv1 step 8\n> run 8 h\n> expect fv1 stage primary", "stage-entered primary",
		},
		"yeast that sticks": {
			"> vessel fv1 conical\n> start fv1 pale-ale-with-rest\n> tell fv1 pitched\n> run 40 h\n> yeast fv1 sticks\n> run 1 h\n> expect fv1 left 5 42", "",
		},
		"a vessel without heat or hydrometer": {
			"> noise quiet\n> vessel fv1 tank vacuum-breaker no-heat no-hydrometer wort at 12 C\n> tell fv1 mode pre-chill 18 C\n> run 2 h\n> expect fv1 heat off\n> expect fv1 cool off\n> expect fv1 mode pre-chill\n> show fv1", "not fitted",
		},
		"an idle vessel": {
			"# nothing happens\n\n> noise mild 4\n> ambient 18 C swing 4 K\n> vessel fv1 bucket\n> run 1 h\n> show fv1", "idle, beer 16.9 C",
		},
		"a wort that gets stuck": {
			"> wort 1.048 1.010 stuck at 1.022\n> noise nasty\n> vessel fv1 conical\n> run 1 h", "",
		},
		"a batch adopts a schedule": {
			"> vessel fv1 conical\n> start fv1 pale-ale-with-rest\n> tell fv1 adopt pale-ale-with-rest\n> late 2 min\n> clock jump 3 y\n> power cut 10 min", "adopt by brewer: schedule",
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			script := bench.Script{Schedules: library}
			got, err := script.Play(c.script)
			if err != nil {
				t.Fatal(err)
			}
			if !strings.Contains(got, c.want) {
				t.Errorf("no %q in\n%s", c.want, got)
			}
		})
	}
}

func TestScriptsSayWhatIsWrong(t *testing.T) {
	const vessel = "> vessel fv1 conical\n"
	for text, want := range map[string]string{
		"> ambient cold":                             "not a temperature",
		"> ambient 18 C swing wide":                  "not a",
		"> wort x 1.010":                             "not a gravity",
		"> wort 1.050 1.010 stuck at x":              "not a gravity",
		"> noise":                                    "needs a level",
		"> noise quiet x":                            "expected integer",
		"> vessel fv1 conical wort at cold":          "not a temperature",
		"> start fv1":                                "needs a vessel and an order",
		"> probe fv1":                                "needs a vessel and what happens to it",
		"> probe fv9 off":                            `no vessel "fv9"`,
		"> show fv9":                                 `no vessel "fv9"`,
		"> expect fv9 heat off":                      `no vessel "fv9"`,
		"> expect fv1":                               "needs a vessel and what is so",
		"> late soon":                                "not a duration",
		"> power cut long":                           "not a duration",
		vessel + "> hydrometer fv1 step far":         "invalid syntax",
		vessel + "> expect fv1 beer 1":               "two numbers",
		vessel + "> expect fv1 beer x 1":             "invalid syntax",
		vessel + "> expect fv1 beer 1 x":             "invalid syntax",
		vessel + "> run 1 min\n> expect fv1 heat on": `heat is "off" at`,
		vessel + "> expect fv1 left 0 1":             "it is 42",
	} {
		script := bench.Script{Schedules: library}
		_, err := script.Play(text)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

func TestStamp(t *testing.T) {
	for want, d := range map[string]time.Duration{
		" 0d 00:00": 59 * time.Second, " 3d 04:10": 76*time.Hour + 10*time.Minute, "40d 23:59": 984*time.Hour - time.Second,
	} {
		if got := bench.Stamp(d); got != want {
			t.Errorf("%v: %q, want %q", d, got, want)
		}
	}
}
