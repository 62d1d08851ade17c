package sensors

import (
	"errors"
	"path/filepath"
	"slices"
	"strings"

	"example.org/restpoint/sensors/hwmon"
	"example.org/restpoint/sensors/iio"
	"example.org/restpoint/sensors/port"
	"example.org/restpoint/sensors/w1"
)

// Board is what the kernel shows of a board. Nothing of it has been read yet.
type Board struct {
	OneWire int // how many 1-Wire buses there are
	Found   []Found
	Buses   []port.Bus
}

// Found is a thermometer, a channel of a converter, or a 1-Wire device that is
// neither.
type Found struct {
	Name    string
	Spec    Spec         // opens it, if it is a thermometer; else without a kind
	Voltage *iio.Voltage // or this is it, at the channel of the spec
	Doubts  []Doubt
}

// Doubt is what may be wrong with what was found, before it is read.
type Doubt string

// The doubts.
const (
	Parasite  Doubt = "parasite"  // it takes its power from the data line
	Unchecked Doubt = "unchecked" // the kernel hands on 85 C of a chip that did not measure
	Twin      Doubt = "twin"      // another one has the same name
	Foreign   Doubt = "foreign"   // no thermometer that can be read here
	Inner     Doubt = "inner"     // the board measures itself
	Ghost     Doubt = "ghost"     // no device at all: the kernel takes a bus that floats for one (from memory)
)

// Doubts lists every doubt.
func Doubts() []Doubt { return []Doubt{Parasite, Unchecked, Twin, Foreign, Inner, Ghost} }

// Look lists what the kernel shows under a folder such as /sys. It gives what it
// could find, even where it also gives an error. A nil read reads files.
func Look(sysfs string, read ReadFile) (Board, error) {
	var b Board
	ones, err1 := b.oneWire(filepath.Join(sysfs, "bus/w1/devices"), read)
	chips, err2 := chips(filepath.Join(sysfs, "class/hwmon"), read)
	devices, err3 := devices(filepath.Join(sysfs, "bus/iio/devices"), read)
	var err4 error
	b.Buses, err4 = port.Find(filepath.Join(sysfs, "class"), read)
	b.Found = append(append(ones, chips...), devices...)
	return b, errors.Join(err1, err2, err3, err4)
}

func (b *Board) oneWire(root string, read ReadFile) (all []Found, err error) {
	found, buses, err := w1.Find(root, read)
	b.OneWire = buses
	for _, d := range found {
		f := Found{Name: d.ID, Spec: Spec{Kind: OneWire, ID: d.ID, Root: root, Read: read}}
		switch {
		case strings.HasPrefix(d.ID, "00-"): // no family has this number
			f.Spec, f.Doubts = Spec{}, []Doubt{Ghost}
		case !d.Thermometer:
			f.Spec, f.Doubts = Spec{}, []Doubt{Foreign}
		}
		if d.Parasite {
			f.Doubts = append(f.Doubts, Parasite)
		}
		if d.Unchecked {
			f.Doubts = append(f.Doubts, Unchecked)
		}
		all = append(all, f)
	}
	return all, err
}

func chips(root string, read ReadFile) (all []Found, err error) {
	found, err := hwmon.Find(root, read)
	for _, c := range found {
		f := Found{Name: words(c.Match.Name, c.Match.Device, c.Match.Input, c.Label), Spec: Spec{Kind: Hwmon, Hwmon: c.Match, Read: read}}
		if c.Twin {
			f.Doubts = append(f.Doubts, Twin)
		}
		if c.Inner {
			f.Name, f.Doubts = words(c.Match.Name, c.Match.Input), append(f.Doubts, Inner)
		}
		all = append(all, f)
	}
	return all, err
}

func devices(root string, read ReadFile) (all []Found, err error) {
	found, err := iio.Find(root, read)
	for _, c := range found {
		f := Found{Name: words(c.Match.Name, c.Match.Label, c.Match.Channel)}
		if c.Twin {
			f.Doubts = []Doubt{Twin}
		}
		if c.Voltage {
			v, e := iio.NewVoltage(c.Match, read)
			err = errors.Join(err, e)
			f.Voltage, f.Spec.IIO = v, c.Match
		} else {
			f.Spec = Spec{Kind: IIO, IIO: c.Match, Root: root, Read: read}
		}
		all = append(all, f)
	}
	return all, err
}

// words joins what is not empty.
func words(parts ...string) string {
	return strings.Join(strings.Fields(strings.Join(parts, " ")), " ")
}

// Is tells whether a spec, such as one of a site, means this thermometer or
// measures with this channel. Several may be meant where names are not unique; then
// none of them can be read.
func (f *Found) Is(s Spec) bool {
	if f.Voltage != nil {
		return slices.ContainsFunc(s.inputs(), func(a ADC) bool { return a.Kind == OfKernel && means(a.IIO, f.Spec.IIO) })
	}
	if f.Spec.Kind != s.Kind {
		return false
	}
	switch s.Kind {
	case OneWire:
		return s.ID == f.Spec.ID
	case Hwmon:
		return s.Hwmon.Name == f.Spec.Hwmon.Name && s.Hwmon.Input == f.Spec.Hwmon.Input
	case IIO:
		return means(s.IIO, f.Spec.IIO)
	case File, RTD, NTC, Pressure: // no board shows them
	}
	return false
}

// means tells whether a name, or a label, or both, is that of a channel.
func means(m, own iio.Match) bool {
	return (m.Name == "" || m.Name == own.Name) && (m.Label == "" || m.Label == own.Label) && m.Channel == own.Channel
}

// inputs lists the channels that a probe is measured with.
func (s Spec) inputs() []ADC {
	switch s.Kind {
	case NTC:
		return []ADC{s.Thermistor.Input, s.Thermistor.Supply.Measured}
	case Pressure:
		return []ADC{s.Transducer.Input, s.Transducer.Supply.Measured}
	case OneWire, Hwmon, File, IIO, RTD:
	}
	return nil
}

// Alone tells whether only one program may read the probe. A chip that the kernel
// does not drive is asked and then answers: of two programs, the one would take the
// other's answer.
func (s Spec) Alone() bool {
	return s.Kind == RTD || slices.ContainsFunc(s.inputs(), func(a ADC) bool { return a.Kind == ADS1115 })
}
