package main

import (
	"net/http"

	"github.com/prometheus/client_golang/prometheus/promhttp"

	"example.org/restpoint/controller"
	"example.org/restpoint/metrics"
)

// metricsHandler serves the metrics of the newest snapshot.
func metricsHandler(latest func() *controller.Snapshot) http.Handler {
	return promhttp.HandlerFor(metrics.Registry(latest, build()), promhttp.HandlerOpts{EnableOpenMetrics: true})
}

// push is the door of the hydrometers, or nil.
func (c *cellar) push() (http.Handler, error) { return nil, nil }
