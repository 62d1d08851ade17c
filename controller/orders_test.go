package controller_test

import (
	"encoding/json"
	"math"
	"reflect"
	"strconv"
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
)

func verb(k controller.VerbKind) controller.Verb { return controller.Verb{Kind: k} }

func start(s *controller.Schedule) controller.Verb {
	return controller.Verb{Kind: controller.Start, Batch: "b1", Schedule: s}
}

func target(c units.Celsius) controller.Verb {
	return controller.Verb{Kind: controller.SetTarget, Celsius: c}
}

func mode(m controller.Mode) controller.Verb {
	return controller.Verb{Kind: controller.SetMode, Mode: m, Celsius: 12}
}

func hot() *controller.Schedule {
	s := ale()
	s.Stages[1].Target.To = 31
	return s
}

func upsideDown() *controller.Schedule {
	s := ale()
	s.Wort.Original, s.Wort.Final = s.Wort.Final, s.Wort.Original
	return s
}

// Each order, what becomes of it and why, in each mode of a vessel.
func TestOrders(t *testing.T) {
	idle := func(*desk) {}
	running := func(d *desk) { d.must(start(ale())); d.must(verb(controller.PitchedNow)) }
	filling := func(d *desk) { d.must(start(ale())) }
	last := func(d *desk) {
		running(d)
		for range 3 {
			d.must(verb(controller.AdvanceNow))
		}
	}
	cleaning := func(d *desk) { d.must(mode(controller.Cleaning)) }
	chilling := func(d *desk) { d.must(mode(controller.PreChill)) }
	breaker := func(d *desk) { d.v.SuckBack = controller.VacuumBreaker }
	for name, c := range map[string]struct {
		before func(*desk)
		do     controller.Verb
		taken  bool
		code   controller.Code
	}{
		"a batch starts in an idle vessel":                   {idle, start(ale()), true, controller.CodeStarted},
		"a batch starts in a vessel that was chilled for it": {chilling, start(ale()), true, controller.CodeStarted},
		"a batch does not start beside another":              {running, start(ale()), false, controller.CodeBatchRuns},
		"a batch does not start in a vessel that is cleaned": {cleaning, start(ale()), false, controller.CodeCleaning},
		"a batch needs a schedule":                           {idle, start(nil), false, controller.CodeNoSchedule},
		"a schedule needs stages":                            {idle, start(&controller.Schedule{Wort: ale().Wort}), false, controller.CodeNoSchedule},
		"a schedule whose beer ends above its wort is none":  {idle, start(upsideDown()), false, controller.CodeNoSchedule},
		"a batch needs an id":                                {idle, controller.Verb{Kind: controller.Start, Schedule: ale()}, false, controller.CodeNoBatchID},
		"a schedule must fit the vessel's limits":            {idle, start(hot()), false, controller.CodeOutside},
		"yeast needs a batch":                                {idle, verb(controller.PitchedNow), false, controller.CodeNoBatch},
		"yeast goes in":                                      {filling, verb(controller.PitchedNow), true, controller.CodePitched},
		"yeast goes in once":                                 {running, verb(controller.PitchedNow), false, controller.CodePitchedBefore},
		"a sample needs a batch":                             {idle, controller.Verb{Kind: controller.Sample, Value: controller.OfGravity(1.05)}, false, controller.CodeNoBatch},
		"a sample is taken":                                  {running, controller.Verb{Kind: controller.Sample, Value: controller.OfSample(1.05, 20)}, true, controller.CodeSample},
		"a sample must be a gravity":                         {running, controller.Verb{Kind: controller.Sample, Value: controller.OfTemperature(20)}, false, controller.CodeNoGravity},
		"a sample must be plausible":                         {running, controller.Verb{Kind: controller.Sample, Value: controller.OfGravity(1.5)}, false, controller.CodeNoGravity},
		"a sample must be a number":                          {running, controller.Verb{Kind: controller.Sample, Value: controller.OfGravity(units.Gravity(math.NaN()))}, false, controller.CodeNoGravity},
		"nothing waits for a confirmation":                   {running, verb(controller.Confirm), false, controller.CodeNothingToConfirm},
		"a confirmation needs a batch":                       {idle, verb(controller.Confirm), false, controller.CodeNoBatch},
		"a tank is armed":                                    {running, verb(controller.Arm), true, controller.CodeArmed},
		"arming needs a batch":                               {idle, verb(controller.Arm), false, controller.CodeNoBatch},
		"a stage is advanced":                                {running, verb(controller.AdvanceNow), true, controller.CodeAdvanced},
		"behind the last stage there is none":                {last, verb(controller.AdvanceNow), false, controller.CodeLastStage},
		"back to an earlier stage":                           {last, controller.Verb{Kind: controller.Return, Stage: "primary"}, true, controller.CodeReturned},
		"back to the same stage":                             {last, controller.Verb{Kind: controller.Return, Stage: "cold hold"}, true, controller.CodeReturned},
		"back never leads on":                                {running, controller.Verb{Kind: controller.Return, Stage: "crash"}, false, controller.CodeNoSuchStage},
		"back needs a stage that is there":                   {running, controller.Verb{Kind: controller.Return, Stage: "lunch"}, false, controller.CodeNoSuchStage},
		"a pause":                                            {running, verb(controller.Pause), true, controller.CodePaused},
		"a pause needs a batch":                              {idle, verb(controller.Pause), false, controller.CodeNoBatch},
		"a pause ends":                                       {running, verb(controller.Resume), true, controller.CodeGoesOn},
		"another target":                                     {running, target(20), true, controller.CodeTarget},
		"another target for a vessel that is chilled":        {chilling, target(8), true, controller.CodeTarget},
		"a target needs something to hold":                   {idle, target(20), false, controller.CodeNoBatch},
		"a target is nothing for a vessel that is cleaned":   {cleaning, target(20), false, controller.CodeNoBatch},
		"a target above the vessel's limits":                 {running, target(30.1), false, controller.CodeOutside},
		"a target below the vessel's limits":                 {running, target(-1.1), false, controller.CodeOutside},
		"a target must be a number":                          {running, target(units.Celsius(math.NaN())), false, controller.CodeOutside},
		"a mark":                                             {running, controller.Verb{Kind: controller.Mark, Mark: controller.Dump}, true, controller.CodeMarked},
		"a mark that nobody knows":                           {running, controller.Verb{Kind: controller.Mark, Mark: "stare"}, false, controller.CodeNoSuchMark},
		"a mark needs a batch":                               {idle, controller.Verb{Kind: controller.Mark, Mark: controller.Dump}, false, controller.CodeNoBatch},
		"an alarm that is not there is not acknowledged":     {running, controller.Verb{Kind: controller.Acknowledge, Alarm: "stuck"}, false, controller.CodeNoSuchAlarm},
		"no alarm at all is not acknowledged":                {running, verb(controller.Acknowledge), false, controller.CodeNoSuchAlarm},
		"an alarm that is not there is not shelved":          {running, controller.Verb{Kind: controller.Shelve, Alarm: "stuck", For: time.Hour}, false, controller.CodeNoSuchAlarm},
		"a batch ends cold":                                  {last, verb(controller.EndCold), true, controller.CodeEndedCold},
		"a batch ends":                                       {last, verb(controller.EndOff), true, controller.CodeEndedOff},
		"what does not run does not end":                     {idle, verb(controller.EndOff), false, controller.CodeNoBatch},
		"a vessel is chilled":                                {idle, mode(controller.PreChill), true, controller.CodeMode},
		"a vessel is chilled within its limits":              {idle, controller.Verb{Kind: controller.SetMode, Mode: controller.PreChill, Celsius: -2}, false, controller.CodeOutsideMode},
		"a vessel is cleaned":                                {chilling, mode(controller.Cleaning), true, controller.CodeMode},
		"a vessel idles":                                     {cleaning, mode(controller.Idle), true, controller.CodeMode},
		"no mode starts a batch":                             {idle, mode(controller.InBatch), false, controller.CodeStartInstead},
		"a mode that nobody knows":                           {idle, mode("party"), false, controller.CodeNoSuchMode},
		"no mode ends a batch":                               {running, mode(controller.Idle), false, controller.CodeBatchRuns},
		"the same schedule is adopted":                       {running, controller.Verb{Kind: controller.Adopt, Schedule: ale()}, true, controller.CodeAdopted},
		"no schedule is not adopted":                         {running, verb(controller.Adopt), false, controller.CodeNoSchedule},
		"a schedule outside the limits is not adopted":       {running, controller.Verb{Kind: controller.Adopt, Schedule: hot()}, false, controller.CodeOutside},
		"adopting needs a batch":                             {idle, controller.Verb{Kind: controller.Adopt, Schedule: ale()}, false, controller.CodeNoBatch},
		"an order that nobody knows":                         {running, verb("sing"), false, controller.CodeUnknownOrder},
		"a breaker is no gas: the crash waits to be armed": {func(d *desk) {
			breaker(d)
			running(d)
			d.must(verb(controller.AdvanceNow))
		}, verb(controller.AdvanceNow), false, controller.CodeNeedsArming},
		"armed, a person may crash": {func(d *desk) {
			breaker(d)
			running(d)
			d.must(verb(controller.AdvanceNow))
			d.must(verb(controller.Arm))
		}, verb(controller.AdvanceNow), true, controller.CodeAdvanced},
		"a return into the crash waits to be armed again": {func(d *desk) {
			breaker(d)
			running(d)
			d.must(verb(controller.AdvanceNow))
			d.must(verb(controller.Arm))
			d.must(verb(controller.AdvanceNow))
			d.must(controller.Verb{Kind: controller.Return, Stage: "crash"})
		}, controller.Verb{Kind: controller.Return, Stage: "crash"}, false, controller.CodeNeedsArming},
	} {
		t.Run(name, func(t *testing.T) {
			d := sit(t)
			c.before(d)
			d.step()
			before, text := d.s, mustJSON(t, d.s)
			o := d.order(c.do)
			a := d.step(o)[0]
			if a.Taken != c.taken || a.Reason.Code != c.code || a.ID != o.ID {
				t.Fatalf("taken %v, %s: %v; want %v, %s", a.Taken, a.Reason.Code, a.Reason, c.taken, c.code)
			}
			if mustJSON(t, before) != text {
				t.Error("the order wrote into the old state")
			}
			first := d.out.Events[0]
			want := controller.OrderTaken
			if !c.taken {
				want = controller.OrderRefused
			}
			if first.Kind != want || first.Order != o.ID || first.Who != "brewer" || first.Verb != c.do.Kind || !d.out.Commit {
				t.Errorf("the record begins with %+v, commit %v", first, d.out.Commit)
			}
			if !c.taken && (d.s.Mode != before.Mode || d.s.Stage.Name != before.Stage.Name || d.s.Batch.ID != before.Batch.ID) {
				t.Errorf("a refused order moved the vessel to %s, %s", d.s.Mode, d.s.Stage.Name)
			}
		})
	}
}

