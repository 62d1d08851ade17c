package strict_test

import (
	"strings"
	"testing"
	"time"

	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles/strict"
)

// said gives everything that is wrong with a file, a line a problem.
func said(d *strict.Doc) string {
	if err := d.Err(); err != nil {
		return err.Error()
	}
	return ""
}

// quantityReaders reads the key x as each kind of quantity, in a range of its own.
func quantityReaders() map[string]func(v *strict.Value) float64 {
	return map[string]func(v *strict.Value) float64{
		"celsius":  func(v *strict.Value) float64 { return float64(v.Celsius(-3, 45)) },
		"kelvins":  func(v *strict.Value) float64 { return float64(v.Kelvins(-5, 5)) },
		"rate":     func(v *strict.Value) float64 { return float64(v.Rate(0.5, 10)) },
		"gravity":  func(v *strict.Value) float64 { return float64(v.Gravity(1, 1.12)) },
		"points":   func(v *strict.Value) float64 { return float64(v.Points(0.5, 60)) },
		"bare":     func(v *strict.Value) float64 { return float64(v.BarePoints(0.5, 60)) },
		"duration": func(v *strict.Value) float64 { return v.Duration(time.Minute, 10*units.Day).Seconds() },
		"litres":   func(v *strict.Value) float64 { return float64(v.Litres(1, 1000)) },
		"loss":     func(v *strict.Value) float64 { return float64(v.WattsPerKelvin(1, 1000)) },
		"watts":    func(v *strict.Value) float64 { return float64(v.Watts(1, 1000)) },
		"volumes":  func(v *strict.Value) float64 { return float64(v.Volumes(0.5, 6)) },
		"percent":  func(v *strict.Value) float64 { return v.Percent(5, 110) },
		"count":    func(v *strict.Value) float64 { return float64(v.Count(1, 32)) },
	}
}

func TestAQuantityIsReadUpToBothEndsOfItsRange(t *testing.T) {
	t.Parallel()
	readers := quantityReaders()
	for _, row := range []struct {
		name, reader, text string
		want               float64
	}{
		{"the coldest temperature", "celsius", "-3 C", -3},
		{"the warmest temperature", "celsius", "45 C", 45},
		{"the warmest temperature in Fahrenheit", "celsius", "113 F", 45},
		{"freezing in Fahrenheit", "celsius", "32 F", 0},
		{"a temperature with the sign of a degree", "celsius", "19.5 °C", 19.5},
		{"a temperature without a space", "celsius", "19C", 19},
		{"a temperature with a plus", "celsius", "+4 C", 4},
		{"zero is a temperature", "celsius", "0 C", 0},
		{"the largest fall", "kelvins", "-5 K", -5},
		{"the largest rise", "kelvins", "5 K", 5},
		{"the largest rise in Fahrenheit", "kelvins", "9 F", 5},
		{"no difference", "kelvins", "0 K", 0},
		{"the slowest rate", "rate", "0.5 K/h", 0.5},
		{"the slowest rate by the day", "rate", "12 K/d", 0.5},
		{"the fastest rate", "rate", "10 C/h", 10},
		{"the fastest rate in Fahrenheit", "rate", "18 F/h", 10},
		{"water", "gravity", "1.000", 1},
		{"the heaviest wort", "gravity", "1.12", 1.12},
		{"a gravity with its unit", "gravity", "1.048 SG", 1.048},
		{"a gravity of Plato", "gravity", "12 P", float64(units.Plato(12).Gravity())},
		{"a gravity of Plato with the sign of a degree", "gravity", "12 °P", float64(units.Plato(12).Gravity())},
		{"the fewest points", "points", "0.5 points", 0.5},
		{"a single point", "points", "1 point", 1},
		{"the most points", "points", "60 points", 60},
		{"the fewest bare points", "bare", "0.5", 0.5},
		{"the most bare points", "bare", "60", 60},
		{"bare points may have their unit", "bare", "60 points", 60},
		{"a bare single point may have its unit", "bare", "1 point", 1},
		{"the shortest time", "duration", "60 s", 60},
		{"the longest time", "duration", "240 h", 864000},
		{"a time of several units", "duration", "1 d 2 h 3 min 4 s", 93784},
		{"a time of part of a unit", "duration", "1.5 h", 5400},
		{"the smallest volume", "litres", "1 L", 1},
		{"the largest volume in hectolitres", "litres", "10 hL", 1000},
		{"a volume in small letters", "litres", "20 l", 20},
		{"a volume in US gallons", "litres", "5 gal", 18.92705892},
		{"the weakest heater", "watts", "1 W", 1},
		{"the strongest heater in kilowatts", "watts", "1 kW", 1000},
		{"the flattest beer", "volumes", "0.5 volumes", 0.5},
		{"the liveliest beer", "volumes", "6 volumes", 6},
		{"one volume", "volumes", "1 volume", 1},
		{"the smallest share", "percent", "5 %", 0.05},
		{"the largest share", "percent", "110 %", 1.1},
		{"a share without a space", "percent", "72.5%", 0.725},
		{"the smallest count", "count", "1", 1},
		{"the largest count", "count", "32", 32},
	} {
		for style, text := range map[string]string{
			"plain": row.text, "in double quotes": `"` + row.text + `"`, "in single quotes": "'" + row.text + "'",
			"with a comment": row.text + "   # why", "as a block": "|\n  " + row.text,
		} {
			d := strict.Open("a.yaml", []byte("x: "+text+"\n"))
			m := d.Root()
			v := m.Need("x")
			got := readers[row.reader](v)
			m.Done()
			blockCount := style == "as a block" && (row.reader == "count")
			if blockCount {
				continue // a block ends with a line end, which is no part of a whole number
			}
			if problems := said(d); problems != "" || !v.Good() {
				t.Errorf("%s, %s: %s", row.name, style, problems)
			}
			if diff := got - row.want; diff > 1e-12*max(1, row.want) || diff < -1e-12*max(1, row.want) {
				t.Errorf("%s, %s: read as %v, want %v", row.name, style, got, row.want)
			}
		}
	}
}

