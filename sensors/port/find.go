package port

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"example.org/restpoint/sensors/internal/sysfs"
)

// Root is where the kernel lists which buses it offers to programs.
const Root = "/sys/class"

// Bus is an I2C bus or an SPI port that the kernel offers to programs. Which chips
// are on it nobody can tell without speaking to them, and a question that one chip
// understands is an order to another; so nothing is asked.
type Bus struct {
	Path string // "/dev/i2c-1", "/dev/spidev0.0"
	Name string // what the driver calls it; empty for SPI
}

// Find lists the buses. A machine without any is no error. An empty root is the
// kernel's; a nil read reads files.
func Find(root string, read func(string) ([]byte, error)) ([]Bus, error) {
	if root == "" {
		root = Root
	}
	if read == nil {
		read = sysfs.Read
	}
	var all []Bus
	for _, class := range []struct{ name, prefix string }{{"i2c-dev", "i2c-"}, {"spidev", "spidev"}} {
		entries, err := os.ReadDir(filepath.Join(root, class.name))
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return all, fmt.Errorf("look for buses: %w", err)
		}
		for _, e := range entries {
			if !strings.HasPrefix(e.Name(), class.prefix) {
				continue
			}
			name, _ := read(filepath.Join(root, class.name, e.Name(), "name")) // SPI ports have none
			all = append(all, Bus{Path: "/dev/" + e.Name(), Name: strings.TrimSpace(string(name))})
		}
	}
	return all, nil
}
