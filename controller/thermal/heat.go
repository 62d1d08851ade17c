package thermal

import (
	"math"
	"time"

	"example.org/restpoint/controller/units"
)

// Vat is what must be known of a vessel and its beer to tell heat from warmth.
type Vat struct {
	Volume          units.Litres
	Original, Final units.Gravity
	Loss            units.WattsPerKelvin // to the surroundings, if somebody has measured it; 0 = not known
	Heater          units.Watts          // 0 = not known
	Cabinet         bool                 // it is cooled through the air of a cabinet that nothing measures
}

// coasts is how long cooling still works on the beer after it went off.
func (v Vat) coasts(lag time.Duration) time.Duration {
	if v.Cabinet {
		return cabinetFor
	}
	if lag > 0 {
		return min(cooledFor, max(cooledLeast, cooledLags*lag))
	}
	return cooledFor
}

// After four lags 2 % of a run of cooling are still to come; a lag is not known better
// than a quarter of an hour of them.
const (
	cooledLags  = 4
	cooledLeast = 15 * time.Minute
)

// Figures for beer and vessels.
const (
	density = 0.9982 // kg/L of water at 20 C
	// The heat of a kilogram of real extract: 586 kJ (252 Btu/lb) to 653 kJ (from
	// the enthalpies of Gee and Ramirez; ASHRAE has 651). Half of the span between
	// them counts as one standard deviation, and so does what a volume is known by.
	extractHeat  = 619.5
	extractDoubt = 33.5 / 619.5
	volumeDoubt  = 0.03
	// Bare steel in still air loses 5 to 10 W/m2/K, a sleeve 1.5 to 3, an insulated
	// tank 0.5 (common practice); vessels from 25 to 1000 L have 0.066 m2 times the
	// litres to the power of two thirds.
	areaPer       = 0.066
	usualLoss     = 3.0
	usualDoubt    = 2.5
	heaterDoubt   = 0.3  // of a heater's power may go elsewhere (engineering judgement)
	measuredDoubt = 0.15 // of a loss that somebody has measured
	// Two thermometers of a board differ by so much in K (each may be 0.5 off, by its maker).
	probeDoubt = 0.25
	tenth      = 1.2816 // standard deviations: one value in ten lies beyond on each side
)

func (v Vat) known() bool {
	return v.Volume > 0 && v.Original > 0.9 && v.Final > 0.9 && v.Original < 1.5 && v.Final < v.Original
}

func (v Vat) mean() units.Gravity { return (v.Original + v.Final) / 2 }

// capacity is what warms the beer by one kelvin, in J/K.
func (v Vat) capacity() float64 {
	return float64(v.Volume) * density * float64(v.mean()) * specificHeatBeer * 1000
}

// perPoint is how far a point of apparent attenuation warms beer that loses nothing.
func (v Vat) perPoint() float64 {
	plato := float64(v.Original.Plato()-v.Final.Plato()) / (float64(v.Original-v.Final) * 1000)
	return plato / 100 * realShare * extractHeat / specificHeatBeer
}

// fit begins a balance, or carries it over to another volume of beer: what the
// vessel loses in watts stays the same.
func (b Balance) fit(v Vat) Balance {
	c := v.capacity()
	if b.Vat > 0 && math.Abs(float64(b.Vat)/c-1) < 0.01 {
		return b
	}
	var f filter
	if b.Vat == 0 {
		b = Balance{Blind: oldest}
		f = unknown(v)
	} else {
		f = b.load()
		share := float64(b.Vat) / c
		for _, i := range [5]int{unLoss, unHeater, unYeast, unDrift, unSum} {
			f.x[i] *= share
			for j := range unknowns {
				f.p[i][j] *= share
				f.p[j][i] *= share
			}
		}
	}
	f.bound()
	b = b.store(&f)
	b.Vat = float32(c)
	return b
}

