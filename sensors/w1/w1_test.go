package w1_test

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors/w1"
)

const id = "28-000001318252"

// Scratchpads and checksums as the kernel prints them (DS18B20 data sheet, table
// 1, with alarm limits 4b 46 and 12 bits; checksums computed by the polynomial
// x^8 + x^5 + x^4 + 1 of its section on the memory).
const (
	good     = "91 01 4b 46 7f ff 0f 10 25 : crc=25 YES\n91 01 4b 46 7f ff 0f 10 25 t=25062\n"
	damaged  = "91 01 4b 46 7f ff 0f 10 25 : crc=3a NO\n91 01 4b 46 7f ff 0f 10 25 t=25062\n"
	powerOn  = "50 05 4b 46 7f ff 0c 10 1c : crc=1c YES\n50 05 4b 46 7f ff 0c 10 1c t=85000\n"
	hot      = "50 05 4b 46 7f ff 10 10 bd : crc=bd YES\n50 05 4b 46 7f ff 10 10 bd t=85000\n" // byte 6 of a finished conversion
	starved  = "ff 07 4b 46 7f ff 0c 10 a6 : crc=a6 YES\nff 07 4b 46 7f ff 0c 10 a6 t=127937\n"
	freezing = "00 00 4b 46 7f ff 10 10 69 : crc=69 YES\n00 00 4b 46 7f ff 10 10 69 t=0\n"
	stuckLow = "00 00 00 00 00 00 00 00 00 : crc=00 YES\n00 00 00 00 00 00 00 00 00 t=0\n"
)

// absent as a file's contents means that there is no such file.
const absent = "\x00"

// tree builds the device's folder in a new root.
func tree(t *testing.T, hwmon, slave string) string {
	t.Helper()
	root := t.TempDir()
	dir := filepath.Join(root, id)
	put(t, filepath.Join(dir, "name"), id+"\n")
	if hwmon != absent {
		put(t, filepath.Join(dir, "hwmon", "hwmon3", "temp1_input"), hwmon)
	}
	if slave != absent {
		put(t, filepath.Join(dir, "w1_slave"), slave)
	}
	return root
}

