package relay_test

import (
	"fmt"
	"os"
	"slices"
	"testing"

	"github.com/warthog618/go-gpiocdev"
	"periph.io/x/conn/v3/driver/driverreg"
	"periph.io/x/conn/v3/gpio"

	"example.org/restpoint/controller/relay"
)

// What the library makes of these options for offsets 17, 22 and 27, read once in
// its own structure for the kernel: flags OUTPUT for all lines, output values 0
// for all lines, and flags OUTPUT with ACTIVE_LOW for the first and third. With
// the level of single lines named before AsOutput, OUTPUT was missing from the
// active-low lines; so the order is part of the test.
func TestTheKernelIsAskedForInactiveOutputsAtOnce(t *testing.T) {
	got := relay.Options([]relay.Request{{Offset: 17, ActiveLow: true}, {Offset: 22}, {Offset: 27, ActiveLow: true}})
	want := []gpiocdev.LineReqOption{
		gpiocdev.WithConsumer("restpoint"),
		gpiocdev.AsOutput(0, 0, 0),
		gpiocdev.WithLines([]int{17, 27}, gpiocdev.AsActiveLow),
	}
	if fmt.Sprintf("%#v", got) != fmt.Sprintf("%#v", want) {
		t.Errorf("asked for %#v\nwant      %#v", got, want)
	}
	got = relay.Options([]relay.Request{{Offset: 4}})
	want = []gpiocdev.LineReqOption{gpiocdev.WithConsumer("restpoint"), gpiocdev.AsOutput(0)}
	if fmt.Sprintf("%#v", got) != fmt.Sprintf("%#v", want) {
		t.Errorf("asked for %#v\nwant      %#v", got, want)
	}
}

func TestTheKernelIsAskedForAnInput(t *testing.T) {
	for low, want := range map[bool][]gpiocdev.LineReqOption{
		false: {gpiocdev.WithConsumer("restpoint"), gpiocdev.AsInput},
		true:  {gpiocdev.WithConsumer("restpoint"), gpiocdev.AsInput, gpiocdev.AsActiveLow},
	} {
		got := relay.InputOptions(relay.Request{Offset: 5, ActiveLow: low})
		if fmt.Sprintf("%#v", got) != fmt.Sprintf("%#v", want) {
			t.Errorf("asked for %#v\nwant      %#v", got, want)
		}
	}
}

func TestTheKernelsChipsCanBeListed(t *testing.T) {
	k := relay.Kernel()
	for _, name := range k.Chips() {
		c, err := k.Open(name)
		if err != nil {
			continue // not ours to open
		}
		if c.Name() == "" || c.Lines() <= 0 {
			t.Errorf("%s: name %q, %d lines", name, c.Name(), c.Lines())
		}
		must(t, c.Close())
	}
	if _, err := k.Open("null"); err == nil {
		t.Error("/dev/null was taken for a GPIO chip")
	}
}

// A machine that is no known board gives no pin, whoever asks: no memory is mapped.
func TestAMachineThatIsNotKnownGivesNoPin(t *testing.T) {
	for _, name := range []string{"GPIO17", "GPIO28", ""} {
		if p, err := relay.Kernel().Pin(name); err == nil {
			if text, _ := os.ReadFile("/proc/device-tree/compatible"); relay.KnownProcessor(string(text)) != nil || name != "GPIO17" {
				t.Errorf("%q gave %v", name, p)
			}
		}
	}
}

// late is a driver that can be registered only while none is loaded.
type late struct{}

func (late) String() string          { return "late" }
func (late) Prerequisites() []string { return nil }
func (late) After() []string         { return nil }
func (late) Init() (bool, error)     { return true, nil }

// Looking for a pin loads no driver of periph: the first who asks for them now is
// the first at all.
func TestNoDriverIsLoadedForAPin(t *testing.T) {
	_, _ = relay.Kernel().Pin("GPIO17")
	if err := driverreg.Register(late{}); err != nil {
		t.Errorf("the drivers were loaded before: %v", err)
	}
}

func TestMappedRegistersAreWordsOfMemory(t *testing.T) {
	words := make([]uint32, 16)
	load, store := relay.Mapped(words)
	out := relay.MemoryPin(load, store, 17)
	must(t, out.Out(gpio.High))
	must(t, out.Out(gpio.Low))
	want := make([]uint32, 16)
	want[0x04/4], want[0x1c/4], want[0x28/4] = 1<<21, 1<<17, 1<<17
	if !slices.Equal(words, want) {
		t.Errorf("memory holds %x, want %x", words, want)
	}
}
