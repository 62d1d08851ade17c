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

// beer is a thermometer whose reading follows from the time since the start. A
// reading of noBeer is a fault.
type beer struct {
	bus   string
	takes time.Duration
	began time.Time
	at    func(since time.Duration) units.Celsius
	fault controller.Fault
}

const noBeer units.Celsius = -999

func (b *beer) Read() (controller.Value, controller.Fault) {
	<-time.After(b.takes)
	if c := b.at(time.Since(b.began)); c != noBeer {
		return controller.OfTemperature(c), controller.NoFault
	}
	return controller.Value{}, b.fault
}
func (b *beer) String() string   { return "beer" }
func (b *beer) Bus() string      { return b.bus }
func (b *beer) Evidence() string { return "what it showed" }

func still(c units.Celsius) func(time.Duration) units.Celsius {
	return func(time.Duration) units.Celsius { return c }
}

// warming rises by a rate, in kelvins a second, after a time.
func warming(from units.Celsius, rate float64, after time.Duration) func(time.Duration) units.Celsius {
	return func(since time.Duration) units.Celsius {
		return from + units.Celsius(rate*max(0, (since-after).Seconds()))
	}
}

func TestTheProbeInTheHandIsNamed(t *testing.T) {
	for _, row := range []struct {
		name  string
		a, b  func(time.Duration) units.Celsius
		found bool
		says  []string
		not   string
	}{
		{"the first", warming(18, 0.1, 10*time.Second), still(21), true, []string{"  a: 18.00 C\n", "  a: 18.36 C, +0.36 K from its start\n", "It is a, +1.", "; the next one, b, moved by +0.00 K.\nuse a\n"}, "use b"},
		{"the second, while the room warms the first", warming(18, 0.02, 0), warming(18, 0.1, 20*time.Second), true, []string{"It is b, +1.", "the next one, a, moved by +0.", "use b"}, "use a"},
		{"a start that is warmer than the other one's end", still(30), warming(4, 0.1, 0), true, []string{"It is b"}, "use a"},
		{"one that comes back from a fault", func(since time.Duration) units.Celsius {
			if since < 30*time.Second {
				return noBeer
			}
			return warming(18, 0.1, 40*time.Second)(since)
		}, still(18), true, []string{"  a: not there: unplugged", "It is a, +1."}, "use b"},
		{"one beside a processor that gets hotter", warming(50, 1, 0), warming(18, 0.1, 0), true, []string{"It is b"}, "use a"},
		{"a processor alone", warming(50, 1, 0), still(18), false, []string{"No probe rose"}, "It is"},
		{"none", still(18), warming(18, -0.1, 0), false, []string{"2 probes", "  b: 17.52 C, -0.32 K from its start\n", "No probe rose by 1 K in 2 min."}, "It is"},
		{"less than enough", warming(18, 0.008, 0), still(18), false, []string{"No probe rose"}, "It is"},
		{"two at once", warming(18, 0.05, 0), warming(20, 0.05, 0), false, []string{"No probe rose"}, "It is"},
		{"no probe at all", still(noBeer), still(noBeer), false, []string{"  b: not there: unplugged", "No probe rose"}, "It is"},
	} {
		t.Run(row.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				out, now := &strings.Builder{}, time.Now()
				all := []commission.Touchable{
					{Name: "a", Says: "use a", Sensor: &beer{bus: "w1", takes: 800 * time.Millisecond, began: now, at: row.a, fault: controller.Unplugged}},
					{Name: "b", Says: "use b", Sensor: &beer{bus: "w1", takes: 800 * time.Millisecond, began: now, at: row.b, fault: controller.Unplugged}},
				}
				found, err := commission.NewTalk(out, strings.NewReader("")).Touch(t.Context(), all, 2*time.Minute)
				if err != nil || found != row.found {
					t.Errorf("found %v, %v", found, err)
				}
				for _, says := range row.says {
					if !strings.Contains(out.String(), says) {
						t.Errorf("says\n%s\nand not %q", out, says)
					}
				}
				if strings.Contains(out.String(), row.not) {
					t.Errorf("says\n%s\nwith %q", out, row.not)
				}
				if strings.Count(out.String(), "unplugged") > 2 { // once a probe, not once a second
					t.Errorf("repeats itself:\n%s", out)
				}
			})
		})
	}
	goleak.VerifyNone(t)
}

func TestASearchEndsWithItsContextAndWithItsWriter(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		began := time.Now()
		all := []commission.Touchable{{Name: "a", Sensor: &beer{bus: "w1", takes: time.Second, began: began, at: still(18)}}}
		ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
		defer cancel()
		out := &strings.Builder{}
		found, err := commission.NewTalk(out, strings.NewReader("")).Touch(ctx, all, time.Hour)
		if found || err != nil || strings.Contains(out.String(), "No probe rose") || time.Since(began) > 32*time.Second {
			t.Errorf("found %v, %v after %v:\n%s", found, err, time.Since(began), out)
		}
		if _, err := commission.NewTalk(full{}, strings.NewReader("")).Touch(t.Context(), all, time.Hour); !errors.Is(err, io.ErrShortWrite) {
			t.Errorf("into nothing: %v", err)
		}
		r, w := io.Pipe()
		go func() { // ends with the pipe
			_, _ = io.ReadFull(r, make([]byte, 90))
			_ = r.CloseWithError(io.ErrShortWrite)
		}()
		if _, err := commission.NewTalk(w, strings.NewReader("")).Touch(t.Context(), all, time.Hour); !errors.Is(err, io.ErrShortWrite) {
			t.Errorf("into a pipe that breaks: %v", err)
		}
	})
	goleak.VerifyNone(t)
}

// full takes no more.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, io.ErrShortWrite }
