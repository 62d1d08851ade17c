// Package port opens the I2C and SPI buses of the board for the drivers of chips.
// It refuses to open a bus before it is used, to keep one open after an error,
// and to load any driver of pins: a bus that is not there is a fault of every
// reading, and no relay's line is touched by looking for a thermometer.
//
// What it gives is for one goroutine at a time, as the probes of a bus are read.
package port

import (
	"errors"
	"fmt"

	"periph.io/x/conn/v3"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/conn/v3/spi"
)

// OpenI2C opens an I2C bus by its number.
type OpenI2C func(number int) (i2c.BusCloser, error)

// OpenSPI opens an SPI port by the numbers of its bus and its chip select.
type OpenSPI func(number, chipSelect int) (spi.PortCloser, error)

// I2C is an I2C bus of the board, an i2c.Bus.
type I2C struct {
	number int
	open   OpenI2C
	port   i2c.BusCloser // nil = not open
}

// NewI2C makes the bus /dev/i2c-N, whether or not it is there now. A nil open
// opens that of the board.
func NewI2C(number int, open OpenI2C) *I2C {
	if open == nil {
		open = boardI2C
	}
	return &I2C{number: number, open: open}
}

// String names the bus.
func (b *I2C) String() string { return fmt.Sprintf("i2c %d", b.number) }

// Tx writes to a chip and then reads from it. After an error the bus is closed,
// and opened again by the next call.
func (b *I2C) Tx(addr uint16, w, r []byte) error {
	if b.port == nil {
		port, err := b.open(b.number)
		if err != nil {
			return fmt.Errorf("open %s: %w", b, err)
		}
		b.port = port
	}
	if err := b.port.Tx(addr, w, r); err != nil {
		err = errors.Join(fmt.Errorf("%s at 0x%02x: %w", b, addr, err), b.port.Close())
		b.port = nil
		return err
	}
	return nil
}

// SetSpeed is refused: the speed of a bus belongs to the board's description.
func (b *I2C) SetSpeed(physic.Frequency) error {
	return fmt.Errorf("set the speed of %s: %w", b, errors.ErrUnsupported)
}

// Settings are how the chip on an SPI port is spoken to.
type Settings struct {
	Speed physic.Frequency
	Mode  spi.Mode
}

// SPI is one chip on an SPI port of the board, a spi.Conn.
type SPI struct {
	number, chipSelect int
	settings           Settings
	open               OpenSPI
	port               spi.PortCloser // nil = not open
	conn               spi.Conn
}

// NewSPI makes the port /dev/spidevN.C, whether or not it is there now. A nil
// open opens that of the board.
func NewSPI(number, chipSelect int, s Settings, open OpenSPI) *SPI {
	if open == nil {
		open = boardSPI
	}
	return &SPI{number: number, chipSelect: chipSelect, settings: s, open: open}
}

// String names the port.
func (p *SPI) String() string { return fmt.Sprintf("spi %d.%d", p.number, p.chipSelect) }

// Tx writes and reads at once. After an error the port is closed, and opened
// again by the next call.
func (p *SPI) Tx(w, r []byte) error {
	return p.do(func() error { return p.conn.Tx(w, r) })
}

// TxPackets does the same for several packets.
func (p *SPI) TxPackets(packets []spi.Packet) error {
	return p.do(func() error { return p.conn.TxPackets(packets) })
}

// Duplex says that the port writes and reads at once.
func (p *SPI) Duplex() conn.Duplex { return conn.Full }

func (p *SPI) do(transfer func() error) error {
	if err := p.connect(); err != nil {
		return fmt.Errorf("open %s: %w", p, err)
	}
	if err := transfer(); err != nil {
		err = errors.Join(fmt.Errorf("%s: %w", p, err), p.port.Close())
		p.port, p.conn = nil, nil
		return err
	}
	return nil
}

func (p *SPI) connect() error {
	if p.port != nil {
		return nil
	}
	port, err := p.open(p.number, p.chipSelect)
	if err != nil {
		return err
	}
	c, err := port.Connect(p.settings.Speed, p.settings.Mode, 8)
	if err != nil {
		return errors.Join(err, port.Close())
	}
	p.port, p.conn = port, c
	return nil
}
