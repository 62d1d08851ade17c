package port

import "periph.io/x/conn/v3/i2c"

// OpenDevice opens a file as an I2C bus.
func OpenDevice(path string) (i2c.BusCloser, error) { return openDevice(path) }

// Told is what becomes of an error of the kernel.
func Told(err error) error { return told(err) }
