package port_test

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"periph.io/x/conn/v3/driver/driverreg"

	"example.org/restpoint/controller"
	"example.org/restpoint/sensors/internal/sysfs"
	"example.org/restpoint/sensors/port"
)

// No board has a bus of this number.
const nowhere = 9731

func TestABusThatIsNotThereIsUnplugged(t *testing.T) {
	i := port.NewI2C(nowhere, nil)
	s := port.NewSPI(nowhere, 0, port.Settings{Speed: 1_000_000_000_000}, nil)
	for range 2 {
		for name, err := range map[string]error{"i2c": i.Tx(0x48, []byte{0}, nil), "spi": s.Tx([]byte{0}, []byte{0})} {
			if !errors.Is(err, fs.ErrNotExist) || sysfs.FaultOf(err) != controller.Unplugged {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
}

func TestAFileThatIsNoBusIsAnError(t *testing.T) {
	path := filepath.Join(t.TempDir(), "i2c-0")
	if err := os.WriteFile(path, []byte("xx"), 0o600); err != nil {
		t.Fatal(err)
	}
	d, err := port.OpenDevice(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := d.Tx(0x48, []byte{0}, make([]byte, 2)); !errors.Is(err, syscall.ENOTTY) || sysfs.FaultOf(err) != controller.BusError {
		t.Errorf("spoke to a plain file: %v", err)
	}
	if err := d.SetSpeed(1); !errors.Is(err, errors.ErrUnsupported) {
		t.Error(err)
	}
	if d.String() != path {
		t.Error(d.String())
	}
	if err := d.Close(); err != nil {
		t.Error(err)
	}
	if err := d.Tx(0x48, nil, nil); err == nil {
		t.Error("a closed bus was spoken to")
	}
	if _, err := port.OpenDevice(path + "0"); !errors.Is(err, fs.ErrNotExist) {
		t.Error(err)
	}
}

// Drivers of buses say in one of two ways that nobody answers.
func TestNobodyAtAnAddressIsUnplugged(t *testing.T) {
	for err, want := range map[error]controller.Fault{
		syscall.EREMOTEIO: controller.Unplugged, syscall.ENXIO: controller.Unplugged,
		syscall.EIO: controller.BusError, syscall.EBUSY: controller.BusError, syscall.ETIMEDOUT: controller.TimedOut,
	} {
		told := port.Told(&os.PathError{Op: "write", Path: "/dev/i2c-1", Err: err})
		if got := sysfs.FaultOf(told); got != want || !strings.Contains(told.Error(), err.Error()) {
			t.Errorf("%v: %q, want %q", told, got, want)
		}
	}
}

// Opening a bus loads no driver of the library: the first who asks for them now
// is the first at all.
func TestNoDriverOfPinsIsLoaded(t *testing.T) {
	_ = port.NewI2C(nowhere, nil).Tx(0x48, []byte{0}, nil)
	_ = port.NewSPI(nowhere, 0, port.Settings{}, nil).Tx([]byte{0}, nil)
	err := driverreg.Register(late{})
	if err != nil {
		t.Errorf("the drivers were loaded before: %v", err)
	}
}

// late is a driver that can be registered only while none is loaded.
type late struct{}

func (late) String() string          { return "late" }
func (late) Prerequisites() []string { return nil }
func (late) After() []string         { return nil }
func (late) Init() (bool, error)     { return true, nil }
