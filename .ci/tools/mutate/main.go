// Command mutate plants faults in the program, one at a time, and demands that the
// tests find each. A fault is a named replacement of text that stands exactly once
// in its file. The tree is never changed: the compiler is shown the other text.
//
//	mutate [-root DIR] [-faults FILE] [-in DIR,DIR...] [-name WORDS] [-most N -turn K]
//
// It refuses to count what cannot be counted: a fault that does not compile, a text
// that is not there or not alone, a test that fails without any fault.
package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"
)

// fault is one planted mistake.
type fault struct {
	name, file string
	old, with  string
	tests      []string // arguments of go test
}

// ending is what became of a fault.
type ending string

const (
	killed  ending = "killed"
	tooLong ending = "killed by time"
	lives   ending = "LIVES"
	broken  ending = "CANNOT BE PLANTED"
)

type result struct {
	ending ending
	says   string
	took   time.Duration
}

// limit is how long one run of tests may take; beyond it the fault hangs.
const limit = 4 * time.Minute

func main() {
	if err := run(os.Args[1:], os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "mutate:", err)
		os.Exit(1)
	}
}

func run(args []string, out io.Writer) error {
	flags := flag.NewFlagSet("mutate", flag.ContinueOnError)
	root := flags.String("root", "../..", "the project")
	list := flags.String("faults", "mutate/faults.txt", "the faults")
	in := flags.String("in", "", "only faults in these folders, with commas between; empty = all")
	name := flags.String("name", "", "only faults whose name contains this")
	most := flags.Int("most", 0, "at most so many of them, spread over all; 0 = no bound")
	turn := flags.Int("turn", 0, "which ones those are: another number, other faults")
	if err := flags.Parse(args); err != nil {
		return err
	}
	text, err := os.ReadFile(*list)
	if err != nil {
		return err
	}
	all, err := parse(string(text))
	if err != nil {
		return fmt.Errorf("read %s: %w", *list, err)
	}
	faults := slices.DeleteFunc(slices.Clone(all), func(f fault) bool {
		dir := filepath.Dir(f.file)
		return *in != "" && !slices.Contains(strings.Split(*in, ","), dir) || !strings.Contains(f.name, *name)
	})
	faults = some(faults, *most, *turn)
	dir, err := os.MkdirTemp("", "mutate")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir) //nolint:errcheck // a temporary folder
	p := planter{root: *root, dir: dir}
	if err := p.sound(faults); err != nil {
		return err
	}
	return p.report(faults, len(all), out)
}

// some takes at most so many faults, evenly spread: with each turn the next ones.
func some(list []fault, most, turn int) []fault {
	if most <= 0 || len(list) <= most {
		return list
	}
	every := (len(list) + most - 1) / most
	var out []fault
	for i := turn % every; i < len(list); i += every {
		out = append(out, list[i])
	}
	return out
}

// parse reads the list: "== name", then "file | arguments of go test", then the
// text after "<<<" and that which stands for it after ">>>".
func parse(text string) ([]fault, error) {
	var list []fault
	for i, block := range strings.Split("\n"+text, "\n== ")[1:] {
		name, rest, _ := strings.Cut(block, "\n")
		head, body, found := strings.Cut(rest, "\n<<<\n")
		file, tests, piped := strings.Cut(head, " | ")
		old, with, both := strings.Cut(body, "\n>>>")
		if !found || !piped || !both {
			return nil, fmt.Errorf("fault %d, %q: its form is not understood", i+1, name)
		}
		with, _, _ = strings.Cut(strings.TrimPrefix(with, "\n"), "\n#")
		f := fault{name: name, file: strings.TrimSpace(file), tests: strings.Fields(tests), old: old, with: strings.TrimRight(with, "\n")}
		if slices.ContainsFunc(list, func(g fault) bool { return g.name == f.name }) {
			return nil, fmt.Errorf("two faults are named %q", name)
		}
		list = append(list, f)
	}
	return list, nil
}

type planter struct{ root, dir string }

// sound runs every list of tests once without a fault: what fails then proves nothing.
func (p planter) sound(faults []fault) error {
	seen := map[string]bool{}
	for _, f := range faults {
		key := strings.Join(f.tests, " ")
		if seen[key] {
			continue
		}
		seen[key] = true
		if says, err := p.test(f.tests); err != nil {
			return fmt.Errorf("without any fault: go test %s: %w\n%s", key, err, says)
		}
	}
	return nil
}

func (p planter) test(args []string) (string, error) {
	ctx, stop := context.WithTimeout(context.Background(), limit)
	defer stop()
	cmd := exec.CommandContext(ctx, "go", append([]string{"test", "-count=1", "-failfast", "-vet=off"}, args...)...)
	cmd.Dir, cmd.WaitDelay = p.root, 10*time.Second
	cmd.Env = append(os.Environ(), "RAPID_NOFAILFILE=1") // what a fault broke is no example to keep
	var says bytes.Buffer
	cmd.Stdout, cmd.Stderr = &says, &says
	err := cmd.Run()
	if ctx.Err() != nil {
		err = ctx.Err()
	}
	return says.String(), err
}

// plant runs the tests of one fault.
func (p planter) plant(i int, f fault) result {
	path, err := filepath.Abs(filepath.Join(p.root, f.file))
	if err != nil {
		return result{ending: broken, says: err.Error()}
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return result{ending: broken, says: err.Error()}
	}
	if n := strings.Count(string(text), f.old); n != 1 {
		return result{ending: broken, says: fmt.Sprintf("its text stands %d times in %s", n, f.file)}
	}
	with := filepath.Join(p.dir, fmt.Sprintf("%d.go", i))
	overlay := filepath.Join(p.dir, fmt.Sprintf("%d.json", i))
	mapping, err := json.Marshal(map[string]map[string]string{"Replace": {path: with}})
	if err != nil {
		return result{ending: broken, says: err.Error()}
	}
	err = errors.Join(
		os.WriteFile(with, []byte(strings.Replace(string(text), f.old, f.with, 1)), 0o600),
		os.WriteFile(overlay, mapping, 0o600),
	)
	if err != nil {
		return result{ending: broken, says: err.Error()}
	}
	begun := time.Now()
	says, err := p.test(append([]string{"-overlay", overlay}, f.tests...))
	r := result{ending: killed, says: says, took: time.Since(begun)}
	switch {
	case err == nil:
		r.ending = lives
	case errors.Is(err, context.DeadlineExceeded):
		r.ending = tooLong
	case strings.Contains(says, "build failed]"), strings.Contains(says, "setup failed]"):
		r.ending = broken
	}
	return r
}

// report plants all faults, two at a time, and tells what lives.
func (p planter) report(faults []fault, all int, out io.Writer) error {
	results := make([]result, len(faults))
	next := make(chan int)
	var workers sync.WaitGroup
	for range 2 {
		workers.Go(func() {
			for i := range next {
				results[i] = p.plant(i, faults[i])
			}
		})
	}
	for i := range faults {
		next <- i
	}
	close(next)
	workers.Wait()

	dead := 0
	for i, f := range faults {
		r := results[i]
		fmt.Fprintf(out, "  %-14s %5.1f s  %s: %s\n", r.ending, r.took.Seconds(), filepath.Dir(f.file), f.name)
		switch r.ending {
		case killed, tooLong:
			dead++
		case broken:
			fmt.Fprintln(out, r.says)
		case lives:
		}
	}
	fmt.Fprintf(out, "%d of %d planted faults killed, of %d in the list\n", dead, len(faults), all)
	if dead < len(faults) {
		return fmt.Errorf("%d faults are not killed", len(faults)-dead)
	}
	return nil
}
