package relay_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"syscall"
	"testing"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpiotest"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/conn/v3/pin"

	"example.org/restpoint/controller/relay"
)

// written is a pin that may be written and nothing else: whoever asks it anything
// fails the test, because that makes an input of some pins.
type written struct {
	t    *testing.T
	pin  gpiotest.Pin
	log  []gpio.Level
	fail error
}

func (w *written) Out(l gpio.Level) error {
	w.log = append(w.log, l)
	if w.fail != nil {
		return w.fail
	}
	return w.pin.Out(l)
}

func (w *written) asked(what string) { w.t.Errorf("%s was asked of an output", what) }

func (w *written) String() string   { return w.pin.String() }
func (w *written) Name() string     { return w.pin.Name() }
func (w *written) Number() int      { return w.pin.Number() }
func (w *written) Halt() error      { w.asked("Halt"); return nil }
func (w *written) Function() string { w.asked("Function"); return "" }
func (w *written) Func() pin.Func   { w.asked("Func"); return "" }
func (w *written) Read() gpio.Level { w.asked("Read"); return gpio.Low }
func (w *written) PWM(gpio.Duty, physic.Frequency) error {
	w.asked("PWM")
	return nil
}

func (w *written) In(gpio.Pull, gpio.Edge) error {
	w.asked("In")
	return nil
}

// bare gives a machine without character devices and with two pins.
func bare(t *testing.T) (m *machine, heat, cool *written) {
	t.Helper()
	heat, cool = &written{t: t, pin: gpiotest.Pin{N: "GPIO17", Num: 17}}, &written{t: t, pin: gpiotest.Pin{N: "GPIO27", Num: 27}}
	m = &machine{pins: map[string]relay.BarePin{"GPIO17": {PinOut: heat, LevelFirst: true}, "GPIO27": {PinOut: cool, LevelFirst: true}}}
	return m, heat, cool
}

func onPins() []relay.Spec {
	return []relay.Spec{
		{Vessel: "fv1", Role: relay.Heat, Kind: relay.HostPin, Line: "GPIO17"},
		{Vessel: "fv1", Role: relay.Cool, Kind: relay.HostPin, Line: "GPIO27", ActiveLow: true},
	}
}

func TestABarePinIsDrivenOffFirstAndNeverRead(t *testing.T) {
	m, heat, cool := bare(t)
	b, err := relay.Open(m, []string{"fv1"}, onPins())
	must(t, err)
	if !slices.Equal(heat.log, []gpio.Level{gpio.Low}) || !slices.Equal(cool.log, []gpio.Level{gpio.High}) {
		t.Errorf("begins with %v and %v: off is low for one and high for the other", heat.log, cool.log)
	}
	must(t, b.Set(levels(false, heating())))
	must(t, b.Set(levels(false, cooling())))
	if got := fmt.Sprint(heat.log, cool.log); got != "[Low High Low] [High High Low]" {
		t.Errorf("driven %s", got)
	}
	must(t, b.Close())
	if heat.pin.L != gpio.Low || cool.pin.L != gpio.High {
		t.Errorf("left at %v and %v", heat.pin.L, cool.pin.L)
	}
	if text := fmt.Sprint(onPins()); text != "[fv1 heat on the pin GPIO17 fv1 cool on the pin GPIO27, works at the low level]" {
		t.Error(text)
	}
}

func TestEveryErrorOfABarePinIsLookedAt(t *testing.T) {
	broken := errors.New("broken")
	m, heat, cool := bare(t)
	b, err := relay.Open(m, []string{"fv1"}, onPins())
	must(t, err)
	must(t, b.Set(levels(false, heating()))) // the first one went well, as does the one before it
	heat.fail = broken
	if err := b.Off(); !errors.Is(err, broken) || err.Error() != "switch fv1 heat off: drive the pin: broken" {
		t.Errorf("off: %v", err)
	}
	if !slices.Equal(b.Unknown(), []string{"fv1 heat"}) || !same(b.Actual(), levels(false, heating())) {
		t.Errorf("unknown %v, actual %+v", b.Unknown(), b.Actual())
	}
	if err := b.Set(levels(false, cooling())); err == nil || cool.pin.L != gpio.High {
		t.Errorf("cools while nobody knows of the heater: %v", err)
	}

	m, heat, _ = bare(t)
	heat.fail = broken
	if b, err := relay.Open(m, []string{"fv1"}, onPins()); b != nil || !errors.Is(err, broken) {
		t.Errorf("opened %v, %v", b, err)
	}
	m, _, cool = bare(t)
	cool.fail = broken
	if l, err := relay.OpenOne(m, []string{"fv1"}, onPins()[1]); l != nil || !errors.Is(err, broken) {
		t.Errorf("opened one %v, %v", l, err)
	}
}

