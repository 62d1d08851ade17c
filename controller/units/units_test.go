package units_test

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/controller/units"
)

func near(t *testing.T, name string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.6f, want %.6f within %g", name, got, want, tolerance)
	}
}

// Exact by definition of the two scales.
func TestFahrenheit(t *testing.T) {
	for f, c := range map[float64]float64{
		-40: -40, 28: -2.2222, 32: 0, 33: 0.5556, 34: 1.1111, 38: 3.3333, 40: 4.4444, 50: 10, 52: 11.1111,
		60: 15.5556, 65: 18.3333, 68: 20, 72: 22.2222, 77: 25,
	} {
		near(t, "Fahrenheit", float64(units.Fahrenheit(f)), c, 5e-5)
		near(t, "back", units.Fahrenheit(f).Fahrenheit(), f, 1e-12)
	}
	d, err := units.ParseKelvins("5 F")
	if err != nil {
		t.Fatal(err)
	}
	near(t, "a difference of 5 F", float64(d), 2.7778, 5e-5)
	near(t, "and back", d.Fahrenheit(), 5, 1e-12)
	near(t, "a rate of 1 K/h", units.KelvinsPerHour(1).Fahrenheit(), 1.8, 1e-12)
}

func TestParse(t *testing.T) {
	c := func(s string) (float64, error) { v, err := units.ParseCelsius(s); return float64(v), err }
	k := func(s string) (float64, error) { v, err := units.ParseKelvins(s); return float64(v), err }
	r := func(s string) (float64, error) { v, err := units.ParseRate(s); return float64(v), err }
	g := func(s string) (float64, error) { v, err := units.ParseGravity(s); return float64(v), err }
	p := func(s string) (float64, error) { v, err := units.ParsePoints(s); return float64(v), err }
	d := func(s string) (float64, error) { v, err := units.ParseDuration(s); return v.Seconds(), err }
	l := func(s string) (float64, error) { v, err := units.ParseLitres(s); return float64(v), err }
	w := func(s string) (float64, error) { v, err := units.ParseWatts(s); return float64(v), err }
	v := func(s string) (float64, error) { v, err := units.ParseVolumes(s); return float64(v), err }
	gl := func(s string) (float64, error) { v, err := units.ParseGramsPerLitre(s); return float64(v), err }
	m := func(s string) (float64, error) { v, err := units.ParseMetres(s); return float64(v), err }
	b := func(s string) (float64, error) { v, err := units.ParseBrix(s); return float64(v), err }
	for _, row := range []struct {
		parse func(string) (float64, error)
		text  string
		want  float64
	}{
		{c, "19 C", 19},
		{c, "66 F", 170.0 / 9},
		{c, " -1.5C ", -1.5},
		{c, "19 °C", 19},
		{c, "+4 C", 4},
		{k, "2 K", 2},
		{k, "9 F", 5},
		{r, "1 C/h", 1},
		{r, "0.5 K/h", 0.5},
		{r, "9 F/h", 5},
		{r, "24 C/d", 1},
		{g, "1.048", 1.048},
		{g, "0.996 SG", 0.996},
		{g, "12 P", float64(units.Plato(12).Gravity())},
		{p, "2 points", 2},
		{p, "1 point", 1},
		{p, "0.5 points", 0.5},
		{d, "36 h", 129600},
		{d, "2 d", 172800},
		{d, "90 min", 5400},
		{d, "5 s", 5},
		{d, "36h", 129600},
		{d, "1 d 12 h", 129600},
		{d, "0.5 h", 1800},
		{d, "250 ms", 0.25},
		{l, "60 L", 60},
		{l, "10 hL", 1000},
		{l, "5 gal", 18.92705892},
		{l, "1 bbl", 117.347765304},
		{l, "2 imp gal", 9.09218},
		{w, "80 W", 80},
		{w, "1.5 kW", 1500},
		{v, "2.5 volumes", 2.5},
		{gl, "4.9 g/L", 2.5},
		{m, "5000 ft", 1524},
		{m, "1500 m", 1500},
		{b, "6.2 Brix", 6.2},
		{b, "12 °Bx", 12},
	} {
		got, err := row.parse(row.text)
		if err != nil {
			t.Errorf("%q: %v", row.text, err)
		}
		near(t, row.text, got, row.want, 1e-12*math.Abs(row.want))
	}
	for _, row := range []struct {
		parse func(string) (float64, error)
		text  string
		hint  string
	}{
		{c, "", ""},
		{c, "19", "unit is missing"},
		{c, "12,5 C", "decimal point, not a comma"},
		{c, "19 K", "differences"},
		{c, "nan C", ""},
		{c, "inf C", ""},
		{c, "1e3 C", ""},
		{c, "0x10 C", ""},
		{c, ". C", ""},
		{c, "1. C", ""},
		{c, "--1 C", ""},
		{c, "19 X", ""},
		{c, strings.Repeat("9", 400) + " C", ""},
		{k, "2 C", "K or F"},
		{k, "2", "unit is missing"},
		{r, "1 C", ""},
		{g, "12", `write "12 P"`},
		{g, "1048", `write "1.048"`},
		{g, "1.3", "can be in a fermenter"},
		{g, "90 P", "fermenter"},
		{g, "12 C", "another quantity"},
		{g, "12 x", ""},
		{p, "2", "unit is missing"},
		{d, "36", "unit is missing"},
		{d, "2 days", ""},
		{d, "-1 h", ""},
		{d, "1 h 5", ""},
		{d, "", ""},
		{d, "900000 d", ""},
		{d, "1,5 h", "comma"},
		{d, "1 d 1,5 h", "comma"},
		{d, "3000 d 3000 d", ""},
		{l, "60", "unit is missing"},
		{w, "80 V", ""},
		{v, "2.5", "unit is missing"},
		{v, "5 g/L", ""},
		{gl, "5", "unit is missing"},
		{gl, "2.5 volumes", ""},
		{m, "1500", "unit is missing"},
		{b, "6.2", "unit is missing"},
		{b, "6.2 P", ""},
		{l, "5 imp. gal", ""},
	} {
		_, err := row.parse(row.text)
		if _, ok := errors.AsType[*units.ParseError](err); !ok {
			t.Errorf("%q: error %v, want a *ParseError", row.text, err)
		} else if !strings.Contains(err.Error(), row.hint) || len(err.Error()) > 200 {
			t.Errorf("%q: %v, want hint %q", row.text, err, row.hint)
		}
	}
}

