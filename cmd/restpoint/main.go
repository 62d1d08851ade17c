// Command restpoint looks after beer fermentations while nobody is there.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := run(ctx, env{in: os.Stdin, out: os.Stdout, err: os.Stderr, terminal: isTerminal(os.Stdout)}, os.Args[1:])
	stop()
	os.Exit(code)
}

// isTerminal tells whether a person watches: then progress may be drawn.
func isTerminal(f *os.File) bool {
	i, err := f.Stat()
	if null, nullErr := os.Stat(os.DevNull); nullErr == nil && err == nil && os.SameFile(i, null) {
		return false // it looks like one
	}
	return err == nil && i.Mode()&os.ModeCharDevice != 0 && os.Getenv("TERM") != "dumb" && os.Getenv("NO_COLOR") == ""
}
