package relay_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/relay"
)

// led builds one LED of the kernel's class and gives its brightness file.
func led(t *testing.T, brightest string) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "heat")
	if err := os.MkdirAll(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(dir, "max_brightness"), brightest)
	return write(t, filepath.Join(dir, "brightness"), "3\n")
}

func write(t *testing.T, path, text string) string {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func contents(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

func heaterOn(path string) []relay.Spec {
	return []relay.Spec{{Vessel: "fv1", Role: relay.Heat, Kind: relay.File, Path: path}}
}

func TestAFileLineWritesItsLevels(t *testing.T) {
	dir := t.TempDir()
	rows := []struct{ name, path, on string }{
		{"an LED of 255 steps", led(t, "255\n"), "255\n"},
		{"an LED that is only on or off", led(t, "1\n"), "1\n"},
		{"a file beside a max_brightness that is not its own", write(t, filepath.Join(filepath.Dir(led(t, "255\n")), "value"), "1\n"), "1\n"},
		{"any other file", write(t, filepath.Join(dir, "value"), "a long text\n"), "1\n"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			b, err := relay.Open(nil, []string{"fv1"}, heaterOn(row.path))
			must(t, err)
			if got := contents(t, row.path); got != "0\n" {
				t.Errorf("after opening: %q, want 0", got)
			}
			must(t, b.Set(levels(false, heating())))
			if got := contents(t, row.path); got != row.on {
				t.Errorf("on: %q, want %q", got, row.on)
			}
			must(t, b.Close())
			if got := contents(t, row.path); got != "0\n" {
				t.Errorf("after closing: %q, want 0", got)
			}
		})
	}
}

func TestAFileLineThatIsGoneIsAnErrorAndIsNeverMade(t *testing.T) {
	path := write(t, filepath.Join(t.TempDir(), "value"), "0")
	b, err := relay.Open(nil, []string{"fv1"}, heaterOn(path))
	must(t, err)
	must(t, b.Set(levels(false, heating())))
	must(t, os.Remove(path))
	if err := b.Off(); !errors.Is(err, os.ErrNotExist) || !strings.Contains(err.Error(), "fv1 heat off") {
		t.Errorf("error %v", err)
	}
	if !same(b.Actual(), levels(false, heating())) {
		t.Errorf("actual %+v: nothing has switched the heater off", b.Actual())
	}
	if _, err := os.Stat(path); !errors.Is(err, os.ErrNotExist) {
		t.Error("the file was made")
	}
	write(t, path, "1")
	must(t, b.Off())
	if got := contents(t, path); got != "0\n" || !same(b.Actual(), levels(false, none())) {
		t.Errorf("when it came back: %q, actual %+v", got, b.Actual())
	}
}

func TestAFileThatCannotBeALineIsRefused(t *testing.T) {
	dir := t.TempDir()
	for name, path := range map[string]string{
		"no file":                     filepath.Join(dir, "value"),
		"no path":                     "",
		"a folder":                    dir,
		"an LED of no brightness":     led(t, "0\n"),
		"an LED of an odd brightness": led(t, "bright\n"),
	} {
		b, err := relay.Open(nil, []string{"fv1"}, heaterOn(path))
		if err == nil || b != nil || !strings.Contains(err.Error(), "claim fv1 heat on "+path) {
			t.Errorf("%s: board %v, error %v", name, b, err)
		}
	}
	if entries, _ := os.ReadDir(dir); len(entries) != 0 {
		t.Errorf("files were made: %v", entries)
	}
}

func TestAModelledLineKeepsItsLevelWhileItFails(t *testing.T) {
	heat, cool := &relay.Modelled{}, &relay.Modelled{}
	b, err := relay.Open(nil, []string{"fv1"}, []relay.Spec{
		{Vessel: "fv1", Role: relay.Heat, Kind: relay.InMemory, Modelled: heat},
		{Vessel: "fv1", Role: relay.Cool, Kind: relay.InMemory, Modelled: cool},
	})
	must(t, err)
	must(t, b.Set(levels(false, heating())))
	if !heat.On() || cool.On() {
		t.Errorf("heat %v, cool %v", heat.On(), cool.On())
	}
	welded := errors.New("welded")
	heat.Fail(welded)
	if err := b.Set(levels(false, cooling())); !errors.Is(err, welded) || !heat.On() || cool.On() {
		t.Errorf("heat %v, cool %v, error %v", heat.On(), cool.On(), err)
	}
	heat.Fail(nil)
	must(t, b.Set(levels(false, cooling())))
	if heat.On() || !cool.On() {
		t.Errorf("heat %v, cool %v", heat.On(), cool.On())
	}
}

func TestAModelledLineMayBeLookedAtFromElsewhere(t *testing.T) {
	m := &relay.Modelled{}
	var all sync.WaitGroup
	all.Go(func() {
		for range 100 {
			m.On()
		}
	})
	for i := range 100 {
		must(t, m.Set(i%2 == 0))
	}
	all.Wait()
	if m.On() {
		t.Error("on")
	}
}

func TestAWiringThatCannotBeMeantIsRefusedAsAWhole(t *testing.T) {
	path := write(t, filepath.Join(t.TempDir(), "value"), "untouched")
	ok := relay.Spec{Vessel: "fv1", Role: relay.Heat, Kind: relay.File, Path: path}
	change := func(f func(*relay.Spec)) relay.Spec {
		s := ok
		f(&s)
		return s
	}
	rows := []struct {
		name, want string
		spec       relay.Spec
	}{
		{"two lines for one relay", "fv1 heat has two lines", ok},
		{"one file for two relays", "fv1 heat and fv1 cool are both on " + path, change(func(s *relay.Spec) { s.Role = relay.Cool })},
		{"one file under two names", "both on " + path, change(func(s *relay.Spec) {
			s.Role, s.Path = relay.Cool, filepath.Dir(path)+"/./value"
		})},
		{"a vessel that is not there", `there is no vessel "fv2"`, change(func(s *relay.Spec) { s.Vessel = "fv2" })},
		{"a chiller of one vessel", "the chiller belongs to no vessel", change(func(s *relay.Spec) { s.Role = relay.Chiller })},
		{"an unknown role", `there is no role "stir"`, change(func(s *relay.Spec) { s.Role = "stir" })},
	}
	for _, row := range rows {
		b, err := relay.Open(nil, []string{"fv1"}, []relay.Spec{ok, row.spec})
		if err == nil || b != nil || !strings.Contains(err.Error(), row.want) {
			t.Errorf("%s: error %v, want %q", row.name, err, row.want)
		}
	}
	if got := contents(t, path); got != "untouched" {
		t.Errorf("the file was written: %q", got)
	}
	for _, s := range []relay.Spec{{Role: relay.Chiller, Kind: "usb"}, {Role: relay.Chiller, Kind: relay.InMemory}} {
		if b, err := relay.Open(nil, nil, []relay.Spec{s}); err == nil || b != nil || !strings.Contains(err.Error(), "claim chiller") {
			t.Errorf("%+v: error %v", s, err)
		}
	}
}

func TestABoardWithoutRelaysIsOne(t *testing.T) {
	b, err := relay.Open(nil, []string{"fv1", "fv2"}, nil)
	must(t, err)
	must(t, b.Set(levels(true, none(), none())))
	if !same(b.Actual(), relay.Levels{Vessels: make([]controller.Outputs, 2)}) {
		t.Errorf("actual %+v", b.Actual())
	}
	must(t, b.Close())
}
