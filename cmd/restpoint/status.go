package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"example.org/restpoint/cmd/restpoint/internal/web"
	"example.org/restpoint/controller/units"
)

func statusCommand(e env) *cobra.Command {
	var socket, sitePath string
	var asJSON bool
	c := &cobra.Command{
		Use: "status", Short: "Say where every vessel is, and why",
		Long: `Say where every vessel is: stage, temperatures, gravity and points left, what the
relays do and why, what needs a person, which alarms are raised.

What is ahead is a span in which four cases of five lie, from the fall of gravity
so far and the vessel; it is no promise, and nothing waits for it.`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return status(cmd.Context(), e, socket, sitePath, asJSON)
		},
	}
	c.Flags().StringVar(&socket, "socket", "", "socket of the running program")
	c.Flags().StringVarP(&sitePath, "site", "c", "", "the site file, to find the socket")
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return c
}

func status(ctx context.Context, e env, socket, sitePath string, asJSON bool) error {
	c, err := newClient(socket, sitePath)
	if err != nil {
		return err
	}
	s, err := c.state(ctx)
	if err != nil {
		return err
	}
	if asJSON {
		if err := json.NewEncoder(e.out).Encode(s); err != nil {
			return fmt.Errorf("write: %w", err)
		}
		return nil
	}
	return writeStatus(e.out, s)
}

func writeStatus(w io.Writer, s web.StateJSON) error {
	if _, err := fmt.Fprintf(w, "%s, step of %s\n", s.Site, s.Time.Format("2006-01-02 15:04:05")); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	if s.RecordFailing {
		_, _ = fmt.Fprintln(w, "The record cannot be written: control goes on from memory.")
	}
	for i := range s.Vessels {
		if err := writeVessel(w, &s.Vessels[i]); err != nil {
			return fmt.Errorf("write: %w", err)
		}
	}
	return nil
}

func writeVessel(w io.Writer, v *web.VesselJSON) error {
	where := v.Mode
	if v.Stage != "" {
		where = fmt.Sprintf("%s for %s, batch %s", v.Stage, rough(v.InStageS), v.Batch)
	}
	lines := []string{
		fmt.Sprintf("\n%s: %s", v.Name, where),
		fmt.Sprintf("  beer %s, target %s, surround %s", celsius(v.Beer), celsius(v.Target), celsius(v.Surround)),
	}
	lines = append(lines, moreProbes(v)...)
	if v.Gravity != nil {
		lines = append(lines, fmt.Sprintf("  gravity %.4f, %.1f points left (likely %.1f to %.1f), will end near %.4f",
			*v.Gravity, *v.PointsLeft, *v.PointsLeftLow, *v.PointsLeftHigh, *v.FinalGravity))
	}
	for _, f := range v.Forecast {
		lines = append(lines, "  ahead: "+f.Line())
	}
	if v.GravityRejected > 0 {
		lines = append(lines, fmt.Sprintf("  %d of %d readings of the hydrometer in the last day were not believed; the newest %s", v.GravityRejected, v.GravityReadings, v.WhyRejected))
	}
	lines = append(lines, fmt.Sprintf("  heat %s, cool %s", onOff(v.Heat), onOff(v.Cool)))
	for _, r := range v.Reasons {
		lines = append(lines, "  "+r)
	}
	if v.Needs != "" {
		lines = append(lines, "  NEEDS A PERSON: "+v.Needs)
	}
	if v.HeatLocked {
		lines = append(lines, "  heat is locked: the tank may be empty (pitched, mark fill or unlock ends that)")
	}
	for _, j := range v.Reminders {
		lines = append(lines, fmt.Sprintf("  TO DO %d, for %s: %s", j.Number, rough(j.OpenS), j.Say))
	}
	for _, a := range v.Alarms {
		known := ""
		if a.Acknowledged {
			known = ", acknowledged"
		}
		if a.ShelvedS > 0 {
			known += ", shelved for " + rough(a.ShelvedS)
		}
		lines = append(lines, fmt.Sprintf("  ALARM %s (%s%s): %s", a.Alarm, a.Priority, known, a.Cause), "    do: "+a.Do)
	}
	if v.Standing > 0 || v.Chattering > 0 {
		lines = append(lines, fmt.Sprintf("  alarms that stand for more than a day: %d; that were raised three times or more within the hour: %d", v.Standing, v.Chattering))
	}
	for _, l := range lines {
		if _, err := fmt.Fprintln(w, l); err != nil {
			return err
		}
	}
	return nil
}

// moreProbes says what is known beside the beer's temperature.
func moreProbes(v *web.VesselJSON) (lines []string) {
	for _, w := range v.Wells {
		lines = append(lines, fmt.Sprintf("  %s %s", w.Probe, celsius(w.Celsius)))
	}
	if v.Backup != "" {
		lines = append(lines, "  a "+v.Backup+" stands in for the lost probe")
	}
	if v.Pressure != nil {
		lines = append(lines, fmt.Sprintf("  %.1f kPa above the air", *v.Pressure))
	}
	if h := v.YeastHeat; h != nil && h.Watts != nil {
		lines = append(lines, fmt.Sprintf("  the yeast gives %.1f W: %.2f points an hour by heat (likely %.2f to %.2f)", *h.Watts, *h.Rate, *h.Low, *h.High))
	} else if h != nil {
		lines = append(lines, "  heat of the yeast cannot be told: "+h.Why)
	}
	if words := v.Response.Words(); words != "" {
		lines = append(lines, "  learnt: "+words)
	}
	if v.Residual != nil {
		lines = append(lines, fmt.Sprintf("  at least %.2f volumes of CO2 in the beer", *v.Residual))
	}
	return lines
}

func rough(s float64) string { return units.Rough(time.Duration(s) * time.Second) }

func celsius(c *float64) string {
	if c == nil {
		return "not known"
	}
	return units.Celsius(*c).Fixed(1)
}

func onOff(on *bool) string {
	switch {
	case on == nil:
		return "not fitted"
	case *on:
		return "on"
	}
	return "off"
}
