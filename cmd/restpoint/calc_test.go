package main

import (
	"strings"
	"testing"
	"unicode/utf8"
)

// calc runs a sum as a person types it, word for word.
func calc(t *testing.T, line string) (code int, out, errs string) {
	t.Helper()
	return try(t, "", append([]string{"calc"}, strings.Fields(line)...)...)
}

// Each figure as the published tables have it; controller/units says which.
func TestCalcGivesTheFiguresOfTheTables(t *testing.T) {
	for _, row := range []struct {
		line string
		says []string
	}{
		{"gravity 1.048", []string{"1.0480 SG", "48.0 points", "11.91 P", "11.91 Brix"}},
		{"gravity 12 P", []string{"1.0484 SG", "12.00 P"}},
		{"gravity 10 Brix", []string{"1.0400 SG", "10.00 P"}},
		{"gravity 0.996", []string{"0.9960 SG", "-4.0 points", "-1.04 P"}},
		{"hydrometer 1.050 at 30 C", []string{"1.0524 SG", "+2.4 points"}},
		{"hydrometer 1.050 at 30 C --glass 60F", []string{"1.0532 SG", "+3.2 points"}},
		{"hydrometer --glass 60F 1.050 at 50 F", []string{"1.0494 SG", "-0.6 points"}},
		{"hydrometer 1.050 at 20 C", []string{"1.0500 SG", "+0.0 points"}},
		{"refractometer 12.9 Brix from 12.9 Brix", []string{"1.0501 SG", "12.40 P", "0.0 %"}},
		{"refractometer 6 Brix from 12 P --wort-factor 1", []string{"1.0097 SG"}},
		{"attenuation 1.050 1.010", []string{
			"12.39 P", "2.56 P", "4.34 P", "80.0 %", "79.3 %", "65.0 %", "66.5 %", "4.16 % by mass", "5.3 % by volume", "5.2 % by volume",
		}},
		{"attenuation 1.080 to 1.020", []string{"19.33 P", "73.7 %", "75.0 %", "60.4 %", "62.9 %", "8.1 % by volume", "7.9 % by volume"}},
		{"attenuation 12 P 3 P", []string{"3.80 % by mass", "4.9 % by volume", "3.73 % by mass", "75.0 %"}},
		{"freezing 1.050 1.010", []string{"-2.4 C", "-1.7 C", "-0.7 C", "-0.5 C"}},
		{"freezing 12 P", []string{"wort begins to freeze at            -0.7 C", "lead it no colder than              0.0 C"}},
		{"freezing 1.050 1.030", []string{"lead it no colder than              0.0 C", "as wort"}},
		{"carbonation 2.5 volumes at 38 F", []string{"0.77 bar", "77 kPa", "11.2 psi", "4.9 g/L", "relief valve"}},
		{"carbonation 4.9 g/L at 38 F", []string{"11.2 psi", "2.50 volumes"}},
		{"carbonation 12 psi at 40 F", []string{"2.48 volumes", "4.9 g/L"}},
		{"carbonation 2.5 volumes at 38 F --altitude 5000ft", []string{"13.7 psi"}}, // 0.5 psi a 1000 ft
		{"carbonation 0.5 volumes at -1 C", []string{"-0.70 bar", "below zero", "1.65 volumes already"}},
		{"residual 20 C", []string{"0.84 volumes", "1.6 g/L"}},
		{"residual 32 F", []string{"1.59 volumes"}},
		{"blend 20 L 1.050 25 L 1.056", []string{"45 L", "1.0533 SG"}},
		{"blend 10 L of 1.080 and 10 L of 1.000", []string{"20 L", "1.0400 SG"}},
		{"blend 1 imp gal 1.040, 1 imp gal 1.060", []string{"9.09218 L", "1.0500 SG"}},
		{"convert 10 psi", []string{"0.689476 bar", "68.9476 kPa", "10 psi", "0.68046 atm"}},
		{"convert 1 atm", []string{"1.01325 bar", "14.6959 psi"}},
		{"convert 1 bbl", []string{"117.348 L", "31 gal (US)", "25.8129 imp gal", "1.17348 hL"}},
		{"convert 28 F", []string{"-2.22222 C"}},
		{"convert -40 C", []string{"-40 F"}},
		{"convert difference 5 F", []string{"2.77778 K", "5 F"}},
		{"convert 1 C/h", []string{"1.8 F/h", "24 C/d"}},
		{"convert 2.5 volumes", []string{"4.9 g/L"}},
		{"convert 4.9 g/L", []string{"2.5 volumes"}},
		{"convert 5000 ft", []string{"1524 m"}},
		{"convert 0 ft", []string{"0 m"}},
		{"convert 1.040", []string{"9.99 P", "40.0 points"}},
	} {
		code, out, errs := calc(t, row.line)
		if code != exitOK || errs != "" {
			t.Errorf("calc %s: exit %d, %s", row.line, code, errs)
		}
		for _, says := range row.says {
			if !strings.Contains(out, says) {
				t.Errorf("calc %s: it does not say %q:\n%s", row.line, says, out)
			}
		}
		soundAnswers(t, row.line, out)
	}
}

