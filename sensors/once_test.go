package sensors_test

import (
	"context"
	"errors"
	"reflect"
	"testing"
	"testing/synctest"
	"time"

	"go.uber.org/goleak"

	"example.org/restpoint/controller"
	"example.org/restpoint/sensors"
)

// slow is a sensor that takes its time, and may show why it failed.
type slow struct {
	bus   string
	takes time.Duration
	value controller.Value
	fault controller.Fault
	hang  chan struct{}
}

func (s *slow) Read() (controller.Value, controller.Fault) {
	if s.hang != nil {
		<-s.hang
	}
	<-time.After(s.takes)
	return s.value, s.fault
}
func (s *slow) String() string   { return "slow" }
func (s *slow) Bus() string      { return s.bus }
func (s *slow) Evidence() string { <-time.After(s.takes); return "seen on " + s.bus }

// mute has nothing to show.
type mute struct{ sensors.Sensor }

func TestEverySensorIsReadOnceAndFaultsAreShown(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		began := time.Now()
		beer := controller.OfTemperature(18.5)
		taken, err := sensors.Once(t.Context(), []sensors.Sensor{
			&slow{bus: "w1", takes: time.Second, value: beer},
			&slow{bus: "w1", takes: time.Second, fault: controller.BadChecksum},
			&slow{bus: "i2c", takes: 4 * time.Second, value: beer},
			mute{&slow{bus: "i2c", fault: controller.Unplugged}},
			&slow{bus: "w1", value: beer},
		})
		want := []sensors.Taken{{Value: beer}, {Fault: controller.BadChecksum, Evidence: "seen on w1"}, {Value: beer}, {Fault: controller.Unplugged}, {Value: beer}}
		if err != nil || !reflect.DeepEqual(taken, want) {
			t.Errorf("%v\ngot  %+v\nwant %+v", err, taken, want)
		}
		if took := time.Since(began); took != 4*time.Second { // three on one bus take as long as one on the other, less a second
			t.Errorf("took %v", took)
		}
		if taken, err := sensors.Once(t.Context(), nil); err != nil || len(taken) > 0 {
			t.Errorf("of none: %v, %v", taken, err)
		}
	})
	goleak.VerifyNone(t)
}

func TestAReadThatHangsTimesItsBusOut(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		began := time.Now()
		hang := make(chan struct{})
		defer close(hang)
		taken, err := sensors.Once(t.Context(), []sensors.Sensor{
			&slow{bus: "w1", hang: hang},
			&slow{bus: "w1", value: controller.OfTemperature(4)},
			&slow{bus: "i2c", value: controller.OfTemperature(4)},
		})
		want := []sensors.Taken{{Fault: controller.TimedOut}, {Fault: controller.TimedOut}, {Value: controller.OfTemperature(4)}}
		if err != nil || !reflect.DeepEqual(taken, want) || time.Since(began) != 10*time.Second {
			t.Errorf("%v after %v\ngot  %+v\nwant %+v", err, time.Since(began), taken, want)
		}
	})
}

func TestReadingEndsWithItsContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithTimeout(t.Context(), 1500*time.Millisecond)
		defer cancel()
		taken, err := sensors.Once(ctx, []sensors.Sensor{
			&slow{bus: "w1", takes: time.Second}, &slow{bus: "w1", takes: time.Second}, &slow{bus: "w1", takes: time.Second},
		})
		if !errors.Is(err, context.DeadlineExceeded) || taken != nil {
			t.Errorf("%v, %v", taken, err)
		}
	})
	goleak.VerifyNone(t)
}
