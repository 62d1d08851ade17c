package alarms_test

import (
	"strings"
	"testing"

	"example.org/restpoint/controller/alarms"
)

// An alarm without a consequence or without something to do is an event
// (ISA-18.2: each alarm is rationalised by cause, consequence, response, time).
func TestEveryAlarmTellsAPersonWhatToDo(t *testing.T) {
	seen := map[alarms.ID]bool{}
	for _, r := range alarms.Table() {
		if seen[r.ID] {
			t.Errorf("%s stands twice", r.ID)
		}
		seen[r.ID] = true
		for what, text := range map[string]string{
			"id": string(r.ID), "cause": r.Cause, "consequence": r.Consequence, "what to do": r.Do, "time available": r.Time,
		} {
			if strings.TrimSpace(text) != text || text == "" {
				t.Errorf("%s: its %s is %q", r.ID, what, text)
			}
			if what != "id" && (strings.HasSuffix(text, ".") || strings.ToLower(text[:1]) != text[:1] && !strings.HasPrefix(text, "CO2")) {
				t.Errorf("%s: its %s is a clause, not a sentence: %q", r.ID, what, text)
			}
		}
		switch r.Priority {
		case alarms.Urgent, alarms.High, alarms.Low:
		default:
			t.Errorf("%s has the priority %q", r.ID, r.Priority)
		}
		if r.OnDelay < 0 || r.OffDelay < 0 {
			t.Errorf("%s has a delay below nothing", r.ID)
		}
		if r.Priority == alarms.Urgent && r.OnDelay > 0 {
			t.Errorf("%s is urgent and waits %v", r.ID, r.OnDelay)
		}
		if got, ok := alarms.Find(r.ID); !ok || got != r {
			t.Errorf("%s is not found by its id", r.ID)
		}
	}
	if len(seen) < 15 {
		t.Errorf("only %d alarms", len(seen))
	}
	if _, ok := alarms.Find("sour-milk"); ok {
		t.Error("an alarm that is not in the table is found")
	}
}
