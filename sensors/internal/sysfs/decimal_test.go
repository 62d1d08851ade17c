package sysfs_test

import (
	"math"
	"strings"
	"testing"

	"example.org/restpoint/controller"
	"example.org/restpoint/sensors/internal/sysfs"
)

func TestDecimalsAreReadAsTheKernelWritesThem(t *testing.T) {
	rows := []struct {
		name, text string
		want       float64
		fault      controller.Fault
	}{
		{"a whole number", "401\n", 401, ""},
		{"a number with decimals", "62.500000\n", 62.5, ""},
		{"a negative number", "-0.007812500\n", -0.0078125, ""},
		{"nothing", "", 0, controller.EmptyRead},
		{"a line end", "\n", 0, controller.Unreadable},
		{"a number without its line end", "62.5", 0, controller.Unreadable},
		{"a comma", "62,5\n", 0, controller.Unreadable},
		{"two numbers", "62 500000\n", 0, controller.Unreadable},
		{"an exponent", "1e3\n", 0, controller.Unreadable},
		{"hexadecimal", "0x10\n", 0, controller.Unreadable},
		{"endless", "inf\n", 0, controller.Unreadable},
		{"not a number", "NaN\n", 0, controller.Unreadable},
		{"a point and nothing behind it", "62.\n", 0, controller.Unreadable},
		{"words", "hot\n", 0, controller.Unreadable},
		{"more than any number", strings.Repeat("9", 400) + "\n", 0, controller.OutOfRange},
	}
	for _, row := range rows {
		if got, fault := sysfs.ParseDecimal([]byte(row.text)); got != row.want || fault != row.fault {
			t.Errorf("%s: %g, fault %q; want %g, fault %q", row.name, got, fault, row.want, row.fault)
		}
	}
}

// FuzzParseDecimal holds that no text gives a value beside a fault, or anything
// but a finite number.
func FuzzParseDecimal(f *testing.F) {
	f.Add([]byte("62.500000\n"))
	f.Add([]byte("-273\n"))
	f.Add([]byte(""))
	f.Fuzz(func(t *testing.T, text []byte) {
		got, fault := sysfs.ParseDecimal(text)
		if fault != controller.NoFault && got != 0 || math.IsNaN(got) || math.IsInf(got, 0) {
			t.Fatalf("%q: %g, fault %q", text, got, fault)
		}
	})
}
