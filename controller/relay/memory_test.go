package relay_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"periph.io/x/conn/v3/gpio"
	"pgregory.net/rapid"

	"example.org/restpoint/controller/relay"
)

// processor keeps the registers of pins, and what was written to them in its order.
// It behaves as BCM2835 ARM Peripherals says: functions are kept, and bits of the
// registers at 0x1c and 0x28 set a level.
type processor struct {
	functions [6]uint32
	levels    uint64
	log       []string
	stuck     bool // functions cannot be changed
}

func (p *processor) load(word int) uint32 { return p.functions[word] } // others are never read

func (p *processor) store(word int, v uint32) {
	p.log = append(p.log, fmt.Sprintf("%02x=%x", word*4, v))
	switch {
	case word < 6 && !p.stuck:
		p.functions[word] = v
	case word == 7:
		p.levels |= uint64(v)
	case word == 10:
		p.levels &^= uint64(v)
	}
}

func (p *processor) pin(n int) gpio.PinOut { return relay.MemoryPin(p.load, p.store, n) }

func TestTheLevelIsSetBeforeThePinBecomesAnOutput(t *testing.T) {
	p := &processor{}
	p.functions[1] = 0x24000124 // its neighbours: 10, 11 and 12 serve something (4), 18 and 19 too
	out := p.pin(17)
	must(t, out.Out(gpio.High))
	must(t, out.Out(gpio.Low))
	must(t, out.Out(gpio.High))
	want := []string{"1c=20000", "04=24200124", "28=20000", "1c=20000"}
	if !slices.Equal(p.log, want) || p.levels != 1<<17 || p.functions[1] != 0x24200124 {
		t.Errorf("written %v, want %v", p.log, want)
	}
	if out.Name() != "GPIO17" || out.String() != "GPIO17" || out.Number() != 17 {
		t.Errorf("named %q, %d", out, out.Number())
	}
	if !errors.Is(out.PWM(gpio.DutyHalf, 1), errors.ErrUnsupported) || out.Halt() != nil || len(p.log) != 4 {
		t.Error("a relay has a pulse width")
	}
}

func TestAPinThatServesSomethingElseIsNotTouched(t *testing.T) {
	for f := uint32(2); f < 8; f++ {
		p := &processor{}
		p.functions[0] = f << 6 // GPIO2
		if err := p.pin(2).Out(gpio.High); err == nil || err.Error() != fmt.Sprintf("GPIO2 serves something else (function %d)", f) || len(p.log) > 0 {
			t.Errorf("function %d: %v, written %v", f, err, p.log)
		}
	}
	p := &processor{stuck: true}
	if err := p.pin(2).Out(gpio.Low); err == nil || !strings.Contains(err.Error(), "GPIO2 does not become an output (function 0)") {
		t.Errorf("a pin that stays an input: %v", err)
	}
}

// Whatever is driven, no other pin is.
func TestNoOtherPinIsTouched(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := &processor{levels: rapid.Uint64Range(0, 1<<28-1).Draw(t, "levels")}
		for i := range p.functions {
			p.functions[i] = rapid.Uint32Range(0, 1<<30-1).Draw(t, "functions")
		}
		n := rapid.IntRange(0, 27).Draw(t, "pin")
		word, shift := n/10, n%10*3
		p.functions[word] &^= 6 << shift // an input or an output
		before := *p
		high := rapid.Bool().Draw(t, "high")
		if err := p.pin(n).Out(gpio.Level(high)); err != nil {
			t.Fatal(err)
		}
		if p.functions[word]>>shift&7 != 1 || p.levels>>n&1 == 1 != high {
			t.Fatalf("functions %o, levels %b", p.functions, p.levels)
		}
		p.functions[word] ^= (p.functions[word] ^ before.functions[word]) & (7 << shift)
		if p.functions != before.functions || (p.levels^before.levels)&^(1<<n) != 0 {
			t.Fatalf("others changed: functions %o from %o, levels %b from %b", p.functions, before.functions, p.levels, before.levels)
		}
	})
}

func TestOnlyPinsOfThePlugHaveNames(t *testing.T) {
	for name, want := range map[string]int{"GPIO0": 0, "GPIO17": 17, "GPIO27": 27} {
		if n, err := relay.PinNumber(name); err != nil || n != want {
			t.Errorf("%s: %d, %v", name, n, err)
		}
	}
	for _, name := range []string{"", "GPIO", "17", "gpio17", "GPIO017", "GPIO-1", "GPIO28", "GPIO47", "GPIO1e1", "GPIO17 ", "P1_11", "GPIO+7"} {
		if n, err := relay.PinNumber(name); err == nil {
			t.Errorf("%q: %d", name, n)
		}
	}
}

// The names are those of device trees, each ended by a zero (kernel and vendor).
func TestOnlyKnownProcessorsAreDriven(t *testing.T) {
	for text, known := range map[string]bool{
		"raspberrypi,model-zero-w\x00brcm,bcm2835\x00":                     true,
		"raspberrypi,model-b-plus\x00brcm,bcm2708\x00":                     true,
		"raspberrypi,2-model-b\x00brcm,bcm2836\x00":                        true,
		"raspberrypi,3-model-b\x00brcm,bcm2837\x00":                        true,
		"raspberrypi,4-model-b\x00brcm,bcm2711\x00":                        true,
		"raspberrypi,5-model-b\x00brcm,bcm2712\x00":                        false,
		"raspberrypi,5-model-b\x00brcm,bcm2712\x00brcm,bcm2711\x00":        false,
		"friendlyarm,nanopi-neo\x00allwinner,sun8i-h3\x00":                 false,
		"fsl,imx6q-sabrelite\x00fsl,imx6q\x00":                             false,
		"brcm,bcm28350\x00":                                                false,
		"notbrcm,bcm2835\x00":                                              false,
		"":                                                                 false,
		"linux,dummy-virt\x00":                                             false,
		"raspberrypi,3-compute-module\x00brcm,bcm2837\x00brcm,bcm2835\x00": true,
	} {
		if err := relay.KnownProcessor(text); (err == nil) != known {
			t.Errorf("%q: %v", text, err)
		}
	}
}
