package record

import (
	"bytes"
	"compress/flate"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"math/bits"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/gravity"
	"example.org/restpoint/controller/units"
)

// The packed form, version 3: one byte of version, then a deflate stream of
// steps, each
//
//	varint   counted ms, as the difference to the step before (first: to 0)
//	varint   elapsed ms less that difference (0 in a quiet run)
//	byte     outputs: 1 actual heat, 2 actual cool, 4 heat, 8 cool; 16 quiet hours;
//	         32 verdicts follow the readings; 64 what takes long waited; 128 what is
//	         rare follows at once:
//	           byte     1 a relay's fault, 2 the record's, 4 an outage, 8 its length
//	                    is known, 16 contacts
//	           varint   the outage in ms, where there is one
//	           name     the contact of heat, then of cool, where there are any
//	uvarint  number of readings, each
//	           name     the probe
//	           byte     flags, below
//	           varint   age ms
//	           name     the quantity, where it is none of the two known
//	           name     the fault, where there is one
//	           uvarint  Celsius, where it differs from this probe's last
//	           uvarint  gravity, or the pressure of a reading of pressure, or a
//	                    hydrometer's own number, likewise
//
//	uvarint  number of verdicts, where there are any, each
//	           uvarint  which of the step's readings it is on
//	           name     the verdict
//	           uvarint  the gravity that was used, against what was read
//
// A name is the uvarint index of a name that was met before; the next free index
// brings a new one, as uvarint length and bytes. A number is the exclusive or of
// its 64 bits with the last, bytes reversed, so that values with few digits take
// few bytes. Names and last values begin anew with every pack. Version 2 is the same
// without what is rare, version 1 without verdicts too.
const (
	packVersion     = 3
	packWithoutRare = 2
	packWithoutWhys = 1
)

// The bits beside the outputs.
const (
	quietHours = 16
	judged     = 32
	hurried    = 64
	rare       = 128
)

// The bits of what is rare.
const (
	relayFault = 1 << iota
	recordFault
	afterOutage
	outageKnown
	hasContacts
	endOfRare
)

const (
	flagTemperature = 1 << iota
	flagGravity
	flagHasCelsius
	flagCorrected
	flagFault
	flagCelsiusMoved
	flagGravityMoved
	flagOtherQuantity
)

// mostRaw bounds an unpacked pack, so that a damaged one cannot fill the memory.
// A chunk is sealed at a small part of this.
const mostRaw = 256 << 10

type lastValue struct{ celsius, gravity uint64 }

type packer struct {
	buf     []byte
	names   map[string]uint64
	last    map[controller.ProbeID]lastValue
	counted int64
}

func (p *packer) add(t *Telemetry) {
	counted := t.Counted.Milliseconds()
	delta := counted - p.counted
	p.counted = counted
	p.buf = binary.AppendVarint(p.buf, delta)
	p.buf = binary.AppendVarint(p.buf, t.Elapsed.Milliseconds()-delta)
	out := levels(t.Actual) | levels(t.Outputs)<<2
	if t.Quiet {
		out |= quietHours
	}
	if t.Hurried {
		out |= hurried
	}
	if len(t.Verdicts) > 0 {
		out |= judged
	}
	more := rareOf(t)
	if more != 0 {
		out |= rare
	}
	p.buf = append(p.buf, out)
	if more != 0 {
		p.rare(t, more)
	}
	p.buf = binary.AppendUvarint(p.buf, uint64(len(t.Readings)))
	for i := range t.Readings {
		p.reading(&t.Readings[i])
	}
	if len(t.Verdicts) > 0 {
		p.verdicts(t)
	}
}

func rareOf(t *Telemetry) byte {
	var b byte
	for bit, so := range []bool{t.RelayFault, t.RecordFault, t.Gap.Length != 0, t.Gap.Known, t.Contacts != controller.Contacts{}} {
		if so {
			b |= 1 << bit
		}
	}
	return b
}

func (p *packer) rare(t *Telemetry, more byte) {
	p.buf = append(p.buf, more)
	if more&afterOutage != 0 {
		p.buf = binary.AppendVarint(p.buf, t.Gap.Length.Milliseconds())
	}
	if more&hasContacts != 0 {
		p.name(string(t.Contacts.Heat))
		p.name(string(t.Contacts.Cool))
	}
}

func (p *packer) verdicts(t *Telemetry) {
	p.buf = binary.AppendUvarint(p.buf, uint64(len(t.Verdicts)))
	for _, v := range t.Verdicts {
		read := math.Float64bits(t.Readings[v.Reading].Value.Raw())
		p.buf = binary.AppendUvarint(p.buf, uint64(v.Reading))
		p.name(string(v.Verdict))
		p.buf = binary.AppendUvarint(p.buf, bits.ReverseBytes64(read^math.Float64bits(float64(v.Used))))
	}
}

