package rtd_test

import (
	"errors"
	"fmt"
	"math"
	"os"
	"strings"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"periph.io/x/conn/v3/conntest"
	"periph.io/x/conn/v3/spi"
	"periph.io/x/conn/v3/spi/spitest"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors/rtd"
)

// usual is the common board: a Pt100 of three wires against 430 ohm.
func usual() rtd.Wiring {
	return rtd.Wiring{Element: rtd.Pt100, Wires: 3, Mains: 50, Reference: 430}
}

// The highest limit is 150 C, 157.33 ohm, and the lowest -60 C, 76.33 ohm (IEC
// 60751, from memory of its table): 11988 and 5816 counts of 430/32768 ohm, each
// shifted up by the bit that the chip keeps free.
const (
	limits = "\x5d\xa8\x2d\x70"
	fixed  = 0x11 // three wires, 50 Hz
)

// talk is one conversation with the chip: what it is told in turn (registers from
// memory of the data sheet), and what its eight registers then hold.
func talk(fixed byte, limits, held string) []conntest.IO {
	return []conntest.IO{
		{W: []byte{0x80, 0x82 | fixed}},
		{W: append([]byte{0x83}, limits...)},
		{W: []byte{0x80, 0x84 | fixed}},
		{W: []byte{0x80, 0xa0 | fixed}},
		{W: make([]byte, 9), R: append([]byte{0}, held...)},
		{W: []byte{0x80, fixed}},
	}
}

// registers are what the chip holds after a conversion.
func registers(settings byte, count int, flag byte, limits string, status byte) string {
	return string([]byte{settings, byte(count >> 7), byte(count<<1) | flag}) + limits + string([]byte{status})
}

func connect(t *testing.T, ops []conntest.IO) (*spitest.Playback, spi.Conn) {
	t.Helper()
	p := &spitest.Playback{Playback: conntest.Playback{Ops: ops, DontPanic: true}}
	s := rtd.Settings()
	c, err := p.Connect(s.Speed, s.Mode, 8)
	if err != nil {
		t.Fatal(err)
	}
	return p, c
}

// read plays a conversation to its end and gives what came of it.
func read(t *testing.T, w rtd.Wiring, ops []conntest.IO) (c units.Celsius, fault controller.Fault, said string) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		p, spiConn := connect(t, ops)
		th, err := rtd.New(spiConn, "spi 0", w)
		if err != nil {
			t.Fatal(err)
		}
		begin := time.Now()
		c, fault = th.Read()
		said = th.String()
		if took := time.Since(begin); took != 88*time.Millisecond {
			t.Errorf("took %v", took)
		}
		if err := p.Close(); err != nil {
			t.Error(err)
		}
	})
	return c, fault, said
}

// The ohms of the rows are those of IEC 60751 for their temperatures.
func TestARatioIsATemperature(t *testing.T) {
	for _, row := range []struct {
		name   string
		wiring rtd.Wiring
		fixed  byte
		limits string
		ohms   float64
		want   float64
	}{
		{"20 C on a Pt100 of three wires", usual(), 0x11, limits, 107.793, 20},
		{"0 C on a Pt100 of two wires at 60 Hz", rtd.Wiring{Element: rtd.Pt100, Wires: 2, Mains: 60, Reference: 430}, 0x00, limits, 100, 0},
		{"-5 C on a Pt100 of four wires", rtd.Wiring{Element: rtd.Pt100, Wires: 4, Mains: 50, Reference: 430}, 0x01, limits, 98.044, -5},
		{"4 C on a Pt1000", rtd.Wiring{Element: rtd.Pt1000, Wires: 3, Mains: 60, Reference: 4300}, 0x10, limits, 1015.62, 4},
		{"100 C against another reference", rtd.Wiring{Element: rtd.Pt100, Wires: 3, Mains: 50, Reference: 400}, 0x11, "\x64\xb0\x30\xd8", 138.505, 100},
	} {
		count := int(math.Round(row.ohms / float64(row.wiring.Reference) * 32768))
		got, fault, said := read(t, row.wiring, talk(row.fixed, row.limits, registers(0x80|row.fixed, count, 0, row.limits, 0)))
		if math.Abs(float64(got)-row.want) > 0.02 || fault != controller.NoFault { // half a count is 0.017 K
			t.Errorf("%s: %v, fault %q, %s", row.name, got, fault, said)
		}
		if want := fmt.Sprintf("%s with %d wires on playback", row.wiring.Element, row.wiring.Wires); said != want {
			t.Errorf("%s: named %q, want %q", row.name, said, want)
		}
	}
}

