package metrics

import (
	"fmt"
	"os"
	"strings"
)

// Written is what this process has made the kernel write to its disks since it began,
// in bytes; false where the kernel does not count it. What a memory card writes for
// itself comes on top.
func Written() (bytes float64, known bool) {
	text, err := os.ReadFile("/proc/self/io")
	if err != nil {
		return 0, false
	}
	return writtenIn(string(text))
}

func writtenIn(text string) (bytes float64, known bool) {
	for line := range strings.Lines(text) {
		if n, err := fmt.Sscanf(line, "write_bytes: %g", &bytes); err == nil && n == 1 {
			return bytes, true
		}
	}
	return 0, false
}
