package relay

import "github.com/warthog618/go-gpiocdev"

// Options shows the tests what the kernel is asked for.
func Options(lines []Request) []gpiocdev.LineReqOption { return options(lines) }

// Mapped makes registers of memory.
func Mapped(words []uint32) (load func(word int) uint32, store func(word int, v uint32)) {
	r := mapped(words)
	return r.load, r.store
}

// InputOptions shows the tests what the kernel is asked for.
func InputOptions(line Request) []gpiocdev.LineReqOption { return inputOptions(line) }