func TestEveryFaultOfTheChipIsNamedWithItsEvidence(t *testing.T) {
	const settings, well = 0x80 | fixed, 8214 // 20 C
	for _, row := range []struct {
		name string
		held string
		want controller.Fault
		said string
	}{
		{"an open element", registers(settings, 32767, 1, limits, 0xa0), controller.Unplugged, "faults 0xa0, above the highest limit: the element is open, or hotter than any beer, reference input too high: the element or a wire of it is open, and all of the range: the element is open"},
		{"all of the range, and no bit set", registers(settings, 32767, 0, limits, 0), controller.Unplugged, "faults 0x00, and all of the range: the element is open"},
		{"above the highest limit", registers(settings, 12000, 1, limits, 0x80), controller.OutOfRange, "faults 0x80, above the highest limit: the element is open, or hotter than any beer"},
		{"a shorted element", registers(settings, 5, 1, limits, 0x40), controller.OutOfRange, "faults 0x40, below the lowest limit: the element is shorted"},
		{"a broken wire at the reference", registers(settings, well, 1, limits, 0x20), controller.Unplugged, "faults 0x20, reference input too high: the element or a wire of it is open"},
		{"a broken return wire", registers(settings, well, 1, limits, 0x10), controller.Unplugged, "faults 0x10, reference input too low: the return wire is open or shorted"},
		{"a broken wire at the element", registers(settings, well, 1, limits, 0x08), controller.Unplugged, "faults 0x08, element input too low: a wire is open or shorted"},
		{"a wire on the mains' supply", registers(settings, well, 1, limits, 0x04), controller.BusError, "faults 0x04, an input is above the supply or below ground"},
		{"a bit without a meaning", registers(settings, well, 1, limits, 0x02), controller.BusError, "faults 0x02"},
		{"the flag of a fault and no fault", registers(settings, well, 1, limits, 0), controller.BusError, "faults 0x00"},
		{"a fault and no flag", registers(settings, well, 0, limits, 0x08), controller.Unplugged, "faults 0x08, element input too low: a wire is open or shorted"},
		{"all bits", registers(settings, well, 1, limits, 0xfc), controller.Unplugged, "faults 0xfc, above the highest limit: the element is open, or hotter than any beer, below the lowest limit: the element is shorted, reference input too high: the element or a wire of it is open, reference input too low: the return wire is open or shorted, element input too low: a wire is open or shorted, an input is above the supply or below ground"},
		{"no chip, and a line that rests low", strings.Repeat("\x00", 8), controller.Unplugged, "the bus is all zeros: no chip, or no supply"},
		{"no chip, and a line that rests high", strings.Repeat("\xff", 8), controller.Unplugged, "the bus is all ones: no chip, or no supply"},
		{"a chip that was reset", registers(0, well, 0, "\xff\xff\x00\x00", 0), controller.BusError, "the chip holds the settings 0x00 and not 0x91"},
		{"a chip set for other wires", registers(0x81, well, 0, limits, 0), controller.BusError, "the chip holds the settings 0x81 and not 0x91"},
		{"a conversion that has not ended", registers(settings|0x20, well, 0, limits, 0), controller.TimedOut, "the chip is still at work: settings 0xb1"},
		{"a search that has not ended", registers(settings|0x04, well, 0, limits, 0), controller.TimedOut, "the chip is still at work: settings 0x95"},
		{"limits that did not stick", registers(settings, well, 0, "\xff\xff\x00\x00", 0), controller.BusError, "the chip holds the limits ff ff 00 00 and not 5d a8 2d 70"},
		{"hotter than any beer, by a chip that sees no fault", registers(settings, 12100, 0, limits, 0), controller.OutOfRange, "158.78295898437"},
		{"a ratio of nothing, by a chip that sees no fault", registers(settings, 0, 0, limits, 0), controller.OutOfRange, "0 ohm is no beer"},
	} {
		got, fault, said := read(t, usual(), talk(fixed, limits, row.held))
		if got != 0 || fault != row.want || !strings.HasPrefix(said, "Pt100 with 3 wires on playback: "+row.said) {
			t.Errorf("%s: %v, fault %q\n got %s\nwant %s", row.name, got, fault, said, row.said)
		}
	}
}

