package controller

import (
	"math"

	"example.org/restpoint/controller/units"
)

// explain fills the decision: where the batch is and why the relays are as they are.
func (r *run) explain() {
	d := &r.out.Decision
	d.Mode = r.s.Mode
	d.Beer, d.Surround, d.Ambient = r.s.Sense.Beer, r.s.Sense.Surround, r.s.Sense.Ambient
	d.Signal = r.s.Sense.Beer.Status(r.inBeer())
	d.Want = Outputs{r.wish.Heat, r.wish.Cool}
	d.Allowed = r.out.Outputs
	d.Wait = max(r.verdict.HeatWait, r.verdict.CoolWait)
	d.Alarms, d.Counts = r.s.Alarms.List, r.s.Alarms.Counts()
	d.Backup, d.Float, d.Gauge = r.s.Sense.Backup, r.s.Sense.Float, r.s.Sense.Gauge
	if n := r.v.Probes.count(); n > 1 {
		wells := r.s.Sense.Wells.Without(r.s.Sense.Odd)
		for i, id := range r.v.Probes.wells() {
			if i < n {
				d.Wells = append(d.Wells, Well{id, wells[i]})
			}
		}
	}
	d.Dry = r.dry()
	d.Rejected.Of, d.Rejected.Count = r.s.Batch.Tally.Sum()
	if d.Rejected.Count > 0 {
		d.Rejected.Why = r.s.Batch.Tally.Why
	}
	r.reasons = append(r.reasons, r.explainRelays())
	d.Heat = r.s.Heat
	r.explainBound()
	r.explainOdd()
	if r.iced < r.floor {
		r.reasons = append(r.reasons, why(CodeFreezeFloor, num("target", float64(r.iced), InCelsius), num("floor", float64(r.floor), InCelsius)))
	}
	if st := r.stage(); st != nil {
		d.Batch, d.Stage, d.Kind, d.Index, d.In = r.s.Batch.ID, st.Name, st.Kind, r.s.Stage.Index, r.s.Stage.In
		d.Pitched, d.Since, d.Paused = r.s.Batch.Pitched, r.s.Batch.Since, r.s.Batch.Paused
		d.Gravity = r.picture()
		d.NeedsWhat = r.needs(st)
		d.Jobs, d.Residual = r.jobs(), r.s.Batch.Residual
		d.Forecast = r.s.Outlook
		r.advise()
		r.reasons = append(r.reasons, r.explainStage(st))
	}
	d.Reasons = r.reasons
}

// picture is the gravity as a person wants it: true gravities.
func (r *run) picture() Gravity {
	e := &r.s.Gravity.Est
	if !e.Known {
		return Gravity{}
	}
	now := r.s.Gravity.True()
	return Gravity{
		Known: true, Ready: e.Ready, Original: units.Gravity(gravityOf(r.prior.Original)),
		Now: units.Gravity(gravityOf(now)), Final: units.Gravity(gravityOf(now - (e.Level - e.Final))),
		Left: units.Points(e.Left), Low: units.Points(e.Low), High: units.Points(e.High),
		PerDay: units.Points(e.Rate * 24),
	}
}

// explainStage says what the stage still waits for.
func (r *run) explainStage(st *Stage) Reason {
	switch {
	case r.s.Batch.Paused:
		return Reason{Code: CodeStagePaused}
	case !r.beerKnown():
		return Reason{Code: CodeStageBlind}
	case r.s.Stage.Waits:
		return Reason{Code: CodeNeedsArming, Name: r.s.Stage.Name}
	}
	for i, c := range r.leaves(st) {
		if i < len(r.s.Stage.Leaves) && !r.s.Stage.Leaves[i].Met {
			return r.waitsFor(c, r.s.Stage.Leaves[i])
		}
	}
	return Reason{Code: CodeHolds}
}

func (r *run) waitsFor(c *Condition, l Leaf) Reason {
	e := &r.s.Gravity.Est
	switch c.Kind {
	case PointsLeft:
		if !e.Known {
			return r.why(CodeWaitsGravity)
		}
		return r.why(CodeWaitsPoints, num("left", e.Left, InPoints), num("limit", float64(c.Points), InPoints))
	case ApparentAttenuation:
		a, _ := r.s.Gravity.Attenuation(r.prior)
		return r.why(CodeWaitsAttenuation, num("attenuation", a*100, InPercent), num("limit", c.Attenuation*100, InPercent))
	case GravityAtMost:
		return r.why(CodeWaitsBelow, num("limit", float64(c.Gravity), InGravity))
	case Terminal:
		if l.Seen {
			return r.why(CodeWaitsTerminal, num("change", -l.Fall, InPoints), num("limit", float64(c.Points), InPoints), num("window", c.Over.Seconds(), InTime))
		}
		return r.why(CodeWaitsWindow, num("window", c.Over.Seconds(), InTime))
	case Dwell:
		return r.why(CodeWaitsTime, num("held", l.Held.Seconds(), InTime), num("limit", c.AtLeast.Seconds(), InTime))
	case BeerAt:
		return r.why(CodeWaitsBeer, num("beer", float64(r.s.Sense.Beer.Celsius), InCelsius), num("limit", float64(c.Beer), InCelsius))
	case Pitched:
		return Reason{Code: CodeWaitsPitched}
	case Confirmed:
		return Reason{Code: CodeWaitsConfirm, Name: c.Say}
	case Never, All, Any:
	}
	return Reason{Code: CodeHolds}
}

// needs names what only a person can give to this stage now.
func (r *run) needs(st *Stage) string {
	if r.s.Stage.Waits {
		return string(Arm)
	}
	for i, c := range r.leaves(st) {
		if i < len(r.s.Stage.Leaves) && r.s.Stage.Leaves[i].Met {
			continue
		}
		switch c.Kind {
		case Pitched:
			return string(PitchedNow)
		case Confirmed:
			return string(Confirm) + ": " + c.Say
		case Never, PointsLeft, ApparentAttenuation, GravityAtMost, Terminal, Dwell, BeerAt, All, Any:
		}
	}
	return ""
}

// why is the same for what is said in every step.
func (r *run) why(c Code, numbers ...Number) Reason {
	at := len(r.numbers)
	r.numbers = append(r.numbers, numbers...)
	return Reason{Code: c, Numbers: r.numbers[at:len(r.numbers):len(r.numbers)]}
}

func why(c Code, numbers ...Number) Reason { return Reason{Code: c, Numbers: numbers} }

func num(name string, value float64, unit Unit) Number {
	return Number{Name: name, Value: finite(value), Unit: unit}
}

// finite keeps what is not a number out of state and record.
func finite(v float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return v
}