func put(t *testing.T, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

func open(t *testing.T, root string, read func(string) ([]byte, error)) *w1.Thermometer {
	t.Helper()
	th, err := w1.New(root, id, read)
	if err != nil {
		t.Fatal(err)
	}
	return th
}

func check(t *testing.T, th *w1.Thermometer, want units.Celsius, fault controller.Fault) {
	t.Helper()
	got, gotFault := th.Read()
	if got != want || gotFault != fault {
		t.Errorf("read %v, fault %q; want %v, fault %q", got, gotFault, want, fault)
	}
}

// The registers are those of the data sheet's table 1, the milli-degrees what the
// kernel makes of them: it cuts towards zero.
func TestValuesOfTheDataSheetComeOutExactly(t *testing.T) {
	rows := []struct {
		milli string
		want  units.Celsius
	}{
		{"125000", 125},
		{"25062", 25.0625},
		{"10125", 10.125},
		{"500", 0.5},
		{"-500", -0.5},
		{"-10125", -10.125},
		{"-25062", -25.0625},
		{"-55000", -55},
	}
	for _, row := range rows {
		t.Run(row.milli, func(t *testing.T) {
			check(t, open(t, tree(t, row.milli+"\n", absent), nil), row.want, controller.NoFault)
			slave := "91 01 4b 46 7f ff 0f 10 25 : crc=25 YES\n91 01 4b 46 7f ff 0f 10 25 t=" + row.milli + "\n"
			check(t, open(t, tree(t, absent, slave), nil), row.want, controller.NoFault)
		})
	}
}

// Every step of the chip within a degree of freezing, where a wrong guess of the
// unit would turn a cold tank into a hot one.
func TestUnitIsNeverGuessedNearFreezing(t *testing.T) {
	for _, row := range []struct {
		milli string
		want  units.Celsius
	}{
		{"-62", -0.0625},
		{"62", 0.0625},
		{"99", 0.125},
		{"100", 0.125},
		{"-125", -0.125},
		{"-1000", -1},
		{"-937", -0.9375},
		{"937", 0.9375},
	} {
		check(t, open(t, tree(t, row.milli+"\n", freezing), nil), row.want, controller.NoFault)
	}
	th := open(t, tree(t, "0\n", freezing), nil)
	check(t, th, 0, controller.NoFault)
}

func TestEverySixteenthIsRebuilt(t *testing.T) {
	files := map[string]string{}
	root := tree(t, "", freezing)
	th := open(t, root, func(path string) ([]byte, error) { return []byte(files[filepath.Base(path)]), nil })
	files["w1_slave"] = freezing
	for raw := -55 * 16; raw <= 125*16; raw++ {
		if raw == 85*16 {
			continue // the power-on value has its own test
		}
		files["temp1_input"] = strconv.Itoa(raw*1000/16) + "\n" // Go's division cuts towards zero, like the kernel's
		check(t, th, units.Celsius(float64(raw)/16), controller.NoFault)
	}
}

func TestEveryFaultOfTheFilesIsNamed(t *testing.T) {
	rows := []struct {
		name         string
		hwmon, slave string
		want         units.Celsius
		fault        controller.Fault
	}{
		{"an empty file without an error", "", good, 0, controller.EmptyRead},
		{"an empty w1_slave without hwmon", absent, "", 0, controller.EmptyRead},
		{"a w1_slave of a line end only", absent, "\n", 0, controller.EmptyRead},
		{"a damaged checksum, with the last good value repeated", absent, damaged, 0, controller.BadChecksum},
		{"85 C with the byte of a chip that never converted", "85000\n", powerOn, 0, controller.PowerOnValue},
		{"85 C with that byte, without hwmon", absent, powerOn, 0, controller.PowerOnValue},
		{"a true 85 C, told by the other byte", "85000\n", hot, 85, controller.NoFault},
		{"a true 85 C without hwmon", absent, hot, 85, controller.NoFault},
		{"85 C that the next conversion denies", "85000\n", good, 0, controller.PowerOnValue},
		{"85 C and no evidence", "85000\n", "", 0, controller.PowerOnValue},
		{"85 C and damaged evidence", "85000\n", damaged, 0, controller.PowerOnValue},
		{"85 C and no w1_slave", "85000\n", absent, 0, controller.PowerOnValue},
		{"too little power", "127937\n", starved, 0, controller.PowerOnValue},
		{"too little power, cut to three digits", "127940\n", absent, 0, controller.PowerOnValue},
		{"too little power without hwmon", absent, starved, 0, controller.PowerOnValue},
		{"a zero of a bus stuck low", "0\n", stuckLow, 0, controller.BusError},
		{"a zero of a bus stuck low, without hwmon", absent, stuckLow, 0, controller.BusError},
		{"a true zero", "0\n", freezing, 0, controller.NoFault},
		{"a zero that the next conversion does not repeat", "0\n", good, 0, controller.NoFault},
		{"a zero and damaged evidence", "0\n", damaged, 0, controller.BadChecksum},
		{"a number cut short", "250", good, 0, controller.Unreadable},
		{"a number with a unit", "25.062 C\n", good, 0, controller.Unreadable},
		{"words", "fault\n", good, 0, controller.Unreadable},
		{"a line end only", "\n", good, 0, controller.Unreadable},
		{"a huge number", "99999999999999999999999\n", good, 0, controller.OutOfRange},
		{"a number beyond any sensor", "2500001\n", good, 0, controller.OutOfRange},
		{"colder than absolute zero", "-273151\n", good, 0, controller.OutOfRange},
		{"one step above the chip's range", "125062\n", good, 0, controller.OutOfRange},
		{"one step below the chip's range", "-55062\n", good, 0, controller.OutOfRange},
		{"w1_slave cut after its first line", absent, "91 01 4b 46 7f ff 0f 10 25 : crc=25 YES\n", 0, controller.Unreadable},
		{"w1_slave cut within its first line", absent, "91 01 4b 46 7f ff 0f 10 25 : crc=25 YES", 0, controller.Unreadable},
		{"w1_slave cut within its bytes", absent, "91 01 4b 46\n", 0, controller.Unreadable},
		{"w1_slave with a byte too few", absent, strings.ReplaceAll(good, "91 01", "91"), 0, controller.Unreadable},
		{"w1_slave with a byte too many", absent, strings.ReplaceAll(good, "91 01", "91 01 00"), 0, controller.Unreadable},
		{"w1_slave cut within its number", absent, strings.TrimSuffix(good, "62\n"), 0, controller.Unreadable},
		{"w1_slave cut before its number", absent, strings.TrimSuffix(good, "25062\n"), 0, controller.Unreadable},
		{"w1_slave without t=", absent, strings.ReplaceAll(good, "t=", "x="), 0, controller.Unreadable},
		{"w1_slave with a value that is no number", absent, strings.ReplaceAll(good, "25062", "twenty"), 0, controller.Unreadable},
		{"w1_slave with bytes that are none", absent, strings.ReplaceAll(good, "91", "zz"), 0, controller.Unreadable},
		{"w1_slave without YES", absent, strings.ReplaceAll(good, "YES", "   "), 0, controller.Unreadable},
		{"a good w1_slave without hwmon", absent, good, 25.0625, controller.NoFault},
		{"a folder with nothing in it", absent, absent, 0, controller.Unplugged},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			check(t, open(t, tree(t, row.hwmon, row.slave), nil), row.want, row.fault)
		})
	}
}