// unknown is what may be said of a vessel before anything was seen of it.
func unknown(v Vat) filter {
	var f filter
	anHour := 3600 / v.capacity() // K/h of a watt
	loss, doubt := float64(v.Loss), float64(measuredDoubt*float64(v.Loss))
	if loss == 0 {
		side := math.Cbrt(float64(v.Volume))
		area := areaPer * side * side
		loss, doubt = usualLoss*area, usualDoubt*area
	}
	f.anew(unLoss, loss*anHour, float64(doubt*doubt*anHour*anHour))
	f.anew(unHeater, 1, 4) // K/h: 0.5 to 2 are usual
	if v.Heater > 0 {
		heater := float64(v.Heater) * anHour
		f.anew(unHeater, heater, float64(heaterDoubt*heaterDoubt*heater*heater))
	}
	f.anew(unBias, 0, probeDoubt*probeDoubt)
	f.anew(unYeast, yeastUsual, yeastFirst)
	f.forget()
	return f
}

// Off says why there is no opinion.
type Off string

// Why there is none.
const (
	On        Off = ""
	NoAround  Off = "no-surroundings" // nothing measures what the vessel loses heat to
	NoVolume  Off = "no-volume"
	Learning  Off = "learning"
	Disturbed Off = "disturbed" // cooling leaves no time in between
	TooLeaky  Off = "too-leaky" // what it loses, and its heater makes up for, is not known well enough to tell the rest
)

// String says it in words.
func (o Off) String() string {
	switch o {
	case On:
		return "told"
	case NoAround:
		return "nothing measures the room, or the air of the cabinet, around the vessel"
	case NoVolume:
		return "volume or gravities are not known"
	case Learning:
		return "the vessel is not known yet"
	case Disturbed:
		return "cooling leaves too little time between its runs"
	case TooLeaky:
		return "the vessel is too leaky, and what it loses is not known well enough"
	}
	return string(o)
}

const (
	learnFor = 3 * time.Hour // 12 windows
	blindFor = 12 * time.Hour
	// An interval of more than plus or minus 0.25 points an hour tells no beer from
	// a quiet one: ales fall by 0.3 to 1.
	widestRate = 0.25 / tenth
)

// Heat is the yeast's heat as the balance sees it.
type Heat struct {
	Off       Off
	Watts     units.Watts
	Kelvins   units.KelvinsPerHour // how fast it would warm beer that loses nothing
	Rate      units.Points         // an hour
	Low, High units.Points         // 10 % and 90 %
	Loss      units.WattsPerKelvin
	LossSD    units.WattsPerKelvin
	Fallen    units.Points // since pitching
	FallenSD  units.Points // one standard deviation
}

// Heat gives the picture.
func (b Balance) Heat(v Vat) Heat {
	if !v.known() {
		return Heat{Off: NoVolume}
	}
	b = b.fit(v)
	f := b.load()
	c, per := v.capacity()/3600, v.perPoint()
	share := math.Sqrt(extractDoubt*extractDoubt + volumeDoubt*volumeDoubt)
	yeast, total := f.x[unYeast], f.x[unSum]
	sd := math.Sqrt(f.p[unYeast][unYeast]) / per
	rate := yeast / per
	scale := float64(share * rate)
	wide := math.Sqrt(float64(sd*sd) + float64(scale*scale))
	all := float64(share * total)
	h := Heat{
		Watts: units.Watts(yeast * c), Kelvins: units.KelvinsPerHour(yeast), Rate: units.Points(max(0, rate)),
		Low:  units.Points(max(0, rate-float64(tenth*wide))),
		High: units.Points(max(0, rate+float64(tenth*wide))),
		Loss: units.WattsPerKelvin(f.x[unLoss] * c), LossSD: units.WattsPerKelvin(math.Sqrt(f.p[unLoss][unLoss]) * c),
		Fallen: units.Points(total / per), FallenSD: units.Points(math.Sqrt(f.p[unSum][unSum]+float64(all*all)) / per),
	}
	h.Off = b.off(&f, sd)
	return h
}

// off says whether the picture means anything.
func (b Balance) off(f *filter, sd float64) Off {
	switch {
	case b.Learnt < learnFor:
		return Learning
	case sd <= widestRate && b.Blind <= blindFor:
		return On
	case f.alike(unYeast, unLoss)+f.alike(unYeast, unBias)+f.alike(unYeast, unHeater) > 0.5,
		b.Coast >= blindFor && b.Blind <= lostAfter: // nothing disturbs it, and still it is not known
		return TooLeaky
	}
	return Disturbed
}

// alike is the square of the correlation: how much of the doubt about one unknown
// is that about the other.
func (f *filter) alike(i, j int) float64 {
	return f.p[i][j] * f.p[i][j] / (f.p[i][i] * f.p[j][j])
}
