package port

import (
	"errors"
	"fmt"
	"io"
	"os"

	"golang.org/x/sys/unix"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/conn/v3/spi"
	"periph.io/x/host/v3/sysfs"
)

// boardSPI opens /dev/spidevN.C. Importing sysfs puts its drivers of pins, LEDs,
// buses and thermal zones on a list that host.Init and driverreg.Init go through;
// neither is ever called, so none of them opens or exports anything.
func boardSPI(number, chipSelect int) (spi.PortCloser, error) {
	// The library tells its errors as text only, so that what is missing would not
	// be known for missing.
	if _, err := os.Stat(fmt.Sprintf("/dev/spidev%d.%d", number, chipSelect)); err != nil {
		return nil, err
	}
	p, err := sysfs.NewSPI(number, chipSelect)
	if err != nil {
		return nil, err // and not the pointer, which is nil behind an interface that is not
	}
	return p, nil
}

func boardI2C(number int) (i2c.BusCloser, error) {
	return openDevice(fmt.Sprintf("/dev/i2c-%d", number))
}

// setAddress is the request I2C_SLAVE of the kernel's i2c-dev.
const setAddress = 0x0703

// device is an I2C bus by the kernel's plain interface: an address, and then
// read and write. The library's own way, one request for both, hands the kernel
// the place of a variable on its stack as a number; where the stack has grown
// meanwhile (tried: the messages then read as none, to address 0) the kernel would
// take what is left there for its orders. This way also is refused (EBUSY) while a
// driver of the kernel has the chip. Tried with kernel 6.1 on an emulated i.MX6
// board: a TMP105 answered 18.5 C and kept what was written to it.
type device struct{ file *os.File }

func openDevice(path string) (i2c.BusCloser, error) {
	f, err := os.OpenFile(path, os.O_RDWR, 0) //nolint:gosec // one of the board's buses, by number
	if err != nil {
		return nil, err
	}
	return &device{f}, nil
}

// Tx writes and then reads, with a stop between: the chips here remember which
// register was written last.
func (d *device) Tx(addr uint16, w, r []byte) error {
	if err := unix.IoctlSetInt(int(d.file.Fd()), setAddress, int(addr)); err != nil {
		return fmt.Errorf("choose the chip: %w", err)
	}
	if len(w) > 0 {
		if _, err := d.file.Write(w); err != nil {
			return told(err)
		}
	}
	if len(r) > 0 {
		n, err := d.file.Read(r) // one call is one transfer
		if err != nil {
			return told(err)
		}
		if n < len(r) {
			return io.ErrUnexpectedEOF
		}
	}
	return nil
}

// told makes one error of the two by which most drivers of buses say that nobody
// answers at an address. That of the i.MX says that the time is over, as seen, and
// so do we.
func told(err error) error {
	if errors.Is(err, unix.EREMOTEIO) {
		return fmt.Errorf("%w (%w)", unix.ENXIO, err)
	}
	return err
}

func (d *device) String() string                  { return d.file.Name() }
func (d *device) SetSpeed(physic.Frequency) error { return errors.ErrUnsupported }
func (d *device) Close() error                    { return d.file.Close() }
