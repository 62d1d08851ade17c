package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"example.org/restpoint/cmd/restpoint/internal/history"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/bench"
	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles"
)

// simulateFlags is what a simulation can be told.
type simulateFlags struct {
	model          modelFlags
	json           bool
	csvPath, svgTo string
	record         string
}

// modelFlags say which fermenter is modelled; simulate and demo share them.
type modelFlags struct {
	vessel, noise, ambient, endsAt string
	seed                           uint64
}

func (f *modelFlags) add(c *cobra.Command) {
	c.Flags().StringVar(&f.vessel, "vessel", string(bench.Conical), "modelled vessel: bucket, conical or tank")
	c.Flags().StringVar(&f.noise, "noise", "typical", "errors of the hydrometer: quiet, mild, typical or nasty")
	c.Flags().StringVar(&f.ambient, "ambient", "18 C", "temperature of the room; it swings by 3 K day and night")
	c.Flags().StringVar(&f.endsAt, "ends-at", "", "gravity where the yeast really stops (default: as the schedule expects)")
	c.Flags().Uint64Var(&f.seed, "seed", 1, "another number is another batch")
}

// brew turns the flags into a modelled batch.
func (f *modelFlags) brew(s *controller.Schedule) (bench.Brew, error) {
	b := bench.Brew{Kind: bench.Kind(f.vessel), Seed: f.seed, Wort: plant.Wort{Original: s.Wort.Original, Final: s.Wort.Final}}
	known := false
	for _, k := range bench.Kinds() {
		known = known || k == b.Kind
	}
	if !known {
		return b, badUse("there is no vessel %q: bucket, conical and tank are modelled", f.vessel)
	}
	switch f.noise {
	case "quiet":
		b.Noise = plant.Quiet()
	case "mild":
		b.Noise = plant.Mild()
	case "typical":
		b.Noise = plant.Typical()
	case "nasty":
		b.Noise = plant.Nasty()
	default:
		return b, badUse("there is no noise %q: quiet, mild, typical and nasty are modelled", f.noise)
	}
	room, err := units.ParseCelsius(f.ambient)
	if err != nil || room < -20 || room > 45 {
		return b, badUse("--ambient: %q is not a room's temperature such as \"18 C\"", f.ambient)
	}
	b.Ambient = plant.Ambient{Mean: room, Swing: 3}
	if f.endsAt == "" {
		return b, nil
	}
	end, err := units.ParseGravity(f.endsAt)
	if err != nil || end >= s.Wort.Original {
		return b, badUse("--ends-at: %q is not a gravity below the original %s", f.endsAt, s.Wort.Original.Fixed(3))
	}
	if end > s.Wort.Final {
		b.Wort.StuckAt = end
	} else {
		b.Wort.Final = end
	}
	return b, nil
}

func simulateCommand(e env) *cobra.Command {
	var f simulateFlags
	c := &cobra.Command{
		Use:   "simulate SCHEDULE",
		Short: "Try a schedule on a modelled fermenter",
		Long: `Run a schedule on a modelled fermenter with its yeast, probes and hydrometer,
weeks in a second, through the same code that runs on a board. A simulated
brewer pitches, arms and confirms as soon as it is asked.

The model has the right kind of behaviour, not your beer's numbers.`,
		Example: "  restpoint simulate pale-ale-with-rest\n  restpoint simulate cool-lager --vessel tank --ends-at 1.014 --csv lager.csv",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			file, err := loadSchedule(args[0])
			if err != nil {
				return err
			}
			warn(e, file.Warnings)
			b, err := f.model.brew(file.Schedule)
			if err != nil {
				return err
			}
			return simulate(cmd.Context(), e, file, b, f)
		},
	}
	f.model.add(c)
	c.Flags().BoolVar(&f.json, "json", false, "print one JSON object an event")
	c.Flags().StringVar(&f.csvPath, "csv", "", "write the record to this file, a row each 15 min; replay reads it")
	c.Flags().StringVar(&f.record, "record", "", "record it in this new file, as the running program would")
	c.Flags().StringVar(&f.svgTo, "svg", "", "draw the batch to this file")
	return c
}

