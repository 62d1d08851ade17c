package bench_test

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/profiles"
)

var update = flag.Bool("update", false, "write the transcripts anew")

// library finds the schedules of the scenarios: the built-in ones, and those
// that stand beside the scenarios.
func library(name string) (*controller.Schedule, error) {
	if _, builtIn := profiles.Source(name); !builtIn {
		name = filepath.Join("testdata", "schedules", name+".yaml")
	}
	f, err := profiles.Load(name)
	if err != nil {
		return nil, err
	}
	return f.Schedule, nil
}

// Each scenario is a script that a brewer can read, with what happened below each
// command. With -update the transcripts are written anew, to be reviewed.
func TestScenarios(t *testing.T) {
	if testing.Short() && !*update {
		t.Skip("about a minute of simulation")
	}
	files, err := filepath.Glob("testdata/scenarios/*.txt")
	if err != nil || len(files) < 10 {
		t.Fatalf("%d scenarios, %v", len(files), err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".txt"), func(t *testing.T) {
			t.Parallel()
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			script := bench.Script{Schedules: library}
			got, err := script.Play(string(want))
			if err != nil {
				t.Fatal(err)
			}
			if *update {
				if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			if got != string(want) {
				t.Errorf("the transcript differs; run with -update and review\n%s", firstDifference(got, string(want)))
			}
		})
	}
}

func firstDifference(got, want string) string {
	g, w := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := range g {
		if i >= len(w) || g[i] != w[i] {
			old := "(nothing)"
			if i < len(w) {
				old = w[i]
			}
			return "got  " + g[i] + "\nwant " + old
		}
	}
	return "the old transcript is longer"
}

func TestScriptsRefuseNonsense(t *testing.T) {
	for text, want := range map[string]string{
		"> fly":                                 `no command "fly"`,
		"> ":                                    "no command",
		"> vessel fv1":                          "name and a kind",
		"> vessel fv1 conical gold":             `no option "gold"`,
		"> wort 1.052":                          "original and a final",
		"> wort 1.052 x":                        "not a gravity",
		"> noise loud":                          `no noise "loud"`,
		"> tell fv1 pitched":                    `no vessel "fv1"`,
		"> vessel fv1 conical\n> tell fv1 sing": `no order "sing"`,
		"> vessel fv1 conical\n> start fv1 nothing-such":     "nothing-such",
		"> vessel fv1 conical\n> run 3":                      "unit is missing",
		"> vessel fv1 conical\n> expect fv1 mode batch":      `mode is ""`,
		"> vessel fv1 conical\n> expect fv1 beer 3 4":        "it is 17.00",
		"> vessel fv1 conical\n> expect fv1 colour red":      `nothing is known of "colour"`,
		"> vessel fv1 conical\n> probe fv1 sings":            "cannot happen",
		"> vessel fv1 conical\n> hydrometer fv1 step":        "needs its points",
		"> vessel fv1 conical\n> room fv1 warm":              "not a temperature",
		"> vessel fv1 conical\n> run until stage never-ever": "did not happen",
	} {
		script := bench.Script{Schedules: library}
		if _, err := script.Play(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: error %v, want %q", text, err, want)
		}
	}
}
