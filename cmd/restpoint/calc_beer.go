package main

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"example.org/restpoint/controller/units"
)

// How good the equations are, as the tests of controller/units hold them.
const (
	howExtract = "ASBC's cubic up to 20.6 P, NBS fit beyond; within 0.005 P of the tables of sucrose up to 20 P, 0.01 P up to 40 P"
	howBalling = "Balling; within 0.12 % by mass, 0.15 % by volume of breweries' analyses"
	howCutaia  = "fit of Cutaia, Reid and Speers (2009) to breweries' analyses; as good"
	howGas     = "fit to the ASBC's table; within 0.06 volumes of it from 0 C to 8 C, within 5 % of other tables at 20 C"
	howExact   = "exact by definition"
)

func gravitySum() sum {
	return sum{
		use: "gravity GRAVITY", short: "A gravity in points, Plato and Brix",
		examples: []string{"gravity 1.048", "gravity 12 P", "gravity 12.4 Brix"},
		work: func(words string) ([]answer, error) {
			g, err := wort(words, 1)
			if err != nil {
				return nil, err
			}
			return gravityAnswers(g), nil
		},
	}
}

// wort reads the gravity of a wort: from a hydrometer, or in Brix from a refractometer.
func wort(text string, factor float64) (units.Gravity, error) {
	b, err := units.ParseBrix(text)
	if err != nil {
		return units.ParseGravity(text)
	}
	g := b.Wort(factor).Gravity()
	if !g.Plausible() {
		return 0, fmt.Errorf("%q is not the Brix of a wort", text)
	}
	return g, nil
}

func gravityAnswers(g units.Gravity) []answer {
	list := []answer{
		{"specific gravity", g.Fixed(4) + " SG", "at 20/20 C"},
		{"above water", g.Minus(1).Fixed(1), "thousandths of gravity"},
		{"extract", g.Plato().Fixed(2), howExtract},
	}
	if g < 1 {
		return list // sugar alone is never lighter than water
	}
	return append(list, answer{"the same as sugar", units.Brix(g.Plato()).Fixed(2), "one curve serves for both, their tables differ by less than 0.01; a refractometer shows about 4 % more in wort, and far more in beer: see refractometer"})
}

func hydrometerSum() sum {
	glass := "20C"
	return sum{
		use: "hydrometer READING at TEMPERATURE", short: "A reading at another temperature than the glass's",
		examples: []string{"hydrometer 1.050 at 30 C", "hydrometer 1.050 at 86 F --glass 60F"},
		flags: func(c *cobra.Command) {
			c.Flags().StringVar(&glass, "glass", glass, "what the glass is made for, 20C or 60F")
		},
		work: func(words string) ([]answer, error) {
			made, err := units.ParseCelsius(glass)
			if err != nil || made != units.Glass20C && made != units.Glass60F {
				return nil, fmt.Errorf("--glass: %q is not 20C or 60F, which glasses are made for", glass)
			}
			text, at, ok := strings.Cut(words, " at ")
			if !ok {
				return nil, errors.New(`the temperature of the sample is missing: "1.050 at 30 C"`)
			}
			g, err := units.ParseGravity(text)
			if err != nil {
				return nil, err
			}
			t, err := units.ParseCelsius(at)
			if err != nil {
				return nil, err
			}
			if t < 0 || t > 40 {
				return nil, fmt.Errorf("%s is not the temperature of a sample that can be corrected; 0 C to 40 C are", t.Fixed(1))
			}
			right := units.CorrectHydrometer(g, t, made)
			how := "water's density (CIPM-2001) and a soda-lime glass; within 0.5 points from 10 C to 30 C, less sure outside"
			return []answer{{"gravity", right.Fixed(4) + " SG", how}, {"correction", signed(right.Minus(g).Fixed(1)), how}}, nil
		},
	}
}

// signed puts a plus before what has no sign.
func signed(text string) string {
	if strings.HasPrefix(text, "-") {
		return text
	}
	return "+" + text
}

