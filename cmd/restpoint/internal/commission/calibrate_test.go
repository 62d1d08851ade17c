package commission_test

import (
	"context"
	"errors"
	"io"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"go.uber.org/goleak"

	"example.org/restpoint/cmd/restpoint/internal/commission"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
)

// baths is a probe that is carried from a room into ice and then into a bath: it
// follows with a time constant of 20 s (a bare probe in stirred water, from memory).
func baths(room, ice, warm units.Celsius, second time.Duration) func(time.Duration) units.Celsius {
	return func(since time.Duration) units.Celsius {
		switch {
		case since < 2*time.Second:
			return room
		case since < second:
			return ice
		}
		return warm
	}
}

// person answers at a time: the bath is only there when somebody has made it.
type person struct {
	began   time.Time
	answers []string
	at      []time.Duration
}

func (p *person) Read(to []byte) (int, error) {
	if len(p.answers) == 0 {
		return 0, io.EOF
	}
	<-time.After(p.at[0] - time.Since(p.began))
	n := copy(to, p.answers[0]+"\n")
	p.answers, p.at = p.answers[1:], p.at[1:]
	return n, nil
}

const tenMinutes = 10 * time.Minute

// calibrate leads a person through a calibration and gives what was said.
func calibrate(t *testing.T, at func(time.Duration) units.Celsius, key string, second bool, answers ...string) (said string, err error) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		now := time.Now()
		p := &person{began: now, answers: answers}
		for i := range answers {
			p.at = append(p.at, time.Duration(i+1)*tenMinutes)
		}
		out := &strings.Builder{}
		s := commission.Subject{
			Name: "fv1/thermowell", Key: key, On: time.Date(2026, 11, 20, 9, 0, 0, 0, time.UTC),
			Sensor: &beer{bus: "w1", takes: 800 * time.Millisecond, began: now, at: at, fault: controller.BadChecksum},
		}
		err = commission.NewTalk(out, p).Calibrate(t.Context(), s, second)
		said = out.String()
	})
	return said, err
}

// The numbers are a worked example of the project's own: gain (25.50-0)/(25.94-0.31).
func TestTwoBathsGiveTheLinesForTheSiteFile(t *testing.T) {
	const id = "28-000001318252"
	for _, row := range []struct {
		name    string
		key     string
		at      func(time.Duration) units.Celsius
		second  bool
		answers []string
		want    string // the end of what is said
	}{
		{
			"two points of a 1-Wire probe", id, baths(19, 0.31, 25.94, 15*time.Minute), true,
			[]string{"", "", "25.50 C"},
			"Ice reads 0.31 C, a bath of 25.50 C reads 25.94 C.\nGain 0.99493, offset -0.308 K: 18.00 C will become 17.60 C.\n" +
				"In the site file, at its top level; an offset of this probe must go:\ncalibrations:\n" +
				"  28-000001318252: {ice: 0.31 C, second: {reads: 25.94 C, is: 25.5 C}, on: 2026-11-20}\n",
		},
		{
			"ice alone", id, baths(19, -0.25, 0, time.Hour), false,
			[]string{""},
			"Ice reads -0.25 C.\nGain 1.00000, offset 0.250 K: 18.00 C will become 18.25 C.\n" +
				"In the site file, at its top level; an offset of this probe must go:\ncalibrations:\n  28-000001318252: {ice: -0.25 C, on: 2026-11-20}\n",
		},
		{
			"a probe without an identity", "", baths(19, 0.31, 25.94, 15*time.Minute), true,
			[]string{"", "", "77.9 F"},
			"In the site file, beside the probe fv1/thermowell and instead of its offset:\n    calibration: {ice: 0.31 C, second: {reads: 25.94 C, is: 25.5 C}, on: 2026-11-20}\n",
		},
		{
			"answers that are none, until one is", id, baths(19, 0.31, 25.94, 15*time.Minute), true,
			[]string{"", "", "25.5", "5 C", "50 C", "25.5 C"},
			"What does the thermometer that you trust show, such as 21.5 C? \"25.5\" is not a temperature such as \"19 C\" or \"66 F\"; the unit is missing\n" +
				"What does the thermometer that you trust show, such as 21.5 C? 5 C is no second point; it lies between 10 C and 45 C.\n" +
				"What does the thermometer that you trust show, such as 21.5 C? 50 C is no second point; it lies between 10 C and 45 C.\n" +
				"What does the thermometer that you trust show, such as 21.5 C? Ice reads 0.31 C",
		},
		{
			"an ice bath that is none", id, baths(19, 1.5, 0, time.Hour), false,
			[]string{""},
			"offset -1.500 K: 18.00 C will become 16.50 C.\nWARNING: an offset of -1.50 K is beyond 1 K: a wrong probe or a bad bath.\nDo it again before you believe it.\n",
		},
		{
			"a second bath that is none", id, baths(19, 0, 26, 15*time.Minute), true,
			[]string{"", "", "25.0 C"},
			"WARNING: a gain of 0.9615 is beyond 2 %: a wrong probe or a bad bath.\nDo it again before you believe it.\n",
		},
	} {
		said, err := calibrate(t, row.at, row.key, row.second, row.answers...)
		if err != nil || !strings.Contains(said, row.want) {
			t.Errorf("%s: %v, says\n%s\nand not\n%s", row.name, err, said, row.want)
		}
		if !strings.Contains(said, "Crush ice of pure water") || strings.Contains(said, "18 to 25 C") != row.second {
			t.Errorf("%s: how to make the baths is not said:\n%s", row.name, said)
		}
		for line := range strings.SplitSeq(said, "\n") {
			line = line[strings.Index(line, "? ")+1:] // the return key after an answer is the person's
			if n := len([]rune(line)); n > 90 {       // a line for the site file has 87
				t.Errorf("%s: %d columns: %s", row.name, n, line)
			}
		}
	}
	goleak.VerifyNone(t)
}

