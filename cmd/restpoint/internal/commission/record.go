package commission

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"time"
)

// Entry is one line of the commissioning record: what was tried, and what a person
// saw.
type Entry struct {
	At    time.Time
	Who   string
	Relay string
	Where string
	On    time.Duration
	Seen  string
}

// header names the columns of the record, a CSV file after RFC 4180.
func header() []string { return []string{"time", "who", "relay", "where", "on_s", "seen"} }

// Append adds an entry to the record, and makes it if there is none.
func Append(path string, e Entry) (err error) {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o640) //nolint:gosec // the operator names the file
	if err != nil {
		return fmt.Errorf("open the commissioning record: %w", err)
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	info, err := f.Stat()
	if err != nil {
		return fmt.Errorf("look at the commissioning record: %w", err)
	}
	w := csv.NewWriter(f)
	if info.Size() == 0 {
		err = w.Write(header())
	}
	row := []string{e.At.UTC().Format(time.RFC3339), e.Who, e.Relay, e.Where, fmt.Sprintf("%g", e.On.Seconds()), e.Seen}
	err = errors.Join(err, w.Write(row))
	w.Flush()
	if err = errors.Join(err, w.Error(), f.Sync()); err != nil {
		return fmt.Errorf("write the commissioning record: %w", err)
	}
	return nil
}

// Last gives the newest entry of each relay. No record is none.
func Last(path string) (map[string]Entry, error) {
	f, err := os.Open(path) //nolint:gosec // the operator names the file
	if errors.Is(err, fs.ErrNotExist) {
		return map[string]Entry{}, nil
	}
	if err != nil {
		return nil, fmt.Errorf("open the commissioning record: %w", err)
	}
	defer func() { _ = f.Close() }()
	r := csv.NewReader(f)
	first, err := r.Read()
	if errors.Is(err, io.EOF) {
		return map[string]Entry{}, nil
	}
	if err != nil || !slices.Equal(first, header()) {
		return nil, fmt.Errorf("%s is no commissioning record: %w", path, errors.Join(err, errors.New("its first line does not name the columns")))
	}
	last := map[string]Entry{}
	for {
		row, err := r.Read()
		if errors.Is(err, io.EOF) {
			return last, nil
		}
		if err != nil {
			return nil, fmt.Errorf("read the commissioning record: %w", err)
		}
		at, err := time.Parse(time.RFC3339, row[0])
		if err != nil {
			return nil, fmt.Errorf("read the commissioning record: %w", err)
		}
		last[row[2]] = Entry{At: at, Who: row[1], Relay: row[2], Where: row[3], Seen: row[5]}
	}
}