func refractometerSum() sum {
	factor := strconv.FormatFloat(units.WortFactor, 'f', -1, 64)
	return sum{
		use: "refractometer READING from ORIGINAL", short: "A beer's gravity from a refractometer",
		long: `A beer's gravity from a refractometer, which takes its alcohol for sugar: the
original gravity is needed too, as gravity, Plato or the same instrument's Brix.`,
		examples: []string{"refractometer 6.2 Brix from 1.050", "refractometer 6.2 Brix from 12.9 Brix --wort-factor 1.03"},
		flags: func(c *cobra.Command) {
			c.Flags().StringVar(&factor, "wort-factor", factor, "its reading of wort over Plato")
		},
		work: func(words string) ([]answer, error) {
			f, err := strconv.ParseFloat(factor, 64)
			if err != nil || !(f >= 0.9 && f <= 1.2) {
				return nil, fmt.Errorf("--wort-factor: %q is not a number from 0.9 to 1.2", factor)
			}
			text, from, ok := strings.Cut(words, " from ")
			if !ok {
				return nil, errors.New(`the original gravity is missing: "6.2 Brix from 1.050"`)
			}
			reading, err := units.ParseBrix(text)
			if err != nil {
				return nil, err
			}
			original, err := wort(from, f)
			if err != nil {
				return nil, err
			}
			g, err := units.Refractometer(reading, original, f)
			if err != nil {
				return nil, err
			}
			how := "Balling's equations, a per cent of alcohol by mass taken to look like 0.445 Brix (Gossett), the reading divided by the wort factor; published fits for finished beer are up to 2.5 points apart: let a hydrometer decide"
			return []answer{
				{"gravity", g.Fixed(4) + " SG", how},
				{"apparent extract", g.Plato().Fixed(2), how},
				{"apparent attenuation, by points", percent(units.ApparentAttenuationByPoints(original, g)), how},
			}, nil
		},
	}
}

func percent(share float64) string { return fmt.Sprintf("%.1f %%", 100*share) }

// fermented reads an original gravity and the gravity now.
func fermented(words string) (original, now units.Gravity, err error) {
	list := quantities(words, "to", "and")
	if len(list) != 2 {
		return 0, 0, fmt.Errorf(`two gravities are needed, the original and the one now: "1.050 1.010", not %q`, words)
	}
	if original, err = units.ParseGravity(list[0]); err != nil {
		return 0, 0, err
	}
	if now, err = units.ParseGravity(list[1]); err != nil {
		return 0, 0, err
	}
	if original <= 1 {
		return 0, 0, fmt.Errorf("%s is not the original gravity of a wort", original.Fixed(3))
	}
	if now > original {
		return 0, 0, fmt.Errorf("the gravity now, %s, is above the original, %s", now.Fixed(3), original.Fixed(3))
	}
	return original, now, nil
}

func attenuationSum() sum {
	return sum{
		use: "attenuation ORIGINAL NOW", short: "Attenuation, extract and alcohol of a beer",
		examples: []string{"attenuation 1.050 1.010", "attenuation 12 P 3 P"},
		work: func(words string) ([]answer, error) {
			og, now, err := fermented(words)
			if err != nil {
				return nil, err
			}
			oe, ae := og.Plato(), now.Plato()
			balling, cutaia := units.AlcoholBalling(oe, ae), units.AlcoholCutaia(oe, ae)
			return []answer{
				{"original extract", oe.Fixed(2), howExtract},
				{"apparent extract", ae.Fixed(2), howExtract},
				{"real extract", units.RealExtract(oe, ae).Fixed(2), "Balling; within 0.2 P of breweries' analyses"},
				{"apparent attenuation, by points", percent(units.ApparentAttenuationByPoints(og, now)), "gravities over water; schedules count this way"},
				{"apparent attenuation, by Plato", percent(units.ApparentAttenuationByPlato(oe, ae)), "extracts; 0.5 to 1.6 percentage points below that by points"},
				{"real attenuation", percent(units.RealAttenuation(oe, ae)), "Balling"},
				{"real degree of fermentation", percent(units.RealDegreeOfFermentation(oe, ae)), "Balling with the ASBC's factor, which raises it by 1 to 3 percentage points"},
				{"alcohol", balling.Fixed(2), howBalling},
				{"alcohol", balling.ByVolume(now).Fixed(1), howBalling},
				{"alcohol", cutaia.Fixed(2), howCutaia},
				{"alcohol", cutaia.ByVolume(now).Fixed(1), howCutaia},
				{"alcohol", units.AlcoholQuick(og, now).Fixed(1), "131.25 times the fall of gravity, the quick rule; 0.4 short in strong beer"},
			}, nil
		},
	}
}