type canceller interface{ Err() error }

// simulate runs the batch and prints what happened.
func simulate(ctx context.Context, e env, file *profiles.File, b bench.Brew, f simulateFlags) error {
	s := file.Schedule
	lines, trace, err := runSimulation(ctx, e, file, b, f.record)
	if err != nil {
		return err
	}
	if f.csvPath != "" {
		if err := toFile(f.csvPath, trace.csv); err != nil {
			return err
		}
	}
	if f.svgTo != "" {
		if err := toFile(f.svgTo, trace.svg); err != nil {
			return err
		}
	}
	if f.json {
		for _, l := range lines {
			if err := l.writeJSON(e.out); err != nil {
				return err
			}
		}
		return nil
	}
	if _, err := fmt.Fprintf(e.out, "%s on a modelled %s of %s, hydrometer %s, seed %d\n\n%s", s.Name, b.Kind, trace.volume, f.model.noise, b.Seed, tableHead); err != nil {
		return err
	}
	for _, l := range lines {
		if err := l.writeText(e.out); err != nil {
			return err
		}
	}
	return trace.plot(e.out)
}

// recordEvery is how much of a simulation goes into its record at once.
const recordEvery = 15 * time.Minute

// afterHold is how much of the last stage is shown.
const afterHold = 24 * time.Hour

// runSimulation runs until the last stage has held for a day, or too long. It is
// recorded where a file is named.
func runSimulation(ctx context.Context, e env, file *profiles.File, b bench.Brew, to string) (_ []line, _ *trace, err error) {
	s := file.Schedule
	sim := bench.Simulate("fv1", b, s)
	keeper, err := keep(ctx, to, file, sim.Tank.Vessel.Volume)
	if err != nil {
		return nil, nil, err
	}
	defer func() { err = errors.Join(err, keeper.Close(context.WithoutCancel(ctx))) }()
	tr := &trace{title: s.Name, volume: sim.Tank.Vessel.Volume.String()}
	var lines []line
	last := len(s.Stages) - 1
	for sim.Rig.Elapsed < bench.Longest {
		sim.Step()
		out, at := sim.Tank.Out, sim.Rig.Elapsed
		if err := keeper.Note(ctx, at, sim.Tank); err != nil {
			return nil, nil, err
		}
		for _, ev := range out.Events {
			lines = append(lines, newLine(at, ev, out.Decision))
		}
		tr.note(at, sim.Tank, out.Events)
		if at%(6*time.Hour) == 0 {
			if err := ctx.Err(); err != nil {
				return nil, nil, fmt.Errorf("simulation ended after %s: %w", units.Rough(at), err)
			}
			if e.terminal {
				_, _ = fmt.Fprintf(e.err, "\r%s simulated, in %s   ", units.Rough(at), out.Decision.Stage)
			}
		}
		if d := out.Decision; d.Stage != "" && d.Index == last && d.In >= afterHold {
			break
		}
	}
	if e.terminal {
		_, _ = fmt.Fprintf(e.err, "\r%s\r", strings.Repeat(" ", 60))
	}
	return lines, tr, nil
}

// keep begins the record of a simulation, where one is wanted.
func keep(ctx context.Context, to string, file *profiles.File, volume units.Litres) (*history.Keeper, error) {
	if to == "" {
		return new(history.Keeper), nil
	}
	if _, err := os.Stat(to); !errors.Is(err, os.ErrNotExist) {
		return nil, badUse("--record: %s is there already; name a new file", to)
	}
	return history.NewKeeper(ctx, to, file, volume, recordEvery)
}

// toFile writes a file whole.
func toFile(path string, write func() []byte) error {
	if err := os.WriteFile(path, write(), 0o600); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	return nil
}