// periph's driver of character devices drives every new output low first. A relay
// that works at the low level would begin on.
func TestAPinThatBeginsLowIsNoPinOfARelayThatWorksAtTheLowLevel(t *testing.T) {
	m, heat, cool := bare(t)
	m.pins["GPIO17"] = relay.BarePin{PinOut: heat}
	m.pins["GPIO27"] = relay.BarePin{PinOut: cool}
	b, err := relay.Open(m, []string{"fv1"}, onPins())
	if b != nil || err == nil || !strings.Contains(err.Error(), "claim fv1 cool on the pin GPIO27, works at the low level: its driver makes it an output at the low level") {
		t.Errorf("opened %v, %v", b, err)
	}
	if len(cool.log) > 0 || slices.Contains(heat.log, gpio.High) {
		t.Errorf("driven %v and %v", heat.log, cool.log)
	}
	specs := onPins()
	specs[1].ActiveLow = false
	b, err = relay.Open(m, []string{"fv1"}, specs)
	must(t, err)
	must(t, b.Close())
}

func TestAPinThatTheKernelHasAsALineIsRefused(t *testing.T) {
	for _, row := range []struct {
		name string
		add  func(m *machine)
		want string // of the refusal; empty = it is taken
	}{
		{"no character device", func(*machine) {}, ""},
		{"one with other lines", func(m *machine) { m.add("gpiochip0", "expander", "A", "GPIO1") }, ""},
		{"one with a line of its name", func(m *machine) { m.add("gpiochip0", "expander", "A"); m.add("gpiochip1", "soc", "A", "GPIO17") }, "the kernel has this pin as a line, which is safer: use {line: {chip: soc, name: GPIO17}} instead"},
		{"the processor's own, without names", func(m *machine) { m.add("gpiochip0", "pinctrl-bcm2835", make([]string, 54)...) }, "use {line: {chip: pinctrl-bcm2835, name: 17}} instead"},
		{"the processor's own, with fewer lines", func(m *machine) { m.add("gpiochip0", "pinctrl-bcm2835", make([]string, 10)...) }, ""},
		{"one that cannot be opened", func(m *machine) { m.add("gpiochip0", "x", "A"); m.chips[0].openErr = syscall.EACCES }, "nobody knows whether the kernel has this pin as a line: look at gpiochip0: permission denied"},
		{"one that cannot be looked at", func(m *machine) { m.add("gpiochip0", "x", "A"); m.chips[0].lineErr = syscall.EIO }, "look at gpiochip0: look at line 0: input/output error"},
	} {
		m, heat, _ := bare(t)
		row.add(m)
		b, err := relay.Open(m, []string{"fv1"}, onPins()[:1])
		switch {
		case row.want == "":
			if err != nil {
				t.Errorf("%s: %v", row.name, err)
				continue
			}
			must(t, b.Close())
		case err == nil || b != nil || !strings.Contains(err.Error(), row.want):
			t.Errorf("%s: opened %v, %v", row.name, b, err)
		case len(heat.log) > 0:
			t.Errorf("%s: driven %v", row.name, heat.log)
		}
		m.nothingHeld(t)
	}
}

func TestAPinThatCannotBeHadLetsGoOfTheOthers(t *testing.T) {
	m, heat, _ := bare(t)
	delete(m.pins, "GPIO27")
	if b, err := relay.Open(m, []string{"fv1"}, onPins()); b != nil || err == nil || err.Error() != "claim fv1 cool on the pin GPIO27, works at the low level: no such pin" {
		t.Errorf("opened %v, %v", b, err)
	}
	if slices.Contains(heat.log, gpio.High) || heat.pin.L != gpio.Low {
		t.Errorf("the other one was driven %v", heat.log)
	}
	m, _, _ = bare(t)
	twice := onPins()
	twice[1].Line = "GPIO17"
	if b, err := relay.Open(m, []string{"fv1"}, twice); b != nil || err == nil || !strings.Contains(err.Error(), "fv1 heat and fv1 cool are both on the pin GPIO17") {
		t.Errorf("opened %v, %v", b, err)
	}
}