func TestAQuantityJustBeyondItsRangeIsRefusedWithBothEnds(t *testing.T) {
	t.Parallel()
	readers := quantityReaders()
	for _, row := range []struct{ name, reader, text, allowed string }{
		{"colder than the coldest", "celsius", "-3.01 C", "-3 C to 45 C"},
		{"warmer than the warmest", "celsius", "45.01 C", "-3 C to 45 C"},
		{"warmer than the warmest in Fahrenheit", "celsius", "113.1 F", "-3 C to 45 C"},
		{"a temperature of wort in Fahrenheit with the wrong unit", "celsius", "66 C", "-3 C to 45 C"},
		{"a fall that is too large", "kelvins", "-5.01 K", "-5 K to 5 K"},
		{"a rise that is too large", "kelvins", "9.1 F", "-5 K to 5 K"},
		{"a rate that is too slow", "rate", "11.9 K/d", "0.5 K/h to 10 K/h"},
		{"a rate that is too fast", "rate", "10.01 K/h", "0.5 K/h to 10 K/h"},
		{"a rate that goes backwards", "rate", "-1 K/h", "0.5 K/h to 10 K/h"},
		{"lighter than water", "gravity", "0.9999", "1.000 to 1.120"},
		{"heavier than the heaviest wort", "gravity", "1.1201", "1.000 to 1.120"},
		{"heavier than the heaviest wort in Plato", "gravity", "28.5 P", "1.000 to 1.120"},
		{"too few points", "points", "0.49 points", "0.5 points to 60 points"},
		{"too many points", "points", "60.1 points", "0.5 points to 60 points"},
		{"no bare points", "bare", "0", "0.5 points to 60 points"},
		{"too many bare points", "bare", "60.1", "0.5 points to 60 points"},
		{"points below none", "bare", "-1", "0.5 points to 60 points"},
		{"a time that is too short", "duration", "59 s", "1 min to 10 d"},
		{"a time that is too long", "duration", "10 d 1 s", "1 min to 10 d"},
		{"no time", "duration", "0 s", "1 min to 10 d"},
		{"a volume that is too small", "litres", "0.9 L", "1 L to 1000 L"},
		{"a volume that is too large", "litres", "10.1 hL", "1 L to 1000 L"},
		{"a power that is too small", "watts", "0.9 W", "1 W to 1000 W"},
		{"a power that is too large", "watts", "1.1 kW", "1 W to 1000 W"},
		{"a carbonation that is too low", "volumes", "0.4 volumes", "0.5 volumes to 6 volumes"},
		{"a carbonation that is too high", "volumes", "6.1 volumes", "0.5 volumes to 6 volumes"},
		{"a share that is too small", "percent", "4.9 %", "5 % to 110 %"},
		{"a share that is too large", "percent", "110.1 %", "5 % to 110 %"},
		{"a fraction that was given the sign of a share", "percent", "0.7 %", "5 % to 110 %"},
		{"a count of nothing", "count", "0", "1 to 32"},
		{"a count that is too large", "count", "33", "1 to 32"},
		{"a count below nothing", "count", "-1", "1 to 32"},
	} {
		d := strict.Open("a.yaml", []byte("x: "+row.text+"\n"))
		m := d.Root()
		v := m.Need("x")
		got := readers[row.reader](v)
		m.Done()
		want := `a.yaml:1:4: x: "` + row.text + `" is out of range; allowed: ` + row.allowed
		if problems := said(d); problems != want {
			t.Errorf("%s:\n got %s\nwant %s", row.name, problems, want)
		}
		if got != 0 || v.Good() {
			t.Errorf("%s: still read as %v, good %v", row.name, got, v.Good())
		}
	}
}

