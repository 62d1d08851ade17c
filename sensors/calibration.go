package sensors

import (
	"errors"
	"fmt"
	"math"

	"example.org/restpoint/controller/units"
)

// Calibration turns what a thermometer reads into what it should have read: the
// reading times the gain, and the offset. It is applied at the edge, and Raw takes
// it back from what is recorded.
type Calibration struct {
	Offset units.Kelvins
	Gain   float64 // 0 is none, the same as 1
}

// Point is a temperature that is known, and what the thermometer read there.
type Point struct{ Reads, Is units.Celsius }

// Ice is the temperature of melting ice in water that is full of air. Clean ice of tap
// water comes within about 0.01 K of it (MSL Technical Guide 1; ASTM E563).
const Ice units.Celsius = 0

const (
	// Beyond these no thermometer of a fermenter is wrong by itself: either the
	// probe is another one, or the bath was no bath (engineering judgement; the
	// DS18B20 is within 0.5 K, data sheet).
	farthestOffset units.Kelvins = 1
	farthestGain   float64       = 0.02

	// LeastApart is how far apart two points must read. The step of a DS18B20,
	// 0.06 K, at either end of 10 K makes 1.2 % of gain.
	LeastApart units.Kelvins = 10
)

// OfIce gives the calibration by melting ice alone.
func OfIce(reads units.Celsius) Calibration { return Calibration{Offset: Ice.Minus(reads)} }

// OfTwo gives the calibration by two points, of which the second is the warmer one.
func OfTwo(cold, warm Point) (Calibration, error) {
	if apart := warm.Reads.Minus(cold.Reads) >= LeastApart; !apart { // which a NaN is not
		return Calibration{}, fmt.Errorf("readings of %s and %s are too near each other; they must be %s apart", cold.Reads, warm.Reads, LeastApart)
	}
	gain := float64((warm.Is - cold.Is) / (warm.Reads - cold.Reads))
	c := Calibration{Gain: gain, Offset: units.Kelvins(float64(cold.Is) - float64(gain*float64(cold.Reads)))}
	return c, c.Check()
}

// Check holds that the calibration can be applied and taken back.
func (c Calibration) Check() error {
	if math.IsNaN(float64(c.Offset)) || math.IsInf(float64(c.Offset), 0) {
		return errors.New("the offset is not a number")
	}
	if sound := c.gain() > 0 && !math.IsInf(c.Gain, 0); !sound {
		return fmt.Errorf("a thermometer has no gain of %g", c.Gain)
	}
	return nil
}

// Doubt says why the calibration is not to be believed, or nothing.
func (c Calibration) Doubt() string {
	switch {
	case math.Abs(float64(c.Offset)) > float64(farthestOffset):
		return fmt.Sprintf("an offset of %s is beyond %s: a wrong probe or a bad bath", c.Offset.Fixed(2), farthestOffset)
	case math.Abs(c.gain()-1) > farthestGain:
		return fmt.Sprintf("a gain of %.4f is beyond %g %%: a wrong probe or a bad bath", c.gain(), farthestGain*100)
	}
	return ""
}

// Given tells whether the calibration changes anything.
func (c Calibration) Given() bool { return c.Offset != 0 || c.gain() != 1 }

// Apply gives what the thermometer should have read.
func (c Calibration) Apply(reads units.Celsius) units.Celsius {
	return units.Celsius(float64(c.gain()*float64(reads)) + float64(c.Offset))
}

// Raw gives what the thermometer read, from what was made of it.
func (c Calibration) Raw(is units.Celsius) units.Celsius {
	return units.Celsius((float64(is) - float64(c.Offset)) / c.gain())
}

func (c Calibration) gain() float64 {
	if c.Gain == 0 {
		return 1
	}
	return c.Gain
}
