package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"example.org/restpoint/profiles"
)

func explainCommand(e env) *cobra.Command {
	return &cobra.Command{
		Use:   "explain SCHEDULE",
		Short: "Say in words what a schedule will do",
		Long: `Say in words what a schedule will do, stage by stage. SCHEDULE is a file, or the
name of one that comes with the program:

  ` + strings.Join(profiles.Builtin(), "\n  "),
		Example: "  restpoint explain pale-ale-with-rest",
		Args:    cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			f, err := loadSchedule(args[0])
			if err != nil {
				return err
			}
			warn(e, f.Warnings)
			_, err = fmt.Fprintln(e.out, strings.TrimRight(profiles.Explain(f.Schedule), "\n"))
			return err
		},
	}
}

// loadSchedule loads a schedule, and says which fault is the file's.
func loadSchedule(name string) (*profiles.File, error) {
	f, err := profiles.Load(name)
	if err != nil {
		return nil, configError{err}
	}
	return f, nil
}

// warn prints what is allowed and doubtful.
func warn(e env, list []profiles.Warning) {
	for _, w := range list {
		_, _ = fmt.Fprintf(e.err, "warning: %s\n", w.String())
	}
}
