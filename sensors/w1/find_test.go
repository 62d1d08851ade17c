package w1_test

import (
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"syscall"
	"testing"

	"example.org/restpoint/controller"
	"example.org/restpoint/sensors/w1"
)

func TestDevicesOnTheBusesAreListedWithWhatIsDoubtful(t *testing.T) {
	root := t.TempDir()
	for path, text := range map[string]string{
		"w1_bus_master1/w1_master_slaves": "28-000001318252\n",
		"w1_bus_master2/w1_master_slaves": "not found.\n",
		"28-000001318252/ext_power":       "1\n",
		"28-000001318252/features":        "1\n",
		"28-0000013182aa/ext_power":       "0\n", // the kernel: 0 is parasite
		"28-0000013182aa/features":        "2\n", // bit 1 only
		"28-0000013182bb/ext_power":       "-5\n",
		"28-0000013182bb/features":        "3\n",
		"28-0000013182cc/w1_slave":        "", // an old kernel says neither
		"10-000801b5a7c2/ext_power":       "0\n",
		"00-800000000000/id":              "", // what a bus without its resistor shows
		"28-xyz/name":                     "\n",
		"w1_master_driver/uevent":         "\n",
	} {
		put(t, filepath.Join(root, path), text)
	}
	found, buses, err := w1.Find(root, nil)
	want := []w1.Found{
		{ID: "00-800000000000"},
		{ID: "10-000801b5a7c2"},
		{ID: "28-000001318252", Thermometer: true},
		{ID: "28-0000013182aa", Thermometer: true, Parasite: true, Unchecked: true},
		{ID: "28-0000013182bb", Thermometer: true},
		{ID: "28-0000013182cc", Thermometer: true},
	}
	if err != nil || buses != 2 || !reflect.DeepEqual(found, want) {
		t.Errorf("%d buses, %v\ngot  %+v\nwant %+v", buses, err, found, want)
	}
	for _, d := range found {
		if _, err := w1.New(root, d.ID, nil); (err == nil) != d.Thermometer {
			t.Errorf("%+v is opened with %v", d, err)
		}
	}
}

func TestAMachineWithoutABusHasNoDevices(t *testing.T) {
	root := filepath.Join(t.TempDir(), "none")
	if found, buses, err := w1.Find(root, nil); err != nil || buses != 0 || found != nil {
		t.Errorf("%v, %d, %v", found, buses, err)
	}
	put(t, root, "a file, not a folder")
	if _, _, err := w1.Find(root, nil); err == nil {
		t.Error("a file was taken for a folder of devices")
	}
}

func TestTheEvidenceBehindAFaultIsShown(t *testing.T) {
	for _, row := range []struct {
		name, slave string
		err         error
		want        string
	}{
		{"the bytes of a chip that did not measure", powerOn, nil, `w1_slave: "50 05 4b 46 7f ff 0c 10 1c : crc=1c YES 50 05 4b 46 7f ff 0c 10 1c t=85000"`},
		{"nothing", "", nil, "w1_slave is empty: no answer, or none with a valid checksum"},
		{"an error", "", syscall.EIO, "w1_slave: input/output error"},
		{"a probe that is gone", "", os.ErrNotExist, "the kernel does not list it"},
		{"an error without a path", "", errors.New("odd"), "odd"},
	} {
		th := open(t, t.TempDir(), func(path string) ([]byte, error) {
			if row.err != nil && row.err.Error() != "odd" {
				return nil, &os.PathError{Op: "read", Path: path, Err: row.err}
			}
			return []byte(row.slave), row.err
		})
		if got := th.Evidence(); got != row.want {
			t.Errorf("%s: %q, want %q", row.name, got, row.want)
		}
	}
	if _, fault := open(t, tree(t, absent, absent), nil).Read(); fault != controller.Unplugged {
		t.Error(fault)
	}
}
