package adc_test

import (
	"fmt"
	"math"
	"os"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2ctest"

	"example.org/restpoint/controller"
	"example.org/restpoint/sensors/adc"
	"example.org/restpoint/sensors/electric"
)

const address = 0x49

// talk is one conversation with the chip: what it is told, and what its two
// registers then hold.
func talk(settings uint16, held []uint16, result uint16) []i2ctest.IO {
	ops := []i2ctest.IO{{Addr: address, W: []byte{1, byte(settings >> 8), byte(settings)}}}
	for _, h := range held {
		ops = append(ops, i2ctest.IO{Addr: address, W: []byte{1}, R: []byte{byte(h >> 8), byte(h)}})
	}
	return append(ops, i2ctest.IO{Addr: address, W: []byte{0}, R: []byte{byte(result >> 8), byte(result)}})
}

// read plays a conversation and gives what came of it, how long it took, and how
// much of it was played.
func read(t *testing.T, channel int, highest electric.Volts, ops []i2ctest.IO) (v electric.Volts, fault controller.Fault, took time.Duration, played int) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		b := &i2ctest.Playback{Ops: ops, DontPanic: true}
		a, err := adc.NewADS1115(b, address, channel, highest)
		if err != nil {
			t.Fatal(err)
		}
		begin := time.Now()
		v, fault = a.Volts()
		took, played = time.Since(begin), b.Count
	})
	return v, fault, took, played
}

// The settings, and what a count means in each range, are the data sheet's, from
// memory.
func TestEveryRangeAndChannelIsAskedForAndScaled(t *testing.T) {
	for _, row := range []struct {
		name     string
		channel  int
		highest  electric.Volts
		settings uint16
		result   uint16
		want     electric.Volts
	}{
		{"channel 0 up to 3.3 V", 0, 3.3, 0xc303, 13200, 1.65},
		{"channel 3 up to 5 V", 3, 5, 0xf103, 16000, 3},
		{"channel 1 of the widest range", 1, 6.144, 0xd103, 32766, 6.143625},
		{"channel 2 up to 2 V", 2, 2, 0xe503, 16384, 1.024},
		{"the end of a range belongs to it", 0, 4.096, 0xc303, 8000, 1},
		{"one volt", 0, 1, 0xc703, 16384, 0.512},
		{"half a volt", 0, 0.5, 0xc903, 16384, 0.256},
		{"a quarter", 0, 0.25, 0xcb03, 16384, 0.128},
		{"nothing", 0, 3.3, 0xc303, 0, 0},
		{"a little below ground", 0, 3.3, 0xc303, 0xfff8, -0.001},
	} {
		ops := talk(row.settings, []uint16{row.settings}, row.result)
		got, fault, took, played := read(t, row.channel, row.highest, ops)
		if math.Abs(float64(got-row.want)) > 1e-9 || fault != controller.NoFault || played != len(ops) {
			t.Errorf("%s: %v, fault %q after %d of %d; want %v", row.name, got, fault, played, len(ops), row.want)
		}
		if took != 140*time.Millisecond {
			t.Errorf("%s: took %v", row.name, took)
		}
	}
}

func TestFaultsOfTheChipAreNamed(t *testing.T) {
	const told = 0xc303
	for _, row := range []struct {
		name   string
		held   []uint16
		result uint16
		want   controller.Fault
		took   time.Duration
	}{
		{"the highest count, beyond which it cannot measure", []uint16{told}, 0x7fff, controller.OutOfRange, 140 * time.Millisecond},
		{"the lowest count", []uint16{told}, 0x8000, controller.OutOfRange, 140 * time.Millisecond},
		{"a conversion that never ends", []uint16{0x4303, 0x4303}, 0, controller.TimedOut, 160 * time.Millisecond},
		{"a line that is stuck high", []uint16{0xffff}, 0, controller.BusError, 140 * time.Millisecond},
		{"a line that is stuck low", []uint16{0}, 0, controller.BusError, 140 * time.Millisecond},
		{"a chip that was reset", []uint16{0x8583}, 0, controller.BusError, 140 * time.Millisecond},
		{"a chip that was turned to another channel", []uint16{0xd303}, 0, controller.BusError, 140 * time.Millisecond},
		{"one that is late and then wrong", []uint16{0x4303, 0xffff}, 0, controller.BusError, 160 * time.Millisecond},
	} {
		got, fault, took, _ := read(t, 0, 3.3, talk(told, row.held, row.result))
		if got != 0 || fault != row.want || took != row.took {
			t.Errorf("%s: %v, fault %q after %v; want fault %q", row.name, got, fault, took, row.want)
		}
	}
	ops := talk(told, []uint16{0x4303, told}, 13200)
	if got, fault, took, _ := read(t, 0, 3.3, ops); math.Abs(float64(got)-1.65) > 1e-9 || fault != "" || took != 160*time.Millisecond {
		t.Errorf("a chip that is late: %v, fault %q after %v", got, fault, took)
	}
}

