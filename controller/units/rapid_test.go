package units_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"

	"example.org/restpoint/controller/units"
)

// readsBack holds that what a quantity prints is read as the same quantity.
func readsBack[T interface {
	~float64
	fmt.Stringer
}](t *rapid.T, parse func(string) (T, error), v T,
) {
	if got, err := parse(v.String()); err != nil || got != v {
		t.Fatalf("%T(%v) is printed %q and read back as %v, %v", v, float64(v), v.String(), got, err)
	}
}

func TestWhatAnyQuantityPrintsReadsBackExactly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// Magnitudes that print in the 24 letters that a number may have.
		sign := rapid.SampledFrom([]float64{1, -1}).Draw(t, "sign")
		v := sign * rapid.Float64Range(0.01, 1e6).Draw(t, "value")
		if len(fmt.Sprintf("%v", v)) > 22 {
			t.Skip("longer than any number that is written")
		}
		readsBack(t, units.ParseCelsius, units.Celsius(v))
		readsBack(t, units.ParseKelvins, units.Kelvins(v))
		readsBack(t, units.ParseRate, units.KelvinsPerHour(v))
		readsBack(t, units.ParsePoints, units.Points(v))
		readsBack(t, units.ParseLitres, units.Litres(v))
		readsBack(t, units.ParseWatts, units.Watts(v))
		readsBack(t, units.ParseWattsPerKelvin, units.WattsPerKelvin(v))
		readsBack(t, units.ParseVolumes, units.Volumes(v))
		readsBack(t, units.ParsePascals, units.Pascals(v))
		readsBack(t, units.ParseMetres, units.Metres(v))
		readsBack(t, units.ParseBrix, units.Brix(v))
		g := units.Gravity(rapid.Float64Range(float64(units.LowestGravity), float64(units.HighestGravity)).Draw(t, "gravity"))
		readsBack(t, units.ParseGravity, g)
	})
}

func TestConversionsGoBackAndKeepTheOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		within := func(name string, got, want, tolerance float64) {
			if math.Abs(got-want) > tolerance || math.IsNaN(got) {
				t.Fatalf("%s: %v, want %v", name, got, want)
			}
		}
		a, gap := rapid.Float64Range(-40, 110).Draw(t, "a"), rapid.Float64Range(1e-6, 50).Draw(t, "gap")
		b := a + gap
		within("Fahrenheit and back", float64(units.Fahrenheit(units.Celsius(a).Fahrenheit())), a, 1e-12*200)
		if units.Fahrenheit(a) >= units.Fahrenheit(b) || units.Celsius(a).Fahrenheit() >= units.Celsius(b).Fahrenheit() {
			t.Fatalf("%v and %v change places", a, b)
		}
		// A difference is the same wherever on the scale it is taken: never 32 F more.
		d, err := units.ParseKelvins(fmt.Sprintf("%.6f F", gap))
		if err != nil {
			t.Fatal(err)
		}
		within("a difference in Fahrenheit", float64(d), float64(units.Fahrenheit(b).Minus(units.Fahrenheit(a))), 1e-6)
		within("moved and back", float64(units.Celsius(a).Plus(units.Kelvins(gap)).Minus(units.Celsius(a))), gap, 1e-12*200)

		p := rapid.Float64Range(0, 40).Draw(t, "Plato")
		q := p + rapid.Float64Range(1e-6, 5).Draw(t, "more Plato")
		within("Plato and back", float64(units.Plato(p).Gravity().Plato()), p, 1e-9)
		if units.Plato(p).Gravity() >= units.Plato(q).Gravity() {
			t.Fatalf("%v P and %v P change places", p, q)
		}
		g := units.Gravity(rapid.Float64Range(0.97, 1.2).Draw(t, "gravity"))
		within("gravity and back", float64(g.Plato().Gravity()), float64(g), 1e-12)
		points := units.Points(rapid.Float64Range(-100, 100).Draw(t, "points"))
		within("points and back", float64(g.Plus(points).Minus(g)), float64(points), 1e-9)

		// Warmer beer holds less gas, more pressure holds more.
		at, more := units.Celsius(rapid.Float64Range(-1, 25).Draw(t, "at")), units.Pascals(rapid.Float64Range(1, 1e5).Draw(t, "more"))
		gauge := units.Pascals(rapid.Float64Range(0, 2e5).Draw(t, "gauge"))
		gas := units.Carbonation(gauge, at)
		if units.Carbonation(gauge+more, at) <= gas || units.Carbonation(gauge, at+0.1) >= gas {
			t.Fatalf("carbonation at %v and %v goes the wrong way", gauge, at)
		}
		height := units.Metres(rapid.Float64Range(-100, 4000).Draw(t, "height"))
		within("up and down again", float64(gauge.AtHeight(height).AtSeaLevel(height)), float64(gauge), 1e-9)
		within("pressure and back", float64(units.CarbonationPressure(gas, at)), float64(gauge), 1e-6)
	})
}