func (p *packer) reading(r *controller.Reading) {
	if p.last == nil {
		p.last = map[controller.ProbeID]lastValue{}
	}
	was := p.last[r.Probe]
	now := lastValue{math.Float64bits(float64(r.Value.Celsius)), math.Float64bits(float64(r.Value.Gravity))}
	switch r.Value.Quantity {
	case controller.GaugePressure:
		now.gravity = math.Float64bits(float64(r.Value.Gauge))
	case controller.OwnNumber:
		now.gravity = math.Float64bits(r.Value.Number)
	default:
	}
	p.last[r.Probe] = now
	flags := flagsOf(r, was, now)
	p.name(string(r.Probe))
	p.buf = append(p.buf, flags)
	p.buf = binary.AppendVarint(p.buf, r.Age.Milliseconds())
	if flags&flagOtherQuantity != 0 {
		p.name(string(r.Value.Quantity))
	}
	if flags&flagFault != 0 {
		p.name(string(r.Fault))
	}
	if flags&flagCelsiusMoved != 0 {
		p.buf = binary.AppendUvarint(p.buf, bits.ReverseBytes64(was.celsius^now.celsius))
	}
	if flags&flagGravityMoved != 0 {
		p.buf = binary.AppendUvarint(p.buf, bits.ReverseBytes64(was.gravity^now.gravity))
	}
}

func flagsOf(r *controller.Reading, was, now lastValue) byte {
	var f byte
	set := func(flag byte, so bool) {
		if so {
			f |= flag
		}
	}
	q := r.Value.Quantity
	set(flagTemperature, q == controller.Temperature)
	set(flagGravity, q == controller.SpecificGravity)
	set(flagOtherQuantity, q != "" && q != controller.Temperature && q != controller.SpecificGravity)
	set(flagHasCelsius, r.Value.HasCelsius)
	set(flagCorrected, r.Value.Corrected)
	set(flagFault, r.Fault != controller.NoFault)
	set(flagCelsiusMoved, was.celsius != now.celsius)
	set(flagGravityMoved, was.gravity != now.gravity)
	return f
}

func (p *packer) name(s string) {
	if p.names == nil {
		p.names = map[string]uint64{}
	}
	i, known := p.names[s]
	if !known {
		i = uint64(len(p.names))
		p.names[s] = i
	}
	p.buf = binary.AppendUvarint(p.buf, i)
	if !known {
		p.buf = binary.AppendUvarint(p.buf, uint64(len(s)))
		p.buf = append(p.buf, s...)
	}
}

// bytes is the pack as it is stored.
func (p *packer) bytes() ([]byte, error) {
	var out bytes.Buffer
	out.WriteByte(packVersion)
	w, err := flate.NewWriter(&out, flate.DefaultCompression)
	if err != nil {
		return nil, fmt.Errorf("pack telemetry: %w", err)
	}
	if _, err := w.Write(p.buf); err != nil {
		return nil, fmt.Errorf("pack telemetry: %w", err)
	}
	if err := w.Close(); err != nil {
		return nil, fmt.Errorf("pack telemetry: %w", err)
	}
	return out.Bytes(), nil
}

func levels(o controller.Outputs) byte {
	var b byte
	if o.Heat {
		b |= 1
	}
	if o.Cool {
		b |= 2
	}
	return b
}

// Pack puts steps of one vessel into the form in which they are stored. Vessel,
// batch and wall clock are not in it: they are columns beside it.
func Pack(steps []Telemetry) ([]byte, error) {
	var p packer
	for i := range steps {
		p.add(&steps[i])
	}
	if len(p.buf) > mostRaw {
		return nil, fmt.Errorf("pack telemetry: %d bytes are more than the %d that can be read back", len(p.buf), mostRaw)
	}
	return p.bytes()
}

// Unpack is the reverse of Pack. It takes any bytes and never panics.
func Unpack(pack []byte) ([]Telemetry, error) {
	if len(pack) == 0 || pack[0] < packWithoutWhys || pack[0] > packVersion {
		return nil, fmt.Errorf("unpack telemetry: not a pack of a version from %d to %d", packWithoutWhys, packVersion)
	}
	raw, err := io.ReadAll(io.LimitReader(flate.NewReader(bytes.NewReader(pack[1:])), mostRaw+1))
	if err != nil {
		return nil, fmt.Errorf("unpack telemetry: %w", err)
	}
	if len(raw) > mostRaw {
		return nil, fmt.Errorf("unpack telemetry: more than %d bytes", mostRaw)
	}
	u := unpacker{raw: raw, last: map[string]lastValue{}, most: hurried}
	switch pack[0] {
	case packVersion:
		u.most = rare
	case packWithoutWhys:
		u.most = quietHours
	}
	var steps []Telemetry
	for len(u.raw) > 0 && !u.bad {
		steps = append(steps, u.step())
	}
	if u.bad {
		return nil, fmt.Errorf("unpack telemetry: damaged after %d steps", max(0, len(steps)-1))
	}
	return steps, nil
}

type unpacker struct {
	raw     []byte
	names   []string
	last    map[string]lastValue
	counted int64
	most    byte // the highest bit beside the outputs that a pack of its version has
	bad     bool
}

