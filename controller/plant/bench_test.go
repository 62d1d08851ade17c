package plant_test

import (
	"testing"
	"time"

	"example.org/restpoint/controller/plant"
)

func BenchmarkAdvance10s(b *testing.B) {
	for name, v := range map[string]plant.Vessel{"bucket": plant.Bucket20(), "conical": plant.Conical60()} {
		b.Run(name, func(b *testing.B) {
			p := plant.New(v, plant.PaleAle(), plant.Nasty(), 1, 19)
			p.Pitch()
			b.ReportAllocs()
			for i := 0; b.Loop(); i++ {
				p.Advance(10*time.Second, plant.Outputs{Cool: i%90 < 20})
			}
		})
	}
}

func BenchmarkReadHydrometer(b *testing.B) {
	p := plant.New(plant.Conical60(), plant.PaleAle(), plant.Nasty(), 1, 19)
	p.Pitch()
	p.Advance(30*time.Hour, plant.Outputs{})
	for b.Loop() {
		p.ReadHydrometer()
	}
}

// BenchmarkThreeWeeks is a whole simulated batch: 181,440 steps of 10 s, all
// probes read at each, the hydrometer every 15 min.
func BenchmarkThreeWeeks(b *testing.B) {
	for b.Loop() {
		p := plant.New(plant.Bucket20(), plant.PaleAle(), plant.Nasty(), 1, 19)
		p.Pitch()
		for i := range 181_440 {
			p.Advance(10*time.Second, plant.Outputs{Cool: p.ReadThermowell() > 19.5})
			p.ReadSurround()
			p.ReadAmbient()
			if i%90 == 0 {
				p.ReadHydrometer()
			}
		}
	}
}
