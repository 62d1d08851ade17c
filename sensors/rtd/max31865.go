package rtd

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"periph.io/x/conn/v3/physic"
	"periph.io/x/conn/v3/spi"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors/electric"
	"example.org/restpoint/sensors/internal/sysfs"
	"example.org/restpoint/sensors/port"
)

// What a converter at a fermenter is told to believe. Platinum could measure far
// more, and a resistance beyond these is a wire and no beer.
const (
	coldestBeer units.Celsius = -60
	hottestBeer units.Celsius = 150
)

// The registers of the MAX31865 and the bits of its settings (from memory of the
// data sheet). A register is written at its number plus 0x80.
const (
	regSettings = 0x00 // and the ratio, two thresholds of two bytes each, and the faults
	regLimits   = 0x03
	write       = 0x80
	registers   = 8

	bias      = 1 << 7 // current through the element
	oneShot   = 1 << 5
	threeWire = 1 << 4
	lookOver  = 1 << 2 // one automatic search for faults of the wires
	forget    = 1 << 1 // the faults of before
	filter50  = 1 << 0 // else 60 Hz
	busy      = oneShot | lookOver | 1<<3 | forget
)

// The bits of the fault register, and that of the ratio which says that one is set.
const (
	aboveLimit  = 1 << 7
	belowLimit  = 1 << 6
	refHigh     = 1 << 5
	refLow      = 1 << 4
	inLow       = 1 << 3
	beyondRails = 1 << 2
	anyFault    = 1 << 0

	fullScale = 1<<15 - 1
)

// Times of the chip, from memory of the data sheet, rounded up.
const (
	settling   = 12 * time.Millisecond // 10.5 time constants of 100 nF and an element with its reference, and 1 ms
	lookingFor = time.Millisecond      // the search takes 0.55 ms
	converting = 75 * time.Millisecond // 52 ms at 60 Hz, 62.5 ms at 50 Hz, a tenth more at most
)

// Wiring says what hangs on the converter.
type Wiring struct {
	Element   Element
	Wires     int           // 2, 3 or 4
	Mains     int           // in Hz, 50 or 60: what the converter filters out
	Reference electric.Ohms // of the converter's board: 430 ohm for a Pt100, 4.3 kohm for a Pt1000
}

// Check holds that the converter can measure all that a fermenter has.
func (w Wiring) Check() error {
	switch {
	case w.Element != Pt100 && w.Element != Pt1000:
		return errors.New("an element is a Pt100 or a Pt1000")
	case w.Wires < 2 || w.Wires > 4:
		return fmt.Errorf("an element has 2, 3 or 4 wires, not %d", w.Wires)
	case w.Mains != 50 && w.Mains != 60:
		return fmt.Errorf("the mains have 50 Hz or 60 Hz, not %d Hz", w.Mains)
	}
	// A reference below what it measures against sees nothing of it; one of ten
	// times the element leaves 0.08 K a count, and is that of the other element.
	least, most := w.Element.Resistance(hottestBeer), 10*w.Element.Resistance(0)
	if fits := w.Reference > least && w.Reference < most; !fits {
		return fmt.Errorf("a reference of %s does not go with a %s; usual is %s", w.Reference, w.Element, electric.Ohms(4.3*float64(w.Element)))
	}
	return nil
}

// Settings are how the chip is spoken to: at most 5 MHz, in mode 1 or 3 (data
// sheet, from memory). Slow is enough, and safer over a long ribbon.
func Settings() port.Settings {
	return port.Settings{Speed: 500 * physic.KiloHertz, Mode: spi.Mode1}
}

// Thermometer is one platinum element on a MAX31865.
type Thermometer struct {
	conn     spi.Conn
	bus      string
	wiring   Wiring
	limits   []byte                 // as the chip holds them: the highest count, the lowest
	evidence atomic.Pointer[string] // of the last fault
}

// New makes the thermometer on a connection with the chip. Bus names what cannot
// be read twice at a time.
func New(c spi.Conn, busName string, w Wiring) (*Thermometer, error) {
	if err := w.Check(); err != nil {
		return nil, err
	}
	t := &Thermometer{conn: c, bus: busName, wiring: w}
	for _, limit := range []units.Celsius{hottestBeer, coldestBeer} {
		count := int(w.Element.Resistance(limit)/w.Reference*(fullScale+1)) << 1
		t.limits = append(t.limits, byte(count>>8), byte(count))
	}
	return t, nil
}

// String names the thermometer, and says what the chip said of its last fault.
func (t *Thermometer) String() string {
	s := fmt.Sprintf("%s with %d wires on %s", t.wiring.Element, t.wiring.Wires, t.conn)
	if e := t.Evidence(); e != "" {
		s += ": " + e
	}
	return s
}

// Evidence says what the chip said of its last fault, if the last read was one.
func (t *Thermometer) Evidence() string {
	if e := t.evidence.Load(); e != nil {
		return *e
	}
	return ""
}