// Errors that a plain file cannot give, as a 6.1 kernel gave them.
func TestEveryErrorOfTheKernelIsNamed(t *testing.T) {
	rows := []struct {
		name  string
		hwmon error
		slave string
		err   error // of w1_slave
		fault controller.Fault
	}{
		{"a checksum wrong five times: EIO, and w1_slave is empty", syscall.EIO, "", nil, controller.BadChecksum},
		{"a checksum wrong on an old kernel", syscall.EIO, damaged, nil, controller.BadChecksum},
		{"EIO although the chip answers well", syscall.EIO, good, nil, controller.BusError},
		{"EIO twice", syscall.EIO, "", syscall.EIO, controller.BusError},
		{"EIO, and then the probe is gone", syscall.EIO, "", syscall.ENODEV, controller.Unplugged},
		{"no presence pulse", syscall.ENODEV, "", nil, controller.Unplugged},
		{"removed while it was read", syscall.ENOENT, "", syscall.ENOENT, controller.Unplugged},
		{"no right to read", syscall.EACCES, good, nil, controller.BusError},
		{"the bus gave up", syscall.ETIMEDOUT, good, nil, controller.TimedOut},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			reads := 0
			th := open(t, tree(t, "", ""), func(path string) ([]byte, error) {
				reads++
				if filepath.Base(path) == "temp1_input" {
					return nil, &os.PathError{Op: "read", Path: path, Err: row.hwmon}
				}
				return []byte(row.slave), row.err
			})
			check(t, th, 0, row.fault)
			if reads > 2 {
				t.Errorf("%d reads of 0.8 s each; want at most 2", reads)
			}
		})
	}
}

func TestAGoodValueIsReadOnce(t *testing.T) {
	var paths []string
	th := open(t, tree(t, "", ""), func(path string) ([]byte, error) {
		paths = append(paths, filepath.Base(path))
		return []byte("19062\n"), nil
	})
	check(t, th, 19.0625, controller.NoFault)
	if len(paths) != 1 || paths[0] != "temp1_input" {
		t.Errorf("read %v; want temp1_input alone", paths)
	}
}

func TestAProbeThatComesBackUnderAnotherNumberIsFound(t *testing.T) {
	root := tree(t, "19062\n", good)
	th := open(t, root, nil)
	check(t, th, 19.0625, controller.NoFault)

	if err := os.RemoveAll(filepath.Join(root, id)); err != nil {
		t.Fatal(err)
	}
	check(t, th, 0, controller.Unplugged)

	put(t, filepath.Join(root, id, "hwmon", "hwmon11", "temp1_input"), "4000\n")
	check(t, th, 4, controller.NoFault)
}

func TestAnInputThatGoesBetweenLookingAndReadingFallsBack(t *testing.T) {
	th := open(t, tree(t, "19062\n", good), func(path string) ([]byte, error) {
		if filepath.Base(path) == "temp1_input" {
			return nil, os.ErrNotExist
		}
		return []byte(good), nil
	})
	check(t, th, 25.0625, controller.NoFault)
}

func TestOnlyIdsOfThermometersAreTaken(t *testing.T) {
	for _, bad := range []string{"", "28-", "10-000001318252", "28-00000131825", "28-0000013182522", "28-00000131825G", "../28-000001318252", "28-00000131825A"} {
		if _, err := w1.New("", bad, nil); err == nil {
			t.Errorf("%q was taken for an id", bad)
		}
	}
	th := open(t, "", nil)
	if th.String() != "1-wire 28-000001318252" || th.Bus() != "w1" {
		t.Errorf("named %q on bus %q", th, th.Bus())
	}
}

func FuzzSlaveTextNeverPanicsNorGivesAnImpossibleValue(f *testing.F) {
	for _, seed := range []string{good, damaged, powerOn, hot, starved, freezing, stuckLow, ""} {
		f.Add(seed, seed)
	}
	root := f.TempDir()
	if err := os.MkdirAll(filepath.Join(root, id, "hwmon", "hwmon0"), 0o700); err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, hwmon, slave string) {
		th := open(t, root, func(path string) ([]byte, error) {
			if filepath.Base(path) == "w1_slave" {
				return []byte(slave), nil
			}
			return []byte(hwmon), nil
		})
		got, fault := th.Read()
		if fault != controller.NoFault && got != 0 {
			t.Errorf("a fault %q with the value %v", fault, got)
		}
		if !(got >= -55 && got <= 125) {
			t.Errorf("%v is beyond what the chip can measure", got)
		}
	})
}
