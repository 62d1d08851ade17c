package relay

import (
	"fmt"

	"github.com/warthog618/go-gpiocdev"
)

// Kernel gives the GPIO character devices of this machine.
func Kernel() GPIO { return kernel{} }

type kernel struct{}

func (kernel) Chips() []string { return gpiocdev.Chips() }

func (kernel) Open(name string) (Chip, error) {
	c, err := gpiocdev.NewChip(name)
	if err != nil {
		return nil, err
	}
	return cdev{c}, nil
}

type cdev struct{ chip *gpiocdev.Chip }

func (c cdev) Name() string  { return c.chip.Name }
func (c cdev) Label() string { return c.chip.Label }
func (c cdev) Lines() int    { return c.chip.Lines() }
func (c cdev) Close() error  { return c.chip.Close() }

func (c cdev) Line(offset int) (LineInfo, error) {
	i, err := c.chip.LineInfo(offset)
	return LineInfo{Name: i.Name, Consumer: i.Consumer, Used: i.Used}, err
}

// uapi is the version of the kernel's interface, since Linux 5.10, in which each
// line of a request has its own active level. With the older one the library
// would leave that level out without a word, and an active-low relay would begin
// on.
const uapi = 2

func (c cdev) Request(lines []Request) (Requested, error) {
	if v := c.chip.UapiAbiVersion(); v != uapi {
		return nil, fmt.Errorf("the kernel offers version %d of the GPIO interface; version %d, of Linux 5.10, is needed", v, uapi)
	}
	offsets := make([]int, len(lines))
	for i, l := range lines {
		offsets[i] = l.Offset
	}
	return c.chip.RequestLines(offsets, options(lines)...)
}

func (c cdev) Input(line Request) (Input, error) {
	if v := c.chip.UapiAbiVersion(); v != uapi {
		return nil, fmt.Errorf("the kernel offers version %d of the GPIO interface; version %d, of Linux 5.10, is needed", v, uapi)
	}
	return c.chip.RequestLine(line.Offset, inputOptions(line)...)
}

// inputOptions asks for an input. Whatever pulls it is wired outside, or set by the
// board: both ways would be a guess.
func inputOptions(line Request) []gpiocdev.LineReqOption {
	opts := []gpiocdev.LineReqOption{gpiocdev.WithConsumer(consumer), gpiocdev.AsInput}
	if line.ActiveLow {
		opts = append(opts, gpiocdev.AsActiveLow)
	}
	return opts
}

// options asks for outputs that begin inactive. The order matters: the level of
// single lines is laid over what came before it, and before AsOutput that would
// be no direction at all.
func options(lines []Request) []gpiocdev.LineReqOption {
	opts := []gpiocdev.LineReqOption{
		gpiocdev.WithConsumer(consumer),
		gpiocdev.AsOutput(make([]int, len(lines))...),
	}
	var low []int
	for _, l := range lines {
		if l.ActiveLow {
			low = append(low, l.Offset)
		}
	}
	if low != nil {
		opts = append(opts, gpiocdev.WithLines(low, gpiocdev.AsActiveLow))
	}
	return opts
}
