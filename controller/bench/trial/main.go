// Trial judges what is made of a hydrometer's readings: many fermentations of
// several kinetics, seen by sensors of three qualities, go through the same Step as
// a real batch, beside the rule that a person would script.
//
//	go run ./controller/bench/trial [-cases 12] [-seed 1]
//
// It tunes nothing and knows no bars: it counts.
package main

import (
	"flag"
	"fmt"
	"io"
	"os"

	"example.org/restpoint/controller/bench/internal/figures"
	"example.org/restpoint/controller/plant"
)

func main() {
	cases := flag.Int("cases", 12, "fermentations for each kinetics and sensor")
	from := flag.Uint64("seed", 1, "first seed")
	flag.Parse()
	if err := report(os.Stdout, all(*cases, *from)); err != nil {
		fmt.Fprintln(os.Stderr, "trial:", err)
		os.Exit(1)
	}
}

type sensor struct {
	name  string
	noise plant.Noise
}

func sensors() []sensor {
	return []sensor{{"mild", plant.Mild()}, {"typical", plant.Typical()}, {"nasty", plant.Nasty()}}
}

// all runs every case.
func all(cases int, from uint64) []trial {
	var list []func() trial
	for i, k := range allKinetics() {
		for j, s := range sensors() {
			for n := range cases {
				seed := from + uint64(i*1000000+j*10000+n)
				list = append(list, func() trial { return run(k, s.name, s.noise, seed, n%6 == 5) })
			}
		}
	}
	return figures.Each(len(list), func(i int) trial { return list[i]() })
}

// report counts by sensor, by kinetics, and all together.
func report(w io.Writer, trials []trial) error {
	var rows []row
	for _, held := range []bool{false, true} {
		for _, s := range sensors() {
			rows = append(rows, count(s.name, held, trials, func(t *trial) bool { return t.noise == s.name && t.kinetics.heldOut == held }))
		}
		rows = append(rows, count("all sensors", held, trials, func(t *trial) bool { return t.kinetics.heldOut == held }))
	}
	for _, k := range allKinetics() {
		rows = append(rows, count(k.name, k.heldOut, trials, func(t *trial) bool { return t.kinetics.name == k.name }))
	}
	if err := write(w, rows); err != nil {
		return err
	}
	return writeLimits(w, count("held out", true, trials, func(t *trial) bool { return t.kinetics.heldOut }))
}
