package relay

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// GPIO is the character devices of a machine, and its bare pins. Tests put their own
// in its place.
type GPIO interface {
	Chips() []string
	Open(name string) (Chip, error)
	Pin(name string) (BarePin, error)
}

// Chip is one GPIO character device. Its lines are outputs here, but for those on
// which contacts are measured.
type Chip interface {
	Name() string  // gpiochip0: may change at a boot
	Label() string // pinctrl-bcm2835: does not
	Lines() int
	Line(offset int) (LineInfo, error)
	// Request claims all lines in one request, as outputs that begin inactive.
	Request(lines []Request) (Requested, error)
	// Input claims one line that is read.
	Input(line Request) (Input, error)
	Close() error // the requested lines stay
}

// LineInfo is what the kernel says of a line.
type LineInfo struct {
	Name     string
	Consumer string // who holds it
	Used     bool
}

// Request asks for one line.
type Request struct {
	Offset    int
	ActiveLow bool
}

// Requested is the lines of one request. They are written together, with 1 for
// active, in the order of the request.
type Requested interface {
	SetValues(values []int) error
	Close() error
}

// consumer is who holds a line, as the kernel shows it.
const consumer = "restpoint"

// findChip opens the chip with the label or name.
func findChip(g GPIO, wanted string) (Chip, error) {
	var found []Chip
	var seen []string
	var errs []error
	for _, dev := range g.Chips() {
		c, err := g.Open(dev)
		if err != nil {
			seen = append(seen, fmt.Sprintf("%s (%v)", dev, err))
			continue
		}
		seen = append(seen, fmt.Sprintf("%s (%s)", c.Name(), c.Label()))
		if c.Label() == wanted || c.Name() == wanted || "/dev/"+c.Name() == wanted {
			found = append(found, c)
		} else {
			errs = append(errs, c.Close())
		}
	}
	if len(found) == 1 {
		return found[0], errors.Join(errs...)
	}
	for _, c := range found {
		errs = append(errs, c.Close())
	}
	have := "there is none"
	if len(seen) > 0 {
		have = "there are " + strings.Join(seen, ", ")
	}
	if len(found) > 1 {
		have += "; give the name of the device instead of a label that several have"
	}
	return nil, errors.Join(append(errs, fmt.Errorf("no single GPIO chip has this label or name; %s", have))...)
}

// findLine gives the offset of a line by its name, or by its number if the name
// is one.
func findLine(c Chip, wanted string) (int, error) {
	if n, err := strconv.Atoi(wanted); err == nil {
		if n < 0 || n >= c.Lines() {
			return 0, fmt.Errorf("the chip has lines 0 to %d", c.Lines()-1)
		}
		return n, nil
	}
	var found []int
	for i := range c.Lines() {
		info, err := c.Line(i)
		if err != nil {
			return 0, fmt.Errorf("look at line %d: %w", i, err)
		}
		if info.Name == wanted {
			found = append(found, i)
		}
	}
	switch len(found) {
	case 0:
		return 0, errors.New("no line of the chip has this name")
	case 1:
		return found[0], nil
	}
	return 0, fmt.Errorf("lines %v of the chip all have this name; give the number", found)
}

// group is all lines of one chip, held in one request.
type group struct {
	request Requested
	values  []int // last commanded
	open    int   // lines not closed yet
}

// gpioLine is one line of a group.
type gpioLine struct {
	group *group
	index int
}

// claim requests the lines and gives them in the same order.
func claim(c Chip, lines []Request) ([]*gpioLine, error) {
	r, err := c.Request(lines)
	if err != nil {
		return nil, err
	}
	g := &group{request: r, values: make([]int, len(lines)), open: len(lines)}
	all := make([]*gpioLine, len(lines))
	for i := range lines {
		all[i] = &gpioLine{g, i}
	}
	return all, nil
}

// Set writes all lines of the request, with this one changed. A level that could
// not be written stays commanded and goes out with the next write of any line; so
// the board, after an ON that failed, always commands the line off.
func (l *gpioLine) Set(on bool) error {
	l.group.values[l.index] = 0
	if on {
		l.group.values[l.index] = 1
	}
	return l.group.request.SetValues(l.group.values)
}

// Close lets go of the request with its last line.
func (l *gpioLine) Close() error {
	l.group.open--
	if l.group.open > 0 {
		return nil
	}
	return l.group.request.Close()
}
