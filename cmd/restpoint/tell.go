package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"example.org/restpoint/cmd/restpoint/internal/web"
	"example.org/restpoint/controller"
	"example.org/restpoint/profiles"
)

type tellFlags struct {
	socket, site, why, og, fg, id string
	json                          bool
}

func tellCommand(e env) *cobra.Command {
	var f tellFlags
	c := &cobra.Command{
		Use:   "tell VESSEL ORDER ...",
		Short: "Give an order to the running program",
		Long: `Give an order to the running program. You are its "who"; --why is kept too.

  start SCHEDULE [as BATCH]   begin a batch (--og, --fg: its own gravities)
  pitched                     the yeast is in
  sample "1.018 at 20 C"      a gravity read by hand, at the sample's temperature
  confirm ["what"]            what the stage waits to have confirmed
  arm                         gas or a vacuum breaker is on: the tank may be cooled
  advance, return STAGE       on to the next stage, back to an earlier one
  pause, resume               stop advancing (the temperature is held), go on
  target "20 C"               another temperature, to the end of the stage
  mark KIND                   what was done to the beer: dump, crop, rouse, oxygen,
                              dry-hop, addition, fill, transfer; judging of gravity
                              starts again and confirmations are void
  mark fill "25 L at 1.051"   a turn of wort: original gravities weigh by volume
  mark addition "8 points"    sugar that is worth so much to the whole
  done [NUMBER], skip NUMBER  the job of a reminder is done, or will not be;
                              sugar: done 2 with "10 points"
  unlock                      the tank is full: heat may be used (after cleaning)
  forget                      the vessel has changed: it is learnt anew
  acknowledge [ALARM]         an alarm, or all, is seen
  shelve ALARM for "2 h"      an alarm is silent for a time
  end-cold, end-off           the batch ends: temperature kept, or relays off
  mode "pre-chill 12 C"       or cleaning, idle: the vessel without a batch
  adopt SCHEDULE              the running batch takes an edited schedule`,
		Example: "  restpoint tell fv1 start pale-ale-with-rest as batch-12 --og 1.051\n  restpoint tell fv1 sample \"1.018 at 20 C\"",
		Args:    cobra.MinimumNArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			return tell(cmd.Context(), e, f, args[0], args[1:])
		},
	}
	c.Flags().StringVar(&f.socket, "socket", "", "socket of the running program")
	c.Flags().StringVarP(&f.site, "site", "c", "", "the site file, to find the socket")
	c.Flags().StringVar(&f.why, "why", "", "why, for the record")
	c.Flags().StringVar(&f.id, "id", "", "the order's id: the same id twice is carried out once")
	c.Flags().StringVar(&f.og, "og", "", "start: original gravity of this batch")
	c.Flags().StringVar(&f.fg, "fg", "", "start: expected final gravity of this batch")
	c.Flags().BoolVar(&f.json, "json", false, "print JSON")
	return c
}

func tell(ctx context.Context, e env, f tellFlags, vessel string, words []string) error {
	verb, err := controller.ParseVerb(words)
	if err != nil {
		return usageError{err}
	}
	o := web.Order{Vessel: vessel, Do: strings.Join(words, " "), ID: f.id, Why: f.why, Original: f.og, Final: f.fg}
	if verb.Kind == controller.Start || verb.Kind == controller.Adopt {
		if err := addSchedule(e, &o, verb.Say); err != nil {
			return err
		}
	}
	c, err := newClient(f.socket, f.site)
	if err != nil {
		return err
	}
	var a web.OrderAnswer
	if err := c.call(ctx, http.MethodPost, "/api/v1/orders", o, &a); err != nil {
		return err
	}
	if err := writeAnswer(e, a, f.json); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	if !a.Taken {
		return errors.New("the order was refused")
	}
	return nil
}

// addSchedule puts the text of a schedule to an order: the running program may
// stand in another folder and may not read the person's files.
func addSchedule(e env, o *web.Order, name string) error {
	file, err := loadSchedule(name)
	if err != nil {
		return err
	}
	if _, err := withGravities(file.Schedule, o.Original, o.Final); err != nil {
		return err
	}
	warn(e, file.Warnings)
	o.ScheduleName, o.ScheduleText = file.Name, string(file.Source)
	if _, builtIn := profiles.Source(name); builtIn {
		return nil
	}
	if o.ScheduleName, err = filepath.Abs(name); err != nil {
		return fmt.Errorf("find the schedule: %w", err)
	}
	return nil
}

func writeAnswer(e env, a web.OrderAnswer, asJSON bool) error {
	if asJSON {
		return json.NewEncoder(e.out).Encode(a)
	}
	word := "taken"
	switch {
	case !a.Taken:
		word = "refused"
	case !a.Stored:
		word = "taken, not stored"
	}
	_, err := fmt.Fprintf(e.out, "%s: %s\n", word, a.Text)
	return err
}
