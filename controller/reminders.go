package controller

import (
	"time"

	"example.org/restpoint/controller/units"
)

// Job is a reminder that is due and not answered yet. Its words are in the
// schedule.
type Job struct {
	No    int // what a person calls it by, counted through the batch
	Stage string
	At    int // which reminder of that stage
	For   time.Duration
}

// Due is a job as a person sees it.
type Due struct {
	No    int
	Stage string
	Say   string
	Mark  MarkKind // what doing it does to the beer; empty = nothing
	For   time.Duration
}

// mostJobs is how many unanswered jobs are remembered; the oldest give way.
const mostJobs = 20

// remind names the jobs that are due, each once a stage. Nobody is woken for a
// job: what falls due in quiet hours is said after them.
func (r *run) remind(st *Stage) {
	r.ageJobs()
	r.cold()
	if r.in.Quiet {
		return
	}
	r.topUp()
	for i := range st.Remind {
		if i >= len(r.s.Stage.Reminded) || r.s.Stage.Reminded[i] || !r.due(st, &st.Remind[i]) {
			continue
		}
		said := append([]bool(nil), r.s.Stage.Reminded...)
		said[i] = true
		r.s.Stage.Reminded = said
		r.s.Batch.LastJob++
		r.addJob(Job{No: r.s.Batch.LastJob, Stage: st.Name, At: i})
		r.event(Event{Kind: ReminderDue, Job: r.s.Batch.LastJob, Say: st.Remind[i].Say, Reason: r.reminds(&st.Remind[i])})
	}
}

func (r *run) addJob(j Job) {
	jobs := make([]Job, 0, len(r.s.Batch.Jobs)+1)
	jobs = append(jobs, r.s.Batch.Jobs[max(0, len(r.s.Batch.Jobs)-mostJobs+1):]...)
	jobs = append(jobs, j)
	r.s.Batch.Jobs = jobs
}

// topUpAfter is how long after the crash began the gas above the beer is spoken of:
// it shrinks within hours, and the cold beer takes it up for days. One that was only
// cooled a little takes up little (engineering judgement: above 10 C).
const (
	topUpAfter               = 24 * time.Hour
	topUpBelow units.Celsius = 10
)

// topUpJob is the one reminder that no schedule writes; its stage has no name.
func topUpJob() Reminder {
	return Reminder{Say: "Look at the pressure above the beer: cold beer takes up gas for days. Top it up, or see that the breaker works."}
}

// cold counts how long ago the beer was let into its crash.
func (r *run) cold() {
	b := &r.s.Batch
	switch r.kind() {
	case Crash, Hold:
		if b.Cold > 0 || r.kind() == Crash {
			b.Cold = min(b.Cold+max(r.elapsed, 1), 365*units.Day)
		}
	case Fill, Primary, Rest:
		b.Cold, b.Topped = 0, false
	}
}

func (r *run) topUp() {
	b := &r.s.Batch
	if beer := r.s.Sense.Beer; b.Topped || b.Cold < topUpAfter || !beer.Usable() || beer.Celsius > topUpBelow {
		return
	}
	b.Topped = true
	b.LastJob++
	r.addJob(Job{No: b.LastJob})
	r.event(Event{Kind: ReminderDue, Job: b.LastJob, Say: topUpJob().Say})
}

func (r *run) ageJobs() {
	if len(r.s.Batch.Jobs) == 0 {
		return
	}
	jobs := append([]Job(nil), r.s.Batch.Jobs...)
	for i := range jobs {
		jobs[i].For += r.elapsed
	}
	r.s.Batch.Jobs = jobs
}

func (r *run) due(st *Stage, m *Reminder) bool {
	switch m.When {
	case RemindAfter:
		return r.s.Stage.In >= m.By
	case RemindPoints:
		return r.s.Gravity.Est.Ready && r.s.Gravity.AtMost(float64(m.Points))
	case RemindHeat:
		left, sd, known := r.heatLeft()
		return known && r.tick() && left-sd <= float64(m.Points)
	case RemindBefore:
		next := r.next()
		at := 0
		return next != nil && next.Name == m.Stage && r.tick() && r.remaining(&st.Until, r.s.Stage.Leaves, &at) <= m.By
	}
	return false
}

// answerJob notes that a job is done, or will not be. What was done to the beer by
// doing it is marked.
func (r *run) answerJob(k VerbKind, no int, added units.Points) (Reason, bool) {
	at := -1
	for i, j := range r.s.Batch.Jobs {
		if j.No == no || no == 0 && len(r.s.Batch.Jobs) == 1 {
			at = i
		}
	}
	if at < 0 {
		return Reason{Code: CodeNoSuchJob, Numbers: []Number{num("open", float64(len(r.s.Batch.Jobs)), Bare)}}, false
	}
	m, known := r.reminder(r.s.Batch.Jobs[at])
	marks := k == Done && known && m.Mark != ""
	if marks {
		if because, ok := r.mark(m.Mark, 0, 0, added); !ok {
			return because, false
		}
	}
	jobs := append([]Job(nil), r.s.Batch.Jobs[:at]...)
	r.s.Batch.Jobs = append(jobs, r.s.Batch.Jobs[at+1:]...)
	if len(r.s.Batch.Jobs) == 0 {
		r.s.Batch.Jobs = nil
	}
	if k == Skip {
		return Reason{Code: CodeJobSkipped, Name: m.Say}, true
	}
	if marks {
		return Reason{Code: CodeJobMarked, Name: string(m.Mark)}, true
	}
	return Reason{Code: CodeJobDone, Name: m.Say}, true
}

// reminder finds what a job is about.
func (r *run) reminder(j Job) (Reminder, bool) {
	if j.Stage == "" {
		return topUpJob(), true
	}
	i := r.sch.Find(j.Stage)
	if i < 0 || j.At >= len(r.sch.Stages[i].Remind) {
		return Reminder{}, false
	}
	return r.sch.Stages[i].Remind[j.At], true
}

// forgetJobs drops jobs that another schedule does not know.
func (r *run) forgetJobs() {
	var keep []Job
	for _, j := range r.s.Batch.Jobs {
		if _, known := r.reminder(j); known {
			keep = append(keep, j)
		}
	}
	r.s.Batch.Jobs = keep
}

// jobs lists what a person is asked to do.
func (r *run) jobs() []Due {
	var list []Due
	for _, j := range r.s.Batch.Jobs {
		m, _ := r.reminder(j)
		list = append(list, Due{No: j.No, Stage: j.Stage, Say: m.Say, Mark: m.Mark, For: j.For})
	}
	return list
}
