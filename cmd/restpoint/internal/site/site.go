package site

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/sense"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles/strict"
	"example.org/restpoint/sensors"
	"example.org/restpoint/sensors/iio"
)

// Site is a board and everything that is wired to it.
type Site struct {
	Name    string
	Listen  string   // host:port
	Public  bool     // Listen can be reached from other machines
	Open    bool     // people may look without an account
	Hosts   []string // names by which the page may be asked for; empty = the machine's own
	Record  string   // path of the batch record
	Socket  string   // path of the socket that takes orders
	Sysfs   string   // where the kernel shows its devices; another folder serves to try things on
	Step    time.Duration
	Flush   time.Duration // longest time that readings wait to be written
	Quiet   Quiet
	Plant   Plant   // what the vessels share, with the chiller where one is driven
	Fuses   []Plant // further groups, without a chiller
	Sources []Source
	Vessels []Vessel

	File     string
	Warnings []strict.Problem
	Doc      *strict.Doc // Where("vessels[1].limits.highest")
}

// Plant is what the vessels share.
type Plant struct {
	Chiller Relay
	AtOnce  int      // most vessels cooled together; 0 = no limit
	Serves  []string // names of vessels
}

// Source is a device that pushes its readings, and what it must know to do so.
// Exactly one of TokenFile and Token is set.
type Source struct {
	Name      string
	TokenFile string
	Token     Secret
}

// Secret is a text that is not printed.
type Secret string

// String hides the secret.
func (Secret) String() string { return "(hidden)" }

// Format hides the secret from every verb: fmt shows the value behind String
// and GoString where a verb does not fit a text.
func (Secret) Format(f fmt.State, _ rune) { _, _ = io.WriteString(f, "(hidden)") }

// MarshalText hides the secret.
func (Secret) MarshalText() ([]byte, error) { return []byte("(hidden)"), nil }

// Reveal gives the secret itself.
func (s Secret) Reveal() string { return string(s) }

// Vessel is one fermenter as it is wired.
type Vessel struct {
	Name       string
	Volume     units.Litres
	Thermowell Probe   // that control goes by
	More       []Probe // further thermowells
	Mean       bool    // control goes by the mean of all of them
	Surround   Probe
	Around     Around // what Surround measures
	Ambient    Probe
	Hydrometer Hydrometer
	Pressure   Pressure
	Cool, Heat Relay
	Zones      []Zone // of cooling, where there are several
	Limits     controller.Limits
	SuckBack   controller.SuckBack
	Loss       units.WattsPerKelvin // of heat to its surroundings; 0 = not measured
}

// Around is what surrounds a vessel.
type Around string

// What the probe beside a vessel measures.
const (
	Jacket Around = "jacket"
	Air    Around = "air"
)

// ProbeKind is how a thermometer is read.
type ProbeKind string

// The kinds of thermometers. NoProbe is none.
const (
	NoProbe ProbeKind = ""
	OneWire ProbeKind = "one-wire"
	HWMon   ProbeKind = "hwmon"
	InFile  ProbeKind = "file"
	IIO     ProbeKind = "iio"
	RTD     ProbeKind = "rtd"
	NTC     ProbeKind = "ntc"
)

// Probe is one thermometer. Which fields count follows from the Kind.
type Probe struct {
	ID     controller.ProbeID // "fv1/thermowell"
	Kind   ProbeKind
	Device string // one-wire: its id; hwmon: the driver's name
	Input  string // hwmon: "temp1"
	Path   string // file: with thousandths of a degree Celsius

	Calibration sensors.Calibration // or its offset alone

	Channel    iio.Match          // iio; its root is the site's
	Platinum   sensors.Platinum   // rtd
	Thermistor sensors.Thermistor // ntc
}

// Hydrometer is where the gravity of a vessel comes from. Pushed is empty if it
// has none.
type Hydrometer struct {
	ID          controller.ProbeID // "fv1/hydrometer"
	Pushed      string             // name of the source
	Gravity     string             // JSON Pointer (RFC 6901) into what is pushed
	Temperature string             // the same; empty = not pushed
	Time        string             // the same: when it was measured, RFC 3339 or seconds since 1970
	Plato       bool               // the gravity is in Plato, else SG
	Fahrenheit  bool               // the temperature is in Fahrenheit, else Celsius
	Corrected   bool               // the device has allowed for the temperature itself

	Calibration sense.Calibration // makes a gravity of what is pushed, before any correction for temperature
}

