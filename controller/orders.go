package controller

import (
	"slices"
	"time"

	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/gravity"
)

const (
	keepAnswers   = 12             // newest orders that are known again
	longestShelve = 12 * time.Hour // an alarm silenced for longer is an alarm switched off
)

// orders carries out what people asked, each id once.
func (r *run) orders() {
	for i := range r.in.Orders {
		o := &r.in.Orders[i]
		if a, known := r.answered(o.ID); known {
			r.out.Answers = append(r.out.Answers, a)
			continue
		}
		first := len(r.out.Events)
		because, taken := r.order(o)
		a := Answer{ID: o.ID, Taken: taken, Reason: because}
		r.out.Answers = append(r.out.Answers, a)
		if o.ID != "" {
			answers := r.s.Answers
			if len(answers) >= keepAnswers {
				answers = answers[len(answers)-keepAnswers+1:]
			}
			r.s.Answers = append(append([]Answer(nil), answers...), a)
		}
		kind := OrderTaken
		if !taken {
			kind = OrderRefused
		}
		r.event(Event{Kind: kind, Verb: o.Do.Kind, Order: o.ID, Who: o.Who, Why: o.Why, Reason: because})
		// The order comes before what it did.
		last := len(r.out.Events) - 1
		e := r.out.Events[last]
		copy(r.out.Events[first+1:], r.out.Events[first:last])
		r.out.Events[first] = e
	}
}

func (r *run) answered(id string) (Answer, bool) {
	if id == "" {
		return Answer{}, false
	}
	for _, a := range r.s.Answers {
		if a.ID == id {
			return a, true
		}
	}
	return Answer{}, false
}

// order carries out one order, or says why not.
func (r *run) order(o *Order) (Reason, bool) {
	switch o.Do.Kind {
	case Start:
		return r.start(o)
	case SetMode:
		return r.setMode(o)
	case SetTarget:
		return r.setTarget(o)
	case Acknowledge, Shelve:
		return r.answerAlarm(o)
	case Unlock:
		return r.unlock(o.Who)
	case Forget:
		return r.forget(o.Who)
	case PitchedNow, Sample, Confirm, Arm, AdvanceNow, Return, Pause, Resume, Mark, EndCold, EndOff, Adopt, Done, Skip:
		if r.stage() == nil {
			return refused(CodeNoBatch)
		}
		return r.batchOrder(o)
	}
	return Reason{Code: CodeUnknownOrder, Name: string(o.Do.Kind)}, false
}

func (r *run) batchOrder(o *Order) (Reason, bool) {
	switch o.Do.Kind {
	case PitchedNow:
		return r.pitched()
	case Sample:
		return r.sample(o.Do.Value)
	case Confirm:
		return r.confirm(o)
	case Arm:
		r.s.Batch.Armed = true
		r.unforesee()
		return taken(CodeArmed)
	case AdvanceNow:
		return r.advance(o)
	case Return:
		return r.goBack(o.Do.Stage, o.Who)
	case Pause:
		r.s.Batch.Paused = true
		r.unforesee()
		return taken(CodePaused)
	case Resume:
		r.s.Batch.Paused = false
		r.unforesee()
		return taken(CodeGoesOn)
	case Mark:
		return r.mark(o.Do.Mark, o.Do.Volume, o.Do.Gravity, o.Do.Points)
	case Done, Skip:
		return r.answerJob(o.Do.Kind, o.Do.Job, o.Do.Points)
	case EndCold, EndOff:
		return r.end(o.Do.Kind)
	case Adopt:
		return r.adopt(o.Do.Schedule, o.Who)
	default:
		return Reason{Code: CodeUnknownOrder, Name: string(o.Do.Kind)}, false
	}
}

func refused(c Code) (Reason, bool) { return Reason{Code: c}, false }
func taken(c Code) (Reason, bool)   { return Reason{Code: c}, true }

