package alarms_test

import (
	"encoding/json"
	"reflect"
	"testing"
	"time"

	"example.org/restpoint/controller/alarms"
)

// A day is ISA-18.2's figure, as a study of it gives it; three an hour is engineering
// judgement.
func TestAlarmsThatStandForMoreThanADayAreCounted(t *testing.T) {
	var l life
	l.run(true, alarms.GravityLost, 23*time.Hour+59*minute)
	if got := l.s.Counts(); got.Standing != 0 {
		t.Errorf("%d stand before a day", got.Standing)
	}
	if l.run(true, alarms.GravityLost, 2*minute); l.s.Counts().Standing != 1 {
		t.Errorf("%+v after a day: %+v", l.s.Counts(), l.s.List)
	}
	if l.s, _ = l.s.Acknowledge(alarms.GravityLost); l.s.Counts().Standing != 1 {
		t.Error("one that is known of stands all the same")
	}
	if l.run(false, alarms.GravityLost, minute); l.s.Counts() != (alarms.Counts{}) {
		t.Errorf("%+v when it is gone", l.s.Counts())
	}
	// What waits for the morning was not raised yet.
	if l.with(of(alarms.Stuck), 30*time.Hour, true); l.s.Counts().Standing != 0 || l.phase(alarms.Stuck) != alarms.Pending {
		t.Errorf("%+v of what waits: %+v", l.s.Counts(), l.s.List)
	}
	// What is suppressed by design is no alarm.
	if l.with([]alarms.Cause{{ID: alarms.BeerTooWarm, Suppressed: true}}, 30*time.Hour, false); l.s.Counts().Standing != 0 {
		t.Error("a suppressed alarm is counted")
	}
}

func TestAlarmsThatComeAndGoAreCounted(t *testing.T) {
	var l life
	flap := func(times int, every time.Duration) {
		for range times {
			l.run(true, alarms.ProbeLost, minute)
			l.run(false, alarms.ProbeLost, 2*minute)
			l.s, _ = l.s.Acknowledge("")
			l.run(false, alarms.ProbeLost, every-3*minute)
		}
	}
	if flap(2, 10*minute); l.s.Counts().Chattering != 0 {
		t.Errorf("%+v after two: %+v", l.s.Counts(), l.s.Rung)
	}
	if flap(1, 10*minute); l.s.Counts().Chattering != 1 {
		t.Errorf("%+v after three: %+v", l.s.Counts(), l.s.Rung)
	}
	text, err := json.Marshal(l.s)
	var back alarms.State
	if err != nil || json.Unmarshal(text, &back) != nil || !reflect.DeepEqual(back, l.s) {
		t.Errorf("%v: %s", err, text)
	}
	if flap(2, 10*minute); l.s.Counts().Chattering != 1 || len(l.s.Rung) != 1 || l.s.Rung[0].Times != 3 {
		t.Errorf("%+v after five: %+v", l.s.Counts(), l.s.Rung)
	}
	if l.run(false, alarms.ProbeLost, 40*minute); l.s.Counts().Chattering != 0 {
		t.Errorf("%+v after most of an hour: %+v", l.s.Counts(), l.s.Rung)
	}
	if l.run(false, alarms.ProbeLost, 30*minute); len(l.s.Rung) != 0 {
		t.Errorf("not forgotten: %+v", l.s.Rung)
	}
	if flap(4, 31*minute); l.s.Counts().Chattering != 0 {
		t.Errorf("every half hour is no chatter: %+v", l.s.Rung)
	}
}

// A step leaves the state that it was given as it was.
func TestWhatWasRaisedBeforeIsNotWrittenInPlace(t *testing.T) {
	var l life
	l.run(true, alarms.ProbeLost, minute)
	before := l.s
	was := before.Rung[0]
	l.run(false, alarms.ProbeLost, 5*minute)
	l.run(true, alarms.ProbeLost, 5*minute)
	if before.Rung[0] != was {
		t.Errorf("%+v, was %+v", before.Rung[0], was)
	}
}