// RelayKind is how a relay is driven.
type RelayKind string

// The ways to drive a relay. NoRelayFitted is none.
const (
	NoRelayFitted RelayKind = ""
	OnLine        RelayKind = "line"
	OnPin         RelayKind = "pin" // of the processor, without a character device
	OnFile        RelayKind = "file"
	Modelled      RelayKind = "modelled" // nothing is switched
	InZones       RelayKind = "zones"    // each zone has a relay of its own
)

// Relay is one relay, where it is, and how it may be used.
type Relay struct {
	Kind      RelayKind
	Chip      string // line
	Line      string // line; pin: its name
	ActiveLow bool   // line and pin
	Path      string // file
	Guard     guard.Relay
	Contact   Contact // whether it is closed, where that is measured
}

// Contact is where it is measured whether a relay's contact is closed: on a line or in
// a file that holds 0 or 1. NoRelayFitted is nowhere.
type Contact struct {
	Kind      RelayKind
	Chip      string // line
	Line      string // line
	ActiveLow bool   // line: closed at the low level
	Path      string // file
}

// Load reads a site file.
func Load(path string) (*Site, error) {
	src, err := os.ReadFile(path) //nolint:gosec // the operator names the file
	if err != nil {
		return nil, fmt.Errorf("read site: %w", err)
	}
	return Read(path, src)
}

// Read reads and checks a site. The error is a *strict.Problems that holds
// everything that is wrong.
func Read(name string, src []byte) (*Site, error) {
	doc := strict.Open(name, src)
	s := read(doc)
	if err := doc.Err(); err != nil {
		return nil, err
	}
	s.File, s.Doc, s.Warnings = name, doc, doc.Warnings()
	return s, nil
}

// Withhold is the text of a site file as it goes into the record of a batch: every
// token is replaced, and the rest stays so that it can be read again. One that is
// written in a way in which it is not found withholds the whole file.
func Withhold(src []byte, sources []Source) string {
	const instead = "withheld-from-the-record"
	text := string(src)
	for i := range sources {
		if token := sources[i].Token.Reveal(); token != "" {
			text = strings.ReplaceAll(text, token, instead)
		}
	}
	doc := strict.Open("record", []byte(text))
	again := read(doc)
	if doc.Err() != nil {
		return ""
	}
	for i := range again.Sources {
		if token := again.Sources[i].Token.Reveal(); token != "" && token != instead {
			return ""
		}
	}
	return text
}

// Vessel gives what the core has to know of a vessel.
func (s *Site) Vessel(i int) *controller.Vessel {
	v := &s.Vessels[i]
	out := &controller.Vessel{
		Name:   v.Name,
		Step:   s.Step,
		Volume: v.Volume,
		Probes: controller.Probes{
			Thermowell: v.Thermowell.ID,
			Mean:       v.Mean,
			Surround:   v.Surround.ID,
			Ambient:    v.Ambient.ID,
			Hydrometer: v.Hydrometer.ID,
			Pressure:   v.Pressure.ID,
		},
		Heat:        v.Heat.Guard,
		Cool:        v.Cool.Guard,
		Pressure:    v.Pressure.Limits,
		Limits:      v.Limits,
		SuckBack:    v.SuckBack,
		Loss:        v.Loss,
		InAir:       v.Around == Air && v.Surround.ID != "",
		Calibration: v.Hydrometer.Calibration,
	}
	for i := range v.More {
		out.Probes.More[i] = v.More[i].ID
	}
	for i := range v.Zones {
		out.Zones = append(out.Zones, v.Zones[i].Zone)
	}
	return out
}

// SharedPlant gives what the core has to know of what the vessels share.
func (s *Site) SharedPlant() *controller.Plant {
	p := s.group(&s.Plant)
	for i := range s.Fuses {
		p.Before = append(p.Before, *s.group(&s.Fuses[i]))
	}
	return p
}

func (s *Site) group(of *Plant) *controller.Plant {
	p := &controller.Plant{Serves: make([]bool, len(s.Vessels)), Chiller: of.Chiller.Guard, AtOnce: of.AtOnce}
	for _, name := range of.Serves {
		if i := s.Find(name); i >= 0 {
			p.Serves[i] = true
		}
	}
	return p
}

// Find gives the index of a vessel, or -1.
func (s *Site) Find(name string) int {
	for i := range s.Vessels {
		if s.Vessels[i].Name == name {
			return i
		}
	}
	return -1
}