// start begins a batch, if the vessel is free and can do what the schedule asks.
func (r *run) start(o *Order) (Reason, bool) {
	sch := o.Do.Schedule
	switch {
	case r.s.Mode == InBatch:
		return Reason{Code: CodeBatchRuns, Name: r.s.Batch.ID}, false
	case r.s.Mode == Cleaning:
		return refused(CodeCleaning)
	case sch == nil || len(sch.Stages) == 0 || sch.Wort.Original <= sch.Wort.Final:
		return refused(CodeNoSchedule)
	case o.Do.Batch == "":
		return refused(CodeNoBatchID)
	}
	if because, ok := r.fits(sch); !ok {
		return because, false
	}
	r.s.Batch, r.s.Back = Batch{ID: o.Do.Batch}, Back{}
	if because, ok := r.mayEnter(&sch.Stages[0], o.Who); !ok {
		r.s.Batch = Batch{}
		return because, false
	}
	r.adoptSchedule(sch)
	r.s.Mode, r.s.Lost = InBatch, false
	r.s.Gravity = gravity.New()
	r.s.Watch = r.s.Watch.Void()
	r.event(Event{Kind: BatchStarted, Who: o.Who, Why: o.Why, Reason: Reason{Code: CodeStarted, Name: o.Do.Batch}, Stage: sch.Stages[0].Name, StageKind: sch.Stages[0].Kind})
	r.enter(0, Reason{Code: CodeStarted, Name: o.Do.Batch})
	if sch.Stages[0].Kind != Fill {
		return r.pitched()
	}
	return Reason{Code: CodeStarted, Name: o.Do.Batch}, true
}

// fits tells whether every target lies within the vessel's limits.
func (r *run) fits(sch *Schedule) (Reason, bool) {
	for i := range sch.Stages {
		to := sch.Stages[i].Target.To
		if to < r.v.Limits.Lowest || to > r.v.Limits.Highest {
			return Reason{Code: CodeOutside, Name: sch.Stages[i].Name, Numbers: []Number{
				num("target", float64(to), InCelsius), num("lowest", float64(r.v.Limits.Lowest), InCelsius), num("highest", float64(r.v.Limits.Highest), InCelsius),
			}}, false
		}
	}
	return Reason{}, true
}

func (r *run) adoptSchedule(sch *Schedule) {
	r.sch, r.out.Schedule = sch, sch
	r.prior = priorOf(r.wort())
}

func (r *run) pitched() (Reason, bool) {
	if r.s.Batch.Pitched {
		return refused(CodePitchedBefore)
	}
	r.s.Batch.Pitched, r.s.Batch.Since, r.s.Full = true, 0, true
	r.s.Gravity = r.s.Gravity.Pitch()
	r.s.Batch.Diacetyl = gravity.Diacetyl{}
	return taken(CodePitched)
}

// sample takes a gravity that a person read.
func (r *run) sample(v Value) (Reason, bool) {
	if v.Quantity != SpecificGravity || !v.Gravity.Plausible() {
		return refused(CodeNoGravity)
	}
	_, verdict := r.take(v, v.Gravity, true)
	code := CodeSample
	if !verdict.Believed() {
		code = CodeSampleDoubted
	}
	return Reason{Code: code, Name: string(verdict), Numbers: []Number{num("gravity", float64(v.Gravity), InGravity)}}, true
}

// confirm notes what a person found. It is valid in its stage only.
func (r *run) confirm(o *Order) (Reason, bool) {
	var said []string
	for _, c := range r.stage().Until.Leaves() {
		if c.Kind == Confirmed && (o.Do.Say == "" || o.Do.Say == c.Say) {
			said = append(said, c.Say)
		}
	}
	if len(said) == 0 {
		return refused(CodeNothingToConfirm)
	}
	if o.Who == "" {
		return refused(CodeNobody)
	}
	r.s.Stage.Confirmed = append(append([]string(nil), r.s.Stage.Confirmed...), said...)
	return Reason{Code: CodeConfirmed, Name: said[0]}, true
}

func (r *run) advance(o *Order) (Reason, bool) {
	next := r.next()
	if next == nil {
		return refused(CodeLastStage)
	}
	if because, ok := r.mayEnter(next, o.Who); !ok {
		return because, false
	}
	because := Reason{Code: CodeAdvanced, Name: o.Who}
	r.enter(r.s.Stage.Index+1, because)
	return because, true
}

// goBack returns to a stage, which then has to be earned anew: terminal,
// confirmations and arming.
func (r *run) goBack(name, who string) (Reason, bool) {
	i := r.sch.Find(name)
	if i < 0 || i > r.s.Stage.Index {
		return Reason{Code: CodeNoSuchStage, Name: name}, false
	}
	if because, ok := r.mayEnter(&r.sch.Stages[i], who); !ok {
		return because, false
	}
	r.s.Batch.Armed = false
	r.s.Batch.Told.Terminal, r.s.Batch.Told.Stuck = false, false
	r.s.Gravity = r.s.Gravity.Mark(0, 1)
	r.enter(i, Reason{Code: CodeReturned, Name: name})
	return Reason{Code: CodeReturned, Name: name}, true
}