func freezingSum() sum {
	return sum{
		use: "freezing ORIGINAL [NOW]", short: "Where wort or beer begins to freeze, and how cold to lead it",
		examples: []string{"freezing 1.050 1.010", "freezing 1.050"},
		work: func(words string) ([]answer, error) {
			if len(quantities(words)) == 1 { // wort: nothing is fermented
				if _, err := units.ParseGravity(words); err != nil {
					return nil, err
				}
				words += " " + words
			}
			og, now, err := fermented(words)
			if err != nil {
				return nil, err
			}
			return freezingAnswers(og, now), nil
		},
	}
}

func freezingAnswers(og, now units.Gravity) []answer {
	alcohol, wort := units.AlcoholBalling(og.Plato(), now.Plato()), units.FreezingPointOfWort(og.Plato())
	floor, how := units.FreezeFloor(og, now, true), "1 K above alcohol and water alone, had the original gravity been 2 points lower and were the gravity now 3 points higher. The wall is colder than the probe"
	if floor == 0 {
		how = "as wort: with those gravities a little wrong there is too little alcohol for less. The wall is colder than the probe"
	}
	lead := answer{"lead it no colder than", floor.Fixed(1), how}
	formula := "-(0.42 alcohol by mass + 0.04 original extract + 0.2); within 0.2 K of a sum over all that is dissolved"
	if now == og {
		return []answer{{"wort begins to freeze at", wort.Fixed(1), formula}, lead}
	}
	return []answer{
		{"it begins to freeze at", units.FreezingPoint(alcohol, og.Plato()).Fixed(1), formula},
		{"as alcohol and water alone", units.FreezingPointOfEthanol(alcohol).Fixed(1), "CRC Handbook; no beer of that strength freezes warmer"},
		{"its wort froze at", wort.Fixed(1), "the first formula, without alcohol"},
		lead,
	}
}

// altitude is the flag that says how thin the air is.
func altitude(to *string) func(*cobra.Command) {
	return func(c *cobra.Command) {
		c.Flags().StringVar(to, "altitude", *to, "height above sea, as 1500m or 5000ft")
	}
}

// brewery reads that flag.
func brewery(text string) (units.Metres, error) {
	h, err := units.ParseMetres(text)
	if err != nil {
		return 0, fmt.Errorf("--altitude: %w", err)
	}
	if h < -500 || h > 5000 {
		return 0, fmt.Errorf("--altitude: no brewery stands at %q; -500 m to 5000 m are possible", text)
	}
	return h, nil
}

// ofBeer reads the temperature of a beer that holds gas.
func ofBeer(text string) (units.Celsius, error) {
	t, err := units.ParseCelsius(text)
	if err == nil && (t < -3 || t > 30) {
		err = fmt.Errorf("%s is outside of what is known of gas in beer: -3 C to 30 C", t.Fixed(1))
	}
	return t, err
}

func carbonationSum() sum {
	height := "0m"
	return sum{
		use: "carbonation GAS|PRESSURE at TEMPERATURE", short: "Gauge pressure for a carbonation, and the reverse",
		examples: []string{"carbonation 2.5 volumes at 4 C", "carbonation 5 g/L at 4 C --altitude 1500m", "carbonation 0.8 bar at 4 C"},
		flags:    altitude(&height),
		work: func(words string) ([]answer, error) {
			up, err := brewery(height)
			if err != nil {
				return nil, err
			}
			text, at, ok := strings.Cut(words, " at ")
			if !ok {
				return nil, errors.New(`the temperature of the beer is missing: "2.5 volumes at 4 C"`)
			}
			t, err := ofBeer(at)
			if err != nil {
				return nil, err
			}
			if p, err := units.ParsePascals(text); err == nil {
				if p < 0 || p > 5*units.PascalsPerBar {
					return nil, fmt.Errorf("%q is not a gauge pressure over beer: 0 to 5 bar are", text)
				}
				return gasAnswers(units.Carbonation(p.AtSeaLevel(up), t)), nil
			}
			v, err := gas(text)
			if err != nil {
				return nil, fmt.Errorf(`%q is not a carbonation such as "2.5 volumes" or "5 g/L", nor a pressure such as "0.8 bar" or "12 psi"`, text)
			}
			if v <= 0 || v > 8 {
				return nil, fmt.Errorf("%q is not a carbonation of beer: up to 8 volumes are", text)
			}
			return pressureAnswers(v, up, t), nil
		},
	}
}

