package relay

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"periph.io/x/conn/v3/gpio"
)

// BarePin is a pin of the processor that no driver of the kernel holds for us, on a
// board without a GPIO character device.
//
// Nothing happens to it when the program dies: it stays as it was driven last, on or
// off, until something drives it again. And nothing keeps another program from
// driving it too. A line of a character device is better wherever there is one.
type BarePin struct {
	gpio.PinOut
	LevelFirst bool // its level is set before it becomes an output
}

// hostPin is a bare pin as a line. It is only ever written: to read a pin, or to ask
// for its function, makes an input of it with some drivers of periph.
type hostPin struct {
	pin gpio.PinOut
	low bool // the relay works at the low level
}

// openPin finds a pin and drives nothing yet.
func openPin(g GPIO, s Spec) (*hostPin, error) {
	if err := notHeld(g, s.Line); err != nil {
		return nil, err
	}
	p, err := g.Pin(s.Line)
	if err != nil {
		return nil, err
	}
	if s.ActiveLow && !p.LevelFirst {
		return nil, errors.New("its driver makes it an output at the low level before any other can be set, and a relay that works at the low level would begin on")
	}
	return &hostPin{p.PinOut, s.ActiveLow}, nil
}

// Set drives the pin. Its driver may say at any time that it could not.
func (p *hostPin) Set(on bool) error {
	if err := p.pin.Out(gpio.Level(on != p.low)); err != nil {
		return fmt.Errorf("drive the pin: %w", err)
	}
	return nil
}

// Close leaves the pin as an output, at the level that it was switched off with: an
// input would float.
func (p *hostPin) Close() error { return nil }

// notHeld refuses a pin that a character device has as a line, by its name or, where
// the kernel knows no names, by its number. It refuses too what it cannot look at.
func notHeld(g GPIO, name string) error {
	for _, dev := range g.Chips() {
		c, err := g.Open(dev)
		if err != nil {
			return fmt.Errorf("nobody knows whether the kernel has this pin as a line: look at %s: %w", dev, err)
		}
		line, err := lineOf(c, name)
		if err = errors.Join(err, c.Close()); err != nil {
			return fmt.Errorf("look at %s: %w", dev, err)
		}
		if line != "" {
			return fmt.Errorf("the kernel has this pin as a line, which is safer: use {line: {chip: %s, name: %s}} instead", c.Label(), line)
		}
	}
	return nil
}

// ownChips is how the labels of the chips begin that have the pins of the processor
// itself (kernel, pinctrl-bcm2835). Their lines are in the order of the pins.
const ownChips = "pinctrl-bcm2"

// lineOf gives the name or the number by which a chip has a pin, or nothing.
func lineOf(c Chip, name string) (string, error) {
	for i := range c.Lines() {
		info, err := c.Line(i)
		if err != nil {
			return "", fmt.Errorf("look at line %d: %w", i, err)
		}
		if info.Name == name {
			return name, nil
		}
	}
	n, err := pinNumber(name)
	if err == nil && strings.HasPrefix(c.Label(), ownChips) && n < c.Lines() {
		return strconv.Itoa(n), nil
	}
	return "", nil
}
