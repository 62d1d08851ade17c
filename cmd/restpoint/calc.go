package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"example.org/restpoint/controller/units"
)

// answer is one result of a sum, as a person reads it.
type answer struct {
	name, value string // the value with its unit
	how         string // by which equation, and how good it is
}

// sum is one sum of the trade: words in, answers out.
type sum struct {
	use, short, long string
	examples         []string
	flags            func(*cobra.Command)
	work             func(words string) ([]answer, error)
}

func calcCommand(e env) *cobra.Command {
	c := &cobra.Command{
		Use: "calc", Short: "Sums of the brewing trade",
		Long: `Sums of the brewing trade, each with the equation it is done by and how good it
is; the program itself works with the same. Gravities are written "1.048" or
"12 P", temperatures "4 C" or "40 F", pressures "0.8 bar", "80 kPa" or "12 psi",
volumes "20 L", "2 hL", "5 gal" (US), "7 bbl" (US beer) or "4 imp gal".`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) > 0 {
				return fmt.Errorf("there is no sum %q", args[0])
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	for _, s := range []sum{
		gravitySum(), hydrometerSum(), refractometerSum(), attenuationSum(), freezingSum(),
		carbonationSum(), residualSum(), blendSum(), convertSum(),
	} {
		c.AddCommand(s.command(e))
	}
	return c
}

func (s sum) command(e env) *cobra.Command {
	c := &cobra.Command{
		Use: s.use, Short: s.short, Long: s.long,
		Example: "  restpoint calc " + strings.Join(s.examples, "\n  restpoint calc "),
		RunE: func(cmd *cobra.Command, args []string) error {
			text := strings.Join(strings.Fields(strings.Join(args, " ")), " ")
			if text == "" {
				return badUse("calc %s: nothing is given; write: restpoint calc %s", cmd.Name(), s.examples[0])
			}
			answers, err := s.work(text)
			if err != nil {
				return badUse("calc %s: %w", cmd.Name(), err)
			}
			return writeAnswers(e.out, answers)
		},
	}
	if s.flags != nil {
		s.flags(c)
	}
	return c
}

// writeAnswers prints a line each, and once below those that share it how they are
// come by.
func writeAnswers(w io.Writer, answers []answer) error {
	for i, a := range answers {
		if _, err := fmt.Fprintf(w, "%-34s  %s\n", a.name, a.value); err != nil {
			return fmt.Errorf("write: %w", err)
		}
		if i+1 < len(answers) && answers[i+1].how == a.how {
			continue
		}
		if err := wrapText(w, a.how, 4, 80); err != nil {
			return fmt.Errorf("write: %w", err)
		}
	}
	return nil
}

// belowZero keeps a number below zero from being read as a flag; no flag here
// begins with a digit.
func belowZero(args []string) []string {
	out := make([]string, len(args))
	for i, a := range args {
		if len(a) > 1 && a[0] == '-' && strings.IndexByte(".0123456789", a[1]) >= 0 {
			a = " " + a
		}
		out[i] = a
	}
	return out
}

// quantities cuts "20 L of 1.050 and 25 L of 1.056" before every number. Words that
// only join are left out, others belong to the number before them.
func quantities(words string, joins ...string) []string {
	var out []string
	for word := range strings.FieldsSeq(words) {
		word = strings.TrimSuffix(word, ",")
		if slices.Contains(joins, word) || word == "" {
			continue
		}
		if len(out) == 0 || strings.IndexByte("+-.0123456789", word[0]) >= 0 {
			out = append(out, word)
			continue
		}
		out[len(out)-1] += " " + word
	}
	return out
}

func convertSum() sum {
	return sum{
		use: "convert QUANTITY", short: "A quantity in its other units",
		long: `A quantity in its other units: a temperature, a difference of temperatures, how
fast one moves, a pressure, a volume, dissolved gas, a height or a gravity.`,
		examples: []string{"convert 12 psi", "convert 66 F", "convert difference 5 F"},
		work: func(words string) ([]answer, error) {
			for _, read := range []func(string) ([]answer, error){
				temperatures, differences, rates, pressures, volumes, gases, heights,
			} {
				if list, err := read(words); err == nil {
					return list, nil
				}
			}
			if g, err := wort(words, 1); err == nil {
				return gravityAnswers(g), nil
			}
			if strings.Contains(words, ",") {
				return nil, fmt.Errorf("%q: write a decimal point, not a comma", words)
			}
			return nil, fmt.Errorf("%q is none of: C, F; difference K, F; C/h, F/h, C/d; bar, kPa, psi, atm, Pa; L, hL, gal, bbl, imp gal; volumes, g/L; m, ft; SG, P, Brix", words)
		},
	}
}

// measure is a quantity in one of its units.
type measure struct {
	value float64
	unit  string
}

// in makes a line of each, if all are numbers of this world.
func in(words, how string, list ...measure) ([]answer, error) {
	var answers []answer
	for _, m := range list {
		if math.Abs(m.value) > 1e9 {
			return nil, fmt.Errorf("%q is too much", words)
		}
		answers = append(answers, answer{words, figures(m.value) + " " + m.unit, how})
		words = "" // once
	}
	return answers, nil
}

func temperatures(words string) ([]answer, error) {
	t, err := units.ParseCelsius(words)
	if err != nil {
		return nil, err
	}
	if t < -273.15 {
		return nil, fmt.Errorf("nothing is as cold as %q", words)
	}
	return in(words, howExact+"; a difference is another thing: convert difference 5 F", measure{float64(t), "C"}, measure{t.Fahrenheit(), "F"})
}

func differences(words string) ([]answer, error) {
	text, ok := strings.CutPrefix(words, "difference ")
	if !ok {
		return nil, errors.New("no difference")
	}
	d, err := units.ParseKelvins(text)
	if err != nil {
		return nil, err
	}
	return in(words, howExact, measure{float64(d), "K"}, measure{d.Fahrenheit(), "F"})
}

func rates(words string) ([]answer, error) {
	r, err := units.ParseRate(words)
	if err != nil {
		return nil, err
	}
	return in(words, howExact, measure{float64(r), "C/h"}, measure{r.Fahrenheit(), "F/h"}, measure{float64(r * 24), "C/d"})
}

func pressures(words string) ([]answer, error) {
	p, err := units.ParsePascals(words)
	if err != nil {
		return nil, err
	}
	return in(words, howExact, measure{p.Bar(), "bar"}, measure{p.Kilo(), "kPa"}, measure{p.PSI(), "psi"}, measure{p.Atmospheres(), "atm"})
}

func volumes(words string) ([]answer, error) {
	v, err := units.ParseLitres(words)
	if err != nil {
		return nil, err
	}
	return in(words, howExact, measure{float64(v), "L"}, measure{v.Hectolitres(), "hL"}, measure{v.USGallons(), "gal (US)"},
		measure{v.USBarrels(), "bbl (US beer)"}, measure{v.ImperialGallons(), "imp gal"})
}

func gases(words string) ([]answer, error) {
	v, err := gas(words)
	if err != nil {
		return nil, err
	}
	return in(words, "1.96 g/L a volume, as the trade counts; an ideal gas has 1.9635, the real one 1.977", measure{float64(v), "volumes"}, measure{v.GramsPerLitre(), "g/L"})
}

func heights(words string) ([]answer, error) {
	h, err := units.ParseMetres(words)
	if err != nil {
		return nil, err
	}
	return in(words, howExact, measure{float64(h), "m"}, measure{h.Feet(), "ft"})
}

// figures prints six of them at most, and never an exponent.
func figures(v float64) string {
	if v == 0 {
		return "0"
	}
	decimals := max(0, 5-int(math.Floor(math.Log10(math.Abs(v)))))
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}
