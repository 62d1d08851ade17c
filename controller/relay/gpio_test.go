package relay_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"syscall"
	"testing"

	"example.org/restpoint/controller/relay"
)

// machine stands for the character devices of a board. It keeps what was asked of
// the kernel: requests and writes.
type machine struct {
	chips []*chip
	pins  map[string]relay.BarePin
	told  []string
	open  int // handles of chips not closed
}

type chip struct {
	on      *machine
	name    string
	label   string
	lines   []string
	held    map[int]string // offset -> consumer
	openErr error
	lineErr error
	request error
	write   error
	asked   [][]relay.Request
	inputs  map[int]*input // by offset, what is read there
}

// input is a line that is read.
type input struct {
	chip   *chip
	line   relay.Request
	level  int // of the wire
	err    error
	closed bool
}

func (i *input) Value() (int, error) {
	if i.line.ActiveLow {
		return 1 - i.level, i.err
	}
	return i.level, i.err
}

func (i *input) Close() error {
	delete(i.chip.held, i.line.Offset)
	i.closed = true
	return nil
}

func (c *chip) Input(line relay.Request) (relay.Input, error) {
	i := c.inputs[line.Offset]
	if i == nil || c.held[line.Offset] != "" {
		return nil, syscall.EBUSY
	}
	i.chip, i.line = c, line
	c.held[line.Offset] = "restpoint"
	return i, nil
}

func (m *machine) add(name, label string, lines ...string) {
	m.chips = append(m.chips, &chip{on: m, name: name, label: label, lines: lines, held: map[int]string{}})
}

// nothingHeld checks that no chip is open and no line claimed.
func (m *machine) nothingHeld(t *testing.T) {
	t.Helper()
	if m.open != 0 {
		t.Errorf("%d chips left open", m.open)
	}
	for _, c := range m.chips {
		if len(c.held) != 0 {
			t.Errorf("still held on %s: %v", c.name, c.held)
		}
	}
}

func (m *machine) Chips() []string {
	var names []string
	for _, c := range m.chips {
		names = append(names, c.name)
	}
	return names
}

func (m *machine) Open(name string) (relay.Chip, error) {
	for _, c := range m.chips {
		if c.name == name {
			if c.openErr == nil {
				m.open++
			}
			return c, c.openErr
		}
	}
	return nil, syscall.ENOENT
}

func (m *machine) Pin(name string) (relay.BarePin, error) {
	if p, ok := m.pins[name]; ok {
		return p, nil
	}
	return relay.BarePin{}, errors.New("no such pin")
}

func (c *chip) Name() string  { return c.name }
func (c *chip) Label() string { return c.label }
func (c *chip) Lines() int    { return len(c.lines) }
func (c *chip) Close() error  { c.on.open--; return nil }

func (c *chip) Line(offset int) (relay.LineInfo, error) {
	who, used := c.held[offset]
	return relay.LineInfo{Name: c.lines[offset], Consumer: who, Used: used}, c.lineErr
}

func (c *chip) Request(lines []relay.Request) (relay.Requested, error) {
	for _, l := range lines {
		if c.held[l.Offset] != "" {
			return nil, syscall.EBUSY
		}
	}
	if c.request != nil {
		return nil, c.request
	}
	for _, l := range lines {
		c.held[l.Offset] = "restpoint"
	}
	c.asked = append(c.asked, lines)
	return &requested{c, lines}, nil
}

type requested struct {
	chip  *chip
	lines []relay.Request
}

func (r *requested) SetValues(values []int) error {
	r.chip.on.told = append(r.chip.on.told, fmt.Sprint(r.chip.name, values))
	return r.chip.write
}

func (r *requested) Close() error {
	r.chip.on.told = append(r.chip.on.told, r.chip.name+" closed")
	for _, l := range r.lines {
		delete(r.chip.held, l.Offset)
	}
	return nil
}

func board(m *machine) []relay.Spec {
	m.add("gpiochip0", "pinctrl-bcm2835", "ID_SDA", "GPIO17", "GPIO22", "GPIO27", "")
	m.add("gpiochip1", "expander", "A", "B", "B")
	return []relay.Spec{
		{Vessel: "fv1", Role: relay.Cool, Kind: relay.Pin, Chip: "pinctrl-bcm2835", Line: "GPIO17", ActiveLow: true},
		{Vessel: "fv1", Role: relay.Heat, Kind: relay.Pin, Chip: "gpiochip0", Line: "GPIO27"},
		{Role: relay.Chiller, Kind: relay.Pin, Chip: "/dev/gpiochip0", Line: "4", ActiveLow: true},
	}
}

func TestAllLinesOfAChipAreClaimedInOneRequest(t *testing.T) {
	m := &machine{}
	b, err := relay.Open(m, []string{"fv1"}, board(m))
	must(t, err)
	want := []relay.Request{{Offset: 1, ActiveLow: true}, {Offset: 3}, {Offset: 4, ActiveLow: true}}
	if asked := m.chips[0].asked; len(asked) != 1 || !slices.Equal(asked[0], want) {
		t.Errorf("asked %v, want %v at once", asked, want)
	}
	if len(m.chips[1].asked) != 0 || m.open != 0 {
		t.Errorf("%d requests of the other chip, %d chips left open", len(m.chips[1].asked), m.open)
	}

	m.told = nil
	must(t, b.Set(levels(true, cooling()))) // values are in the order of the request: cool, heat, chiller
	want2 := []string{"gpiochip0[0 0 0]", "gpiochip0[1 0 0]", "gpiochip0[1 0 1]"}
	if !slices.Equal(m.told, want2) {
		t.Errorf("written %v, want %v", m.told, want2)
	}
	m.told = nil
	must(t, b.Close())
	want2 = []string{"gpiochip0[1 0 1]", "gpiochip0[1 0 0]", "gpiochip0[0 0 0]", "gpiochip0 closed"}
	if !slices.Equal(m.told, want2) {
		t.Errorf("at the end %v, want %v", m.told, want2)
	}
}

