//go:build !linux

package port

import (
	"errors"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/spi"
)

// Only Linux shows its buses as files.

func boardI2C(int) (i2c.BusCloser, error) { return nil, errors.ErrUnsupported }

func boardSPI(int, int) (spi.PortCloser, error) { return nil, errors.ErrUnsupported }
