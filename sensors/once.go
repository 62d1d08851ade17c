package sensors

import (
	"context"
	"strconv"
	"sync"
	"time"

	"example.org/restpoint/controller"
)

// patience is when a read that a person waits for counts as hung. The kernel tries
// five times before it calls a 1-Wire answer damaged, 0.8 s each, and the evidence
// is read after that.
const patience = 10 * time.Second

// Taken is one reading, and what shows why it failed.
type Taken struct {
	Value    controller.Value
	Fault    controller.Fault
	Evidence string // of a fault, where the driver has any
}

// witness is a driver that can show why a read failed.
type witness interface{ Evidence() string }

// Evidence shows why a read failed, if the driver can.
func (d degrees) Evidence() string {
	if w, ok := d.Thermometer.(witness); ok {
		return w.Evidence()
	}
	return ""
}

// witnessed is a sensor that keeps the evidence of its last fault. It is read by
// one goroutine at a time, and may be looked at while a read hangs.
type witnessed struct {
	Sensor
	mu   sync.Mutex
	said string
}

func (w *witnessed) Read() (controller.Value, controller.Fault) {
	v, fault := w.Sensor.Read()
	said := ""
	if of, ok := w.Sensor.(witness); ok && fault != controller.NoFault {
		said = of.Evidence()
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	w.said = said
	return v, fault
}

func (w *witnessed) evidence() string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.said
}

// Once reads every sensor once, those of one bus one after another, and gives what
// came in their order. It ends early with the context, as soon as no read is under
// way, and then gives no reading.
func Once(ctx context.Context, all []Sensor) ([]Taken, error) {
	ctx, enough := context.WithCancel(ctx)
	defer enough()
	poll := Poll{Interval: time.Hour, Deadline: patience} // an hour: there is no second round
	kept, place := make([]*witnessed, len(all)), map[controller.ProbeID]int{}
	for i, s := range all {
		id := controller.ProbeID(strconv.Itoa(i))
		kept[i], place[id] = &witnessed{Sensor: s}, i
		poll.Probes = append(poll.Probes, Probe{ID: id, Sensor: kept[i]})
	}
	readings, ended := make(chan controller.Reading), make(chan struct{})
	go func() { // ends with the context, below
		defer close(ended)
		_ = poll.Run(ctx, readings) // a read that hangs is left behind; that it timed out is in its reading
	}()
	taken := make([]Taken, len(all))
	for range all {
		select {
		case <-ctx.Done():
			<-ended
			return nil, context.Cause(ctx)
		case r := <-readings:
			i := place[r.Probe]
			taken[i] = Taken{Value: r.Value, Fault: r.Fault, Evidence: kept[i].evidence()}
		}
	}
	enough()
	<-ended
	return taken, nil
}