// soundAnswers holds that every value has its unit and every one says how it is come
// by, in 80 columns.
func soundAnswers(t *testing.T, line, out string) {
	t.Helper()
	rows := strings.Split(strings.TrimSuffix(out, "\n"), "\n")
	for _, l := range rows {
		if utf8.RuneCountInString(l) > 80 {
			t.Errorf("calc %s: more than 80 columns: %s", line, l)
		}
		if strings.HasPrefix(l, "    ") && !strings.HasPrefix(l, "     ") {
			continue // how
		}
		if value := strings.Fields(strings.TrimSpace(l[min(len(l), 34):])); len(value) < 2 {
			t.Errorf("calc %s: a value without its unit: %q", line, l)
		}
	}
	if last := rows[len(rows)-1]; !strings.HasPrefix(last, "    ") {
		t.Errorf("calc %s: it does not say how: %q", line, last)
	}
}

func TestCalcRefusesNonsenseInWords(t *testing.T) {
	for _, row := range []struct{ name, line, says string }{
		{"a sum that is not there", "sing", `there is no sum "sing"`},
		{"nothing", "gravity", "restpoint calc gravity 1.048"},
		{"a flag that is not there", "gravity 1.048 --loud", "--loud"},
		{"degrees without their letter", "gravity 12", `write "12 P"`},
		{"a gravity of no beer", "gravity 1.9", "1.2 can be in a fermenter"},
		{"the Brix of no wort", "gravity 90 Brix", "not the Brix of a wort"},
		{"a reading without its temperature", "hydrometer 1.050", "temperature of the sample is missing"},
		{"a temperature without its unit", "hydrometer 1.050 at 30", "unit is missing"},
		{"a sample that boils", "hydrometer 1.050 at 100 C", "0 C to 40 C"},
		{"a reading that is none", "hydrometer x at 30 C", `"x" is not a gravity`},
		{"a glass that nobody makes", "hydrometer 1.050 at 30 C --glass 25C", "20C or 60F"},
		{"a refractometer without the original", "refractometer 6.2 Brix", "original gravity is missing"},
		{"a refractometer in points", "refractometer 1.020 from 1.050", "Brix"},
		{"more Brix than the wort had", "refractometer 13.2 Brix from 1.050", "above the original"},
		{"less than alcohol shows", "refractometer 2 Brix from 1.050", "alcohol alone"},
		{"a factor of nothing", "refractometer 6 Brix from 1.050 --wort-factor 0", "--wort-factor"},
		{"a factor that is no number", "refractometer 6 Brix from 1.050 --wort-factor NaN", "--wort-factor"},
		{"an original that is none", "refractometer 6 Brix from here", `"here"`},
		{"one gravity for two", "attenuation 1.050", "two gravities are needed"},
		{"gravities the wrong way", "attenuation 1.010 1.050", "above the original"},
		{"an original of water", "attenuation 1.000 0.990", "not the original gravity"},
		{"a second gravity that is none", "attenuation 1.050 1.9", "fermenter"},
		{"freezing of words", "freezing ice cream", `"ice cream"`},
		{"gas without its temperature", "carbonation 2.5 volumes", "temperature of the beer is missing"},
		{"gas in hot beer", "carbonation 2.5 volumes at 90 C", "-3 C to 30 C"},
		{"gas that is none", "carbonation 2.5 at 4 C", `"2.5 volumes" or "5 g/L"`},
		{"more gas than beer holds", "carbonation 80 volumes at 4 C", "up to 8 volumes"},
		{"less gas than nothing", "carbonation -1 volumes at 4 C", "up to 8 volumes"},
		{"a vacuum", "carbonation -0.5 bar at 4 C", "0 to 5 bar"},
		{"a pressure for a boiler", "carbonation 20 bar at 4 C", "0 to 5 bar"},
		{"a brewery above the clouds", "residual 20 C --altitude 9000m", "no brewery"},
		{"a height without its unit", "residual 20 C --altitude 900", "unit is missing"},
		{"residual of nothing warm", "residual warm", `"warm"`},
		{"one lot", "blend 20 L 1.050", "each lot"},
		{"a lot without its gravity", "blend 20 L 1.050 25 L", "each lot"},
		{"a volume without its unit", "blend 20 1.050 25 L 1.056", "unit is missing"},
		{"a volume of nothing", "blend 0 L 1.050 25 L 1.056", "above zero"},
		{"a quantity without its unit", "convert 12", "bar, kPa, psi"},
		{"a quantity that is none", "convert love", "bar, kPa, psi"},
		{"a comma", "convert 12,5 psi", "a decimal point, not a comma"},
		{"colder than anything", "convert -300 C", "none of"},
		{"more than there is", "convert 99999999999999999999 psi", "none of"},
	} {
		code, out, errs := calc(t, row.line)
		if code != exitUsage || out != "" || !strings.Contains(errs, row.says) || strings.Count(errs, "\n") != 1 {
			t.Errorf("%s: exit %d, %q, said %q, want %q", row.name, code, out, errs, row.says)
		}
	}
}

