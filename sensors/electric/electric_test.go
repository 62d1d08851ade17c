package electric_test

import (
	"math"
	"strings"
	"testing"

	"example.org/restpoint/sensors/electric"
)

func TestAQuantityIsReadWithItsUnit(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]electric.Ohms{
		"430 ohm": 430, "0.5 ohm": 0.5, "10 kohm": 10000, "4.3kohm": 4300, " 1 Mohm ": 1e6, "-1 ohm": -1,
	} {
		if got, err := electric.ParseOhms(text); err != nil || got != want {
			t.Errorf("%q: %v, %v; want %v", text, got, err, want)
		}
	}
	for text, want := range map[string]electric.Volts{"3.3 V": 3.3, "500 mV": 0.5, "0 V": 0, "5V": 5, "-20 mV": -0.02} {
		if got, err := electric.ParseVolts(text); err != nil || math.Abs(float64(got-want)) > 1e-15 {
			t.Errorf("%q: %v, %v; want %v", text, got, err, want)
		}
	}
}

func TestWhatIsNoQuantityIsRefusedInItsWords(t *testing.T) {
	t.Parallel()
	const ohms, volts = ` is not a resistance such as "430 ohm" or "10 kohm"`, ` is not a voltage such as "3.3 V" or "500 mV"`
	for text, want := range map[string]string{
		"10":       `"10"` + ohms + `; the unit is missing`,
		"4,3 kohm": `"4,3 kohm"` + ohms + `; write a decimal point, not a comma`,
		"10 k":     `"10 k"` + ohms,
		"1e4 ohm":  `"1e4 ohm"` + ohms,
		"ohm":      `"ohm"` + ohms,
		"":         `""` + ohms,
		"5 V":      `"5 V"` + ohms,
		"5 K ohm":  `"5 K ohm"` + ohms,
		"NaN ohm":  `"NaN ohm"` + ohms,
	} {
		if got, err := electric.ParseOhms(text); err == nil || got != 0 || err.Error() != want {
			t.Errorf("%q: %v, %v; want %s", text, got, err, want)
		}
	}
	for text, want := range map[string]string{
		"3.3":    `"3.3"` + volts + `; the unit is missing`,
		"3.3 v":  `"3.3 v"` + volts,
		"1 kV":   `"1 kV"` + volts,
		"3,3 V":  `"3,3 V"` + volts + `; write a decimal point, not a comma`,
		"430 mA": `"430 mA"` + volts,
	} {
		if got, err := electric.ParseVolts(text); err == nil || got != 0 || err.Error() != want {
			t.Errorf("%q: %v, %v; want %s", text, got, err, want)
		}
	}
}

func TestAQuantityIsShownWithItsUnit(t *testing.T) {
	t.Parallel()
	for want, got := range map[string]string{
		"430 ohm": electric.Ohms(430).String(), "4.3 kohm": electric.Ohms(4300).String(), "1 Mohm": electric.Ohms(1e6).String(), "-5000 ohm": electric.Ohms(-5000).String(),
		"3.3 V": electric.Volts(3.3).String(), "0 V": electric.Volts(0).String(),
	} {
		if got != want {
			t.Errorf("shown as %q, want %q", got, want)
		}
	}
}

// FuzzParse holds that a text is read to a finite number, which reads back from
// what is shown, or is refused with a message that quotes it.
func FuzzParse(f *testing.F) {
	for _, text := range []string{"430 ohm", "10 kohm", "1", "-0.25 V", "500 mV", "999999999999999999999999 Mohm", "\xff ohm", "1 volumes ohm"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if o, err := electric.ParseOhms(text); err != nil {
			if o != 0 || !strings.Contains(err.Error(), "is not a resistance") {
				t.Fatalf("%q: %v, %v", text, o, err)
			}
		} else if back, err := electric.ParseOhms(o.String()); err != nil && len(o.String()) < 24 || err == nil && math.Abs(float64(back-o)) > 1e-9*math.Abs(float64(o)) {
			t.Fatalf("%q is %v, which reads back as %v, %v", text, o, back, err)
		}
		if v, err := electric.ParseVolts(text); err != nil {
			if v != 0 || !strings.Contains(err.Error(), "is not a voltage") {
				t.Fatalf("%q: %v, %v", text, v, err)
			}
		} else if math.IsNaN(float64(v)) || math.IsInf(float64(v), 0) {
			t.Fatalf("%q is %v", text, v)
		}
	})
}
