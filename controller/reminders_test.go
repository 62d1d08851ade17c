package controller_test

import (
	"strings"
	"testing"
	"time"

	"example.org/restpoint/controller"
)

func job(k controller.VerbKind, no int) controller.Verb { return controller.Verb{Kind: k, Job: no} }

// reminded is a batch in a stage of many jobs.
func reminded(t *testing.T, jobs ...controller.Reminder) *desk {
	t.Helper()
	s := two(controller.Condition{Kind: controller.Terminal, Points: 1, Over: 48 * time.Hour})
	s.Stages[0].Remind = jobs
	return on(t, s)
}

func after(h int, say string) controller.Reminder {
	return controller.Reminder{When: controller.RemindAfter, By: time.Duration(h) * time.Hour, Say: say}
}

func TestAJobStaysOpenUntilItIsAnswered(t *testing.T) {
	d := reminded(t, after(1, "rouse the yeast"), after(2, "look at the trap"), after(3, "take a sample"))
	if a := d.tell(job(controller.Done, 0)); a.Taken || a.Reason.Code != controller.CodeNoSuchJob {
		t.Errorf("a job that is not due is done: %v", a.Reason)
	}
	d.run(4 * time.Hour)
	jobs := d.out.Decision.Jobs
	if d.happened(controller.ReminderDue) != 3 || len(jobs) != 3 || jobs[0].No != 1 || jobs[1].Say != "look at the trap" || jobs[2].For > time.Hour+2*time.Minute {
		t.Fatalf("open: %+v", jobs)
	}
	if a := d.tell(job(controller.Done, 0)); a.Taken {
		t.Error("three are open and none is named")
	}
	if a := d.tell(job(controller.Done, 9)); a.Taken {
		t.Error("there is no ninth")
	}
	d.must(job(controller.Done, 2))
	d.must(job(controller.Skip, 1))
	d.step()
	if jobs = d.out.Decision.Jobs; len(jobs) != 1 || jobs[0].No != 3 {
		t.Fatalf("open: %+v", jobs)
	}
	d.must(verb(controller.AdvanceNow)) // the job is not forgotten with its stage
	d.must(job(controller.Done, 0))
	d.run(10 * time.Hour)
	if d.happened(controller.ReminderDue) != 3 || d.out.Decision.Jobs != nil {
		t.Errorf("said %d times, open %+v", d.happened(controller.ReminderDue), d.out.Decision.Jobs)
	}
	for _, want := range []string{"order-taken done by brewer: done: look at the trap", "order-taken skip by brewer: skipped: rouse the yeast"} {
		found := false
		for _, e := range d.log {
			found = found || e.String() == want
		}
		if !found {
			t.Errorf("no event %q", want)
		}
	}
}

func TestDoingAJobMarksWhatItDoesToTheBeer(t *testing.T) {
	r := after(1, "two doses of hops")
	r.Mark = controller.DryHop
	for k, lower := range map[controller.VerbKind]float64{controller.Done: 2, controller.Skip: 0} {
		d := reminded(t, r)
		d.run(2 * time.Hour)
		if due := d.out.Decision.Jobs; len(due) != 1 || due[0].Mark != controller.DryHop {
			t.Fatalf("open: %+v", due)
		}
		d.must(job(k, 1))
		if d.s.Gravity.Lower != lower {
			t.Errorf("%s: the end moved by %v, want %v", k, d.s.Gravity.Lower, lower)
		}
	}
}

func TestSugarOfAJobIsWeighed(t *testing.T) {
	r := after(1, "feed")
	r.Mark = controller.Addition
	d := reminded(t, r)
	d.run(2 * time.Hour)
	if a := d.tell(controller.Verb{Kind: controller.Done, Job: 1, Points: 100}); a.Taken || len(d.s.Batch.Jobs) != 1 {
		t.Fatalf("a hundred points are taken: %v", a.Reason)
	}
	d.must(controller.Verb{Kind: controller.Done, Job: 1, Points: 10})
	if d.s.Batch.Added != 10 || len(d.s.Batch.Jobs) != 0 {
		t.Errorf("added %v, open %+v", d.s.Batch.Added, d.s.Batch.Jobs)
	}
}

func TestNobodyIsWokenForAJob(t *testing.T) {
	d := reminded(t, after(3, "rouse the yeast"))
	night := func(hours int) {
		for range hours * 60 {
			d.in.Quiet = true
			d.step()
		}
	}
	d.run(2 * time.Hour)
	night(8)
	if d.happened(controller.ReminderDue) != 0 {
		t.Fatal("said in the night")
	}
	d.step()
	if d.happened(controller.ReminderDue) != 1 {
		t.Error("not said in the morning")
	}
	night(1)
	if len(d.out.Decision.Jobs) != 1 {
		t.Error("what was said is not hidden by the next night")
	}
}

// At night only what cannot wait is raised: here a beer that is far too warm, but
// not a hydrometer that is silent.
func TestOnlyWhatCannotWaitIsRaisedAtNight(t *testing.T) {
	d := brewing(t)
	d.sg = fall(1.010)
	d.run(20 * time.Hour)
	d.sg = nil
	d.beer = 24
	for range 12 * 60 {
		d.in.Quiet = true
		d.step()
	}
	if !d.s.Alarms.Raised("beer-too-warm") || d.s.Alarms.Raised("gravity-lost") {
		t.Errorf("raised at night: %+v", d.s.Alarms.List)
	}
	d.step()
	d.step()
	if !d.s.Alarms.Raised("gravity-lost") {
		t.Errorf("not raised in the morning: %+v", d.s.Alarms.List)
	}
}

func TestAnotherScheduleForgetsItsJobs(t *testing.T) {
	d := reminded(t, after(1, "rouse"), after(1, "taste"))
	d.run(2 * time.Hour)
	s := two(controller.Condition{Kind: controller.Terminal, Points: 1, Over: 48 * time.Hour})
	s.Stages[0].Remind = []controller.Reminder{after(1, "rouse")}
	d.must(controller.Verb{Kind: controller.Adopt, Schedule: s})
	d.step()
	for _, j := range d.out.Decision.Jobs {
		if !strings.HasPrefix(j.Say, "rouse") {
			t.Errorf("open: %+v", j)
		}
	}
}

func TestUnansweredJobsDoNotFillTheState(t *testing.T) {
	var many []controller.Reminder
	for range 30 {
		many = append(many, after(1, "look"))
	}
	d := reminded(t, many...)
	d.run(2 * time.Hour)
	if jobs := d.out.Decision.Jobs; len(jobs) != 20 || jobs[19].No != 30 {
		t.Errorf("%d open, the last %d", len(jobs), jobs[len(jobs)-1].No)
	}
}
