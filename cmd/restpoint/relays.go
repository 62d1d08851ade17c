package main

import (
	"fmt"

	"github.com/spf13/cobra"
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
			b, err := openBoard(s)
			if err != nil {
				return err
			}
			if err := b.Close(); err != nil {
				return err
			}
			_, specs := relaySpecs(s)
			_, err = fmt.Fprintf(e.out, "%d relays are off. Their lines are let go of and float now: a resistor must hold each at OFF.\n", len(specs))
			return err
		},
	}
	off.Flags().StringVarP(&sitePath, "site", "c", "", "the site file")
	c.AddCommand(off)
	return c
}
