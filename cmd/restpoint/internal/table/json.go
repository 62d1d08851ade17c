package table

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strconv"
)

// Batch is what an export as JSON says of its batch, beside the rows.
type Batch struct {
	Batch        string  `json:"batch"`
	Schedule     string  `json:"schedule"`
	ScheduleText string  `json:"schedule_text"`
	Original     float64 `json:"original_gravity_sg"`
	Final        float64 `json:"final_gravity_sg"`
}

// ReadJSON reads an export as JSON. Its rows are those of the CSV, under the same
// names of columns, and are read one by one.
func ReadJSON(name string, in io.Reader) (*Table, Batch, error) {
	d := json.NewDecoder(in)
	rec, b := &Table{Steps: true}, Batch{}
	fields := map[string]any{
		"batch": &b.Batch, "schedule": &b.Schedule, "schedule_text": &b.ScheduleText,
		"original_gravity_sg": &b.Original, "final_gravity_sg": &b.Final,
	}
	cols, known := columns{}, false
	if err := opening(d, '{'); err != nil {
		return nil, b, fmt.Errorf("%s: it is no export: %w", name, err)
	}
	for d.More() {
		token, err := d.Token()
		if err != nil {
			return nil, b, fmt.Errorf("%s: %w", name, err)
		}
		key, _ := token.(string) // within an object they are texts
		switch {
		case fields[key] != nil:
			err = d.Decode(fields[key])
		case key == "columns":
			var head []string
			if err = d.Decode(&head); err == nil {
				cols, err = findColumns(head)
				known = true
			}
		case key == "rows" && known:
			err = rec.rows(d, cols)
		case key == "rows":
			err = errors.New("rows stand before their columns")
		default:
			var other json.RawMessage
			err = d.Decode(&other)
		}
		if err != nil {
			return nil, b, fmt.Errorf("%s: %s: %w", name, key, err)
		}
	}
	if _, err := d.Token(); err != nil {
		return nil, b, fmt.Errorf("%s: the file is torn: %w", name, err)
	}
	rec, err := rec.whole(name)
	return rec, b, err
}

// opening takes the bracket that must come next.
func opening(d *json.Decoder, want json.Delim) error {
	t, err := d.Token()
	if err == nil && t != want {
		err = fmt.Errorf("%v stands where %v should", t, want)
	}
	return err
}

// rows takes every row in its turn.
func (r *Table) rows(d *json.Decoder, cols columns) error {
	if err := opening(d, '['); err != nil {
		return err
	}
	for n := 1; d.More(); n++ {
		var values []any
		if err := d.Decode(&values); err != nil {
			return fmt.Errorf("row %d: %w", n, err)
		}
		cells := make([]string, len(values))
		for i, v := range values {
			cells[i] = cell(v)
		}
		if len(cells) <= cols.last() {
			return fmt.Errorf("row %d: there are %d values, a column stands at %d", n, len(cells), cols.last()+1)
		}
		if err := r.add(cols, cells); err != nil {
			return fmt.Errorf("row %d: %w", n, err)
		}
	}
	_, err := d.Token()
	return err
}

// last is where the last known column stands.
func (c columns) last() int {
	return max(c.time, c.hours, c.beer, c.gravity, c.stage, c.who, c.order)
}

// cell is a value as a CSV would hold it.
func cell(v any) string {
	switch v := v.(type) {
	case float64:
		return strconv.FormatFloat(v, 'f', -1, 64)
	case string:
		return v
	case bool:
		return strconv.FormatBool(v)
	}
	return ""
}
