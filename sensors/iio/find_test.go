package iio_test

import (
	"os"
	"path/filepath"
	"reflect"
	"syscall"
	"testing"

	"example.org/restpoint/controller"
	"example.org/restpoint/sensors/iio"
)

func TestEveryChannelOfEveryDeviceIsListed(t *testing.T) {
	root := t.TempDir()
	device(t, root, "iio:device0", "ads1015", "in_voltage0_raw", "825\n", "in_voltage10_raw", "1\n", "in_voltage2_raw", "2\n",
		"in_voltage0-voltage1_raw", "3\n", "in_voltage_scale", "2\n", "in_voltage0_sampling_frequency", "1600\n")
	device(t, root, "iio:device1", "tmp117", "in_temp_raw", "2368\n", "in_temp_scale", "7.8125\n", "label", "cone\n")
	device(t, root, "iio:device2", "tmp117", "in_temp_raw", "2368\n", "in_temp_scale", "7.8125\n", "label", "lid\n")
	device(t, root, "iio:device3", "mlx", "in_temp_ambient_raw", "1\n", "in_temp_object_raw", "1\n", "in_temp_object_input", "20000\n")
	device(t, root, "iio:device4", "mlx", "in_temp_object_input", "20000\n")
	device(t, root, "iio:device5", "accelerometer", "in_accel_x_raw", "1\n")
	device(t, root, "trigger0", "tmp117", "in_temp_raw", "1\n")
	at := func(name, label, channel string) iio.Match {
		return iio.Match{Root: root, Name: name, Label: label, Channel: channel}
	}
	want := []iio.Found{
		{Match: at("ads1015", "", "voltage0"), Voltage: true},
		{Match: at("ads1015", "", "voltage2"), Voltage: true},
		{Match: at("ads1015", "", "voltage10"), Voltage: true},
		{Match: at("ads1015", "", "voltage0-voltage1"), Voltage: true},
		{Match: at("mlx", "", "temp_object"), Twin: true},
		{Match: at("mlx", "", "temp_object"), Twin: true},
		{Match: at("mlx", "", "temp_ambient"), Twin: true},
		{Match: at("tmp117", "cone", "temp")},
		{Match: at("tmp117", "lid", "temp")},
	}
	found, err := iio.Find(root, nil)
	if err != nil || !reflect.DeepEqual(found, want) {
		t.Fatalf("%v\ngot  %+v\nwant %+v", err, found, want)
	}
	check(t, thermometer(t, found[8].Match), 18.5, controller.NoFault)
	check(t, thermometer(t, found[4].Match), 0, controller.BusError) // which of the two, nobody knows
}

func TestAMachineWithoutDevicesHasNoChannels(t *testing.T) {
	root := filepath.Join(t.TempDir(), "none")
	if found, err := iio.Find(root, nil); err != nil || found != nil {
		t.Errorf("%v, %v", found, err)
	}
	if err := os.WriteFile(root, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := iio.Find(root, nil); err == nil {
		t.Error("a file was taken for a folder of devices")
	}
}

func TestTheEvidenceBehindAFaultIsShown(t *testing.T) {
	root := t.TempDir()
	device(t, root, "iio:device0", "counts", "in_temp_raw", "2368\n")
	device(t, root, "iio:device1", "degrees", "in_temp_input", "0\n")
	device(t, root, "iio:device2", "twin", "in_temp_input", "1\n")
	device(t, root, "iio:device3", "twin", "in_temp_input", "1\n")
	device(t, root, "iio:device4", "dead", "in_temp_raw", "1\n", "in_temp_scale", "x\n")
	device(t, root, "iio:device5", "empty")
	for name, want := range map[string]string{
		"counts":  `in_temp_raw: "2368"`,
		"degrees": `in_temp_input: "0"`,
		"twin":    "several devices are called twin",
		"none":    "no device is called none",
		"dead":    `in_temp_raw: input/output error, in_temp_scale: "x"`,
		"empty":   "the device has no channel temp",
	} {
		th, err := iio.NewThermometer(iio.Match{Root: root, Name: name, Channel: "temp"}, func(path string) ([]byte, error) {
			if path == filepath.Join(root, "iio:device4", "in_temp_raw") {
				return nil, &os.PathError{Op: "read", Path: path, Err: syscall.EIO}
			}
			return os.ReadFile(path)
		})
		if err != nil {
			t.Fatal(err)
		}
		if got := th.Evidence(); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
}
