package sysfs_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"example.org/restpoint/controller"
	"example.org/restpoint/sensors/internal/sysfs"
)

func TestNumbersAreReadAsTheKernelWritesThem(t *testing.T) {
	rows := []struct {
		name, text    string
		want          sysfs.Milli
		strict, slack controller.Fault
	}{
		{"a plain number", "19062\n", 19062, "", ""},
		{"a negative number", "-62\n", -62, "", ""},
		{"a number without its line end", "19062", 19062, controller.Unreadable, ""},
		{"blanks around it", " 19062 \n", 19062, "", ""},
		{"nothing", "", 0, controller.EmptyRead, controller.EmptyRead},
		{"a line end", "\n", 0, controller.Unreadable, controller.Unreadable},
		{"degrees with a point", "19.062\n", 0, controller.Unreadable, controller.Unreadable},
		{"two numbers", "19062\n19125\n", 0, controller.Unreadable, controller.Unreadable},
		{"hexadecimal", "0x4a\n", 0, controller.Unreadable, controller.Unreadable},
		{"not a number", "NaN\n", 0, controller.Unreadable, controller.Unreadable},
		{"bytes of zero", "\x00\x00\n", 0, controller.Unreadable, controller.Unreadable},
		{"absolute zero", "-273150\n", -273150, "", ""},
		{"below absolute zero", "-273151\n", 0, controller.OutOfRange, controller.OutOfRange},
		{"more than 64 bits", "9223372036854775808\n", 0, controller.OutOfRange, controller.OutOfRange},
		{"beyond every sensor", "2500001\n", 0, controller.OutOfRange, controller.OutOfRange},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			m, fault := sysfs.Parse([]byte(row.text))
			if fault != row.strict || fault == "" && m != row.want {
				t.Errorf("with its line end: %v, fault %q; want %v, fault %q", m, fault, row.want, row.strict)
			}
			m, fault = sysfs.ParseLoose([]byte(row.text))
			if fault != row.slack || fault == "" && m != row.want {
				t.Errorf("without: %v, fault %q; want %v, fault %q", m, fault, row.want, row.slack)
			}
		})
	}
}

func TestErrorsBecomeFaults(t *testing.T) {
	rows := map[error]controller.Fault{
		nil:               controller.NoFault,
		syscall.ENOENT:    controller.Unplugged,
		syscall.ENODEV:    controller.Unplugged,
		syscall.ENXIO:     controller.Unplugged,
		os.ErrNotExist:    controller.Unplugged,
		syscall.ENODATA:   controller.EmptyRead,
		syscall.ETIMEDOUT: controller.TimedOut,
		syscall.EIO:       controller.BusError,
		syscall.EAGAIN:    controller.BusError,
		syscall.EACCES:    controller.BusError,
	}
	for err, want := range rows {
		wrapped := err
		if err != nil {
			wrapped = &os.PathError{Op: "read", Path: "x", Err: err}
		}
		if got := sysfs.FaultOf(wrapped); got != want {
			t.Errorf("%v: fault %q, want %q", err, got, want)
		}
	}
}

func TestReadTakesNoMoreThanOnePage(t *testing.T) {
	path := filepath.Join(t.TempDir(), "big")
	if err := os.WriteFile(path, make([]byte, 1<<20), 0o600); err != nil {
		t.Fatal(err)
	}
	data, err := sysfs.Read(path)
	if err != nil || len(data) != 4096 {
		t.Errorf("read %d bytes, error %v; want 4096", len(data), err)
	}
	if _, err := sysfs.Read(path + "x"); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a missing file gave %v", err)
	}
}

func TestWhatAFileSaidIsShownInOneLine(t *testing.T) {
	for text, want := range map[string]string{
		"":                       `""`,
		"hot\n":                  `"hot"`,
		"two\nlines\tand a tab":  `"two lines and a tab"`,
		"\x00\xff":               `"\x00?"`,
		strings.Repeat("x", 80):  `"` + strings.Repeat("x", 80) + `"`,
		strings.Repeat("é", 81):  `"` + strings.Repeat("é", 80) + `..."`,
		"quotes \" and \\ slash": `"quotes \" and \\ slash"`,
	} {
		if got := sysfs.Quote([]byte(text)); got != want {
			t.Errorf("%q: %s, want %s", text, got, want)
		}
	}
	for err, want := range map[error]string{
		&os.PathError{Op: "read", Path: "/sys/x/temp1_input", Err: syscall.EIO}: "temp1_input: input/output error",
		errors.New("odd"): "odd",
	} {
		if got := sysfs.Cause(err); got != want {
			t.Errorf("%v: %q, want %q", err, got, want)
		}
	}
}
