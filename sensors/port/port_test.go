package port_test

import (
	"errors"
	"strings"
	"testing"

	"periph.io/x/conn/v3"
	"periph.io/x/conn/v3/conntest"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2ctest"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/conn/v3/spi"
	"periph.io/x/conn/v3/spi/spitest"

	"example.org/restpoint/sensors/port"
)

func TestAnI2CBusIsOpenedWhenItIsUsedAndAgainAfterAnError(t *testing.T) {
	t.Parallel()
	opened := 0
	absent := errors.New("no such bus")
	b := port.NewI2C(1, func(number int) (i2c.BusCloser, error) {
		opened++
		if number != 1 {
			t.Errorf("opens bus %d", number)
		}
		if opened == 1 {
			return nil, absent
		}
		return &i2ctest.Playback{DontPanic: true, Ops: []i2ctest.IO{{Addr: 0x48, W: []byte{1}, R: []byte{2, 3}}}}, nil
	})
	if opened != 0 {
		t.Fatal("opened before it was used")
	}
	r := make([]byte, 2)
	if err := b.Tx(0x48, []byte{1}, r); !errors.Is(err, absent) || !strings.HasPrefix(err.Error(), "open i2c 1: ") {
		t.Errorf("of a bus that is not there: %v", err)
	}
	if err := b.Tx(0x48, []byte{1}, r); err != nil || r[0] != 2 || r[1] != 3 || opened != 2 {
		t.Errorf("read % x, %v, opened %d times", r, err, opened)
	}
	if err := b.Tx(0x48, []byte{1}, r); err == nil || !strings.HasPrefix(err.Error(), "i2c 1 at 0x48: ") || opened != 2 {
		t.Errorf("beyond what is played: %v, opened %d times", err, opened)
	}
	if err := b.Tx(0x48, []byte{1}, r); err != nil || opened != 3 {
		t.Errorf("after the error: %v, opened %d times", err, opened)
	}
	if err := b.SetSpeed(physic.KiloHertz); !errors.Is(err, errors.ErrUnsupported) {
		t.Errorf("set the speed: %v", err)
	}
}

// counted counts what is done with a port, and may refuse to be connected.
type counted struct {
	*spitest.Playback
	refuse error
	closed *int
	got    *port.Settings
	bits   *int
}

func (p counted) Connect(f physic.Frequency, mode spi.Mode, bits int) (spi.Conn, error) {
	*p.got, *p.bits = port.Settings{Speed: f, Mode: mode}, bits
	if p.refuse != nil {
		return nil, p.refuse
	}
	return p.Playback.Connect(f, mode, bits)
}

func (p counted) Close() error {
	*p.closed++
	return nil
}

func TestAnSPIPortIsOpenedWhenItIsUsedAndAgainAfterAnError(t *testing.T) {
	t.Parallel()
	opened, closed, bits := 0, 0, 0
	var got port.Settings
	absent, odd := errors.New("no such port"), errors.New("no such mode")
	want := port.Settings{Speed: 500 * physic.KiloHertz, Mode: spi.Mode1}
	p := port.NewSPI(0, 1, want, func(number, chipSelect int) (spi.PortCloser, error) {
		opened++
		if number != 0 || chipSelect != 1 {
			t.Errorf("opens %d.%d", number, chipSelect)
		}
		now := counted{closed: &closed, got: &got, bits: &bits, Playback: &spitest.Playback{
			Playback: conntest.Playback{DontPanic: true, Ops: []conntest.IO{{W: []byte{1}, R: []byte{2}}}},
		}}
		switch opened {
		case 1:
			return nil, absent
		case 2:
			now.refuse = odd
		}
		return now, nil
	})
	if opened != 0 || p.Duplex() != conn.Full {
		t.Fatal("opened before it was used")
	}
	r := make([]byte, 1)
	if err := p.Tx([]byte{1}, r); !errors.Is(err, absent) || !strings.HasPrefix(err.Error(), "open spi 0.1: ") {
		t.Errorf("of a port that is not there: %v", err)
	}
	if err := p.Tx([]byte{1}, r); !errors.Is(err, odd) || closed != 1 {
		t.Errorf("of a port that refuses: %v, closed %d times", err, closed)
	}
	if err := p.Tx([]byte{1}, r); err != nil || r[0] != 2 || opened != 3 || got != want || bits != 8 {
		t.Errorf("read % x, %v, opened %d times with %+v and %d bits", r, err, opened, got, bits)
	}
	if err := p.Tx([]byte{1}, r); err == nil || !strings.HasPrefix(err.Error(), "spi 0.1: ") || closed != 2 {
		t.Errorf("beyond what is played: %v, closed %d times", err, closed)
	}
	if err := p.TxPackets([]spi.Packet{{W: []byte{1}, R: r}}); err == nil || opened != 4 || closed != 3 { // the player plays no packets
		t.Errorf("packets: %v, opened %d times, closed %d times", err, opened, closed)
	}
	if err := p.Tx([]byte{1}, r); err != nil || opened != 5 {
		t.Errorf("after the error: %v, opened %d times", err, opened)
	}
}
