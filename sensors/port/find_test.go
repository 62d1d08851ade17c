package port_test

import (
	"os"
	"path/filepath"
	"slices"
	"testing"

	"example.org/restpoint/sensors/port"
)

func TestBusesThatAreOfferedToProgramsAreListed(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	for path, text := range map[string]string{
		"i2c-dev/i2c-1/name":       "bcm2835 (i2c@7e804000)\n",
		"i2c-dev/i2c-10/name":      "\n",
		"spidev/spidev0.0/uevent":  "",
		"spidev/spidev0.1/uevent":  "",
		"i2c-adapter/i2c-2/name":   "not offered\n",
		"i2c-dev/something/name":   "else\n",
		"spidev/spi0/uevent":       "",
		"hwmon/hwmon0/temp1_input": "19000\n",
	} {
		path = filepath.Join(root, path)
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	want := []port.Bus{{"/dev/i2c-1", "bcm2835 (i2c@7e804000)"}, {"/dev/i2c-10", ""}, {"/dev/spidev0.0", ""}, {"/dev/spidev0.1", ""}}
	if found, err := port.Find(root, nil); err != nil || !slices.Equal(found, want) {
		t.Errorf("%v\ngot  %q\nwant %q", err, found, want)
	}
	if found, err := port.Find(filepath.Join(root, "none"), nil); err != nil || found != nil {
		t.Errorf("of a machine without buses: %q, %v", found, err)
	}
	if _, err := port.Find(filepath.Join(root, "i2c-dev/i2c-1/name"), nil); err == nil {
		t.Error("a file was taken for a folder of classes")
	}
}