// adopt takes an edited schedule for the running batch.
func (r *run) adopt(sch *Schedule, who string) (Reason, bool) {
	if sch == nil || len(sch.Stages) == 0 || sch.Wort.Original <= sch.Wort.Final {
		return refused(CodeNoSchedule)
	}
	i := sch.Find(r.s.Stage.Name)
	if i < 0 {
		return Reason{Code: CodeStageGone, Name: r.s.Stage.Name}, false
	}
	if because, ok := r.fits(sch); !ok {
		return because, false
	}
	if r.kind() != Crash {
		if because, ok := r.mayEnter(&sch.Stages[i], who); !ok {
			return because, false
		}
	}
	r.adoptSchedule(sch)
	r.s.Stage.Index, r.s.Stage.TooLong = i, false
	r.s.Stage.Leaves = make([]Leaf, len(sch.Stages[i].Until.Leaves()))
	r.s.Stage.Reminded = make([]bool, len(sch.Stages[i].Remind))
	r.forgetJobs()
	r.unforesee()
	return Reason{Code: CodeAdopted, Name: sch.Name}, true
}

func (r *run) setTarget(o *Order) (Reason, bool) {
	t := o.Do.Celsius
	if !(t >= r.v.Limits.Lowest && t <= r.v.Limits.Highest) {
		return Reason{Code: CodeOutside, Name: "order", Numbers: []Number{
			num("target", finite(float64(t)), InCelsius), num("lowest", float64(r.v.Limits.Lowest), InCelsius), num("highest", float64(r.v.Limits.Highest), InCelsius),
		}}, false
	}
	switch r.s.Mode {
	case InBatch:
		beer := r.s.Sense.Beer
		if !r.mayCrash() && beer.Usable() && beer.Celsius.Minus(t) > deepCool {
			return Reason{Code: CodeNeedsArming, Name: r.s.Stage.Name}, false
		}
		r.s.Stage.Override, r.s.Stage.Target = true, t
	case PreChill:
		r.s.Hold.Target = t
	case Idle, Cleaning:
		return refused(CodeNoBatch)
	}
	return why(CodeTarget, num("target", float64(t), InCelsius)), true
}

// answerAlarm acknowledges or shelves. Acknowledging the heater's lock-out ends it.
func (r *run) answerAlarm(o *Order) (Reason, bool) {
	id := alarms.ID(o.Do.Alarm)
	name := o.Do.Alarm
	if name == "" {
		name = "all"
	}
	var done bool
	if o.Do.Kind == Acknowledge {
		r.s.Alarms, done = r.s.Alarms.Acknowledge(id)
		if done {
			r.unlatch(id)
		}
	} else if o.Do.For > 0 && o.Do.For <= longestShelve {
		r.s.Alarms, done = r.s.Alarms.Shelve(id, o.Do.For)
	}
	if !done {
		return Reason{Code: CodeNoSuchAlarm, Name: name}, false
	}
	r.event(Event{Kind: AlarmAnswered, Alarm: o.Do.Alarm, Who: o.Who, Reason: Reason{Code: CodeAnswered, Name: name}})
	return Reason{Code: CodeAnswered, Name: name}, true
}

// unlatch lets go of what waited for a person's word on an alarm, or on all. What a
// limit tripped stays off while the beer is beyond it.
func (r *run) unlatch(id alarms.ID) {
	w, beer := &r.s.Runaway, r.s.Sense.Beer
	of := func(ids ...alarms.ID) bool { return id == "" || slices.Contains(ids, id) }
	if of(alarms.HeatIneffective) {
		w.HeatLocked = false
	}
	if of(alarms.CoolWrong) {
		w.CoolLocked = false
	}
	if of(alarms.HighLimit) && beer.Usable() && beer.Celsius <= r.v.Limits.Highest {
		w.HeatTripped = false
	}
	if of(alarms.LowLimit, alarms.Freezing) && beer.Usable() && beer.Celsius >= r.v.Limits.Lowest && !r.freezing() {
		w.CoolTripped = false
	}
	if of(alarms.ProbeMoved) {
		for i := range r.s.Sense.Wells {
			r.s.Sense.Wells[i] = r.s.Sense.Wells[i].Settle()
		}
		r.beer()
	}
	if of(alarms.Strayed) {
		r.s.Back.Strayed = false
	}
	if of(alarms.StateLost) {
		r.s.Lost = false
	}
}