// gas reads dissolved gas by volume or mass.
func gas(text string) (units.Volumes, error) {
	if v, err := units.ParseVolumes(text); err == nil {
		return v, nil
	}
	return units.ParseGramsPerLitre(text)
}

func gasAnswers(v units.Volumes) []answer {
	return []answer{
		{"carbon dioxide, in the end", fmt.Sprintf("%.2f volumes", float64(v)), howGas},
		{"the same", fmt.Sprintf("%.1f g/L", v.GramsPerLitre()), "1.96 g/L a volume, as the trade counts"},
	}
}

func pressureAnswers(v units.Volumes, up units.Metres, t units.Celsius) []answer {
	p := units.CarbonationPressure(v, t).AtHeight(up)
	how := "fit to the ASBC's table; within 0.03 bar up to 10 C, 0.12 bar at 20 C. What a vessel bears is on its plate, and its relief valve must hold it to that"
	if open := residual(t, up); p < 0 {
		how = fmt.Sprintf("below zero: in the open such a beer holds %.2f volumes already", float64(open))
	}
	return []answer{
		{"gauge pressure", fmt.Sprintf("%.2f bar", p.Bar()), how},
		{"gauge pressure", fmt.Sprintf("%.0f kPa", p.Kilo()), how},
		{"gauge pressure", fmt.Sprintf("%.1f psi", p.PSI()), how},
		{"to hold, in the end", fmt.Sprintf("%.2f volumes, %.1f g/L", float64(v), v.GramsPerLitre()), "1.96 g/L a volume, as the trade counts"},
	}
}

// residual is what a beer holds in the open.
func residual(t units.Celsius, up units.Metres) units.Volumes {
	return units.Carbonation(units.Pascals(0).AtSeaLevel(up), t)
}

func residualSum() sum {
	height := "0m"
	return sum{
		use: "residual TEMPERATURE", short: "Carbon dioxide that an open fermentation leaves",
		long: `Carbon dioxide that a beer still holds after fermenting without pressure, by the
warmest temperature since its fermentation ended.`,
		examples: []string{"residual 20 C"},
		flags:    altitude(&height),
		work: func(words string) ([]answer, error) {
			up, err := brewery(height)
			if err != nil {
				return nil, err
			}
			t, err := ofBeer(words)
			if err != nil {
				return nil, err
			}
			return gasAnswers(residual(t, up)), nil
		},
	}
}

func blendSum() sum {
	return sum{
		use: "blend VOLUME GRAVITY VOLUME GRAVITY ...", short: "Gravity of worts or beers put together",
		examples: []string{"blend 20 L 1.050 25 L 1.056", "blend 5 gal of 1.060 and 1 gal of 1.000"},
		work: func(words string) ([]answer, error) {
			list := quantities(words, "of", "and", "with")
			if len(list) < 4 || len(list)%2 != 0 {
				return nil, fmt.Errorf(`each lot needs its volume and its gravity: "20 L 1.050 25 L 1.056", not %q`, words)
			}
			lots := make([]units.Lot, 0, len(list)/2)
			for i := 0; i < len(list); i += 2 {
				v, err := units.ParseLitres(list[i])
				if err != nil {
					return nil, err
				}
				g, err := units.ParseGravity(list[i+1])
				if err != nil {
					return nil, err
				}
				lots = append(lots, units.Lot{Volume: v, Gravity: g})
			}
			all, err := units.Blend(lots...)
			if err != nil {
				return nil, err
			}
			how := "weighted by volume; within 0.05 points for worts of 1.030 to 1.060, 0.3 points for a strong wort and water"
			return []answer{
				{"together", figures(float64(all.Volume)) + " L", "volumes add"},
				{"gravity", all.Gravity.Fixed(4) + " SG", how},
				{"extract", all.Gravity.Plato().Fixed(2), how},
			}, nil
		},
	}
}
