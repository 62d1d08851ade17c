package file_test

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors/file"
)

func TestAFileIsReadInMilliDegrees(t *testing.T) {
	path := filepath.Join(t.TempDir(), "beer")
	th, err := file.New(path, nil)
	if err != nil {
		t.Fatal(err)
	}
	if got, fault := th.Read(); got != 0 || fault != controller.Unplugged {
		t.Errorf("no file: read %v, fault %q", got, fault)
	}
	rows := []struct {
		text  string
		want  units.Celsius
		fault controller.Fault
	}{
		{"18500\n", 18.5, ""},
		{"18500", 18.5, ""},
		{"-62\n", -0.062, ""},
		{"0\n", 0, ""},
		{"99\n", 0.099, ""},
		{"", 0, controller.EmptyRead},
		{"18.5\n", 0, controller.Unreadable},
		{"18,5\n", 0, controller.Unreadable},
		{"18500 C\n", 0, controller.Unreadable},
		{"99999999999\n", 0, controller.OutOfRange},
	}
	for _, row := range rows {
		if err := os.WriteFile(path, []byte(row.text), 0o600); err != nil {
			t.Fatal(err)
		}
		if got, fault := th.Read(); got != row.want || fault != row.fault {
			t.Errorf("%q: read %v, fault %q; want %v, fault %q", row.text, got, fault, row.want, row.fault)
		}
	}
}

func TestErrorsOfAFileAreFaults(t *testing.T) {
	for err, want := range map[error]controller.Fault{
		syscall.EIO: controller.BusError, syscall.ENOENT: controller.Unplugged, syscall.EISDIR: controller.BusError,
	} {
		th, _ := file.New("/beer", func(string) ([]byte, error) { return nil, err })
		if got, fault := th.Read(); got != 0 || fault != want {
			t.Errorf("%v: read %v, fault %q; want fault %q", err, got, fault, want)
		}
	}
	if th, err := file.New("", nil); err == nil {
		t.Errorf("opened %v", th)
	}
}

func TestTheEvidenceBehindAFaultIsShown(t *testing.T) {
	path := filepath.Join(t.TempDir(), "beer")
	th, err := file.New(path, nil)
	if err != nil {
		t.Fatal(err)
	}
	if got := th.Evidence(); got != "beer: no such file or directory" {
		t.Error(got)
	}
	for text, want := range map[string]string{"18.5 C\n": `it says "18.5 C"`, "": `it says ""`} {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if got := th.Evidence(); got != want {
			t.Errorf("%q: %s, want %s", text, got, want)
		}
	}
}