// Bus names what cannot be read twice at a time.
func (t *Thermometer) Bus() string { return t.bus }

// Read takes one conversion, about 90 ms. The element carries current only
// meanwhile, or it would warm itself.
func (t *Thermometer) Read() (units.Celsius, controller.Fault) {
	held, err := t.convert()
	if off := t.set(0); err == nil {
		err = off
	}
	if err != nil {
		return 0, t.say(sysfs.FaultOf(err), err.Error())
	}
	if fault, why := t.judge(held); fault != controller.NoFault {
		return 0, t.say(fault, why)
	}
	ratio := electric.Ohms(ratioOf(held)) / (fullScale + 1)
	c, ok := t.wiring.Element.Temperature(ratio * t.wiring.Reference)
	if !ok || c < coldestBeer || c > hottestBeer {
		return 0, t.say(controller.OutOfRange, fmt.Sprintf("%s is no beer", ratio*t.wiring.Reference))
	}
	t.evidence.Store(nil)
	return c, controller.NoFault
}

// say keeps the evidence of a fault.
func (t *Thermometer) say(f controller.Fault, why string) controller.Fault {
	t.evidence.Store(&why)
	return f
}

// convert lets the chip search for faults of the wires and convert once, and
// reads all that it then holds.
func (t *Thermometer) convert() ([]byte, error) {
	if err := t.set(bias | forget); err != nil {
		return nil, err
	}
	if err := t.conn.Tx(append([]byte{write | regLimits}, t.limits...), nil); err != nil {
		return nil, err
	}
	time.Sleep(settling)
	if err := t.set(bias | lookOver); err != nil {
		return nil, err
	}
	time.Sleep(lookingFor)
	if err := t.set(bias | oneShot); err != nil {
		return nil, err
	}
	time.Sleep(converting)
	w, r := make([]byte, 1+registers), make([]byte, 1+registers)
	w[0] = regSettings
	err := t.conn.Tx(w, r)
	return r[1:], err
}

func (t *Thermometer) set(bits byte) error {
	return t.conn.Tx([]byte{write | regSettings, bits | t.fixed()}, nil)
}

// fixed are the settings that follow from the wiring.
func (t *Thermometer) fixed() byte {
	var bits byte
	if t.wiring.Wires == 3 {
		bits |= threeWire
	}
	if t.wiring.Mains == 50 {
		bits |= filter50
	}
	return bits
}

func ratioOf(held []byte) int { return (int(held[1])<<8 | int(held[2])) >> 1 }

// judge looks at all that the chip holds before its ratio is believed.
func (t *Thermometer) judge(held []byte) (controller.Fault, string) {
	settings, status := held[0], held[7]
	switch {
	case !slices.ContainsFunc(held, func(b byte) bool { return b != 0x00 }):
		return controller.Unplugged, "the bus is all zeros: no chip, or no supply"
	case !slices.ContainsFunc(held, func(b byte) bool { return b != 0xff }):
		return controller.Unplugged, "the bus is all ones: no chip, or no supply"
	case settings&^busy != bias|t.fixed():
		return controller.BusError, fmt.Sprintf("the chip holds the settings 0x%02x and not 0x%02x", settings, bias|t.fixed())
	case settings&busy != 0:
		return controller.TimedOut, fmt.Sprintf("the chip is still at work: settings 0x%02x", settings)
	case !bytes.Equal(held[3:7], t.limits):
		return controller.BusError, fmt.Sprintf("the chip holds the limits % x and not % x", held[3:7], t.limits)
	}
	why := faultsOf(status)
	switch {
	case ratioOf(held) == fullScale:
		return controller.Unplugged, why + ", and all of the range: the element is open"
	case status&(refHigh|refLow|inLow) != 0:
		return controller.Unplugged, why
	case status&beyondRails != 0:
		return controller.BusError, why
	case status&(aboveLimit|belowLimit) != 0:
		return controller.OutOfRange, why
	case status != 0, held[2]&anyFault != 0:
		return controller.BusError, why
	}
	return controller.NoFault, ""
}

// faultsOf spells the fault register out.
func faultsOf(status byte) string {
	said := []string{fmt.Sprintf("faults 0x%02x", status)}
	for _, f := range []struct {
		bit   byte
		means string
	}{
		{aboveLimit, "above the highest limit: the element is open, or hotter than any beer"},
		{belowLimit, "below the lowest limit: the element is shorted"},
		{refHigh, "reference input too high: the element or a wire of it is open"},
		{refLow, "reference input too low: the return wire is open or shorted"},
		{inLow, "element input too low: a wire is open or shorted"},
		{beyondRails, "an input is above the supply or below ground"},
	} {
		if status&f.bit != 0 {
			said = append(said, f.means)
		}
	}
	return strings.Join(said, ", ")
}
