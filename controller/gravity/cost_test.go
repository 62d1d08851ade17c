package gravity_test

import (
	"math/rand/v2"
	"testing"
	"time"

	"example.org/restpoint/controller/gravity"
)

// What the hydrometer costs: a batch of ten days with a reading every quarter of an
// hour, steps of a minute. The figure is one reading with the fits that it causes;
// the worst is the longest single step.
func BenchmarkReading(b *testing.B) {
	x := unknownEnd(1)
	x.unquiet(rand.New(rand.NewPCG(1, 1)), 0.6, 0.6)
	x.run(30 * time.Hour)
	b.ReportAllocs()
	b.ResetTimer()
	worst := time.Duration(0)
	for n := 0; b.Loop(); n++ {
		if n%960 == 959 {
			x = unknownEnd(1)
		}
		at := time.Now()
		for range 15 {
			x.s.Advance(time.Minute, 19, true, x.p)
		}
		x.s, _ = x.s.Take(gravity.Reading{Points: x.truth() + x.noise()}, x.p)
		worst = max(worst, time.Since(at))
	}
	b.ReportMetric(float64(worst.Microseconds()), "worst-µs")
}
