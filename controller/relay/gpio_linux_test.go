package relay_test

import (
	"fmt"
	"testing"

	"github.com/warthog618/go-gpiocdev"

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