func TestWhatIsNoBathIsRefused(t *testing.T) {
	flicker := func(since time.Duration) units.Celsius { // 0.3 K up and down, for ever
		if since > 2*time.Second && int(since/(6*time.Second))%2 == 1 {
			return 0.3
		}
		return 0
	}
	for _, row := range []struct {
		name    string
		at      func(time.Duration) units.Celsius
		second  bool
		answers []string
		want    string
		says    string
	}{
		{"a probe that is not there", still(noBeer), false, nil, "read fv1/thermowell: the answer was damaged (checksum): look at cable, plugs and pull-up resistor; what it showed", ""},
		{"nobody who answers", still(19), false, nil, "no answer", ""},
		{"no ice at all", still(19), false, []string{""}, "fv1/thermowell reads 19.00 C: that is no ice bath, or the probe is broken", "Steady at 19.00 C."},
		{"a probe that flickers", flicker, false, []string{""}, "fv1/thermowell is not steady after 15 min: stir, insulate, and look at its plug", "moved by 0.30 K in 10 readings"},
		{"a probe that fails in the bath", baths(19, noBeer, noBeer, time.Hour), false, []string{""}, "not steady after 15 min", "  no reading: the answer was damaged"},
		{"a bath that is another one", baths(19, 0, 30, 15*time.Minute), true, []string{"", "", "20 C"}, "fv1/thermowell reads 30.00 C in a bath of 20.00 C: that is another bath, or the probe is broken", ""},
		{"a second bath near the first", baths(19, 4, 12, 15*time.Minute), true, []string{"", "", "10 C"}, "readings of 4 C and 12 C are too near each other", ""},
		{"nobody who knows the second bath", baths(19, 0, 20, 15*time.Minute), true, []string{"", ""}, "no answer", "Steady at 20.00 C."},
	} {
		said, err := calibrate(t, row.at, "", row.second, row.answers...)
		if err == nil || !strings.Contains(err.Error(), row.want) || !strings.Contains(said, row.says) {
			t.Errorf("%s: %v, want %q; says\n%s", row.name, err, row.want, said)
		}
		if strings.Contains(said, "site file") {
			t.Errorf("%s: gives lines all the same:\n%s", row.name, said)
		}
	}
}

// A bare probe in stirred water follows with a time constant near 20 s (from
// memory): what counts as steady must then be within the step of a DS18B20.
func TestSteadyIsNearTheEnd(t *testing.T) {
	follows := func(since time.Duration) units.Celsius {
		c := 19.0
		for s := tenMinutes; s < since; s += time.Second { // put in when the person says so
			c -= c / 20
		}
		return units.Celsius(float64(int(c*16)) / 16)
	}
	said, err := calibrate(t, follows, "", false, "")
	if err != nil || !strings.Contains(said, "Steady at 0.0") {
		t.Errorf("%v\n%s", err, said)
	}
}

func TestACalibrationEndsWithItsContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		now := time.Now()
		ctx, cancel := context.WithTimeout(t.Context(), 11*time.Minute)
		defer cancel()
		odd := 0
		s := commission.Subject{Name: "a", Sensor: &beer{bus: "w1", began: now, at: func(time.Duration) units.Celsius { odd++; return units.Celsius(odd % 3) }}}
		err := commission.NewTalk(io.Discard, &person{began: now, answers: []string{""}, at: []time.Duration{tenMinutes}}).Calibrate(ctx, s, false)
		if !errors.Is(err, context.DeadlineExceeded) || !strings.Contains(err.Error(), "steady") || time.Since(now) > 12*time.Minute {
			t.Errorf("%v after %v", err, time.Since(now))
		}
		if err := commission.NewTalk(full{}, strings.NewReader("")).Calibrate(t.Context(), s, false); !errors.Is(err, io.ErrShortWrite) {
			t.Errorf("into nothing: %v", err)
		}
		if err := commission.NewTalk(io.Discard, strings.NewReader("")).Calibrate(ctx, s, false); !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("after its end: %v", err)
		}
	})
	goleak.VerifyNone(t)
}
