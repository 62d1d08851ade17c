package plant

import (
	"time"

	"example.org/restpoint/controller/units"
)

// Noise is how far the sensors are from the truth. A zero field turns its term
// off. The three levels follow a study of two in-tank load-cell records of real
// beer (Lydh and Stjernberg, 2018), hand readings and published remarks; where
// that study had to assume a figure, the field says so.
type Noise struct {
	Probe float64 // K, standard deviation of a thermometer reading (measured 0.018)

	Raster units.Points // readings are rounded to this (assumed)
	White  units.Points // standard deviation, Student t with 4 degrees of freedom (measured 0.35 to 0.8)
	Offset units.Points // constant of the batch, uniform within plus or minus (assumed; published 0.8)

	PerKelvin  units.Points  // temperature coefficient (water from 20 to 4 C: -0.11 uncorrected)
	SensorLag  time.Duration // of the sensor's own temperature behind the beer (assumed)
	Ripple     units.Points  // peak to peak; 42 to 50 min, or as the cooling relay goes (measured 2.5 to 4)
	Drift      units.Points  // standard deviation: half day and night, half wander with 12 h (measured 1.15 to 2.3)
	Bubbles    units.Points  // most that bubbles on the float add (anecdotes: 6 to 8)
	Burst      units.Points  // standard deviation of 30 min swings at full activity (measured 2.5)
	FoamHold   float64       // probability that foam holds the device once, for 1 to 24 h (assumed)
	FoulPerDay units.Points  // one-way ramp after the peak of activity (size assumed)
	StartUp    units.Points  // offset that decays with 6 to 10 h (measured 11 to 12)
	Spike      units.Points  // single records, mostly upward (measured 10 to 22)
	SpikeEvery time.Duration // mean time between them
	Step       units.Points  // permanent change of level (measured 4.3)
	StepEvery  time.Duration // mean time between them
	Rezero     units.Points  // the output jumps by 6 points up to this, every 45 to 50 h (measured 6 to 54)
	DryHop     units.Points  // most that the knock of a dry hop shifts the device, for 0.5 to 6 h (assumed)
	Missing    float64       // share of records lost, in runs of 1 to 5 (measured 0.04 to 0.11)
	Outage     time.Duration // one longer loss in the first eight days (assumed)
}

// Quiet has no noise and no raster on gravity; thermometers keep their raster.
func Quiet() Noise { return Noise{} }

// Mild is a good sensor in a calm place.
func Mild() Noise {
	return Noise{
		Probe: 0.01, Raster: 0.1, White: 0.3, Offset: 1, SensorLag: 5 * time.Minute, Drift: 0.3,
		Bubbles: 1, Burst: 0.3, StartUp: 2, Missing: 0.01,
	}
}

// Typical is what to expect.
func Typical() Noise {
	return Noise{
		Probe: 0.02, Raster: 0.5, White: 0.6, Offset: 2, PerKelvin: -0.05, SensorLag: 20 * time.Minute,
		Ripple: 1.5, Drift: 1.2, Bubbles: 3, Burst: 1, FoamHold: 0.1, FoulPerDay: 0.2, StartUp: 5,
		Spike: 10, SpikeEvery: 150 * time.Hour, Step: 3, StepEvery: 500 * time.Hour, DryHop: 3, Missing: 0.05,
	}
}

// Nasty is as bad as the records show, all at once.
func Nasty() Noise {
	return Noise{
		Probe: 0.05, Raster: 1, White: 1, Offset: 5, PerKelvin: -0.2, SensorLag: time.Hour,
		Ripple: 4, Drift: 2.3, Bubbles: 8, Burst: 2.5, FoamHold: 0.5, FoulPerDay: 0.5, StartUp: 12,
		Spike: 22, SpikeEvery: 80 * time.Hour, Step: 5, StepEvery: 300 * time.Hour, Rezero: 50, DryHop: 10,
		Missing: 0.11, Outage: 6 * time.Hour,
	}
}
