package profiles_test

import (
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"

	"example.org/restpoint/controller"
	"example.org/restpoint/profiles"
)

// promise is what a brewer may rely on of a built-in schedule.
type promise struct {
	name   string
	tasted bool // nobody is let into the cold before a person has confirmed
	cold   bool // it ends below 10 C
	warned profiles.Warning
}

// library lists the built-in schedules. Lagers and hopped ales are tasted first;
// a mixed culture is never cooled. One schedule is doubtful on purpose: a rest two
// kelvins above the primary is what the trade does, and six points lift a beer by
// less.
func library() []promise {
	return []promise{
		{name: "cool-lager", tasted: true, cold: true},
		{name: "dry-cider", tasted: true, cold: true},
		{name: "dry-mead", tasted: true, cold: true},
		{name: "dry-wine", tasted: true, cold: true},
		{name: "farmhouse-ale", cold: true},
		{name: "fast-warm-ale", cold: true},
		{name: "high-gravity-ale", tasted: true, cold: true},
		{name: "hopped-ale", tasted: true, cold: true},
		{name: "mixed-culture", tasted: true},
		{name: "pale-ale-with-rest", cold: true, warned: profiles.Warning{Rule: profiles.YeastHeat, Path: "stages[3].target.free-rise.to"}},
		{name: "warm-finish-lager", tasted: true, cold: true},
		{name: "wheat-ale", cold: true},
	}
}

func TestTheLibraryIsWhatItPromises(t *testing.T) {
	t.Parallel()
	var names []string
	for _, p := range library() {
		names = append(names, p.name)
		f, err := profiles.Load(p.name)
		if err != nil {
			t.Fatal(err)
		}
		s := f.Schedule
		if s.Name != p.name {
			t.Errorf("%s calls itself %q", p.name, s.Name)
		}
		if n := len(s.About); n == 0 || strings.Count(s.About, ".") != 1 || !strings.HasSuffix(s.About, ".") {
			t.Errorf("%s: about is not one sentence: %q", p.name, s.About)
		}
		if last := s.Stages[len(s.Stages)-1]; last.Kind != controller.Hold || (last.Target.To < 10) != p.cold {
			t.Errorf("%s ends in %+v", p.name, last)
		}
		if p.warned.Rule == "" && len(f.Warnings) > 0 {
			t.Errorf("%s: warns %v", p.name, f.Warnings)
		}
		if p.warned.Rule != "" && (len(f.Warnings) != 1 || f.Warnings[0].Rule != p.warned.Rule || f.Warnings[0].Path != p.warned.Path) {
			t.Errorf("%s: warns %v, want %v alone", p.name, f.Warnings, p.warned)
		}
	}
	if got := profiles.Builtin(); !reflect.DeepEqual(got, names) {
		t.Errorf("built in are %v, want %v", got, names)
	}
}

// Nothing but terminal gravity or a person lets a beer into the cold, in no
// schedule of the library; and whoever is not asked to taste first is told so by
// explain, exactly then.
func TestTheLibrarySaysWhereNobodyTastes(t *testing.T) {
	t.Parallel()
	for _, p := range library() {
		f, err := profiles.Load(p.name)
		if err != nil {
			t.Fatal(err)
		}
		untasted := 0
		for i := 1; i < len(f.Schedule.Stages); i++ {
			before, st := &f.Schedule.Stages[i-1], &f.Schedule.Stages[i]
			if st.Kind != controller.Crash {
				continue
			}
			if !before.Until.MustBe(controller.Terminal, controller.Confirmed) {
				t.Errorf("%s: %s lets the beer into the cold", p.name, before.Name)
			}
			if !before.Until.MustBe(controller.Confirmed) {
				untasted++
			}
		}
		if (untasted == 0) != p.tasted {
			t.Errorf("%s: %d crashes without a taste test, tasted is said to be %v", p.name, untasted, p.tasted)
		}
		text := strings.Join(strings.Fields(profiles.Explain(f.Schedule)), " ")
		if said := strings.Count(text, "crashes without a taste test"); said != untasted {
			t.Errorf("%s: explain says %d times that nobody tastes, want %d", p.name, said, untasted)
		}
	}
}

// What the text of a schedule says in words must be what it says in keys: every
// job that disturbs what is judged is marked.
func TestJobsThatTouchTheBeerAreMarked(t *testing.T) {
	t.Parallel()
	touches := map[string]controller.MarkKind{
		"dump": controller.Dump, "oxygen": controller.Oxygen, "put the hops": controller.DryHop, "feed the sugar": controller.Addition,
		"rack off": controller.Transfer, "stir ": controller.Rouse,
	}
	seen := map[controller.MarkKind]bool{}
	for _, name := range profiles.Builtin() {
		f, err := profiles.Load(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, st := range f.Schedule.Stages {
			for _, r := range st.Remind {
				for word, mark := range touches {
					if strings.HasPrefix(strings.ToLower(r.Say), word) && r.Mark != mark {
						t.Errorf("%s, %s: %q is marked %q, want %q", name, st.Name, r.Say, r.Mark, mark)
					}
				}
				seen[r.Mark] = true
			}
		}
	}
	for word, mark := range touches {
		if !seen[mark] {
			t.Errorf("no schedule of the library says %q", word)
		}
	}
}

func TestTheLibraryIsExplained(t *testing.T) {
	t.Parallel()
	// Plurals and numbers that no brewer would say.
	odd := regexp.MustCompile(`\b1 (points|volumes)\b|\b0 points left|\.\.|\s[,.]|-0 C|%!|\b1 [dh] have\b`)
	torn := regexp.MustCompile(` -?\d+(\.\d+)?$`)
	for _, name := range profiles.Builtin() {
		f, err := profiles.Load(name)
		if err != nil {
			t.Fatal(err)
		}
		text := profiles.Explain(f.Schedule)
		for l := range strings.SplitSeq(text, "\n") {
			if len([]rune(l)) > 80 {
				t.Errorf("%s: wider than 80 columns: %q", name, l)
			}
			if torn.MatchString(l) {
				t.Errorf("%s: a number without its unit at the end of %q", name, l)
			}
		}
		if bad := odd.FindString(strings.Join(strings.Fields(text), " ")); bad != "" {
			t.Errorf("%s: explained with %q", name, bad)
		}
		for i := range f.Schedule.Stages {
			if !strings.Contains(text, f.Schedule.Stages[i].Name+" (") {
				t.Errorf("%s: %s is not explained", name, f.Schedule.Stages[i].Name)
			}
		}
		for _, w := range f.Warnings {
			text += "\n" + w.String() + "\n"
		}
		golden(t, filepath.Join("testdata", "explain", name+".txt"), text)
	}
}
