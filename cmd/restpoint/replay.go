package main

import (
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/spf13/cobra"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles"
)

type replayFlags struct {
	schedule, og, fg, every, suckBack string
	confirmed, json                   bool
}

func replayCommand(e env) *cobra.Command {
	var f replayFlags
	c := &cobra.Command{
		Use:   "replay RECORD.csv --schedule FILE",
		Short: "Tell what would have been decided on a recorded batch",
		Long: `Take a recorded batch through today's rules and tell what would have been
decided, and when. Relays are of no account: the beer was led by somebody else.

RECORD.csv has a header and the columns time (RFC 3339) or hours, beer_celsius
and gravity_sg, in any order; other columns are ignored, an empty cell is no
reading. Pitching counts from the first row. With a column order, and who, as
restpoint export writes them, each row is a step and what people asked is asked
again. What only a person could have given
(arming, confirmations) blocks, unless --assume-confirmed. With --json each reading
of the hydrometer that is not believed is a line too, with its verdict.`,
		Example: "  restpoint replay batch-12.csv --schedule pale-ale-with-rest --og 1.051 --every 6h",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if f.schedule == "" {
				return badUse("replay needs a schedule: --schedule FILE")
			}
			return replay(cmd.Context(), e, args[0], f)
		},
	}
	c.Flags().StringVar(&f.schedule, "schedule", "", "schedule: a file, or the name of a built-in one")
	c.Flags().StringVar(&f.og, "og", "", "original gravity, instead of the schedule's")
	c.Flags().StringVar(&f.fg, "fg", "", "expected final gravity, instead of the schedule's")
	c.Flags().StringVar(&f.every, "every", "", "also print what is believed this often, such as 6h")
	c.Flags().StringVar(&f.suckBack, "suck-back", string(controller.NoProtection), "how air is kept out in the crash, as the site has it:\nco2-supply needs no arming")
	c.Flags().BoolVar(&f.confirmed, "assume-confirmed", false, "a person arms and confirms as soon as it is asked")
	c.Flags().BoolVar(&f.json, "json", false, "print one JSON object an event")
	return c
}

// withGravities gives the schedule with the gravities of the command line.
func withGravities(s *controller.Schedule, og, fg string) (*controller.Schedule, error) {
	c, err := profiles.WithGravities(s, og, fg)
	if err != nil {
		return nil, badUse("--og, --fg: %w", err)
	}
	return c, nil
}

func replay(ctx canceller, e env, path string, f replayFlags) error {
	file, err := loadSchedule(f.schedule)
	if err != nil {
		return err
	}
	sch, err := withGravities(file.Schedule, f.og, f.fg)
	if err != nil {
		return err
	}
	every := time.Duration(0)
	if f.every != "" {
		if every, err = units.ParseDuration(f.every); err != nil || every < time.Minute {
			return badUse("--every: %q is not a time of a minute or more, such as 6h", f.every)
		}
	}
	in, err := os.Open(path) //nolint:gosec // the operator names the file
	if err != nil {
		return fmt.Errorf("open record: %w", err)
	}
	rec, err := readRecording(path, in)
	if err = errors.Join(err, in.Close()); err != nil {
		return err
	}
	if !f.json {
		if _, err := fmt.Fprintf(e.out, "%s, %d rows over %s, against %s\n\n%s", path, len(rec.rows), units.Rough(rec.length()), sch.Name, tableHead); err != nil {
			return err
		}
	}
	if !rec.hasBeer {
		_, _ = fmt.Fprintln(e.err, "note: the record has no beer_celsius: gravity alone is judged, conditions on temperature count as met")
		sch = withoutTemperature(sch)
	}
	o := replayOptions{suckBack: controller.SuckBack(f.suckBack), confirmed: f.confirmed, every: every}
	switch o.suckBack {
	case controller.CO2Supply, controller.VacuumBreaker, controller.NoProtection:
	default:
		return badUse("--suck-back: %q is not %s, %s or %s", f.suckBack, controller.CO2Supply, controller.VacuumBreaker, controller.NoProtection)
	}
	return rec.replay(ctx, sch, o, func(l line) error {
		if f.json {
			return l.writeJSON(e.out)
		}
		if l.Event == rejectedEvent {
			return nil // a person is told of runs of them
		}
		return l.writeText(e.out)
	})
}

// withoutTemperature gives the schedule with its conditions on temperature taken
// as met.
func withoutTemperature(s *controller.Schedule) *controller.Schedule {
	c := *s
	c.Stages = append([]controller.Stage(nil), s.Stages...)
	for i := range c.Stages {
		c.Stages[i].Until = gravityOnly(c.Stages[i].Until)
	}
	return &c
}

func gravityOnly(c controller.Condition) controller.Condition {
	switch c.Kind {
	case controller.BeerAt:
		return controller.Condition{Kind: controller.Dwell}
	case controller.Dwell:
		c.HasBeerAbove = false
	case controller.All, controller.Any:
		of := make([]controller.Condition, len(c.Of))
		for i := range c.Of {
			of[i] = gravityOnly(c.Of[i])
		}
		c.Of = of
	case controller.Never, controller.PointsLeft, controller.ApparentAttenuation, controller.GravityAtMost,
		controller.Terminal, controller.Pitched, controller.Confirmed:
	}
	return c
}
