package commission_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/commission"
	"example.org/restpoint/controller/guard"
)

// contact is a line that writes down when it was switched.
type contact struct {
	began time.Time
	log   []string
	on    bool
	fail  map[bool]error
}

func (c *contact) Set(on bool) error {
	c.log = append(c.log, fmt.Sprintf("%v at %v", on, time.Since(c.began)))
	if err := c.fail[on]; err != nil {
		return err
	}
	c.on = on
	return nil
}

func relayOf(p guard.Profile, c *contact) commission.Relay {
	return commission.Relay{Name: "fv1 heat", Where: "on gpiochip0 GPIO17", Profile: p, Line: c}
}

func TestAPulseIsAskedForCountedDownAndEnded(t *testing.T) {
	for name, c := range map[string]struct {
		profile guard.Profile
		answers string
		log     string
		seen    string
		refused bool
		says    string
	}{
		"agreed and right":              {guard.Heater, "yes\nright\n", "true at 3s, false at 5s", commission.Right, false, "3 2 1 ON"},
		"whatever the case":             {guard.Valve, "YES\nRight\n", "true at 3s, false at 5s", commission.Right, false, ""},
		"another relay":                 {guard.Pump, "yes\nother\n", "true at 3s, false at 5s", commission.Other, false, ""},
		"nothing at all":                {guard.SSR, "yes\nnone\n", "true at 3s, false at 5s", commission.None, false, ""},
		"a slip, then an answer":        {guard.Heater, "yes\nrihgt\nright\n", "true at 3s, false at 5s", commission.Right, false, `"rihgt" is none of right, other, none, stays.`},
		"a contact that stays":          {guard.Heater, "yes\nstays\n", "true at 3s, false at 5s, false at 5s", commission.Stays, false, "mains of what hangs on it OFF now"},
		"not agreed":                    {guard.Heater, "no\n", "", "", true, "Left alone."},
		"just the return key":           {guard.Heater, "\n", "", "", true, "Left alone."},
		"yes is not enough for a motor": {guard.Compressor, "yes\n", "", "", true, "Pull its plug first"},
		"its plug is pulled":            {guard.Compressor, "unplugged\nright\n", "true at 3s, false at 5s", commission.Right, false, ""},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				line, out := &contact{began: time.Now()}, &strings.Builder{}
				seen, refused, err := commission.NewTalk(out, strings.NewReader(c.answers)).Pulse(t.Context(), relayOf(c.profile, line), 2*time.Second)
				if err != nil || seen != c.seen || refused != c.refused || strings.Join(line.log, ", ") != c.log || line.on {
					t.Errorf("seen %q, refused %v, %v; switched %v", seen, refused, err, line.log)
				}
				if !strings.Contains(out.String(), c.says) {
					t.Errorf("says\n%s\nand not %q", out, c.says)
				}
			})
		})
	}
}

func TestTheRelayIsOffOnEveryWayOut(t *testing.T) {
	for name, c := range map[string]struct {
		answers string
		end     time.Duration // of the context; 0 = never
		fail    map[bool]error
		want    string
	}{
		"stopped while it counts down":        {"yes\n", 2 * time.Second, nil, "count down"},
		"stopped while it is on":              {"yes\n", 4 * time.Second, nil, "wait with fv1 heat on"},
		"nobody answers any more":             {"yes\n", 0, nil, "read the answer: no answer"},
		"nobody answers at all":               {"", 0, nil, "no answer"},
		"it cannot be switched on":            {"yes\n", 0, map[bool]error{true: errors.New("broken")}, "switch fv1 heat on: broken"},
		"it cannot be switched off: cry out!": {"yes\n", 0, map[bool]error{false: errors.New("broken")}, "switch fv1 heat off: broken; pull its plug"},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				ctx, cancel := context.WithCancel(t.Context())
				defer cancel()
				if c.end > 0 {
					var stop context.CancelFunc
					ctx, stop = context.WithTimeout(ctx, c.end)
					defer stop()
				}
				line := &contact{began: time.Now(), fail: c.fail}
				_, _, err := commission.NewTalk(io.Discard, strings.NewReader(c.answers)).Pulse(ctx, relayOf(guard.Heater, line), 2*time.Second)
				if err == nil || !strings.Contains(err.Error(), c.want) {
					t.Errorf("error %v, want %q", err, c.want)
				}
				if line.on && c.fail == nil {
					t.Errorf("it is on; switched %v", line.log)
				}
			})
		})
	}
}

func TestAQuestionEndsWithTheContext(t *testing.T) {
	r, w := io.Pipe()
	defer func() { _ = w.Close() }()
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	line := &contact{began: time.Now()}
	_, _, err := commission.NewTalk(io.Discard, r).Pulse(ctx, relayOf(guard.Heater, line), time.Second)
	if !errors.Is(err, context.Canceled) || len(line.log) != 0 {
		t.Errorf("%v, switched %v", err, line.log)
	}
}

func TestTheCommissioningRecord(t *testing.T) {
	path := filepath.Join(t.TempDir(), "commissioning.csv")
	if last, err := commission.Last(path); err != nil || len(last) != 0 {
		t.Fatalf("without a file: %v, %v", last, err)
	}
	at := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	for i, seen := range []string{commission.Other, commission.Right} {
		e := commission.Entry{At: at.Add(time.Duration(i) * time.Hour), Who: "anna", Relay: "fv1 heat", Where: "on gpiochip0 GPIO17, works at the low level", On: 2 * time.Second, Seen: seen}
		if err := commission.Append(path, e); err != nil {
			t.Fatal(err)
		}
	}
	text, err := os.ReadFile(path)
	want := "time,who,relay,where,on_s,seen\n" +
		"2026-03-01T12:00:00Z,anna,fv1 heat,\"on gpiochip0 GPIO17, works at the low level\",2,other\n" +
		"2026-03-01T13:00:00Z,anna,fv1 heat,\"on gpiochip0 GPIO17, works at the low level\",2,right\n"
	if err != nil || string(text) != want {
		t.Errorf("got\n%s\nwant\n%s", text, want)
	}
	last, err := commission.Last(path)
	if err != nil || last["fv1 heat"].Seen != commission.Right || !last["fv1 heat"].At.Equal(at.Add(time.Hour)) {
		t.Errorf("last %+v, %v", last, err)
	}
	for name, bad := range map[string]string{
		"another file": "a,b\n1,2\n", "a torn line": want + "2026-03-01T13:00:00Z,anna", "no time": "time,who,relay,where,on_s,seen\nnow,a,b,c,2,right\n",
	} {
		if err := os.WriteFile(path, []byte(bad), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := commission.Last(path); err == nil {
			t.Errorf("%s is read as a record", name)
		}
	}
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if last, err := commission.Last(path); err != nil || len(last) != 0 {
		t.Errorf("an empty file: %v, %v", last, err)
	}
	if err := commission.Append(filepath.Join(path, "x"), commission.Entry{}); err == nil {
		t.Error("a record below a file can be written")
	}
}
