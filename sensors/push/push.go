// Package push takes the readings of hydrometers that come by HTTP. It refuses
// what it cannot read for certain: an unknown or unproven source, a gravity that
// no fermenter holds, a time that is not now, the same reading twice. It never
// waits for whoever takes the readings.
package push

import (
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	"golang.org/x/time/rate"

	"example.org/restpoint/controller"
)

// Prefix is the path of all sources; the name of one follows it.
const Prefix = "/api/v1/readings/"

// Units of a source.
const (
	UnitGravity    = "SG"
	UnitPlato      = "P"
	UnitCelsius    = "C"
	UnitFahrenheit = "F"
)

// Source is one hydrometer that may push. Pointers are JSON Pointers (RFC 6901)
// into its body. An empty gravity pointer means the whole body; another one that
// is empty means that the field is not sent.
type Source struct {
	Name               string
	Probe              controller.ProbeID
	TokenHash          [32]byte // SHA-256 of the bearer token
	GravityPointer     string
	TemperaturePointer string
	TimePointer        string // RFC 3339, or seconds since 1970
	BatteryPointer     string
	GravityUnit        string // SG or P; neither with OwnNumber
	OwnNumber          bool   // the gravity pointer leads to any number: a calibration makes a gravity of it
	TemperatureUnit    string // C or F; needed with a temperature pointer
	Corrected          bool   // the source allows for the temperature of its sample
}

// Delivery is one reading that was taken.
type Delivery struct {
	Source     string
	Reading    controller.Reading
	Measured   time.Time // as the source says; zero = it does not
	Battery    float64   // in the unit of the source
	HasBattery bool
}

// Deliver hands a reading on. It must not wait: false says that there is no room,
// and the source is told to come again.
type Deliver func(Delivery) bool

// Handler answers POST to Prefix and the name of a source.
type Handler struct {
	// Now gives the time. It is time.Now unless a test has changed it.
	Now func() time.Time
	// ClockSet tells whether the time is right. A board without a clock battery
	// may not know it yet; then a time that a source says is no reason to refuse
	// its reading, and no measure of its age. Nil means that it is always right.
	ClockSet func() bool

	sources map[string]*source
	deliver Deliver
}

// source is a Source with its pointers read, and what is remembered of it.
type source struct {
	Source
	gravity, temperature, time, battery pointer
	limit                               *rate.Limiter

	mu   sync.Mutex
	last memory
}

// New makes a handler. All that is wrong with the sources is said at once.
func New(sources []Source, deliver Deliver) (*Handler, error) {
	h := &Handler{Now: time.Now, sources: map[string]*source{}, deliver: deliver}
	var errs []error
	if deliver == nil {
		errs = append(errs, errors.New("nobody takes the readings"))
	}
	for _, s := range sources {
		if h.sources[s.Name] != nil {
			errs = append(errs, fmt.Errorf("source %q is there twice", s.Name))
		}
		made, err := s.make()
		if err != nil {
			errs = append(errs, fmt.Errorf("source %q: %w", s.Name, err))
		}
		h.sources[s.Name] = made
	}
	return h, errors.Join(errs...)
}

func (s Source) make() (*source, error) {
	made := &source{Source: s, limit: rate.NewLimiter(perSecond, burst)}
	var errs []error
	read := func(text string) pointer {
		p, err := parsePointer(text)
		if err != nil {
			errs = append(errs, err)
		}
		return p
	}
	made.gravity, made.temperature = read(s.GravityPointer), read(s.TemperaturePointer)
	made.time, made.battery = read(s.TimePointer), read(s.BatteryPointer)
	if s.Name == "" || strings.ContainsAny(s.Name, "/?#% ") {
		errs = append(errs, errors.New("a name is needed that can stand in a path"))
	}
	if s.TokenHash == [32]byte{} {
		errs = append(errs, errors.New("a token is needed"))
	}
	if !s.OwnNumber && s.GravityUnit != UnitGravity && s.GravityUnit != UnitPlato {
		errs = append(errs, fmt.Errorf("the unit of gravity is %s or %s, not %q", UnitGravity, UnitPlato, s.GravityUnit))
	}
	if s.TemperaturePointer != "" && s.TemperatureUnit != UnitCelsius && s.TemperatureUnit != UnitFahrenheit {
		errs = append(errs, fmt.Errorf("the unit of temperature is %s or %s, not %q", UnitCelsius, UnitFahrenheit, s.TemperatureUnit))
	}
	return made, errors.Join(errs...)
}