func TestTheSameIDGetsTheSameAnswerAndIsDoneOnce(t *testing.T) {
	d := brewing(t)
	o := d.order(verb(controller.AdvanceNow))
	first := d.step(o)[0]
	d.at("diacetyl rest")
	for range 3 {
		if again := d.step(o)[0]; !reflect.DeepEqual(again, first) {
			t.Fatalf("answered %+v, then %+v", first, again)
		}
	}
	if twice := d.step(o, o); len(twice) != 2 || d.out.Decision.Stage != "diacetyl rest" {
		t.Fatalf("%d answers, in %s", len(twice), d.out.Decision.Stage)
	}
	// A refusal is remembered too, also when it would be taken by now.
	no := d.order(controller.Verb{Kind: controller.Return, Stage: "crash"})
	refused := d.step(no)[0]
	d.must(verb(controller.AdvanceNow))
	if again := d.step(no)[0]; refused.Taken || !reflect.DeepEqual(again, refused) {
		t.Errorf("answered %+v, then %+v", refused, again)
	}
	for i := range 20 {
		d.step(controller.Order{ID: "more-" + strconv.Itoa(i), Do: verb(controller.Pause)})
	}
	if n := len(d.s.Answers); n != 12 {
		t.Errorf("%d answers are kept", n)
	}
}