func TestEvidenceIsDroppedWhenAllIsWellAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bad := talk(fixed, limits, registers(0x91, 8214, 1, limits, 0x08))
		good := talk(fixed, limits, registers(0x91, 8214, 0, limits, 0))
		_, c := connect(t, append(bad, good...))
		th, err := rtd.New(c, "spi 0", usual())
		if err != nil {
			t.Fatal(err)
		}
		if _, fault := th.Read(); fault != controller.Unplugged || !strings.Contains(th.String(), "0x08") || !strings.HasPrefix(th.Evidence(), "faults 0x08") {
			t.Errorf("fault %q, %s", fault, th)
		}
		if got, fault := th.Read(); math.Abs(float64(got)-20) > 0.02 || fault != "" || strings.Contains(th.String(), "0x08") || th.Evidence() != "" {
			t.Errorf("%v, fault %q, %s", got, fault, th)
		}
		if th.Bus() != "spi 0" {
			t.Errorf("on bus %q", th.Bus())
		}
	})
}

// failing is a connection that fails at one of its transfers, and from there on.
type failing struct {
	spi.Conn
	left int
	err  error
}

func (f *failing) Tx(w, r []byte) error {
	if f.left--; f.left < 0 {
		return f.err
	}
	return f.Conn.Tx(w, r)
}

func TestErrorsOfTheBusAreFaultsWhereverTheyCome(t *testing.T) {
	for err, want := range map[error]controller.Fault{
		os.ErrNotExist: controller.Unplugged, syscall.EIO: controller.BusError, errors.New("spi: odd"): controller.BusError,
	} {
		for at := range 6 {
			synctest.Test(t, func(t *testing.T) {
				_, c := connect(t, talk(fixed, limits, registers(0x91, 8214, 0, limits, 0)))
				th, _ := rtd.New(&failing{c, at, fmt.Errorf("open spi 0.0: %w", err)}, "spi 0", usual())
				if got, fault := th.Read(); got != 0 || fault != want || !strings.Contains(th.String(), err.Error()) {
					t.Errorf("%v at transfer %d: %v, fault %q, %s; want fault %q", err, at, got, fault, th, want)
				}
			})
		}
	}
}

func TestAWiringThatCannotBeIsRefused(t *testing.T) {
	for name, w := range map[string]rtd.Wiring{
		"an element of another kind":              {Element: 500, Wires: 3, Mains: 50, Reference: 2000},
		"one wire":                                {Element: rtd.Pt100, Wires: 1, Mains: 50, Reference: 430},
		"five wires":                              {Element: rtd.Pt100, Wires: 5, Mains: 50, Reference: 430},
		"mains of no land":                        {Element: rtd.Pt100, Wires: 3, Mains: 55, Reference: 430},
		"a reference that is below the element":   {Element: rtd.Pt100, Wires: 3, Mains: 50, Reference: 150},
		"a Pt100 against the reference of a 1000": {Element: rtd.Pt100, Wires: 3, Mains: 50, Reference: 4300},
		"a Pt1000 against the reference of a 100": {Element: rtd.Pt1000, Wires: 3, Mains: 50, Reference: 430},
		"nothing at all":                          {Wires: 0},
		"no number":                               {Element: rtd.Pt100, Wires: 3, Mains: 50, Reference: 0},
	} {
		if th, err := rtd.New(nil, "spi 0", w); err == nil {
			t.Errorf("%s is taken: %v", name, th)
		}
	}
}

// FuzzHeld holds that whatever the chip holds, there is a temperature that a
// fermenter may have, with no fault bit set, or a fault and no temperature.
func FuzzHeld(f *testing.F) {
	f.Add([]byte(registers(0x91, 8214, 0, limits, 0)))
	f.Add([]byte(registers(0x91, 32767, 1, limits, 0xa0)))
	f.Add(make([]byte, 8))
	f.Fuzz(func(t *testing.T, held []byte) {
		if len(held) != 8 {
			return
		}
		got, fault, _ := read(t, usual(), talk(fixed, limits, string(held)))
		if fault != "" && got != 0 || math.IsNaN(float64(got)) || got < -60 || got > 150 {
			t.Fatalf("% x: %v, fault %q", held, got, fault)
		}
		if fault == "" && (held[0] != 0x91 || held[7] != 0 || held[2]&1 != 0 || string(held[3:7]) != limits) {
			t.Fatalf("% x is believed: %v", held, got)
		}
	})
}
