package record

import (
	"slices"
	"time"

	"example.org/restpoint/controller"
)

// Bounds of what is kept in memory while the record cannot be written.
const (
	// mostTelemetry, in bytes, is above a week of one vessel with three probes at
	// 5 s: about 10 bytes a step before compression.
	mostTelemetry = 4 << 20
	// mostEvents is far beyond what a year brings; only a fault that flaps at
	// every step gets there. About 20 MB.
	mostEvents = 20_000
)

// bounds are the most that is kept: telemetry in bytes before compression, and
// events and orders together.
type bounds struct {
	telemetry int
	events    int64
}

// line is the part of an entry that is added to the record, never replaced.
type line struct {
	at      moment
	vessel  string
	counted time.Duration
	events  []controller.Event
	orders  []Asked
	batch   *BatchInfo
	decided *Decided
	begin   *Begin
}

func (l *line) size() int64 {
	n := int64(len(l.events) + len(l.orders))
	if l.decided != nil {
		n++
	}
	return n
}

// savedState is the newest state of a vessel.
type savedState struct {
	vessel string
	at     moment
	state  controller.State
}

// pending is what is not written yet.
type pending struct {
	lines   []line
	events  int64        // in lines
	states  []savedState // one a vessel, in the order in which they came first
	plant   *controller.PlantState
	chunks  []*chunk // in order; the last of a vessel may still grow
	packed  int      // bytes in chunks
	waiting []chan error
	bounds  bounds
	looked  []looked // when a decision was kept last, one a vessel

	droppedSteps, droppedEvents int64
}

func (p *pending) empty() bool {
	return len(p.lines) == 0 && len(p.states) == 0 && p.plant == nil && len(p.chunks) == 0
}

func (p *pending) keep(at moment, entries []Entry, plant controller.PlantState) {
	for i := range entries {
		e := &entries[i]
		p.setState(savedState{e.Vessel, at, e.State}, true)
		decided := p.decide(e)
		if len(e.Events)+len(e.Orders) == 0 && e.Batch == nil && decided == nil && e.Begin == nil {
			continue
		}
		l := line{
			at: at, vessel: e.Vessel, counted: e.Counted,
			events: append([]controller.Event(nil), e.Events...), orders: append([]Asked(nil), e.Orders...),
			decided: decided,
		}
		if e.Batch != nil {
			b := *e.Batch
			l.batch = &b
		}
		if e.Begin != nil {
			b := *e.Begin
			l.begin = &b
		}
		p.lines = append(p.lines, l)
		p.events += l.size()
	}
	plant.Vessels = append([]controller.Turn(nil), plant.Vessels...)
	p.plant = &plant
	p.bound()
}

func (p *pending) setState(s savedState, newer bool) {
	for i := range p.states {
		if p.states[i].vessel == s.vessel {
			if newer {
				p.states[i] = s
			}
			return
		}
	}
	p.states = append(p.states, s)
}

func (p *pending) note(at moment, t *Telemetry) {
	c := p.open(t)
	if c == nil {
		c = &chunk{vessel: t.Vessel, batch: t.Batch, first: at}
		p.chunks = append(p.chunks, c)
	}
	before := len(c.pack.buf)
	c.add(t)
	p.packed += len(c.pack.buf) - before
	p.bound()
}

// open finds the vessel's chunk that may still grow.
func (p *pending) open(t *Telemetry) *chunk {
	for _, v := range slices.Backward(p.chunks) {
		if c := v; c.vessel == t.Vessel {
			if c.fits(t) {
				return c
			}
			return nil
		}
	}
	return nil
}

// bound drops the oldest of what is too much. A line that begins a batch, or a run,
// stays: without it nothing of the batch could be told.
func (p *pending) bound() {
	for p.packed > p.bounds.telemetry && len(p.chunks) > 0 {
		p.packed -= len(p.chunks[0].pack.buf)
		p.droppedSteps += int64(p.chunks[0].rows)
		p.chunks = p.chunks[1:]
	}
	for i := 0; p.events > p.bounds.events && i < len(p.lines); {
		if p.lines[i].batch != nil || p.lines[i].begin != nil {
			i++
			continue
		}
		n := p.lines[i].size()
		p.events -= n
		p.droppedEvents += n
		p.lines = append(p.lines[:i], p.lines[i+1:]...)
	}
}

// take hands over all that is pending.
func (p *pending) take() pending {
	taken := *p
	*p = pending{bounds: p.bounds, looked: p.looked, droppedSteps: p.droppedSteps, droppedEvents: p.droppedEvents}
	return taken
}

// putBack returns what could not be written, before what came meanwhile. Nobody
// waits for it any more.
func (p *pending) putBack(old pending) {
	p.lines = append(old.lines, p.lines...)
	p.events += old.events
	p.chunks = append(old.chunks, p.chunks...)
	p.packed += old.packed
	for _, s := range old.states {
		p.setState(s, false)
	}
	if p.plant == nil {
		p.plant = old.plant
	}
	p.bound()
}