// failing is a bus that fails at one of its transfers.
type failing struct {
	i2c.Bus
	left int
	err  error
}

func (f *failing) Tx(addr uint16, w, r []byte) error {
	if f.left--; f.left < 0 {
		return f.err
	}
	return f.Bus.Tx(addr, w, r)
}

func TestErrorsOfTheBusAreFaultsWhereverTheyCome(t *testing.T) {
	for err, want := range map[error]controller.Fault{
		syscall.ENXIO: controller.Unplugged, os.ErrNotExist: controller.Unplugged, syscall.ETIMEDOUT: controller.TimedOut,
		syscall.EIO: controller.BusError, syscall.EBUSY: controller.BusError,
	} {
		for at := range 4 {
			synctest.Test(t, func(t *testing.T) {
				b := &i2ctest.Playback{Ops: talk(0xc303, []uint16{0x4303, 0xc303}, 8000), DontPanic: true}
				a, _ := adc.NewADS1115(&failing{b, at, fmt.Errorf("i2c 1: %w", err)}, address, 0, 3.3)
				if got, fault := a.Volts(); got != 0 || fault != want {
					t.Errorf("%v at transfer %d: %v, fault %q; want fault %q", err, at, got, fault, want)
				}
			})
		}
	}
}

func TestAChannelThatCannotBeIsRefused(t *testing.T) {
	for _, row := range []struct {
		address uint16
		channel int
		highest electric.Volts
	}{{0x47, 0, 3}, {0x4c, 0, 3}, {0, 0, 3}, {0x48, -1, 3}, {0x48, 4, 3}, {0x48, 0, 6.145}, {0x48, 0, 0}, {0x48, 0, -1}, {0x48, 0, electric.Volts(math.NaN())}} {
		if a, err := adc.NewADS1115(&i2ctest.Playback{}, row.address, row.channel, row.highest); err == nil {
			t.Errorf("%+v is taken: %v", row, a)
		}
	}
	a, err := adc.NewADS1115(&i2ctest.Playback{}, 0x48, 2, 3.3)
	if err != nil || a.String() != "ads1115 playback 0x48 channel 2" || a.Bus() != "playback" {
		t.Errorf("named %q on bus %q, error %v", a, a.Bus(), err)
	}
}

func TestAFixedVoltageIsKnown(t *testing.T) {
	f := adc.Fixed(3.3)
	if v, fault := f.Volts(); v != 3.3 || fault != "" || f.String() != "3.3 V" || f.Bus() != "" {
		t.Errorf("%v, fault %q, named %q", v, fault, f)
	}
}

// FuzzVolts holds that whatever the chip answers, there is a finite voltage within
// the range or a fault and no voltage.
func FuzzVolts(f *testing.F) {
	f.Add(uint16(0xc303), uint16(0xc303), uint16(13200))
	f.Add(uint16(0x4303), uint16(0x4303), uint16(0))
	f.Add(uint16(0xffff), uint16(0xffff), uint16(0xffff))
	f.Fuzz(func(t *testing.T, first, second, result uint16) {
		held := []uint16{first}
		if first == 0x4303 {
			held = append(held, second)
		}
		v, fault, _, _ := read(t, 0, 3.3, talk(0xc303, held, result))
		if fault != "" && v != 0 || math.Abs(float64(v)) > 4.096 || math.IsNaN(float64(v)) || fault == "" && held[len(held)-1] != 0xc303 {
			t.Fatalf("%04x, %04x: %v, fault %q", held, result, v, fault)
		}
	})
}
