package relay_test

import (
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/relay"
)

func TestContactsOfLinesAreRead(t *testing.T) {
	m := &machine{}
	m.add("gpiochip0", "pinctrl", "GPIO0", "GPIO5", "GPIO6", "GPIO7")
	heat, cool := &input{level: 1}, &input{level: 0}
	m.chips[0].inputs = map[int]*input{1: heat, 2: cool}
	c, err := relay.OpenContacts(m, []string{"fv1", "fv2"}, []relay.ContactSpec{
		{Vessel: "fv2", Role: relay.Heat, Kind: relay.Pin, Chip: "pinctrl", Line: "GPIO5"},
		{Vessel: "fv2", Role: relay.Cool, Kind: relay.Pin, Chip: "gpiochip0", Line: "2", ActiveLow: true},
	})
	must(t, err)
	want := func(heat, cool controller.Contact, says string) {
		t.Helper()
		got, err := c.Read()
		if !reflect.DeepEqual(got, []controller.Contacts{{}, {Heat: heat, Cool: cool}}) {
			t.Errorf("%+v, want %q and %q", got, heat, cool)
		}
		if said := errText(err); !strings.Contains(said, says) || says == "" && err != nil {
			t.Errorf("says %q, want %q", said, says)
		}
	}
	want(controller.Closed, controller.Closed, "")
	heat.level, cool.level = 0, 1
	want(controller.Open, controller.Open, "")
	// What cannot be read is not known, and the other one is.
	heat.err = errors.New("no such device")
	want(controller.Unmeasured, controller.Open, "the contact of fv2 heat: no such device")
	heat.err, heat.level = nil, 7
	want(controller.Unmeasured, controller.Open, "7 is neither 0 nor 1")
	must(t, c.Close())
	if !heat.closed || !cool.closed {
		t.Error("a line was not let go of")
	}
	m.nothingHeld(t)
}

func errText(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}

func TestContactsInFilesAreRead(t *testing.T) {
	path := filepath.Join(t.TempDir(), "contact")
	c, err := relay.OpenContacts(&machine{}, []string{"fv1"}, []relay.ContactSpec{{Vessel: "fv1", Role: relay.Heat, Kind: relay.File, Path: path}})
	must(t, err)
	for _, row := range []struct {
		text string
		want controller.Contact
	}{
		{"0\n", controller.Open},
		{"1\n", controller.Closed},
		{" 1 ", controller.Closed},
		{"", controller.Unmeasured},
		{"2\n", controller.Unmeasured},
		{"closed\n", controller.Unmeasured},
		{"1 0\n", controller.Unmeasured},
	} {
		write(t, path, row.text)
		got, err := c.Read()
		if got[0].Heat != row.want || (err != nil) != (row.want == controller.Unmeasured) {
			t.Errorf("%q reads as %q, %v", row.text, got[0].Heat, err)
		}
	}
	must(t, os.Remove(path))
	if got, err := c.Read(); got[0].Heat != controller.Unmeasured || !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a file that is gone reads as %q, %v", got[0].Heat, err)
	}
	must(t, c.Close())
}

// A contact that cannot be had keeps no other one from being read.
func TestAContactThatCannotBeHadIsUnmeasured(t *testing.T) {
	path := write(t, filepath.Join(t.TempDir(), "contact"), "1")
	good := relay.ContactSpec{Vessel: "fv1", Role: relay.Cool, Kind: relay.File, Path: path}
	for name, bad := range map[string]struct {
		spec relay.ContactSpec
		says string
	}{
		"a chip that is not there":       {relay.ContactSpec{Kind: relay.Pin, Chip: "other", Line: "GPIO5"}, "no single GPIO chip"},
		"a line that is not there":       {relay.ContactSpec{Kind: relay.Pin, Chip: "pinctrl", Line: "GPIO99"}, "no line of the chip"},
		"a line that another one holds":  {relay.ContactSpec{Kind: relay.Pin, Chip: "pinctrl", Line: "GPIO5"}, "busy"},
		"a kind that cannot be measured": {relay.ContactSpec{Kind: relay.InMemory}, "modelled"},
	} {
		t.Run(name, func(t *testing.T) {
			m := &machine{}
			m.add("gpiochip0", "pinctrl", "GPIO0", "GPIO5")
			bad.spec.Vessel, bad.spec.Role = "fv1", relay.Heat
			c, err := relay.OpenContacts(m, []string{"fv1"}, []relay.ContactSpec{bad.spec, good})
			if said := errText(err); !strings.Contains(said, bad.says) || !strings.Contains(said, "the contact of fv1 heat") {
				t.Errorf("says %q", said)
			}
			got, err := c.Read()
			if got[0] != (controller.Contacts{Cool: controller.Closed}) || err != nil {
				t.Errorf("%+v, %v", got, err)
			}
			must(t, c.Close())
			m.nothingHeld(t)
		})
	}
}
