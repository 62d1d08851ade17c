// Package commission holds what a person does once with new wiring: switching one
// relay after another to see that it is the one it is called, and looking at which
// probe is where. It asks before it switches anything, switches one thing at a
// time, and writes down what the person saw.
//
// It proves nothing by itself: only eyes and ears at the relay do.
package commission

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
)

// Talk is the conversation with the person at the board.
type Talk struct {
	out io.Writer
	in  *bufio.Reader
}

// NewTalk makes a conversation.
func NewTalk(out io.Writer, in io.Reader) *Talk { return &Talk{out, bufio.NewReader(in)} }

// say writes to the person.
func (t *Talk) say(format string, args ...any) error {
	if _, err := fmt.Fprintf(t.out, format, args...); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	return nil
}

// errNoAnswer is an end of the input where an answer was wanted.
var errNoAnswer = errors.New("no answer")

// ask puts a question and reads one line. A read of a terminal cannot be ended: if
// the context ends first, the read is left behind and ends with the process.
func (t *Talk) ask(ctx context.Context, format string, args ...any) (string, error) {
	if err := t.say(format, args...); err != nil {
		return "", err
	}
	type read struct {
		line string
		err  error
	}
	answer := make(chan read, 1) // so that a late answer finds room
	go func() {
		line, err := t.in.ReadString('\n')
		answer <- read{strings.TrimSpace(line), err}
	}()
	select {
	case <-ctx.Done():
		return "", fmt.Errorf("wait for an answer: %w", context.Cause(ctx))
	case a := <-answer:
		if a.err != nil && a.line == "" {
			return "", fmt.Errorf("read the answer: %w", errors.Join(errNoAnswer, a.err))
		}
		return a.line, nil
	}
}

// choose asks until one of the words is given.
func (t *Talk) choose(ctx context.Context, question string, words ...string) (string, error) {
	for {
		answer, err := t.ask(ctx, "%s ", question)
		if err != nil {
			return "", err
		}
		for _, w := range words {
			if strings.EqualFold(answer, w) {
				return w, nil
			}
		}
		if err := t.say("%q is none of %s.\n", answer, strings.Join(words, ", ")); err != nil {
			return "", err
		}
	}
}

// wait waits, unless the context ends before.
func wait(ctx context.Context, d time.Duration) error {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-timer.C:
		return nil
	}
}
