package main

import (
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"example.org/restpoint/cmd/restpoint/internal/site"
	"example.org/restpoint/controller/relay"
	"example.org/restpoint/sensors"
	"example.org/restpoint/sensors/hwmon"
)

// relaySpecs gives every relay of the site.
func relaySpecs(s *site.Site) (vessels []string, specs []relay.Spec) {
	for i := range s.Vessels {
		v := &s.Vessels[i]
		vessels = append(vessels, v.Name)
		specs = appendRelay(specs, v.Name, relay.Heat, &v.Heat)
		specs = appendRelay(specs, v.Name, relay.Cool, &v.Cool)
		for z := range v.Zones {
			was := len(specs)
			if specs = appendRelay(specs, v.Name, relay.Cool, &v.Zones[z].Relay); len(specs) > was {
				specs[was].Zone = v.Zones[z].Name
			}
		}
	}
	return vessels, appendRelay(specs, "", relay.Chiller, &s.Plant.Chiller)
}

func appendRelay(specs []relay.Spec, vessel string, role relay.Role, r *site.Relay) []relay.Spec {
	spec := relay.Spec{Vessel: vessel, Role: role, Chip: r.Chip, Line: r.Line, ActiveLow: r.ActiveLow, Path: r.Path}
	switch r.Kind {
	case site.NoRelayFitted, site.InZones:
		return specs
	case site.OnLine:
		spec.Kind = relay.Pin
	case site.OnPin:
		spec.Kind = relay.HostPin
	case site.OnFile:
		spec.Kind = relay.File
	case site.Modelled:
		spec.Kind, spec.Modelled = relay.InMemory, &relay.Modelled{}
	}
	return append(specs, spec)
}

// openBoard claims every relay of the site; all are off when it returns.
func openBoard(s *site.Site) (*relay.Board, error) {
	vessels, specs := relaySpecs(s)
	return relay.Open(nil, vessels, specs)
}

// contactSpecs gives every contact that is measured.
func contactSpecs(s *site.Site) (vessels []string, specs []relay.ContactSpec) {
	for i := range s.Vessels {
		v := &s.Vessels[i]
		vessels = append(vessels, v.Name)
		for _, at := range []struct {
			role relay.Role
			site.Contact
		}{{relay.Heat, v.Heat.Contact}, {relay.Cool, v.Cool.Contact}} {
			spec := relay.ContactSpec{Vessel: v.Name, Role: at.role, Chip: at.Chip, Line: at.Line, ActiveLow: at.ActiveLow, Path: at.Path}
			switch at.Kind {
			case site.OnLine:
				spec.Kind = relay.Pin
			case site.OnFile:
				spec.Kind = relay.File
			case site.NoRelayFitted, site.OnPin, site.Modelled, site.InZones:
				continue
			}
			specs = append(specs, spec)
		}
	}
	return vessels, specs
}

// openProbes opens every probe of the site.
func openProbes(s *site.Site) ([]sensors.Probe, error) {
	var probes []sensors.Probe
	for i := range s.Vessels {
		for _, spec := range probeSpecs(s, &s.Vessels[i]) {
			sensor, err := sensors.Open(spec)
			if err != nil {
				return nil, fmt.Errorf("open: %w", err)
			}
			probes = append(probes, sensors.Probe{ID: spec.Probe, Sensor: sensor})
		}
	}
	return probes, nil
}

// probeSpecs gives every probe of a vessel.
func probeSpecs(s *site.Site, v *site.Vessel) []sensors.Spec {
	var specs []sensors.Spec
	devices := filepath.Join(s.Sysfs, "bus/iio/devices")
	for _, p := range v.Thermometers() {
		spec := sensors.Spec{Probe: p.ID, Calibration: p.Calibration, Path: p.Path, IIO: p.Channel, Platinum: p.Platinum, Thermistor: p.Thermistor}
		switch p.Kind {
		case site.NoProbe:
			continue
		case site.OneWire:
			spec.Kind, spec.ID, spec.Root = sensors.OneWire, p.Device, filepath.Join(s.Sysfs, "bus/w1/devices")
		case site.HWMon:
			spec.Kind = sensors.Hwmon
			spec.Hwmon = hwmon.Match{Root: filepath.Join(s.Sysfs, "class/hwmon"), Name: p.Device, Input: p.Input}
		case site.InFile:
			spec.Kind = sensors.File
		case site.IIO:
			spec.Kind, spec.Root = sensors.IIO, devices
		case site.RTD:
			spec.Kind = sensors.RTD
		case site.NTC:
			spec.Kind, spec.Root = sensors.NTC, devices
		}
		specs = append(specs, spec)
	}
	if v.Pressure.ID != "" {
		specs = append(specs, sensors.Spec{Probe: v.Pressure.ID, Kind: sensors.Pressure, Transducer: v.Pressure.Transducer, Root: devices})
	}
	return specs
}

// tokenHash gives what is kept of a source's token.
func tokenHash(src *site.Source) ([sha256.Size]byte, error) {
	token := src.Token.Reveal()
	if src.TokenFile != "" {
		text, err := os.ReadFile(src.TokenFile)
		if err != nil {
			return [sha256.Size]byte{}, fmt.Errorf("source %s: read its token: %w", src.Name, err)
		}
		token = strings.TrimSpace(string(text))
	}
	if token == "" {
		return [sha256.Size]byte{}, fmt.Errorf("source %s: its token is empty", src.Name)
	}
	return sha256.Sum256([]byte(token)), nil
}
