package commission

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors"
)

// When a probe in a bath counts as steady. Ten readings over a minute within 0.1 K
// leave at most that a minute of drift; the step of a DS18B20 is 0.06 K.
const (
	bathInterval               = 6 * time.Second
	bathReadings               = 10
	bathSpread   units.Kelvins = 0.1
	bathPatience               = 15 * time.Minute
	reportEvery                = 5 // readings: a line in half a minute
)

// Near enough to a bath that the probe may be meant.
const (
	nearIce     units.Kelvins = 5
	coldestBath units.Celsius = 10
	warmestBath units.Celsius = 45
)

// Subject is a thermometer that is to be calibrated. Its sensor must have no
// calibration already.
type Subject struct {
	Name   string
	Key    string // what its calibration stands under: the id of a 1-Wire probe, or empty
	Sensor sensors.Sensor
	On     time.Time
}

const iceBath = `The ice point, 0 C. Crush ice of pure water and pack it into an insulated flask
without gaps; fill up with just so much cold clean water that no air is left, and
pour off what melts. Stand the probe deep in the ice, touching no wall, stir, and
give it 10 minutes. Water over ice that swims on it is no ice point: it has 4 C at
the bottom.
` // after MSL Technical Guide 1, ASTM E563 and Measurement Canada TE-LP-001

const secondBath = `The second point. An insulated bath of water at 18 to 25 C, near where beer is
held, stirred all the time. Stand the probe in it, close beside a thermometer that
you trust and whose own calibration is not due.
`

// Calibrate leads through a calibration by melting ice and, if wanted, by a second
// bath, and prints what belongs into the site file.
func (t *Talk) Calibrate(ctx context.Context, s Subject, second bool) error {
	if err := t.before(ctx, s); err != nil {
		return err
	}
	cold, err := t.bath(ctx, s, iceBath, "Press return when the 10 minutes are over.")
	if err != nil {
		return err
	}
	if off := cold.Minus(sensors.Ice); off < -nearIce || off > nearIce {
		return fmt.Errorf("%s reads %s: that is no ice bath, or the probe is broken", s.Name, cold.Fixed(2))
	}
	if !second {
		return t.result(s, cold, nil)
	}
	reads, err := t.bath(ctx, s, secondBath, "Press return when both are in it.")
	if err != nil {
		return err
	}
	is, err := t.askTrue(ctx)
	if err != nil {
		return err
	}
	return t.result(s, cold, &sensors.Point{Reads: reads, Is: is})
}

// before shows that the probe is the one that is meant and can be read. For a probe
// of the kernel's industrial I/O it also proves the unit, which near freezing
// nobody could tell.
func (t *Talk) before(ctx context.Context, s Subject) error {
	taken, err := sensors.Once(ctx, []sensors.Sensor{s.Sensor})
	if err != nil {
		return fmt.Errorf("read %s: %w", s.Name, err)
	}
	if f := taken[0].Fault; f != controller.NoFault {
		why := Why(f)
		if taken[0].Evidence != "" {
			why += "; " + taken[0].Evidence
		}
		return fmt.Errorf("read %s: %s", s.Name, why)
	}
	return t.say("%s reads %s now, without a calibration.\n\n", s.Name, taken[0].Value.Celsius.Fixed(2))
}

// bath asks for a bath and reads it, to a hundredth of a degree.
func (t *Talk) bath(ctx context.Context, s Subject, how, ready string) (units.Celsius, error) {
	if _, err := t.ask(ctx, "%s%s ", how, ready); err != nil {
		return 0, err
	}
	reads, err := t.steady(ctx, s)
	if err != nil {
		return 0, err
	}
	reads = hundredths(reads)
	return reads, t.say("Steady at %s.\n\n", reads.Fixed(2))
}

// hundredths rounds to what is written into a site file.
func hundredths(c units.Celsius) units.Celsius {
	return units.Celsius(math.Round(float64(c)*100) / 100)
}