func TestAWriteThatFailedIsNotRepeatedAsAnOn(t *testing.T) {
	m := &machine{}
	b, err := relay.Open(m, []string{"fv1"}, board(m))
	must(t, err)
	m.chips[0].write = syscall.EIO
	if err := b.Raise(levels(true, none())); !errors.Is(err, syscall.EIO) {
		t.Errorf("error %v", err)
	}
	m.chips[0].write, m.told = nil, nil
	must(t, b.Off())
	for _, told := range m.told {
		if told != "gpiochip0[0 0 0]" {
			t.Errorf("written %v", m.told)
		}
	}
}

func TestALineThatAnotherHoldsIsNamedWithItsHolder(t *testing.T) {
	m := &machine{}
	path := led(t, "255\n")
	specs := append(board(m),
		relay.Spec{Vessel: "fv2", Role: relay.Heat, Kind: relay.File, Path: path},
		relay.Spec{Vessel: "fv2", Role: relay.Cool, Kind: relay.Pin, Chip: "expander", Line: "A"})
	m.chips[1].held[0] = "pump control"
	b, err := relay.Open(m, []string{"fv1", "fv2"}, specs)
	if b != nil || !errors.Is(err, syscall.EBUSY) {
		t.Fatalf("board %v, error %v", b, err)
	}
	if want := `claim fv2 cool on expander A: held by "pump control": device or resource busy`; err.Error() != want {
		t.Errorf("error %q, want %q", err, want)
	}
	if len(m.chips[0].held) != 0 || m.open != 0 {
		t.Errorf("still held: %v; %d chips open", m.chips[0].held, m.open)
	}
	for _, told := range m.told {
		if told != "gpiochip0[0 0 0]" && told != "gpiochip0 closed" {
			t.Errorf("written %v: only off was to be written", m.told)
		}
	}
	if got := contents(t, path); got != "0\n" {
		t.Errorf("the line that was had is at %q, want off", got)
	}
}

func TestALineThatCannotBeFoundIsNamed(t *testing.T) {
	rows := []struct {
		name       string
		chip, line string
		prepare    func(*machine)
		want       []string
	}{
		{"no such chip", "pinctrl-rp1", "GPIO17", nil, []string{"pinctrl-rp1 GPIO17", "there are gpiochip0 (pinctrl-bcm2835), gpiochip1 (expander)"}},
		{"a chip that may not be opened", "gpiochip1", "A", func(m *machine) { m.chips[1].openErr = syscall.EACCES }, []string{"gpiochip1 (permission denied)"}},
		{"no chip at all", "gpiochip0", "GPIO17", func(m *machine) { m.chips = nil }, []string{"there is none"}},
		{"two chips of one label", "expander", "A", func(m *machine) { m.add("gpiochip2", "expander", "A") }, []string{"give the name of the device"}},
		{"no such line", "expander", "C", nil, []string{"expander C", "no line of the chip has this name"}},
		{"two lines of one name", "expander", "B", nil, []string{"lines [1 2] of the chip all have this name"}},
		{"a number beyond the chip", "expander", "3", nil, []string{"the chip has lines 0 to 2"}},
		{"a number below it", "expander", "-1", nil, []string{"the chip has lines 0 to 2"}},
		{"a line used already under its name", "gpiochip0", "1", nil, []string{"fv1 cool is on the same line"}},
		{"a request that the kernel refuses", "expander", "0", func(m *machine) { m.chips[1].request = syscall.EPERM }, []string{"claim fv2 heat on expander 0: operation not permitted"}},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			m := &machine{}
			specs := append(board(m), relay.Spec{Vessel: "fv2", Role: relay.Heat, Kind: relay.Pin, Chip: row.chip, Line: row.line})
			if row.prepare != nil {
				row.prepare(m)
			}
			b, err := relay.Open(m, []string{"fv1", "fv2"}, specs)
			if err == nil || b != nil {
				t.Fatal("opened")
			}
			for _, want := range row.want {
				if !strings.Contains(err.Error(), want) {
					t.Errorf("error %q, want %q in it", err, want)
				}
			}
			m.nothingHeld(t)
		})
	}
}

func TestALineThatCannotBeDrivenOffIsNoBoard(t *testing.T) {
	m := &machine{}
	specs := board(m)
	m.chips[0].write = syscall.EIO
	b, err := relay.Open(m, []string{"fv1"}, specs)
	if b != nil || !errors.Is(err, syscall.EIO) || !strings.Contains(err.Error(), "switch fv1 heat off") {
		t.Errorf("board %v, error %v", b, err)
	}
	if len(m.chips[0].held) != 0 {
		t.Errorf("still held: %v", m.chips[0].held)
	}
}
