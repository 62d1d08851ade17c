package sensors_test

import (
	"context"
	"errors"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"go.uber.org/goleak"

	"example.org/restpoint/controller"
	"example.org/restpoint/sensors"
)

const (
	interval = 10 * time.Second
	one      = "19062\n"
)

// source stands for the files of the kernel: every read takes its time, and may
// hang until it is let go.
type source struct {
	mu     sync.Mutex
	takes  time.Duration
	hang   chan struct{} // not nil: a read waits for it
	text   string
	err    error
	reads  atomic.Int32
	inside atomic.Int32
	most   atomic.Int32
}

func (s *source) read(string) ([]byte, error) {
	s.reads.Add(1)
	n := s.inside.Add(1)
	defer s.inside.Add(-1)
	s.most.Store(max(s.most.Load(), n))
	s.mu.Lock()
	takes, hang, text, err := s.takes, s.hang, s.text, s.err
	s.mu.Unlock()
	if hang != nil {
		<-hang
	}
	if takes > 0 {
		<-time.After(takes)
	}
	return []byte(text), err
}

func (s *source) set(change func(*source)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	change(s)
}

func oneWire(t *testing.T, id controller.ProbeID, serial string, s *source) sensors.Probe {
	t.Helper()
	return probe(t, sensors.Spec{Probe: id, Kind: sensors.OneWire, ID: serial, Root: t.TempDir(), Read: s.read})
}

func plain(t *testing.T, id controller.ProbeID, s *source) sensors.Probe {
	t.Helper()
	return probe(t, sensors.Spec{Probe: id, Kind: sensors.File, Path: string(id), Read: s.read})
}

func probe(t *testing.T, spec sensors.Spec) sensors.Probe {
	t.Helper()
	th, err := sensors.Open(spec)
	if err != nil {
		t.Fatal(err)
	}
	return sensors.Probe{ID: spec.Probe, Sensor: th}
}

// stamped is a reading with the time at which it came, from the start.
type stamped struct {
	at time.Duration
	controller.Reading
}

// start runs the poll in the bubble of the test and collects its readings.
func start(p sensors.Poll) (got func() []stamped, stop func() error) {
	ctx, cancel := context.WithCancel(context.Background())
	out := make(chan controller.Reading)
	ended := make(chan error, 1)
	begin := time.Now()
	var mu sync.Mutex
	var all []stamped
	collected := make(chan struct{})
	go func() {
		defer close(collected)
		for r := range out {
			mu.Lock()
			all = append(all, stamped{time.Since(begin), r})
			mu.Unlock()
		}
	}()
	go func() { ended <- p.Run(ctx, out) }()
	got = func() []stamped {
		mu.Lock()
		defer mu.Unlock()
		return append([]stamped(nil), all...)
	}
	stop = func() error {
		cancel()
		err := <-ended
		close(out)
		<-collected
		return err
	}
	return got, stop
}

func after(d time.Duration) {
	<-time.After(d)
	synctest.Wait()
}

func TestProbesOfOneBusAreReadOneAfterAnother(t *testing.T) {
	defer goleak.VerifyNone(t)
	s := &source{takes: 800 * time.Millisecond, text: "91 01 4b 46 7f ff 0f 10 25 : crc=25 YES\n91 01 4b 46 7f ff 0f 10 25 t=25062\n"}
	a := oneWire(t, "fv1/thermowell", "28-000000000001", s)
	b := oneWire(t, "fv2/thermowell", "28-000000000002", s)
	synctest.Test(t, func(t *testing.T) {
		got, stop := start(sensors.Poll{Interval: interval, Probes: []sensors.Probe{a, b}})
		after(19 * time.Second)
		if err := stop(); err != nil {
			t.Error(err)
		}
		want := []time.Duration{800 * time.Millisecond, 1600 * time.Millisecond, 10800 * time.Millisecond, 11600 * time.Millisecond}
		all := got()
		if len(all) != len(want) {
			t.Fatalf("%d readings, want %d: %v", len(all), len(want), all)
		}
		for i, r := range all {
			id := []controller.ProbeID{"fv1/thermowell", "fv2/thermowell"}[i%2]
			if r.at != want[i] || r.Probe != id || r.Value != controller.OfTemperature(25.0625) || r.Fault != "" || r.Age != 0 {
				t.Errorf("reading %d: %+v, want %s at %v", i, r, id, want[i])
			}
		}
		if s.most.Load() != 1 {
			t.Errorf("%d reads of one bus at a time", s.most.Load())
		}
	})
}

func TestBusesDoNotWaitForEachOther(t *testing.T) {
	defer goleak.VerifyNone(t)
	slow, quick := &source{text: one}, &source{text: one}
	a, b := plain(t, "fv1/thermowell", slow), plain(t, "fv1/ambient", quick)
	synctest.Test(t, func(t *testing.T) {
		slow.hang = make(chan struct{})
		got, stop := start(sensors.Poll{Interval: interval, Probes: []sensors.Probe{a, b}})
		after(25 * time.Second)
		good := 0
		for _, r := range got() {
			if r.Probe == "fv1/ambient" && r.Fault == controller.NoFault {
				good++
			}
		}
		if good != 3 {
			t.Errorf("%d good readings beside a hanging probe, want 3", good)
		}
		close(slow.hang)
		synctest.Wait()
		if err := stop(); err != nil {
			t.Error(err)
		}
	})
}

