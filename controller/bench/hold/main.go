// Hold judges how well a temperature is held: many vessels that the program has
// never seen go through the same Step and the same guard as a real batch, beside a
// plain differential thermostat with the same guard, and beside the best train of
// pulses that a search with full knowledge of the vessel finds.
//
//	go run ./controller/bench/hold [-drawn 8] [-seed 1] [-cascade]
//
// It tunes nothing and knows no bars: it counts.
package main

import (
	"flag"
	"fmt"
	"io"
	"os"

	"example.org/restpoint/controller/bench/internal/figures"
)

func main() {
	drawn := flag.Int("drawn", 8, "vessels drawn by chance, beside the named ones")
	seed := flag.Uint64("seed", 1, "first seed of those")
	around := flag.Bool("cascade", false, "only vessels with a probe beside the beer, against a loop around a loop")
	only := flag.String("only", "", "only the cellar of this name")
	flag.Parse()
	list := append(cellars(), chances(*drawn, *seed)...)
	if *only != "" {
		for _, c := range list {
			if c.name == *only {
				list = []cellar{c}
				break
			}
		}
	}
	write := func(w io.Writer) error { return report(w, all(list)) }
	if *around {
		write = func(w io.Writer) error { return writeCascades(w, list) }
	}
	if err := write(os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "hold:", err)
		os.Exit(1)
	}
}

// all judges every cellar.
func all(list []cellar) []result {
	return figures.Each(len(list), func(i int) result { return judge(&list[i]) })
}

// report prints the named cellars, then those drawn by chance.
func report(w io.Writer, results []result) error {
	for _, part := range []func(io.Writer, []result) error{writeHold, writeMoves, writeSums} {
		if err := part(w, results); err != nil {
			return fmt.Errorf("write the tables: %w", err)
		}
	}
	return nil
}