// A person may quote the words or not.
func TestCalcTakesQuotedWordsToo(t *testing.T) {
	_, want, _ := calc(t, "carbonation 2.5 volumes at -1 C")
	for _, args := range [][]string{
		{"calc", "carbonation", "2.5 volumes at -1 C"},
		{"calc", "carbonation", "2.5 volumes", "at", "-1 C"},
		{"calc", "carbonation", "--altitude", "0 m", "2.5", "volumes", "at", "-1C"},
	} {
		if code, out, errs := try(t, "", args...); code != exitOK || out != want || want == "" {
			t.Errorf("%q: exit %d, %s%s", args, code, out, errs)
		}
	}
}

func TestQuantitiesAreCutBeforeNumbers(t *testing.T) {
	for words, want := range map[string]string{
		"20 L of 1.050 and 25 L of 1.056": "20 L|1.050|25 L|1.056",
		"5 imp gal 1.050, 1 gal 12 P":     "5 imp gal|1.050|1 gal|12 P",
		"1.050":                           "1.050",
		"words alone":                     "words alone",
		", of and":                        "",
		"":                                "",
	} {
		if got := strings.Join(quantities(words, "of", "and"), "|"); got != want {
			t.Errorf("%q is cut to %q, want %q", words, got, want)
		}
	}
}

// No words make it fail but in words, and what it prints is sound.
func FuzzCalc(f *testing.F) {
	for _, line := range []string{
		"gravity 1.048", "gravity 12.4 Brix", "hydrometer 1.050 at 30 C --glass 60F", "refractometer 6.2 Brix from 1.050",
		"attenuation 1.050 1.010", "freezing 12 P 3 P", "carbonation 2.5 volumes at 4 C --altitude 1500m", "carbonation 0.8 bar at 40 F",
		"residual 20 C", "blend 20 L of 1.050 and 5 imp gal 12 P", "convert -1 C", "convert difference 5 F", "convert 1e9 psi", "--help", "-1", "\x00 ü",
	} {
		f.Add(line)
	}
	f.Fuzz(func(t *testing.T, line string) {
		code, out, errs := calc(t, line)
		help := strings.Contains(out, "Usage:")
		switch {
		case code == exitUsage && out == "" && errs != "":
		case code == exitOK && help:
		case code == exitOK && errs == "":
			soundAnswers(t, line, out)
			for word := range strings.FieldsSeq(out) {
				if word = strings.ToLower(word); word == "nan" || strings.HasSuffix(word, "inf") {
					t.Errorf("calc %q: %s", line, out)
				}
			}
		default:
			t.Errorf("calc %q: exit %d, %q, %q", line, code, out, errs)
		}
	})
}
