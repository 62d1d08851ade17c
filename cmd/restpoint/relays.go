package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"example.org/restpoint/cmd/restpoint/internal/site"
	"example.org/restpoint/controller/relay"
)

func relaysCommand(e env) *cobra.Command {
	c := &cobra.Command{
		Use: "relays", Short: "Relays, by hand",
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	var sitePath string
	off := &cobra.Command{
		Use: "off -c SITE", Short: "Drive every relay off",
		Long: `Drive every relay of a site off, for a service manager to call after the program
has ended in whatever way. A line that is let go of floats afterwards: what it
does then is up to the board, so fit a resistor that pulls it to the OFF level.`,
		Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			s, err := loadSite(e, sitePath)
			if err != nil {
				return err
			}
			done, err := switchOff(s)
			if done > 0 {
				_, said := fmt.Fprintf(e.out, "%d relays are off. Their lines are let go of and float now: a resistor must hold each at OFF.\n", done)
				err = errors.Join(err, said)
			}
			return err
		},
	}
	off.Flags().StringVarP(&sitePath, "site", "c", "", "the site file")
	c.AddCommand(off)
	return c
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
