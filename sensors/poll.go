package sensors

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"example.org/restpoint/controller"
)

// DefaultDeadline is when a read counts as hung. A 1-Wire read takes 0.77 to
// 0.88 s at 12 bits, measured, and twice that where the evidence behind a
// doubtful value is read too.
const DefaultDeadline = 3 * time.Second

// Probe is a sensor in its place.
type Probe struct {
	ID     controller.ProbeID
	Sensor Sensor
}

// Poll says how probes are read.
type Poll struct {
	Interval time.Duration
	Deadline time.Duration // for one read; 0 = DefaultDeadline
	Probes   []Probe
}

// Run reads every probe at once and then at every interval, and sends what it
// read, good or failed, until the context ends. Probes of one bus are read one
// after another. It waits for all that it started, with one exception: a read
// that hangs in the kernel cannot be ended. Such a read is given up after the
// deadline and reported as timed out; until it comes back no other read of its
// bus is begun, and its bus reports time-outs. If it has not come back when Run
// ends, its goroutine is left behind and the error says so. A panic in a driver
// is not caught: it ends the program.
func (p Poll) Run(ctx context.Context, out chan<- controller.Reading) error {
	if p.Interval <= 0 {
		return fmt.Errorf("read probes every %v: the interval must be positive", p.Interval)
	}
	if p.Deadline <= 0 {
		p.Deadline = DefaultDeadline
	}
	buses := p.buses()
	left := make([]error, len(buses))
	var all sync.WaitGroup
	for i, b := range buses {
		all.Go(func() { left[i] = b.run(ctx, out) })
	}
	all.Wait()
	return errors.Join(left...)
}

// buses sorts the probes by bus, in the order given.
func (p Poll) buses() []*bus {
	var all []*bus
	place := map[string]*bus{}
	for _, probe := range p.Probes {
		name := probe.Sensor.Bus()
		b := place[name]
		if b == nil {
			b = &bus{interval: p.Interval, deadline: p.Deadline}
			place[name] = b
			all = append(all, b)
		}
		b.probes = append(b.probes, probe)
	}
	return all
}

// bus is read by one goroutine. At most one read of it is ever under way.
type bus struct {
	interval, deadline time.Duration
	probes             []Probe
	stuck              *read // given up and not back yet
}

// read is one read under way. Its channel holds the one answer, so that a read
// that comes back late finds room and its goroutine ends.
type read struct {
	of   Sensor
	done chan answer
}

type answer struct {
	value controller.Value
	fault controller.Fault
}

func (b *bus) run(ctx context.Context, out chan<- controller.Reading) error {
	tick := time.NewTicker(b.interval)
	defer tick.Stop()
	for {
		for _, p := range b.probes {
			if ctx.Err() != nil {
				return b.leave()
			}
			reading := b.take(p)
			select {
			case out <- reading:
			case <-ctx.Done():
				return b.leave()
			}
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
			return b.leave()
		}
	}
}

// take reads one probe, or says that it timed out.
func (b *bus) take(p Probe) controller.Reading {
	if b.isStuck() {
		return controller.Reading{Probe: p.ID, Fault: controller.TimedOut}
	}
	r := &read{of: p.Sensor, done: make(chan answer, 1)}
	go func() { // ends with its read; take waits for it, or remembers it as stuck
		value, fault := p.Sensor.Read()
		r.done <- answer{value, fault}
	}()
	limit := time.NewTimer(b.deadline)
	defer limit.Stop()
	select {
	case a := <-r.done:
		if a.fault != controller.NoFault {
			return controller.Reading{Probe: p.ID, Fault: a.fault}
		}
		return controller.Reading{Probe: p.ID, Value: a.value}
	case <-limit.C:
		b.stuck = r
		return controller.Reading{Probe: p.ID, Fault: controller.TimedOut}
	}
}

// isStuck tells whether a read that was given up still holds the bus. What it
// brings when it comes back is dropped: nobody knows how old it is.
func (b *bus) isStuck() bool {
	if b.stuck == nil {
		return false
	}
	select {
	case <-b.stuck.done:
		b.stuck = nil
		return false
	default:
		return true
	}
}

func (b *bus) leave() error {
	if !b.isStuck() {
		return nil
	}
	return fmt.Errorf("a read of %v hangs and was left behind", b.stuck.of)
}