// What is printed reads back as the same value.
func TestPrintedFormsReadBack(t *testing.T) {
	for _, x := range []float64{0, 19, 19.0625, -0.5, 1.0 / 3, 20.8125} {
		if got, err := units.ParseCelsius(units.Celsius(x).String()); err != nil || got != units.Celsius(x) {
			t.Errorf("Celsius(%v): %v, %v", x, got, err)
		}
		if got, err := units.ParseKelvins(units.Kelvins(x).String()); err != nil || got != units.Kelvins(x) {
			t.Errorf("Kelvins(%v): %v, %v", x, got, err)
		}
		if got, err := units.ParseRate(units.KelvinsPerHour(x).String()); err != nil || got != units.KelvinsPerHour(x) {
			t.Errorf("KelvinsPerHour(%v): %v, %v", x, got, err)
		}
		if got, err := units.ParsePoints(units.Points(x).String()); err != nil || got != units.Points(x) {
			t.Errorf("Points(%v): %v, %v", x, got, err)
		}
	}
	for _, x := range []units.Gravity{1, 1.048, 0.9985, 1.0 + 1.0/77} {
		if got, err := units.ParseGravity(x.String()); err != nil || got != x {
			t.Errorf("Gravity(%v): %v, %v", x, got, err)
		}
	}
	for _, x := range []time.Duration{0, 5 * time.Second, 90 * time.Minute, 54 * time.Hour, 250 * time.Millisecond, units.Day + time.Second} {
		if got, err := units.ParseDuration(units.Duration(x)); err != nil || got != x {
			t.Errorf("Duration(%v) printed %q: %v, %v", x, units.Duration(x), got, err)
		}
	}
}

