package w1

import (
	"bytes"
	"encoding/hex"
	"path/filepath"
	"strings"

	"example.org/restpoint/controller"
	"example.org/restpoint/sensors/internal/sysfs"
)

// scratchpad is the length of what the chip answers: eight bytes and their
// checksum (DS18B20 data sheet).
const scratchpad = 9

// reserved is the byte by which the kernel tells the power-on value from a true
// 85 C: 0x0c until the first conversion (kernel, w1_therm).
const (
	reserved   = 6
	unmeasured = 0x0c
)

// evidence is what w1_slave says:
//
//	91 01 4b 46 7f ff 0f 10 25 : crc=25 YES
//	91 01 4b 46 7f ff 0f 10 25 t=25062
type evidence struct {
	bytes [scratchpad]byte
	milli sysfs.Milli
	fault controller.Fault
}

func (t *Thermometer) evidence() evidence {
	data, err := t.read(filepath.Join(t.dir, "w1_slave"))
	if err != nil {
		return evidence{fault: sysfs.FaultOf(err)}
	}
	return parseSlave(data)
}

func parseSlave(data []byte) evidence {
	if len(bytes.TrimSpace(data)) == 0 {
		return evidence{fault: controller.EmptyRead}
	}
	first, second, whole := strings.Cut(string(data), "\n")
	if strings.HasSuffix(strings.TrimSpace(first), "NO") {
		// Old kernels then repeat the bytes and the value of the last good read.
		return evidence{fault: controller.BadChecksum}
	}
	shown, verdict, found := strings.Cut(first, ":")
	raw, err := hex.DecodeString(strings.ReplaceAll(strings.TrimSpace(shown), " ", ""))
	if !whole || !found || err != nil || len(raw) != scratchpad || !strings.HasSuffix(strings.TrimSpace(verdict), "YES") {
		return evidence{fault: controller.Unreadable}
	}
	_, number, found := strings.Cut(second, "t=")
	if !found {
		return evidence{fault: controller.Unreadable}
	}
	e := evidence{bytes: [scratchpad]byte(raw)}
	e.milli, e.fault = sysfs.Parse([]byte(number))
	if e.fault == controller.EmptyRead {
		e.fault = controller.Unreadable
	}
	return e
}

// noReading tells the contents of a chip that did not measure, and of a bus that
// is stuck low: nine zeros carry a valid checksum.
func (e evidence) noReading() controller.Fault {
	switch {
	case e.milli == powerOn && e.bytes[reserved] == unmeasured:
		return controller.PowerOnValue
	case e.bytes == [scratchpad]byte{}:
		return controller.BusError
	}
	return controller.NoFault
}
