package main

import (
	"context"
	"errors"
	"fmt"
	"os/user"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"example.org/restpoint/cmd/restpoint/internal/commission"
	"example.org/restpoint/cmd/restpoint/internal/site"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/relay"
	"example.org/restpoint/controller/units"
)

type relayFlags struct{ site, record, pulse string }

func relaysCommand(e env) *cobra.Command {
	c := &cobra.Command{
		Use: "relays", Short: "Relays, by hand: list, try one, switch all off",
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	var f relayFlags
	off := &cobra.Command{
		Use: "off -c SITE", Short: "Drive every relay off",
		Long: `Drive every relay of a site off, for a service manager to call after the program
has ended in whatever way. A line that is let go of floats afterwards: what it
does then is up to the board, so fit a resistor that pulls it to the OFF level.`,
		Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			s, err := loadSite(e, f.site)
			if err != nil {
				return err
			}
			done, err := switchOff(s)
			if done > 0 {
				_, said := fmt.Fprintf(e.out, "%d relays are off. Lines are let go of and float now: a resistor must hold each at OFF.\n", done)
				err = errors.Join(err, said)
			}
			return err
		},
	}
	list := &cobra.Command{
		Use: "list -c SITE", Short: "Name every relay, where it is, and when it was tried",
		Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error { return listRelays(e, f) },
	}
	try := &cobra.Command{
		Use: "try -c SITE [RELAY]", Short: "Switch one relay, or one after another, for a moment",
		Long: `Switch one relay on for a moment, after a question and a countdown, and write
down what you saw: is it the relay that the site file calls so, and does it go off
again? Without a name every relay has its turn. The program must not be running.

What you say goes into the commissioning record, a CSV file beside the record of
batches. Stand where you see the relay and can pull its plug. This proves wiring
and polarity, nothing more; the kill test is in deploy/GUIDE.md.`,
		Example: "  restpoint relays try -c site.yaml \"fv1 heat\"",
		Args:    cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			return tryRelays(cmd.Context(), e, f, strings.Join(args, " "))
		},
	}
	try.Flags().StringVar(&f.pulse, "for", "2 s", "how long it is on, 1 s to 30 s")
	for _, sub := range []*cobra.Command{list, try, off} {
		sub.Flags().StringVarP(&f.site, "site", "c", "", "the site file")
		c.AddCommand(sub)
	}
	for _, sub := range []*cobra.Command{list, try} {
		sub.Flags().StringVar(&f.record, "record", "", "the commissioning record (default commissioning.csv beside the record)")
	}
	return c
}

// commissioning is where the commissioning record of a site is.
func (f relayFlags) commissioning(s *site.Site) string {
	if f.record != "" {
		return f.record
	}
	return filepath.Join(filepath.Dir(s.Record), "commissioning.csv")
}

func listRelays(e env, f relayFlags) error {
	s, err := loadSite(e, f.site)
	if err != nil {
		return err
	}
	last, err := commission.Last(f.commissioning(s))
	if err != nil {
		return err
	}
	_, specs := relaySpecs(s)
	for _, spec := range specs {
		p := relayProfile(s, spec)
		tried := "never tried"
		if t, ok := last[spec.Name()]; ok {
			tried = fmt.Sprintf("tried %s by %s: %s", t.At.Format("2006-01-02"), t.Who, t.Seen)
			if t.Where != spec.Where() {
				tried += ", on " + t.Where
			}
		}
		_, err := fmt.Fprintf(e.out, "%s\n  %s; %s, rests %s, runs %s at least\n  %s\n", spec.Name(), spec.Where(),
			p.Profile, units.Duration(p.MinOff), units.Duration(p.MinOn), tried)
		if err != nil {
			return fmt.Errorf("write: %w", err)
		}
	}
	if len(specs) == 0 {
		_, err = fmt.Fprintln(e.out, "The site has no relays.")
	}
	return err
}

func tryRelays(ctx context.Context, e env, f relayFlags, name string) error {
	s, err := loadSite(e, f.site)
	if err != nil {
		return err
	}
	pulse, err := units.ParseDuration(f.pulse)
	if err != nil || pulse < commission.ShortestPulse || pulse > commission.LongestPulse {
		return badUse("--for %q: a time from %s to %s is needed", f.pulse, units.Duration(commission.ShortestPulse), units.Duration(commission.LongestPulse))
	}
	vessels, specs := relaySpecs(s)
	var chosen []relay.Spec
	var names []string
	for _, spec := range specs {
		names = append(names, spec.Name())
		if name == "" || spec.Name() == name {
			chosen = append(chosen, spec)
		}
	}
	if len(chosen) == 0 {
		return badUse("there is no relay %q; relays are %s", name, strings.Join(names, ", "))
	}
	if c, err := newClient(s.Socket, ""); err == nil {
		if _, err := c.state(ctx); err == nil {
			return fmt.Errorf("the program is running and drives the relays; end it first")
		}
	}
	talk := commission.NewTalk(e.out, e.in)
	var wrong []string
	for _, spec := range chosen {
		seen, err := tryOne(ctx, talk, s, vessels, spec, pulse, f.commissioning(s))
		if err != nil {
			return err
		}
		if seen != "" && seen != commission.Right {
			wrong = append(wrong, spec.Name()+" ("+seen+")")
		}
	}
	if len(wrong) > 0 {
		return fmt.Errorf("not as the site file says: %s; mend the wiring or the site file and try again", strings.Join(wrong, ", "))
	}
	return nil
}

// tryOne claims one relay only, so that nothing else can move.
func tryOne(ctx context.Context, talk *commission.Talk, s *site.Site, vessels []string, spec relay.Spec, pulse time.Duration, path string) (seen string, err error) {
	line, err := relay.OpenOne(nil, vessels, spec)
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, line.Set(false), line.Close()) }()
	r := commission.Relay{Name: spec.Name(), Where: spec.Where(), Profile: relayProfile(s, spec).Profile, Line: line}
	seen, refused, err := talk.Pulse(ctx, r, pulse)
	if err != nil || refused {
		return "", err
	}
	return seen, commission.Append(path, commission.Entry{At: time.Now(), Who: whoami(), Relay: spec.Name(), Where: spec.Where(), On: pulse, Seen: seen})
}

func whoami() string {
	if u, err := user.Current(); err == nil {
		return u.Username
	}
	return "unknown"
}

// relayProfile finds what hangs on a relay.
func relayProfile(s *site.Site, spec relay.Spec) guard.Relay {
	if spec.Role == relay.Chiller {
		return s.Plant.Chiller.Guard
	}
	v := &s.Vessels[s.Find(spec.Vessel)]
	switch {
	case spec.Role == relay.Heat:
		return v.Heat.Guard
	case spec.Zone != "":
		for i := range v.Zones {
			if v.Zones[i].Name == spec.Zone {
				return v.Zones[i].Relay.Guard
			}
		}
	}
	return v.Cool.Guard
}

// switchOff drives every relay off, together if all can be had, else one by one:
// a relay that cannot be reached must not leave the others on.
func switchOff(s *site.Site) (done int, err error) {
	vessels, specs := relaySpecs(s)
	if b, err := openBoard(s); err == nil && b.Close() == nil {
		return len(specs), nil
	}
	var errs []error
	for i := range specs {
		b, err := relay.Open(nil, vessels, specs[i:i+1])
		if err == nil {
			err = b.Close()
		}
		if err == nil {
			done++
		}
		errs = append(errs, err)
	}
	return done, errors.Join(errs...)
}