// steady reads until the last readings are close together, and gives their mean.
func (t *Talk) steady(ctx context.Context, s Subject) (units.Celsius, error) {
	waiting, enough := context.WithTimeout(ctx, bathPatience)
	defer enough()
	w := window{talk: t}
	poll := sensors.Poll{Interval: bathInterval, Probes: []sensors.Probe{{Sensor: s.Sensor}}}
	done, err := follow(waiting, poll, w.take)
	switch {
	case err != nil:
		return 0, err
	case ctx.Err() != nil:
		return 0, fmt.Errorf("wait for a steady reading: %w", context.Cause(ctx))
	case !done:
		return 0, fmt.Errorf("%s is not steady after %s: stir, insulate, and look at its plug", s.Name, units.Duration(bathPatience))
	}
	return w.mean(), nil
}

// window is the last readings of a probe in a bath.
type window struct {
	talk *Talk
	last []units.Celsius
	n    int
}

// take adds a reading and tells whether they are steady. A fault begins anew.
func (w *window) take(r controller.Reading) (steady bool, err error) {
	w.n++
	if r.Fault != controller.NoFault {
		w.last = nil
		return false, w.talk.say("  no reading: %s\n", Why(r.Fault))
	}
	w.last = append(w.last, r.Value.Celsius)
	w.last = w.last[max(0, len(w.last)-bathReadings):]
	spread := slices.Max(w.last).Minus(slices.Min(w.last))
	if len(w.last) == bathReadings && spread <= bathSpread {
		return true, nil
	}
	if w.n%reportEvery != 0 {
		return false, nil
	}
	return false, w.talk.say("  %s, moved by %s in %d readings\n", r.Value.Celsius.Fixed(2), spread.Fixed(2), len(w.last))
}

func (w *window) mean() units.Celsius {
	var sum units.Celsius
	for _, c := range w.last {
		sum += c
	}
	return sum / units.Celsius(len(w.last))
}

// askTrue asks for the temperature of the bath.
func (t *Talk) askTrue(ctx context.Context) (units.Celsius, error) {
	for {
		text, err := t.ask(ctx, "What does the thermometer that you trust show, such as 21.5 C? ")
		if err != nil {
			return 0, err
		}
		c, err := units.ParseCelsius(text)
		switch {
		case err != nil:
			err = t.say("%v\n", err)
		case c < coldestBath || c > warmestBath:
			err = t.say("%s is no second point; it lies between %s and %s.\n", c, coldestBath, warmestBath)
		default:
			return hundredths(c), nil
		}
		if err != nil {
			return 0, err
		}
	}
}

// result computes the calibration from what will stand in the site file, says what
// it does, and prints the lines.
func (t *Talk) result(s Subject, cold units.Celsius, warm *sensors.Point) error {
	c, entry := sensors.OfIce(cold), "{ice: "+cold.String()
	said := fmt.Sprintf("Ice reads %s", cold.Fixed(2))
	if warm != nil {
		off := warm.Reads.Minus(warm.Is)
		if off < -nearIce || off > nearIce {
			return fmt.Errorf("%s reads %s in a bath of %s: that is another bath, or the probe is broken", s.Name, warm.Reads.Fixed(2), warm.Is.Fixed(2))
		}
		var err error
		if c, err = sensors.OfTwo(sensors.Point{Reads: cold, Is: sensors.Ice}, *warm); err != nil {
			return errors.Join(errors.New("the two points give no calibration"), err)
		}
		said += fmt.Sprintf(", a bath of %s reads %s", warm.Is.Fixed(2), warm.Reads.Fixed(2))
		entry += fmt.Sprintf(", second: {reads: %s, is: %s}", warm.Reads, warm.Is)
	}
	entry += ", on: " + s.On.Format(time.DateOnly) + "}"
	gain := c.Gain
	if gain == 0 {
		gain = 1
	}
	const like units.Celsius = 18
	if err := t.say("%s.\nGain %.5f, offset %s: %s will become %s.\n", said, gain, c.Offset.Fixed(3), like.Fixed(2), c.Apply(like).Fixed(2)); err != nil {
		return err
	}
	if doubt := c.Doubt(); doubt != "" {
		if err := t.say("WARNING: %s.\nDo it again before you believe it.\n", doubt); err != nil {
			return err
		}
	}
	if s.Key == "" {
		return t.say("In the site file, beside the probe %s and instead of its offset:\n    calibration: %s\n", s.Name, entry)
	}
	return t.say("In the site file, at its top level; an offset of this probe must go:\ncalibrations:\n  %s: %s\n", s.Key, entry)
}