// parts are the units of a duration, the largest first.
func parts() []time.Duration {
	return []time.Duration{units.Day, time.Hour, time.Minute, time.Second, time.Millisecond}
}

func TestADurationLosesNoMoreThanItSays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := time.Duration(rapid.Int64Range(0, int64(3650*units.Day)).Draw(t, "d"))
		whole := d.Truncate(time.Millisecond)
		got, err := units.ParseDuration(units.Duration(d))
		if err != nil || got != whole {
			t.Fatalf("%v is printed %q and read back as %v, %v", d, units.Duration(d), got, err)
		}
		rough, err := units.ParseDuration(units.Rough(d))
		if err != nil || rough > d {
			t.Fatalf("%v is roughly %q: %v, %v", d, units.Rough(d), rough, err)
		}
		if n := len(strings.Fields(units.Rough(d))); n > 4 {
			t.Fatalf("%v is roughly %q, of more than two units", d, units.Rough(d))
		}
		// What is dropped is below one of the second largest unit that it has.
		for i, size := range parts() {
			if whole >= size {
				if next := parts()[min(i+1, len(parts())-1)]; d-rough >= next {
					t.Fatalf("%v is roughly %q, which drops %v", d, units.Rough(d), d-rough)
				}
				break
			}
		}
		if d > 0 && whole > 0 && (units.Duration(-d) != "-"+units.Duration(d) || units.Rough(-d) != "-"+units.Rough(d)) {
			t.Fatalf("%v below none is printed %q", d, units.Duration(-d))
		}
	})
}

func TestAnyTextIsReadOrRefusedInWords(t *testing.T) {
	letters := rapid.RuneFrom([]rune("0123456789.,+-  CFKPWLhdsmin/°%ehx_'üß酵\x00"))
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOfN(letters, 0, 60, -1).Draw(t, "text")
		for name, parse := range map[string]func(string) (float64, error){
			"celsius":  func(s string) (float64, error) { v, err := units.ParseCelsius(s); return float64(v), err },
			"kelvins":  func(s string) (float64, error) { v, err := units.ParseKelvins(s); return float64(v), err },
			"rate":     func(s string) (float64, error) { v, err := units.ParseRate(s); return float64(v), err },
			"gravity":  func(s string) (float64, error) { v, err := units.ParseGravity(s); return float64(v), err },
			"points":   func(s string) (float64, error) { v, err := units.ParsePoints(s); return float64(v), err },
			"duration": func(s string) (float64, error) { v, err := units.ParseDuration(s); return v.Seconds(), err },
			"litres":   func(s string) (float64, error) { v, err := units.ParseLitres(s); return float64(v), err },
			"watts":    func(s string) (float64, error) { v, err := units.ParseWatts(s); return float64(v), err },
			"loss":     func(s string) (float64, error) { v, err := units.ParseWattsPerKelvin(s); return float64(v), err },
			"volumes":  func(s string) (float64, error) { v, err := units.ParseVolumes(s); return float64(v), err },
			"grams":    func(s string) (float64, error) { v, err := units.ParseGramsPerLitre(s); return float64(v), err },
			"metres":   func(s string) (float64, error) { v, err := units.ParseMetres(s); return float64(v), err },
			"brix":     func(s string) (float64, error) { v, err := units.ParseBrix(s); return float64(v), err },
			"pascals":  func(s string) (float64, error) { v, err := units.ParsePascals(s); return float64(v), err },
		} {
			v, err := parse(text)
			if err == nil {
				if math.IsNaN(v) || math.IsInf(v, 0) || !strings.ContainsAny(text, "0123456789") {
					t.Fatalf("%s of %q is %v", name, text, v)
				}
				continue
			}
			wrong, ok := errors.AsType[*units.ParseError](err)
			if !ok || v != 0 || wrong.Text != text {
				t.Fatalf("%s of %q is refused with %v, and is %v", name, text, err, v)
			}
			if said := err.Error(); !utf8.ValidString(said) || strings.ContainsAny(said, "\x00\n") || strings.Contains(said, `\x`) && !strings.Contains(text, "\x00") || len(said) > 400 {
				t.Fatalf("%s of %q is refused with %q", name, text, said)
			}
		}
	})
}

// The cut of a long text in a message falls between letters, not within one.
func TestALongTextIsCutBetweenLetters(t *testing.T) {
	for before := range 6 {
		_, err := units.ParseCelsius(strings.Repeat("x", before) + strings.Repeat("ü", 40))
		if err == nil || strings.Contains(err.Error(), `\x`) || !strings.Contains(err.Error(), `..." is not`) {
			t.Errorf("%d letters before: %v", before, err)
		}
	}
	_, err := units.ParseCelsius(strings.Repeat("x", 40))
	if err == nil || strings.Contains(err.Error(), "...") {
		t.Errorf("a text of 40 letters is cut: %v", err)
	}
}
