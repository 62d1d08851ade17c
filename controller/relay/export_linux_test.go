package relay

import "github.com/warthog618/go-gpiocdev"

// Options shows the tests what the kernel is asked for.
func Options(lines []Request) []gpiocdev.LineReqOption { return options(lines) }
