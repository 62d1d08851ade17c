//go:build !linux

package port

import (
	"fmt"
	"io/fs"
	"runtime"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/spi"
)

// Only Linux shows its buses as files; elsewhere every chip is unplugged.

func boardI2C(int) (i2c.BusCloser, error) { return nil, absent() }

func boardSPI(int, int) (spi.PortCloser, error) { return nil, absent() }

func absent() error { return fmt.Errorf("%s shows no buses: %w", runtime.GOOS, fs.ErrNotExist) }
