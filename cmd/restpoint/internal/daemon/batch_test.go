package daemon_test

import (
	"context"
	"log/slog"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/daemon"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/relay"
	"example.org/restpoint/controller/units"
)

// fermenter is a modelled fermenter in a goroutine of its own: it feels the
// relays and sends readings, as the probes of a board do.
type fermenter struct {
	tank       *bench.Tank
	operator   *bench.Operator
	heat, cool *relay.Modelled
	readings   chan controller.Reading
	orders     chan daemon.Ask
	latest     func() *controller.Snapshot
	file       func() daemon.Ask // of a start: brings the schedule along
	both       int
}

func (f *fermenter) run(ctx context.Context) {
	t := time.NewTicker(bench.Step)
	defer t.Stop()
	for {
		out := plant.Outputs{Heat: f.heat.On(), Cool: f.cool.On()}
		if out.Heat && out.Cool {
			f.both++
		}
		f.tank.Beer.Advance(bench.Step, out)
		var last controller.Decision
		if s := f.latest(); s != nil {
			last = s.Vessels[0].Decision
		}
		orders, pitch := f.operator.Orders(last)
		if pitch {
			f.tank.Beer.Pitch()
		}
		for _, o := range orders {
			a := f.file()
			a.Order, a.Reply = o, make(chan daemon.Reply, 1)
			f.orders <- a
		}
		for _, r := range f.tank.Sense(bench.Step) {
			select {
			case f.readings <- r:
			case <-ctx.Done():
				return
			}
		}
		select {
		case <-t.C:
		case <-ctx.Done():
			return
		}
	}
}

// A whole batch through the true loop, with ticks of the wall's clock: two weeks
// of a pale ale from knock-out to the cold hold. The bubble ends only when every
// goroutine that was begun in it has.
func TestTwoWeeksOfAPaleAle(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		file := ale(t)
		sim := bench.Simulate("fv1", bench.Brew{
			Kind: bench.Conical, Seed: 1, Noise: plant.Typical(),
			Wort: plant.Wort{Original: file.Schedule.Wort.Original, Final: file.Schedule.Wort.Final},
		}, file.Schedule)
		f := &fermenter{
			tank: sim.Tank, operator: sim.Operator, heat: &relay.Modelled{}, cool: &relay.Modelled{},
			readings: make(chan controller.Reading), orders: make(chan daemon.Ask, 32),
			file: func() daemon.Ask { return daemon.Ask{Vessel: "fv1", File: file} },
		}
		type entry struct {
			stage string
			at    time.Duration
		}
		var entered []entry
		var unexpected []string
		asked := 0
		began := time.Now()
		ticks := make(chan daemon.Tick)
		steps := 0
		d := daemon.New(daemon.Config{
			Site: "test cellar", Vessels: []daemon.Vessel{{Vessel: sim.Tank.Vessel, State: controller.Fresh()}},
			Board: relay.NewBoard([]relay.Channel{{Vessel: "fv1", Heat: f.heat, Cool: f.cool}}, nil),
			Ticks: ticks, Readings: f.readings, Orders: f.orders, Now: time.Now, Log: slog.New(slog.DiscardHandler),
			Heard: func(_ string, events []controller.Event, _ controller.Decision) {
				for _, e := range events {
					switch e.Kind {
					case controller.StageEntered:
						entered = append(entered, entry{e.Stage, time.Since(began)})
					case controller.AlarmRaised, controller.LateLoop, controller.ProbeLost, controller.OrderRefused:
						switch e.Alarm {
						case string(alarms.NeedsArming):
							asked++ // the modelled tank has a vacuum breaker only
							continue
						case string(alarms.SlowStart):
							continue // the hydrometer shows the first fall hours late
						}
						unexpected = append(unexpected, e.String())
					default:
					}
				}
			},
			Fed: func() { steps++ },
		})
		f.latest = d.Snapshot
		ctx, cancel := context.WithCancel(t.Context())
		var all sync.WaitGroup
		all.Go(func() {
			if err := d.Run(ctx); err != nil {
				t.Error(err)
			}
		})
		all.Go(func() { daemon.Wall(ctx, bench.Step, ticks) })
		all.Go(func() { f.run(ctx) })
		pass(14*units.Day + time.Second)
		last := d.Snapshot()
		cancel()
		all.Wait()
		if f.heat.On() || f.cool.On() {
			t.Error("a relay is on after the end")
		}
		if f.both > 0 {
			t.Errorf("heat and cool were on together %d times", f.both)
		}
		if want := int(14 * units.Day / bench.Step); steps < want || steps > want+1 {
			t.Errorf("%d steps in 14 days, want %d", steps, want)
		}
		var names []string
		for _, e := range entered {
			t.Logf("%-14s after %.2f days", e.stage, e.at.Hours()/24)
			names = append(names, e.stage)
		}
		if !slices.Equal(names, []string{"fill", "primary", "diacetyl rest", "crash", "cold hold"}) {
			t.Errorf("stages %v", names)
		}
		if asked != 1 {
			t.Errorf("it was asked %d times to arm the crash, want once", asked)
		}
		for _, u := range unexpected {
			t.Errorf("unexpected: %s", u)
		}
		beer := last.Vessels[0].Decision.Beer
		if !beer.Usable() || beer.Celsius.Minus(1) > 0.5 || beer.Celsius.Minus(1) < -0.5 {
			t.Errorf("in the cold hold the beer is at %v, 1 C is wanted within 0.5 K", beer.Celsius)
		}
	})
}
