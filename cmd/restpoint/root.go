package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"example.org/restpoint/profiles/strict"
)

// Exit codes.
const (
	exitOK     = 0
	exitFailed = 1
	exitUsage  = 2
	exitConfig = 3
)

// env is all that the verbs have of the world around them.
type env struct {
	in       io.Reader
	out, err io.Writer
	terminal bool // out is a terminal: progress may be drawn
}

// usageError is a command line that makes no sense; configError a file that makes none.
type (
	usageError  struct{ error }
	configError struct{ error }
)

func (e usageError) Unwrap() error  { return e.error }
func (e configError) Unwrap() error { return e.error }

// badUse makes a usage error.
func badUse(format string, args ...any) error { return usageError{fmt.Errorf(format, args...)} }

// run carries out one command line and gives the exit code.
func run(ctx context.Context, e env, args []string) int {
	root := NewRoot(e) //nolint:contextcheck // cobra hands the context to the verb that runs
	root.SetArgs(belowZero(args))
	err := root.ExecuteContext(ctx)
	if err == nil {
		return exitOK
	}
	var problems *strict.Problems
	var use usageError
	var config configError
	switch {
	case errors.As(err, &problems):
		_, _ = fmt.Fprintln(e.err, strings.TrimRight(problems.Render(), "\n"))
		return exitConfig
	case errors.As(err, &config):
		_, _ = fmt.Fprintln(e.err, "restpoint:", err)
		return exitConfig
	case errors.As(err, &use):
		_, _ = fmt.Fprintln(e.err, "restpoint:", err)
		return exitUsage
	}
	_, _ = fmt.Fprintln(e.err, "restpoint:", err)
	return exitFailed
}

// NewRoot builds the tree of verbs.
func NewRoot(e env) *cobra.Command {
	root := &cobra.Command{
		Use:   "restpoint",
		Short: "Looks after a beer fermentation while nobody is there",
		Long: `restpoint holds a fermenting beer at its temperature, lets it rise for the
diacetyl rest when few enough gravity points are left, crashes it when gravity
is terminal, and holds it cold. Every decision is explained in its record.

Begin with:  restpoint demo

It is not a safety device. Heaters need an independent thermal cut-out, tanks
need their relief valves, rooms need air: local codes and licensed people decide.`,
		SilenceErrors: true,
		SilenceUsage:  true,
	}
	root.SetOut(e.out)
	root.SetErr(e.err)
	root.SetIn(e.in)
	root.CompletionOptions.HiddenDefaultCmd = true
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return usageError{err} })
	root.AddCommand(
		simulateCommand(e), replayCommand(e), batchesCommand(e), exportCommand(e), reportCommand(e), backupCommand(e), archiveCommand(e), stepCommand(e), checkCommand(e), explainCommand(e), versionCommand(e), demoCommand(e), runCommand(e), tellCommand(e), statusCommand(e), relaysCommand(e), probesCommand(e), calcCommand(e),
	)
	for _, c := range root.Commands() {
		usageOfArgs(c)
	}
	root.Args = func(_ *cobra.Command, args []string) error {
		if len(args) > 0 {
			return badUse("there is no verb %q; see: restpoint --help", args[0])
		}
		return nil
	}
	root.RunE = func(cmd *cobra.Command, _ []string) error { return cmd.Help() }
	return root
}

// usageOfArgs makes arguments that a verb, or a part of one, does not take a usage
// error.
func usageOfArgs(c *cobra.Command) {
	if check := c.Args; check != nil {
		c.Args = func(cmd *cobra.Command, args []string) error {
			err := check(cmd, args)
			if err == nil || errors.As(err, new(usageError)) {
				return err
			}
			return badUse("%s: %w; see: %s --help", cmd.Name(), err, cmd.CommandPath())
		}
	}
	for _, sub := range c.Commands() {
		usageOfArgs(sub)
	}
}
