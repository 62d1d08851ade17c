package relay

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// fileLine is a file that takes 0 for off. An LED of the kernel's class takes its
// max_brightness for on; writing 0 also ends a trigger that blinks it (kernel,
// ABI document of sysfs-class-led).
type fileLine struct {
	path string
	on   string
}

const off = "0"

// openFile looks at the file and writes nothing.
func openFile(path string) (*fileLine, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if info.IsDir() {
		return nil, fmt.Errorf("%s is a folder, not the file of a line", path)
	}
	l := &fileLine{path: path, on: "1"}
	if filepath.Base(path) != "brightness" {
		return l, nil
	}
	data, err := os.ReadFile(filepath.Join(filepath.Dir(path), "max_brightness"))
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return l, nil
	case err != nil:
		return nil, fmt.Errorf("how bright is on: %w", err)
	}
	full := strings.TrimSpace(string(data))
	if n, err := strconv.Atoi(full); err != nil || n < 1 {
		return nil, fmt.Errorf("how bright is on: max_brightness of %s is %q", path, full)
	}
	l.on = full
	return l, nil
}

// Set writes the level. The file is opened each time, since the device may have
// come back under the same name, and never created: a wrong path must not look
// like a relay.
func (l *fileLine) Set(on bool) error {
	level := off
	if on {
		level = l.on
	}
	f, err := os.OpenFile(l.path, os.O_WRONLY|os.O_TRUNC, 0)
	if err != nil {
		return err
	}
	_, err = f.WriteString(level + "\n")
	return errors.Join(err, f.Close())
}

// Close has nothing to let go of.
func (l *fileLine) Close() error { return nil }
