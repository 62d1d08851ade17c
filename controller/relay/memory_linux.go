package relay

import (
	"fmt"
	"os"
	"sync/atomic"

	"periph.io/x/host/v3/pmem"
)

// Pin gives a pin of this machine's processor, by /dev/gpiomem, which holds the
// registers of its pins and nothing else. /dev/mem is never opened, whoever we are.
func (kernel) Pin(name string) (BarePin, error) {
	number, err := pinNumber(name)
	if err != nil {
		return BarePin{}, err
	}
	text, err := os.ReadFile("/proc/device-tree/compatible")
	if err != nil {
		return BarePin{}, fmt.Errorf("which processor is this: %w", err)
	}
	if err := knownProcessor(string(text)); err != nil {
		return BarePin{}, err
	}
	view, err := pmem.MapGPIO()
	if err != nil {
		return BarePin{}, fmt.Errorf("map the registers of the pins: %w", err)
	}
	return BarePin{memoryPin{mapped(view.Uint32()), number}, true}, nil
}

// mapped makes registers of memory. Each word goes out whole, in the order of the
// program, and none is left out.
func mapped(words []uint32) registers {
	return registers{
		load:  func(word int) uint32 { return atomic.LoadUint32(&words[word]) },
		store: func(word int, v uint32) { atomic.StoreUint32(&words[word], v) },
	}
}
