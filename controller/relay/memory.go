package relay

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/physic"
)

// registers are the words of a processor's memory that drive its pins.
type registers struct {
	load  func(word int) uint32
	store func(word int, v uint32)
}

// Where they are, in words of 32 bits (BCM2835 ARM Peripherals, pages 90 to 96; the
// same in the driver of periph and in BCM2711 ARM Peripherals, chapter 5).
const (
	regFunction = 0        // three bits a pin, ten pins a word
	regHigh     = 0x1c / 4 // a bit that is written as 1 sets its pin high
	regLow      = 0x28 / 4 // or low; written as 0 it does nothing

	asInput  = 0
	asOutput = 1
	function = 7 // the three bits

	// Pins 0 to 27 go to the plug of a board; those above serve the memory card,
	// wireless and lights of the board itself.
	mostPin = 27
)

// memoryPin is a pin that is driven by the processor's own registers. periph's driver
// of these pins drives them alike, but it cannot be had: it begins only where there
// is a character device, which is where nobody needs it, and with it begin drivers
// that map the memory of DMA, clocks and PWM (host v3.8.5, bcm283x and driverreg).
type memoryPin struct {
	regs   registers
	number int
}

// Out sets the level and then makes the pin an output, so that there is no pulse: the
// level that was written last counts from then on (BCM2835 ARM Peripherals, GPSETn,
// from memory). A pin that serves something else, such as a bus, is not touched.
//
// The word that makes it an output has nine other pins. Should the kernel change one
// of those at the same moment, one of the changes is lost; so it is written only
// while the pin is an input, which is once.
func (p memoryPin) Out(l gpio.Level) error {
	was := p.serves()
	if was != asInput && was != asOutput {
		return fmt.Errorf("%s serves something else (function %d)", p, was)
	}
	word := regLow
	if l {
		word = regHigh
	}
	p.regs.store(word, 1<<p.number)
	if was == asOutput {
		return nil
	}
	at, shift := p.place()
	p.regs.store(at, p.regs.load(at)&^(function<<shift)|asOutput<<shift)
	if now := p.serves(); now != asOutput {
		return fmt.Errorf("%s does not become an output (function %d)", p, now)
	}
	return nil
}

// serves tells what the pin is for. Looking changes nothing.
func (p memoryPin) serves() uint32 {
	at, shift := p.place()
	return p.regs.load(at) >> shift & function
}

func (p memoryPin) place() (word, shift int) { return regFunction + p.number/10, p.number % 10 * 3 }

// String names the pin.
func (p memoryPin) String() string { return p.Name() }

// Name names the pin.
func (p memoryPin) Name() string { return "GPIO" + strconv.Itoa(p.number) }

// Number gives its number.
func (p memoryPin) Number() int { return p.number }

// Function is not told: nobody has to ask an output.
func (p memoryPin) Function() string { return "" }

// Halt has nothing to halt.
func (p memoryPin) Halt() error { return nil }

// PWM is refused: no relay stands it.
func (p memoryPin) PWM(gpio.Duty, physic.Frequency) error { return errors.ErrUnsupported }

// pinNumber gives the number of a pin such as GPIO17.
func pinNumber(name string) (int, error) {
	text, found := strings.CutPrefix(name, "GPIO")
	n, err := strconv.Atoi(text)
	if !found || err != nil || strconv.Itoa(n) != text || n < 0 || n > mostPin {
		return 0, fmt.Errorf("pins are GPIO0 to GPIO%d", mostPin)
	}
	return n, nil
}

// knownProcessor holds that a board has the registers that are written here. The text
// is what its device tree calls it. BCM2712 has others, and so has everything that is
// not named: there the same words of memory would do anything.
func knownProcessor(compatible string) error {
	names := strings.FieldsFunc(compatible, func(r rune) bool { return r == 0 })
	for _, n := range names {
		chip, found := strings.CutPrefix(n, "brcm,bcm")
		// Each has two names, that of the chip and that of its family (device trees of
		// the kernel and of the vendor's kernel).
		if found && slices.Contains([]string{"2835", "2836", "2837", "2711", "2708", "2709", "2710"}, chip) && !slices.Contains(names, "brcm,bcm2712") {
			return nil
		}
	}
	return fmt.Errorf("pins are driven on the processors BCM2835 to BCM2837 and BCM2711 only, and this is %q", names)
}
