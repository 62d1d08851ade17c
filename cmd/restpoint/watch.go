package main

import (
	"net/http"
	"time"

	"github.com/prometheus/client_golang/prometheus/promhttp"

	"example.org/restpoint/cmd/restpoint/internal/site"
	"example.org/restpoint/controller"
	"example.org/restpoint/metrics"
	"example.org/restpoint/sensors/push"
)

// metricsHandler serves the metrics of the newest snapshot.
func metricsHandler(latest func() *controller.Snapshot) http.Handler {
	return promhttp.HandlerFor(metrics.Registry(latest, build()), promhttp.HandlerOpts{EnableOpenMetrics: true})
}

// push is the door of the hydrometers; nil where the site has none with a token.
func (c *cellar) push() (http.Handler, error) {
	var sources []push.Source
	for i := range c.site.Sources {
		src := &c.site.Sources[i]
		for k := range c.site.Vessels {
			if c.site.Vessels[k].Hydrometer.Pushed != src.Name {
				continue
			}
			s, err := pushSource(src, &c.site.Vessels[k].Hydrometer)
			if err != nil {
				return nil, err
			}
			sources = append(sources, s)
		}
	}
	if len(sources) == 0 {
		return nil, nil //nolint:nilnil // a site without hydrometers has no door
	}
	h, err := push.New(sources, func(d push.Delivery) bool {
		select {
		case c.readings <- d.Reading:
			return true
		default:
			return false
		}
	})
	if err != nil {
		return nil, err
	}
	h.ClockSet = clockSet
	return h, nil
}

// firstYear is before any board that runs this program set its clock.
const firstYear = 2026

// clockSet tells whether the wall clock can be right: a board without a clock
// battery begins in the past.
func clockSet() bool { return clockSynchronised() || time.Now().Year() >= firstYear }

func pushSource(src *site.Source, h *site.Hydrometer) (push.Source, error) {
	hash, err := tokenHash(src)
	s := push.Source{
		Name: src.Name, Probe: h.ID, TokenHash: hash,
		GravityPointer: h.Gravity, TemperaturePointer: h.Temperature, TimePointer: h.Time,
		GravityUnit: push.UnitGravity, TemperatureUnit: push.UnitCelsius, Corrected: h.Corrected, OwnNumber: h.Calibration.Own,
	}
	if h.Plato {
		s.GravityUnit = push.UnitPlato
	}
	if h.Fahrenheit {
		s.TemperatureUnit = push.UnitFahrenheit
	}
	return s, err
}
