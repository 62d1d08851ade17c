package units

import "fmt"

// Gravity is a specific gravity at 20/20 C: 1.048.
type Gravity float64

// Points is a difference of gravity in thousandths: 1.048 is 48 points above water.
type Points float64

// What a fermenter can hold: dry mead at the low end, wort for the strongest
// beers and the heaviest honey musts at the high end.
const (
	LowestGravity  Gravity = 0.970
	HighestGravity Gravity = 1.200
)

const (
	wantGravity = `a gravity such as "1.048" or "12 P"`
	wantPoints  = `a difference of gravity such as "2 points"`
)

// ParseGravity reads "1.048", "1.048 SG" or "12 P".
func ParseGravity(text string) (Gravity, error) {
	v, unit, err := split(text, wantGravity)
	if err != nil {
		return 0, err
	}
	var g Gravity
	switch unit {
	case "", "SG":
		g = Gravity(v)
	case "P", "°P":
		g = Plato(v).Gravity()
	case "C", "F", "K", "points", "point":
		return 0, &ParseError{text, wantGravity, "that is another quantity"}
	default:
		return 0, &ParseError{Text: text, Want: wantGravity}
	}
	if unit == "" && v >= 2 && v <= 40 {
		return 0, &ParseError{text, wantGravity, fmt.Sprintf("if degrees Plato are meant, write %q", exact(v)+" P")}
	}
	if unit == "" && v > 990 && v < 1200 {
		return 0, &ParseError{text, wantGravity, fmt.Sprintf("write %q", fixed(v/1000, 3))}
	}
	if !g.Plausible() {
		return 0, &ParseError{text, wantGravity, fmt.Sprintf("only %v to %v can be in a fermenter", LowestGravity, HighestGravity)}
	}
	return g, nil
}

// ParsePoints reads "2 points" or "1 point".
func ParsePoints(text string) (Points, error) {
	v, err := scaled(text, wantPoints, "", map[string]float64{"points": 1, "point": 1})
	return Points(v), err
}

// Plausible tells whether the gravity is a number that a fermenter can hold.
func (g Gravity) Plausible() bool { return g >= LowestGravity && g <= HighestGravity }

// Minus is the difference g - o in points.
func (g Gravity) Minus(o Gravity) Points { return Points(float64(g-o) * 1000) }

// Plus is the gravity moved by some points.
func (g Gravity) Plus(p Points) Gravity { return g + Gravity(p/1000) }

func (g Gravity) String() string { return exact(float64(g)) }
func (p Points) String() string {
	if p == 1 {
		return "1 point"
	}
	return exact(float64(p)) + " points"
}

// Fixed prints with a fixed number of decimals, for people.
func (g Gravity) Fixed(decimals int) string { return fixed(float64(g), decimals) }

// Fixed prints with a fixed number of decimals, for people.
func (p Points) Fixed(decimals int) string {
	if s := fixed(float64(p), decimals); s == "1" {
		return "1 point"
	}
	return fixed(float64(p), decimals) + " points"
}