func TestWhatIsNoQuantityIsRefusedWithAHint(t *testing.T) {
	t.Parallel()
	readers := quantityReaders()
	for _, row := range []struct{ name, reader, text, hint string }{
		{"a temperature without its unit", "celsius", "19", "; the unit is missing"},
		{"a temperature in kelvin", "celsius", "292 K", "; K is for differences"},
		{"a temperature with a decimal comma", "celsius", "12,5 C", "; write a decimal point, not a comma"},
		{"a temperature with two units", "celsius", "19 C F", `such as "19 C" or "66 F"`},
		{"a temperature in small letters", "celsius", "19 c", `such as "19 C" or "66 F"`},
		{"a temperature in words", "celsius", "cold", `such as "19 C" or "66 F"`},
		{"a temperature with an exponent", "celsius", "1e1 C", `such as "19 C" or "66 F"`},
		{"a range of temperatures", "celsius", "18-20 C", `such as "19 C" or "66 F"`},
		{"a difference in degrees Celsius", "kelvins", "2 C", "; a difference is written in K or F"},
		{"a difference without its unit", "kelvins", "2", "; the unit is missing"},
		{"a rate without its time", "rate", "1 C", `such as "1 C/h" or "2 F/h" or "3 C/d"`},
		{"a rate without its unit", "rate", "1", "; the unit is missing"},
		{"a gravity in bare Plato", "gravity", "12", `; if degrees Plato are meant, write "12 P"`},
		{"a gravity in thousandths", "gravity", "1048", `; write "1.048"`},
		{"a gravity in points", "gravity", "48 points", "; that is another quantity"},
		{"a gravity that no fermenter holds", "gravity", "1.3", "; only 0.97 to 1.2 can be in a fermenter"},
		{"points without their unit", "points", "2", "; the unit is missing"},
		{"points in Plato", "points", "2 P", `such as "2 points"`},
		{"bare points with a comma", "bare", "2,5", "; write a decimal point, not a comma"},
		{"a time without its unit", "duration", "36", "; the unit is missing"},
		{"a time in words", "duration", "2 days", `such as "36 h", "2 d", "90 min" or "5 s"`},
		{"a time below none", "duration", "-2 h", `such as "36 h", "2 d", "90 min" or "5 s"`},
		{"a time of the clock", "duration", "12:30", `such as "36 h", "2 d", "90 min" or "5 s"`},
		{"a time half of which lacks its unit", "duration", "1 d 12", `such as "36 h", "2 d", "90 min" or "5 s"`},
		{"a volume without its unit", "litres", "60", "; the unit is missing"},
		{"a volume in a weight", "litres", "60 kg", `"60 L", "10 hL", "5 gal" (US)`},
		{"a power without its unit", "watts", "80", "; the unit is missing"},
		{"a power in volt", "watts", "80 V", `such as "80 W" or "1.5 kW"`},
		{"a carbonation in grams", "volumes", "5 g/L", `such as "2.5 volumes"`},
		{"a share without its sign", "percent", "70", "; the unit is missing"},
		{"a share with a comma", "percent", "72,5 %", "; write a decimal point, not a comma"},
		{"a sign without a share", "percent", "'%'", `a share such as "70 %"`},
		{"a share of points", "percent", "70 points %", `a share such as "70 %"`},
		{"a count with a fraction", "count", "2.0", "a whole number such as 2"},
		{"a count with a plus", "count", "+2", "a whole number such as 2"},
		{"a count with a zero before it", "count", "02", "a whole number such as 2"},
		{"a count with a unit", "count", "2 L", "a whole number such as 2"},
		{"a count that no processor holds", "count", "99999999999999999999", "a whole number such as 2"},
		{"a count in hexadecimal", "count", "0x10", "a whole number such as 2"},
	} {
		d := strict.Open("a.yaml", []byte("x: "+row.text+"\n"))
		m := d.Root()
		got := readers[row.reader](m.Need("x"))
		m.Done()
		problems := said(d)
		text := strings.Trim(row.text, "'")
		if !strings.HasPrefix(problems, `a.yaml:1:4: x: "`+text+`" is not `) || !strings.Contains(problems, row.hint) {
			t.Errorf("%s: got %s, want hint %q", row.name, problems, row.hint)
		}
		if strings.Contains(problems, "\n") || got != 0 {
			t.Errorf("%s: one mistake is said twice, or read as %v: %s", row.name, got, problems)
		}
	}
}

