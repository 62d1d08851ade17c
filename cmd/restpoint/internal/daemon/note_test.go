package daemon_test

import (
	"testing"
	"testing/synctest"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/daemon"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/controller/plant"
)

// What is for the record alone gets there and nowhere else: forecasts of each hour
// would drown what people have to see.
func TestForecastsGoToTheRecordAndToNobody(t *testing.T) {
	file := ale(t)
	sim := bench.Simulate("fv1", bench.Brew{Kind: bench.Conical, Seed: 1, Noise: plant.Quiet(), Wort: plant.PaleAle()}, file.Schedule)
	for sim.Rig.Elapsed < 50*time.Hour {
		sim.Step()
	}
	saved := halfway(t)
	saved.State.Gravity = sim.Tank.State.Gravity
	begin, err := daemon.Resume(vessel(), "section", saved)
	if err != nil {
		t.Fatal(err)
	}
	synctest.Test(t, func(t *testing.T) {
		heard := 0
		c := open(t, func(cfg *daemon.Config) {
			cfg.Vessels = []daemon.Vessel{begin}
			cfg.Heard = func(_ string, events []controller.Event, _ controller.Decision) {
				for _, e := range events {
					if e.Kind == controller.ForecastMade {
						heard++
					}
				}
			}
		})
		s := c.steps(int(3*time.Hour/pace), 19)
		for _, e := range s.Vessels[0].Recent {
			if e.Kind == controller.ForecastMade {
				heard++
			}
		}
		c.close()
		kept := 0
		for _, entry := range c.disk.entries {
			for _, e := range entry.Events {
				if e.Kind == controller.ForecastMade && len(e.Forecasts) > 0 {
					kept++
				}
			}
		}
		if kept < 3 || kept > 4 || heard != 0 {
			t.Errorf("in three hours %d forecasts are kept and %d are told", kept, heard)
		}
	})
}
