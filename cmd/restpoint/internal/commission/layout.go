package commission

import (
	"fmt"
	"io"
	"strings"

	"example.org/restpoint/controller"
	"example.org/restpoint/sensors"
)

// width is that of the narrowest terminal in use (common practice).
const width = 80

// row is one probe of a list.
type row struct {
	name, reads, use string
	notes            []string
}

// group is probes of one kind.
type group struct {
	title string
	rows  []row
}

func (r *row) note(text string) { r.notes = append(r.notes, text) }
func (r *row) warn(text string) { r.note("warning: " + text) }

// take shows a reading, or why there is none, and tells whether there is one.
func (r *row) take(t sensors.Taken) bool {
	if t.Fault != controller.NoFault {
		r.fail(t.Fault)
		if t.Evidence != "" {
			r.note(t.Evidence)
		}
		return false
	}
	r.reads = reads(t.Value)
	if c := t.Value.Celsius; t.Value.Quantity == controller.Temperature && (c < coldest || c > hottest) {
		r.warn(fmt.Sprintf("outside of %s to %s, where beer is", coldest, hottest))
		if c == powerOn {
			r.warn(powerOn.String() + " is also what a chip shows that did not measure: look at its supply")
		}
	}
	return true
}

// volts measures and shows a voltage, or why there is none.
func (r *row) volts(f *sensors.Found) bool {
	v, fault := f.Voltage.Volts()
	if fault != controller.NoFault {
		r.fail(fault)
		r.note(f.Voltage.Evidence())
		return false
	}
	r.reads = fmt.Sprintf("%.3f V", float64(v))
	return true
}

func (r *row) fail(f controller.Fault) {
	r.reads = "no reading"
	r.note(Why(f))
}

// write writes the rows under their title, in columns, at most 80 wide.
func (g group) write(w io.Writer) error {
	if _, err := fmt.Fprintln(w, g.title); err != nil {
		return err
	}
	if len(g.rows) == 0 {
		_, err := fmt.Fprintln(w, "  none")
		return err
	}
	const widest = 34
	names, readings := 0, 0
	for _, r := range g.rows {
		names, readings = max(names, min(len([]rune(r.name)), widest)), max(readings, len(r.reads))
	}
	for _, r := range g.rows {
		line := fmt.Sprintf("  %-*s", names, r.name)
		if readings > 0 {
			line += fmt.Sprintf("  %*s", readings, r.reads)
		}
		notes := r.notes
		if all := line + "  " + r.use; r.use != "" && len([]rune(all)) <= width {
			line = all
		} else if r.use != "" {
			notes = append([]string{r.use}, notes...)
		}
		if _, err := fmt.Fprintln(w, strings.TrimRight(line, " ")); err != nil {
			return err
		}
		for _, n := range notes {
			if err := writeNote(w, n); err != nil {
				return err
			}
		}
	}
	return nil
}

// writeNote writes a text below what it is about, indented and wrapped.
func writeNote(w io.Writer, text string) error {
	line, indent := "", "      "
	for word := range strings.FieldsSeq(text) {
		if line != "" && len([]rune(indent+line+" "+word)) > width {
			if _, err := fmt.Fprintln(w, indent+line); err != nil {
				return err
			}
			line, indent = "", "        "
		}
		line = strings.TrimLeft(line+" "+word, " ")
	}
	_, err := fmt.Fprintln(w, indent+line)
	return err
}

func counted(n int, one, many string) string {
	switch n {
	case 0:
		return "no " + one
	case 1:
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