func TestPrintedForPeople(t *testing.T) {
	for got, want := range map[string]string{
		units.Celsius(19.0625).Fixed(1):            "19.1 C",
		units.Celsius(-0.01).Fixed(1):              "0.0 C",
		units.Kelvins(0.25).Fixed(2):               "0.25 K",
		units.Gravity(1.0124).Fixed(3):             "1.012",
		units.Points(1).Fixed(0):                   "1 point",
		units.Points(5.84).Fixed(1):                "5.8 points",
		units.Plato(12.04).Fixed(1):                "12.0 P",
		units.Plato(12).String():                   "12 P",
		units.Points(1).String():                   "1 point",
		units.Litres(60).String():                  "60 L",
		units.Watts(80).String():                   "80 W",
		units.WattsPerKelvin(1.5).String():         "1.5 W/K",
		units.Volumes(2.5).String():                "2.5 volumes",
		units.Metres(1500).String():                "1500 m",
		units.Brix(6.2).String():                   "6.2 Brix",
		units.Brix(6.249).Fixed(1):                 "6.2 Brix",
		units.MassPercent(4.1619).Fixed(2):         "4.16 % by mass",
		units.MassPercent(4.5).String():            "4.5 % by mass",
		units.VolumePercent(5.314).Fixed(1):        "5.3 % by volume",
		units.VolumePercent(5.25).String():         "5.25 % by volume",
		units.Rough(77*time.Hour + 59*time.Minute): "3 d 5 h",
		units.Rough(48*time.Hour + time.Minute):    "2 d",
		units.Duration(90 * time.Second):           "1 min 30 s",
		units.Duration(-time.Hour):                 "-1 h",
	} {
		if got != want {
			t.Errorf("printed %q, want %q", got, want)
		}
	}
}

// No text makes a value that is not a number, and what is accepted prints and reads back.
func FuzzParse(f *testing.F) {
	for _, s := range []string{"19 C", "66 F", "12,5 C", "1.048", "12 P", "2 d", "1 d 12 h", "2 K", ".nan", "-", "1e9 C", "12 psi", "5 imp gal", "5 g/L", "5000 ft", "6.2 Brix"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if v, err := units.ParseCelsius(s); err == nil {
			if math.IsNaN(float64(v)) || math.IsInf(float64(v), 0) {
				t.Fatalf("%q gave %v", s, v)
			}
			if back, err := units.ParseCelsius(v.String()); err == nil && back != v {
				t.Fatalf("%q: %v read back as %v", s, v, back)
			}
		}
		if v, err := units.ParseGravity(s); err == nil && !v.Plausible() {
			t.Fatalf("%q gave %v", s, v)
		}
		if v, err := units.ParseDuration(s); err == nil && v < 0 {
			t.Fatalf("%q gave %v", s, v)
		}
		for name, parse := range map[string]func(string) (float64, error){
			"pressure": func(s string) (float64, error) { v, err := units.ParsePascals(s); return float64(v), err },
			"volume":   func(s string) (float64, error) { v, err := units.ParseLitres(s); return float64(v), err },
			"gas":      func(s string) (float64, error) { v, err := units.ParseVolumes(s); return float64(v), err },
			"grams":    func(s string) (float64, error) { v, err := units.ParseGramsPerLitre(s); return float64(v), err },
			"height":   func(s string) (float64, error) { v, err := units.ParseMetres(s); return float64(v), err },
			"Brix":     func(s string) (float64, error) { v, err := units.ParseBrix(s); return float64(v), err },
		} {
			if v, err := parse(s); math.IsNaN(v) || math.IsInf(v, 0) || err != nil && v != 0 {
				t.Fatalf("%s of %q is %v, %v", name, s, v, err)
			}
		}
	})
}
