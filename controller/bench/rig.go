// Package bench joins the modelled plant and the core into one rig: the same
// Step that runs on a board, driven by a modelled fermenter in counted time. The
// simulator, the demonstration and the scenario scripts are all this rig.
//
// It refuses to help the controller: what Step sees are readings through probes
// and a hydrometer with their faults, never the plant's truth.
package bench

import (
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/units"
)

// Tank is one vessel of the rig: what is fixed, what is remembered, and the beer.
type Tank struct {
	Vessel   *controller.Vessel
	State    controller.State
	Out      controller.Outcome
	Beer     *plant.Plant
	Readings []controller.Reading // of the newest step
	In       controller.Input     // what the newest step was given; its readings are overwritten by the next
	Driven   controller.Outputs   // levels now

	Report        time.Duration // time between two gravities
	fed           units.Points  // sugar that went in later, see Feed
	sinceReport   time.Duration
	orders        []controller.Order
	ProbeOff      bool
	HydrometerOff bool
	RelayFault    bool               // a relay cannot be set, and the board says so
	Welded        controller.Outputs // contacts that stay closed, and nobody knows
	restarted     bool
	gap           controller.Outage
}

// Rig is a whole cellar.
type Rig struct {
	Tanks            []*Tank
	Shared           *controller.Plant // nil: nothing is shared
	Plant            controller.PlantState
	Chiller          *plant.Chiller
	Elapsed          time.Duration // counted since the start
	begun, restarted bool
	wants            []controller.Outputs
}

// Tell gives a tank an order, to be taken at the next step.
func (t *Tank) Tell(o controller.Order) { t.orders = append(t.orders, o) }

// Restart lets the program come back after an outage in which both relays were
// off: the state is what was stored last.
func (r *Rig) Restart(gap controller.Outage) {
	const slow = 10 * time.Second
	for left := gap.Length; left > 0; left -= slow {
		for _, t := range r.Tanks {
			t.Driven = controller.Outputs{}
			t.Beer.Advance(min(slow, left), t.real())
		}
		r.chill(min(slow, left), false)
	}
	r.Elapsed += gap.Length
	r.Plant, r.restarted = r.Plant.Started(), true
	for _, t := range r.Tanks {
		t.restarted, t.gap = true, gap
	}
}

// Step runs the cellar for one step: the plant first, then what the program sees
// and decides.
func (r *Rig) Step(dt time.Duration) {
	first := !r.begun
	r.begun = true
	again := r.restarted // what is shared counts no time over a start either
	r.restarted = false
	if !first {
		r.Elapsed += dt
	}
	r.wants = r.wants[:0]
	for _, t := range r.Tanks {
		if !first {
			t.Beer.Advance(dt, t.real())
		}
		t.decide(dt, first)
		r.wants = append(r.wants, t.Out.Outputs)
	}
	if !first {
		r.chill(dt, r.Plant.ChillerOn)
	}
	outs := r.wants
	if r.Shared != nil {
		elapsed := dt
		if first || again {
			elapsed = 0
		}
		r.Plant, outs = controller.Share(r.Shared, r.Plant, elapsed, r.wants)
	}
	for i, t := range r.Tanks {
		t.Driven = outs[i]
	}
}

// real is what the contacts of a tank do.
func (t *Tank) real() plant.Outputs {
	return plant.Outputs{Heat: t.Driven.Heat || t.Welded.Heat, Cool: t.Driven.Cool || t.Welded.Cool}
}

func (r *Rig) chill(dt time.Duration, on bool) {
	if r.Chiller == nil {
		return
	}
	if r.Shared == nil || !r.Shared.Chiller.Fitted {
		on = r.Chiller.Temperature() > -4 // a chiller that runs by itself
	}
	r.Chiller.Advance(dt, on, r.Tanks[0].Beer.Ambient())
}

func (t *Tank) decide(dt time.Duration, first bool) {
	in := controller.Input{Elapsed: dt, Actual: t.Driven, Orders: t.orders, Readings: t.Sense(dt), RelayFault: t.RelayFault}
	if first || t.restarted {
		in.Elapsed, in.Gap = 0, t.gap
		t.restarted, t.gap = false, controller.Outage{}
	}
	t.orders, t.In = nil, in
	t.State, t.Out = controller.Step(t.Vessel, t.State, in)
	if t.Out.Schedule != nil {
		t.Vessel = t.Vessel.With(t.Out.Schedule)
	}
}

// Sense asks every probe, dt after the last time.
func (t *Tank) Sense(dt time.Duration) []controller.Reading {
	list := t.Readings[:0]
	p := t.Vessel.Probes
	add := func(id controller.ProbeID, c units.Celsius) {
		if id != "" {
			list = append(list, controller.Reading{Probe: id, Value: controller.OfTemperature(c)})
		}
	}
	if t.ProbeOff {
		list = append(list, controller.Reading{Probe: p.Thermowell, Fault: controller.Unplugged})
	} else {
		add(p.Thermowell, t.Beer.ReadThermowell())
	}
	add(p.Surround, t.Beer.ReadSurround())
	add(p.Ambient, t.Beer.ReadAmbient())
	t.sinceReport += dt
	if p.Hydrometer != "" && t.sinceReport >= t.Report {
		t.sinceReport = 0
		g, ok := t.Beer.ReadHydrometer()
		if ok && !t.HydrometerOff {
			v := controller.OfGravity(g)
			v.Celsius, v.HasCelsius = t.Beer.HydrometerTemperature(), true
			list = append(list, controller.Reading{Probe: p.Hydrometer, Value: v})
		}
	}
	t.Readings = list
	return list
}
