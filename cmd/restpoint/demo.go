package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"example.org/restpoint/cmd/restpoint/internal/daemon"
	"example.org/restpoint/cmd/restpoint/internal/web"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/relay"
	"example.org/restpoint/profiles"
)

type demoFlags struct {
	model  modelFlags
	listen string
	speed  float64
}

func demoCommand(e env) *cobra.Command {
	var f demoFlags
	c := &cobra.Command{
		Use:   "demo [SCHEDULE]",
		Short: "Watch a whole batch on a modelled fermenter in minutes",
		Long: `Run the true program on a modelled fermenter, with a page to watch. Time is
simulated in whole steps, none is skipped; a slow machine runs it slower. A
simulated brewer pitches, arms and confirms as soon as it is asked, and is named
in the record. Nothing is needed, nothing is left behind.`,
		Example: "  restpoint demo\n  restpoint demo cool-lager --speed 7200",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			name := "pale-ale-with-rest"
			if len(args) == 1 {
				name = args[0]
			}
			if !(f.speed >= 1 && f.speed <= 1e6) {
				return badUse("--speed: %g is not between 1 and 1000000 simulated seconds a second", f.speed)
			}
			file, err := loadSchedule(name)
			if err != nil {
				return err
			}
			b, err := f.model.brew(file.Schedule)
			if err != nil {
				return err
			}
			return demo(cmd.Context(), e, file, b, f)
		},
	}
	f.model.add(c)
	c.Flags().StringVar(&f.listen, "listen", "127.0.0.1:8420", "address of the page")
	c.Flags().Float64Var(&f.speed, "speed", 1440, "simulated seconds a second")
	return c
}

// demo serves the page and runs the batch until it is interrupted.
func demo(ctx context.Context, e env, file *profiles.File, b bench.Brew, f demoFlags) error {
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", f.listen)
	if err != nil {
		return fmt.Errorf("listen: %w; choose another with --listen 127.0.0.1:0", err)
	}
	_, err = fmt.Fprintf(e.out, `A modelled %s ferments %s, %g simulated seconds a second.
Page     http://%s/
Metrics  http://%s/metrics
A simulated brewer pitches, arms and confirms by itself. Nothing is real, nothing
is left behind. End it with Ctrl-C.

%s`, b.Kind, file.Schedule.Name, f.speed, l.Addr(), l.Addr(), tableHead)
	if err != nil {
		return errors.Join(err, l.Close())
	}
	s := newStage(file, b, e.out)
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	server := &http.Server{
		Handler: web.Handler(web.Options{
			Latest: s.d.Snapshot, Metrics: metricsHandler(s.d.Snapshot), Now: s.now, Stale: time.Hour,
		}),
		ReadHeaderTimeout: 5 * time.Second,
	}
	var all sync.WaitGroup
	all.Go(func() {
		if err := s.d.Run(ctx); err != nil {
			cancel(err)
		}
	})
	all.Go(func() {
		if err := server.Serve(l); !errors.Is(err, http.ErrServerClosed) {
			cancel(err)
		}
	})
	s.play(ctx, f.speed)
	down, done := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
	err = server.Shutdown(down)
	done()
	all.Wait()
	if why := context.Cause(ctx); !errors.Is(why, context.Canceled) {
		err = errors.Join(err, why)
	}
	return err
}

// stage is the true daemon before a modelled fermenter.
type stage struct {
	d        *daemon.Daemon
	tank     *bench.Tank
	operator *bench.Operator
	file     *profiles.File
	heat     *relay.Modelled
	cool     *relay.Modelled
	readings chan controller.Reading
	orders   chan daemon.Ask
	ticks    chan daemon.Tick
	began    time.Time
	first    bool

	mu      sync.Mutex
	elapsed time.Duration
}

// newStage sets the scene: the same vessel that simulate would fill.
func newStage(file *profiles.File, b bench.Brew, out io.Writer) *stage {
	sim := bench.Simulate("fv1", b, file.Schedule)
	s := &stage{
		tank: sim.Tank, operator: sim.Operator, file: file,
		heat: &relay.Modelled{}, cool: &relay.Modelled{},
		readings: make(chan controller.Reading, 64), orders: make(chan daemon.Ask, 32), ticks: make(chan daemon.Tick),
		began: time.Now().Truncate(time.Second), first: true,
	}
	s.d = daemon.New(daemon.Config{
		Site: "demonstration", Build: build(), Demo: true,
		Vessels: []daemon.Vessel{{Vessel: s.tank.Vessel, State: controller.Fresh()}},
		Board:   relay.NewBoard([]relay.Channel{{Vessel: s.tank.Vessel.Name, Heat: s.heat, Cool: s.cool}}, nil), Ticks: s.ticks, Readings: s.readings, Orders: s.orders, Now: s.now,
		Log: slog.New(slog.DiscardHandler),
		Heard: func(_ string, events []controller.Event, d controller.Decision) {
			for _, ev := range events {
				_ = newLine(s.counted(), ev, d).writeText(out) // a broken pipe ends the demonstration elsewhere
			}
		},
	})
	return s
}

func (s *stage) counted() time.Duration {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.elapsed
}

// now is the simulated clock.
func (s *stage) now() time.Time { return s.began.Add(s.counted()) }

// play runs the batch at its speed until the context ends. A machine that cannot
// keep up runs it slower: no step is skipped and none is owed.
func (s *stage) play(ctx context.Context, speed float64) {
	const beat = 20 * time.Millisecond
	t := time.NewTicker(beat)
	defer t.Stop()
	owed := 0.0
	for {
		for owed += speed * beat.Seconds() / bench.Step.Seconds(); owed >= 1; owed-- {
			if !s.step(ctx) {
				return
			}
		}
		select {
		case <-ctx.Done():
			return
		case <-t.C:
		}
	}
}

// step is one whole step: the brewer, the beer, the readings, the program.
func (s *stage) step(ctx context.Context) bool {
	var last controller.Decision
	if snap := s.d.Snapshot(); snap != nil {
		last = snap.Vessels[0].Decision
	}
	orders, pitch := s.operator.Orders(last)
	if pitch {
		s.tank.Beer.Pitch()
	}
	if !s.first {
		s.tank.Beer.Advance(bench.Step, plant.Outputs{Heat: s.heat.On(), Cool: s.cool.On()})
		s.mu.Lock()
		s.elapsed += bench.Step
		s.mu.Unlock()
	}
	s.first = false
	for _, r := range s.tank.Sense(bench.Step) {
		s.readings <- r
	}
	for _, o := range orders {
		s.orders <- daemon.Ask{Vessel: s.tank.Vessel.Name, Order: o, File: s.file, Reply: make(chan daemon.Reply, 1)}
	}
	done := make(chan struct{})
	select {
	case s.ticks <- daemon.Tick{Done: done}:
	case <-ctx.Done():
		return false
	}
	select {
	case <-done:
		return true
	case <-ctx.Done():
		return false
	}
}