func (u *unpacker) step() Telemetry {
	delta := u.varint()
	u.counted += delta
	t := Telemetry{Counted: u.ms(u.counted), Elapsed: u.ms(u.varint() + delta)}
	out := u.byte()
	u.bad = u.bad || out/2 >= u.most
	t.Quiet, t.Hurried = out&quietHours != 0, out&hurried != 0
	t.Actual = controller.Outputs{Heat: out&1 != 0, Cool: out&2 != 0}
	t.Outputs = controller.Outputs{Heat: out&4 != 0, Cool: out&8 != 0}
	if out&rare != 0 {
		u.rare(&t)
	}
	for n := u.uvarint(); n > 0 && !u.bad; n-- {
		t.Readings = append(t.Readings, u.reading())
	}
	if out&judged == 0 {
		return t
	}
	for n := u.uvarint(); n > 0 && !u.bad; n-- {
		t.Verdicts = append(t.Verdicts, u.verdict(t.Readings))
	}
	return t
}

func (u *unpacker) rare(t *Telemetry) {
	more := u.byte()
	u.bad = u.bad || more >= endOfRare
	t.RelayFault, t.RecordFault, t.Gap.Known = more&relayFault != 0, more&recordFault != 0, more&outageKnown != 0
	if more&afterOutage != 0 {
		t.Gap.Length = u.ms(u.varint())
	}
	if more&hasContacts != 0 {
		t.Contacts.Heat = controller.Contact(u.name())
		t.Contacts.Cool = controller.Contact(u.name())
	}
}

// verdict reads one, on one of the step's readings.
func (u *unpacker) verdict(of []controller.Reading) controller.ReadingVerdict {
	i := u.uvarint()
	if i >= uint64(len(of)) {
		u.bad = true
		return controller.ReadingVerdict{}
	}
	v := controller.ReadingVerdict{Reading: int(i), Probe: of[i].Probe, Raw: of[i].Value.Raw(), Verdict: gravity.Verdict(u.name())}
	v.Used = units.Gravity(math.Float64frombits(bits.ReverseBytes64(u.uvarint()) ^ math.Float64bits(v.Raw)))
	return v
}

func (u *unpacker) reading() controller.Reading {
	name := u.name()
	flags := u.byte()
	r := controller.Reading{Probe: controller.ProbeID(name), Age: u.ms(u.varint())}
	switch flags & (flagTemperature | flagGravity | flagOtherQuantity) {
	case 0:
	case flagTemperature:
		r.Value.Quantity = controller.Temperature
	case flagGravity:
		r.Value.Quantity = controller.SpecificGravity
	case flagOtherQuantity:
		r.Value.Quantity = controller.Quantity(u.name())
	default:
		u.bad = true
	}
	if flags&flagFault != 0 {
		r.Fault = controller.Fault(u.name())
	}
	v := u.last[name]
	if flags&flagCelsiusMoved != 0 {
		v.celsius ^= bits.ReverseBytes64(u.uvarint())
	}
	if flags&flagGravityMoved != 0 {
		v.gravity ^= bits.ReverseBytes64(u.uvarint())
	}
	u.last[name] = v
	r.Value.Celsius = units.Celsius(math.Float64frombits(v.celsius))
	switch f := math.Float64frombits(v.gravity); r.Value.Quantity {
	case controller.GaugePressure:
		r.Value.Gauge = units.Pascals(f)
	case controller.OwnNumber:
		r.Value.Number = f
	default:
		r.Value.Gravity = units.Gravity(f)
	}
	r.Value.HasCelsius, r.Value.Corrected = flags&flagHasCelsius != 0, flags&flagCorrected != 0
	return r
}

func (u *unpacker) name() string {
	i := u.uvarint()
	if i < uint64(len(u.names)) {
		return u.names[i]
	}
	n := u.uvarint()
	if i > uint64(len(u.names)) || n > uint64(len(u.raw)) {
		u.bad = true
		return ""
	}
	s := string(u.raw[:n])
	u.raw = u.raw[n:]
	u.names = append(u.names, s)
	return s
}

// ms refuses what a duration cannot hold.
func (u *unpacker) ms(n int64) time.Duration {
	const most = math.MaxInt64 / int64(time.Millisecond)
	if n > most || n < -most {
		u.bad = true
		return 0
	}
	return time.Duration(n) * time.Millisecond
}

func (u *unpacker) byte() byte {
	if len(u.raw) == 0 {
		u.bad = true
		return 0
	}
	b := u.raw[0]
	u.raw = u.raw[1:]
	return b
}

func (u *unpacker) varint() int64 {
	v, n := binary.Varint(u.raw)
	u.skip(n)
	return v
}

func (u *unpacker) uvarint() uint64 {
	v, n := binary.Uvarint(u.raw)
	u.skip(n)
	return v
}

func (u *unpacker) skip(n int) {
	if n <= 0 {
		u.bad = true
		u.raw = nil
		return
	}
	u.raw = u.raw[n:]
}
