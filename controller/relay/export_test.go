package relay

import "periph.io/x/conn/v3/gpio"

// MemoryPin is a pin on registers that the tests look at.
func MemoryPin(load func(word int) uint32, store func(word int, v uint32), number int) gpio.PinOut {
	return memoryPin{registers{load, store}, number}
}

// PinNumber gives the number of a pin by its name.
func PinNumber(name string) (int, error) { return pinNumber(name) }

// KnownProcessor tells what is wrong with a processor.
func KnownProcessor(compatible string) error { return knownProcessor(compatible) }