func TestAnOrderWithoutIDIsDoneEachTime(t *testing.T) {
	d := brewing(t)
	for range 2 {
		d.step(controller.Order{Who: "brewer", Do: verb(controller.AdvanceNow)})
	}
	d.at("crash")
}

func TestOnlyANamedPersonCrashesABeer(t *testing.T) {
	confirm := ale()
	confirm.Stages[2].Until = controller.Condition{Kind: controller.Confirmed, Say: "clean"}
	cold := ale()
	cold.Stages[2].Kind = controller.Crash
	first := ale()
	first.Stages = first.Stages[3:]
	for name, c := range map[string]struct {
		before func(*desk)
		do     controller.Verb
	}{
		"by an advance":       {func(*desk) {}, verb(controller.AdvanceNow)},
		"by a confirmation":   {func(d *desk) { d.must(controller.Verb{Kind: controller.Adopt, Schedule: confirm}) }, verb(controller.Confirm)},
		"by another schedule": {func(*desk) {}, controller.Verb{Kind: controller.Adopt, Schedule: cold}},
		"by a return": {func(d *desk) {
			d.must(verb(controller.AdvanceNow))
			d.must(verb(controller.AdvanceNow))
			d.log = nil
		}, controller.Verb{Kind: controller.Return, Stage: "crash"}},
		"by a start": {func(d *desk) { d.must(verb(controller.EndOff)) }, start(first)},
	} {
		t.Run(name, func(t *testing.T) {
			d := brewing(t)
			d.must(verb(controller.AdvanceNow))
			d.at("diacetyl rest")
			c.before(d)
			o := d.order(c.do)
			o.Who = ""
			a := d.step(o)[0]
			d.run(5 * time.Minute)
			if a.Taken || a.Reason.Code != controller.CodeNobody || d.out.Decision.Kind == controller.Crash {
				t.Errorf("nobody asked: taken %v, %v; now in %s", a.Taken, a.Reason, d.out.Decision.Stage)
			}
			o = d.order(c.do)
			if a = d.step(o)[0]; !a.Taken {
				t.Errorf("the brewer asked: %v", a.Reason)
			}
		})
	}
}

func TestAnswersGoThroughTheStoredState(t *testing.T) {
	d := brewing(t)
	o := d.order(controller.Verb{Kind: controller.Sample, Value: controller.OfSample(1.051, 22)})
	first := d.step(o)[0]
	var back controller.State
	if err := json.Unmarshal([]byte(mustJSON(t, d.s)), &back); err != nil {
		t.Fatal(err)
	}
	d.s = back
	d.restart(controller.Outage{})
	if again := d.step(o)[0]; !reflect.DeepEqual(again, first) {
		t.Errorf("answered %+v, after a restart %+v", first, again)
	}
}
