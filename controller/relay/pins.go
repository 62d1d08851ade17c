package relay

import (
	"errors"
	"fmt"
	"syscall"
)

// pins gathers the GPIO lines of a board by chip, because all lines of a chip
// are claimed in one request.
type pins struct {
	gpio  GPIO
	chips []*wired
}

// wired is one chip and what is wanted of it.
type wired struct {
	chip  Chip
	lines []Request
	specs []Spec
	at    []int // where the lines go
}

// add finds the chip and the line of a spec, and claims nothing yet.
func (p *pins) add(at int, s Spec) error {
	chip, err := findChip(p.gpio, s.Chip)
	if err != nil {
		return err
	}
	w, err := p.wired(chip)
	if err != nil {
		return err
	}
	offset, err := findLine(w.chip, s.Line)
	if err != nil {
		return err
	}
	for i, l := range w.lines {
		if l.Offset == offset {
			return fmt.Errorf("%s is on the same line", w.specs[i].Name())
		}
	}
	w.lines = append(w.lines, Request{offset, s.ActiveLow})
	w.specs = append(w.specs, s)
	w.at = append(w.at, at)
	return nil
}

// wired gives the chip if it is open already, and closes the second handle.
func (p *pins) wired(c Chip) (*wired, error) {
	for _, w := range p.chips {
		if w.chip.Name() == c.Name() {
			return w, c.Close()
		}
	}
	w := &wired{chip: c}
	p.chips = append(p.chips, w)
	return w, nil
}

// claim requests the lines, one request a chip. Those of the chips before a
// refusal are in lines, for the caller to let go of.
func (p *pins) claim(lines []Line) error {
	for _, w := range p.chips {
		got, err := claim(w.chip, w.lines)
		if err != nil {
			return w.explain(err)
		}
		for i, l := range got {
			lines[w.at[i]] = l
		}
	}
	return nil
}

// explain names the lines that another program holds, or else all of them.
func (w *wired) explain(err error) error {
	var held []error
	if errors.Is(err, syscall.EBUSY) {
		for i, l := range w.lines {
			info, infoErr := w.chip.Line(l.Offset)
			if infoErr == nil && info.Used {
				held = append(held, fmt.Errorf("claim %v: held by %q: %w", w.specs[i], info.Consumer, err))
			}
		}
	}
	if held == nil {
		for _, s := range w.specs {
			held = append(held, fmt.Errorf("claim %v: %w", s, err))
		}
	}
	return errors.Join(held...)
}

// close closes the chips. Lines that were requested stay.
func (p *pins) close() error {
	var errs []error
	for _, w := range p.chips {
		errs = append(errs, w.chip.Close())
	}
	return errors.Join(errs...)
}