func TestAHangingReadIsGivenUpAndNeverDoubled(t *testing.T) {
	defer goleak.VerifyNone(t)
	s := &source{text: "91 01 4b 46 7f ff 0f 10 25 : crc=25 YES\n91 01 4b 46 7f ff 0f 10 25 t=25062\n"}
	a := oneWire(t, "fv1/thermowell", "28-000000000001", s)
	b := oneWire(t, "fv2/thermowell", "28-000000000002", s)
	synctest.Test(t, func(t *testing.T) {
		s.hang = make(chan struct{})
		got, stop := start(sensors.Poll{Interval: interval, Probes: []sensors.Probe{a, b}})
		after(45 * time.Second)
		all := got()
		want := []time.Duration{3, 3, 10, 10, 20, 20, 30, 30, 40, 40} // seconds: the deadline once, then every interval
		if len(all) != len(want) {
			t.Fatalf("%d readings, want %d: %v", len(all), len(want), all)
		}
		for i, r := range all {
			if r.Fault != controller.TimedOut || r.at != want[i]*time.Second || r.Value != (controller.Value{}) {
				t.Errorf("reading %d: %+v, want a time-out at %d s", i, r, want[i])
			}
		}
		if s.reads.Load() != 1 {
			t.Fatalf("%d reads were begun while one hung", s.reads.Load())
		}

		// It comes back: what it brings is dropped, and reading goes on.
		s.set(func(s *source) { close(s.hang); s.hang = nil; s.text = strings.ReplaceAll(s.text, "25062", "4000") })
		after(10 * time.Second)
		for _, r := range got()[len(want):] {
			if r.Value != controller.OfTemperature(4) || r.at != 50*time.Second {
				t.Errorf("after it came back: %+v, want 4 C at 50 s", r)
			}
		}
		if n := len(got()) - len(want); n != 2 {
			t.Errorf("%d readings after it came back, want 2", n)
		}
		if err := stop(); err != nil {
			t.Error(err)
		}
	})
}

func TestAReadLeftBehindAtTheEndIsSaid(t *testing.T) {
	defer goleak.VerifyNone(t)
	s := &source{text: one}
	p := plain(t, "fv1/thermowell", s)
	synctest.Test(t, func(t *testing.T) {
		s.hang = make(chan struct{})
		_, stop := start(sensors.Poll{Interval: interval, Probes: []sensors.Probe{p}})
		after(time.Second) // in the middle of the read: it has until its deadline
		begin := time.Now()
		err := stop()
		if err == nil || !strings.Contains(err.Error(), "file fv1/thermowell hangs and was left behind") {
			t.Errorf("ended with %v", err)
		}
		if took := time.Since(begin); took != 2*time.Second {
			t.Errorf("the end took %v, want the 2 s that were left to the read", took)
		}
		close(s.hang) // or the test itself would leave it behind
	})
}

func TestTheEndWaitsForAReadThatIsOnlySlow(t *testing.T) {
	defer goleak.VerifyNone(t)
	s := &source{takes: 2900 * time.Millisecond, text: one}
	p := plain(t, "fv1/thermowell", s)
	synctest.Test(t, func(t *testing.T) {
		_, stop := start(sensors.Poll{Interval: interval, Probes: []sensors.Probe{p}})
		after(time.Second)
		if err := stop(); err != nil {
			t.Error(err)
		}
		if s.inside.Load() != 0 {
			t.Error("the read was left behind")
		}
	})
}

func TestFaultsAreDeliveredAsReadings(t *testing.T) {
	defer goleak.VerifyNone(t)
	s := &source{text: one}
	p := plain(t, "fv1/thermowell", s)
	synctest.Test(t, func(t *testing.T) {
		got, stop := start(sensors.Poll{Interval: interval, Probes: []sensors.Probe{p}})
		after(time.Second)
		for _, change := range []func(*source){
			func(s *source) { s.text = "" },
			func(s *source) { s.text = "x\n" },
			func(s *source) { s.err = syscall.EIO },
			func(s *source) { s.err = syscall.ENODEV },
			func(s *source) { s.err, s.text = nil, "18000\n" },
		} {
			s.set(change)
			after(interval)
		}
		if err := stop(); err != nil {
			t.Error(err)
		}
		want := []controller.Fault{"", controller.EmptyRead, controller.Unreadable, controller.BusError, controller.Unplugged, ""}
		for i, r := range got() {
			if i >= len(want) || r.Fault != want[i] {
				t.Errorf("reading %d: %+v, want faults %v", i, r, want)
			}
		}
		if len(got()) != len(want) {
			t.Errorf("%d readings, want %d", len(got()), len(want))
		}
	})
}

func TestAReceiverThatIsBusyDoesNotHoldTheEnd(t *testing.T) {
	defer goleak.VerifyNone(t)
	p := plain(t, "fv1/thermowell", &source{text: one})
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(context.Background())
		ended := make(chan error, 1)
		go func() {
			ended <- sensors.Poll{Interval: interval, Probes: []sensors.Probe{p}}.Run(ctx, make(chan controller.Reading))
		}()
		after(time.Minute)
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
}

func TestAPollWithoutAnIntervalIsRefused(t *testing.T) {
	if err := (sensors.Poll{}).Run(context.Background(), nil); err == nil {
		t.Error("ran without an interval")
	}
	ctx, cancel := context.WithCancelCause(context.Background())
	cancel(errors.New("over"))
	if err := (sensors.Poll{Interval: interval}).Run(ctx, nil); err != nil {
		t.Errorf("without probes: %v", err)
	}
}
