//go:build !linux

package relay

import "errors"

// Kernel gives no GPIO character devices and no pins: only Linux has them.
func Kernel() GPIO { return none{} }

type none struct{}

func (none) Chips() []string { return nil }

func (none) Open(string) (Chip, error) {
	return nil, errors.New("only Linux has GPIO character devices")
}

func (none) Pin(string) (BarePin, error) {
	return BarePin{}, errors.New("only Linux has bare pins")
}
