package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"example.org/restpoint/cmd/restpoint/internal/site"
	"example.org/restpoint/profiles"
)

func checkCommand(e env) *cobra.Command {
	var sitePath string
	c := &cobra.Command{
		Use:   "check [-c SITE] [SCHEDULE ...]",
		Short: "Find every fault in a site file and in schedules",
		Long: `Find every fault in a site file and in schedules, without touching anything.
Each is shown with its line. With both, each schedule is held against the limits
of each vessel. Ends with 0 when all is well, with 3 when something is wrong.

A hydrometer's calibration (offset, two points or a polynomial) is applied to what
it sends, before any correction for temperature.`,
		Example: "  restpoint check -c /etc/restpoint/site.yaml pale-ale-with-rest my-lager.yaml",
		RunE: func(_ *cobra.Command, args []string) error {
			if sitePath == "" && len(args) == 0 {
				return badUse("check needs a site file (-c SITE) or a schedule")
			}
			return check(e, sitePath, args)
		},
	}
	c.Flags().StringVarP(&sitePath, "site", "c", "", "the site file")
	return c
}

func check(e env, sitePath string, schedules []string) error {
	var s *site.Site
	if sitePath != "" {
		var err error
		if s, err = loadSite(e, sitePath); err != nil {
			return err
		}
		_, _ = fmt.Fprintf(e.out, "%s: site %q is sound: %d vessels\n", sitePath, s.Name, len(s.Vessels))
	}
	for _, name := range schedules {
		f, err := loadSchedule(name)
		if err != nil {
			return err
		}
		warn(e, f.Warnings)
		if err := checkFit(e, s, f); err != nil {
			return err
		}
		_, _ = fmt.Fprintf(e.out, "%s: schedule %q is sound: %d stages\n", name, f.Schedule.Name, len(f.Schedule.Stages))
	}
	return nil
}

func checkFit(e env, s *site.Site, f *profiles.File) error {
	if s == nil {
		return nil
	}
	for i := range s.Vessels {
		warnings, err := s.CheckFit(i, f)
		warn(e, warnings)
		if err != nil {
			return configError{err}
		}
	}
	return nil
}

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

// loadSite loads the site file, and says which fault is the file's.
func loadSite(e env, path string) (*site.Site, error) {
	if path == "" {
		return nil, badUse("the site file is missing: -c SITE")
	}
	s, err := site.Load(path)
	if err != nil {
		return nil, configError{err}
	}
	warn(e, s.Warnings)
	return s, nil
}