// Every reader of a single value says the same of what is no single value, and
// reads nothing from it.
func TestWhatIsNoSingleValueIsRefusedByEveryReader(t *testing.T) {
	t.Parallel()
	readers := quantityReaders()
	readers["line"] = func(v *strict.Value) float64 { return float64(len(v.Line(40))) }
	readers["text"] = func(v *strict.Value) float64 { return float64(len(v.Text(40))) }
	readers["secret"] = func(v *strict.Value) float64 { return float64(len(v.Secret(40))) }
	readers["word"] = func(v *strict.Value) float64 { return float64(len(v.Word("a", "b"))) }
	readers["flag"] = func(v *strict.Value) float64 {
		if v.Flag() {
			return 1
		}
		return 0
	}
	for reader, read := range readers {
		for _, row := range []struct {
			name, src, want string
			rule            strict.Rule
		}{
			{"a key without a value", "x:", "a.yaml:1:3: x: has no value; needed is ", strict.NoValue},
			{"a key with a comment for a value", "x: # 19 C", "a.yaml:1:3: x: has no value; needed is ", strict.NoValue},
			{"null in words", "x: null", `a.yaml:1:4: x: "null" is no value; needed is `, strict.Null},
			{"null as a sign", "x: ~", `a.yaml:1:4: x: "~" is no value; needed is `, strict.Null},
			{"null with a capital", "x: Null", `a.yaml:1:4: x: "Null" is no value; needed is `, strict.Null},
			{"a list in flow style", "x: [19 C]", "a.yaml:1:4: x: a list stands where ", strict.NotAValue},
			{"a list in block style", "x:\n  - 19 C", "a.yaml:2:3: x: a list stands where ", strict.NotAValue},
			{"an empty list", "x: []", "a.yaml:1:4: x: a list stands where ", strict.NotAValue},
			{"keys in flow style", "x: {at: 19 C}", "a.yaml:1:4: x: a group of keys stands where ", strict.NotAValue},
			{"keys in block style", "x:\n  at: 19 C", "a.yaml:2:3: x: a group of keys stands where ", strict.NotAValue},
			{"no keys at all", "x: {}", "a.yaml:1:4: x: a group of keys stands where ", strict.NotAValue},
		} {
			d := strict.Open("a.yaml", []byte(row.src+"\n"))
			m := d.Root()
			v := m.Need("x")
			got := read(v)
			again := read(v) // a second look says nothing more
			m.Done()
			problems := said(d)
			if !strings.HasPrefix(problems, row.want) || strings.Contains(problems, "\n") {
				t.Errorf("%s, read as %s: got %s", row.name, reader, problems)
			}
			if got != 0 || again != 0 || v.Good() || !v.Given() {
				t.Errorf("%s, read as %s: %v and %v", row.name, reader, got, again)
			}
		}
		d := strict.Open("a.yaml", []byte("y: 1\n"))
		v := d.Root().Opt("x")
		if got := read(v); got != 0 || v.Given() || v.Good() || said(d) != "" {
			t.Errorf("a key that is not there, read as %s: %v, %s", reader, got, said(d))
		}
	}
}
