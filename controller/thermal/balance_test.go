package thermal_test

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	"example.org/restpoint/controller/thermal"
	"example.org/restpoint/controller/units"
)

// vat is a sleeved conical; with 4.05 kJ/kg/K it takes 250.1 kJ/K.
func vat() thermal.Vat { return thermal.Vat{Volume: 60, Original: 1.052, Final: 1.010} }

const capacity = 60 * 0.9982 * 1.031 * 4050 // J/K

// tub is beer of one temperature in one that swings, read by a probe of 0.0625 K.
type tub struct {
	beer          float64
	loss          float64 // W/K
	heater, yeast float64 // W
	room          func(h float64) float64
	h             float64
}

func (t *tub) run(b thermal.Balance, v thermal.Vat, length time.Duration, quiet bool, relays func(h, beer float64) (heat, cool bool)) thermal.Balance {
	const dt = 30 * time.Second
	raster := func(c float64) units.Celsius { return units.Celsius(math.Floor(c/0.0625) * 0.0625) }
	for end := t.h + length.Hours(); t.h < end-1e-9; t.h += dt.Hours() {
		heat, cool := relays(t.h, t.beer)
		w := t.yeast + t.loss*(t.room(t.h)-t.beer)
		if heat {
			w += t.heater
		}
		if cool {
			w -= 300
		}
		t.beer += w * dt.Seconds() / capacity
		b = b.Step(thermal.Moment{Elapsed: dt, Beer: raster(t.beer), Around: raster(t.room(t.h)), Known: true, Heat: heat, Cool: cool, Quiet: quiet}, v)
	}
	return b
}

func off(float64, float64) (heat, cool bool) { return false, false }

func swinging(mean, swing float64) func(float64) float64 {
	return func(h float64) float64 { return mean + swing*math.Sin(2*math.Pi*h/24) }
}

func TestAVesselIsLearntWithoutYeastAndTellsItsHeatAfterwards(t *testing.T) {
	tank := &tub{beer: 19, loss: 2, room: swinging(15, 3), heater: 80}
	warm := func(h, beer float64) (bool, bool) { return beer < 19 && math.Mod(h, 3) < 0.5, false }
	b := tank.run(thermal.Balance{}, vat(), 48*time.Hour, true, warm)
	h := b.Heat(vat())
	if h.Off != thermal.On || math.Abs(float64(h.Loss)-2) > 0.3 || h.LossSD > 0.3 || h.High > 0.1 {
		t.Errorf("without yeast: %+v", h)
	}
	if got := float64(b.Mean[2]); math.Abs(got-80*3600/capacity) > 0.15 { // this one has no lag, where some minutes are reckoned with
		t.Errorf("the heater gives %.2f K/h, and %.2f are true", got, 80*3600/capacity)
	}
	b = b.Pitched()
	for w := 1.0; w <= 15; w++ { // up to 15 W in 15 h
		tank.yeast = w
		b = tank.run(b, vat(), time.Hour, false, off)
	}
	b = tank.run(b, vat(), 12*time.Hour, false, off)
	h = b.Heat(vat())
	if h.Off != thermal.On || math.Abs(float64(h.Watts)-15) > 2 {
		t.Errorf("15 W of yeast read as %+v", h)
	}
	joules := (120.0 + 12*15) * 3600
	if want := joules / capacity * float64(h.Rate) / float64(h.Kelvins); math.Abs(float64(h.Fallen)-want) > 1.5 {
		t.Errorf("fallen %.1f points, %.1f are true", h.Fallen, want)
	}
}

// 2 P a day in 100 L are 11.3 W and 0.10 K/h, 4.7 are 26.6 W and 0.235 K/h, with 586
// kJ/kg (computed in the study of the science from the trade's figures). The balance
// takes the middle of 586 and 653, so the same heat is less extract.
func TestHeatAndFallBelongTogetherAsTheTradeReckons(t *testing.T) {
	v := thermal.Vat{Volume: 100, Original: 1.048, Final: 1.010, Loss: 0.01}
	for _, c := range []struct{ plato, watts, kelvins float64 }{{2, 11.3, 0.10}, {4.7, 26.6, 0.235}} {
		b := thermal.Balance{}
		beer := 15.0
		for range 36 * 120 {
			beer += c.kelvins / 120
			b = b.Step(thermal.Moment{Elapsed: 30 * time.Second, Beer: units.Celsius(beer), Around: units.Celsius(beer), Known: true}, v)
		}
		h := b.Heat(v)
		points := c.plato / 24 * 38 / float64(v.Original.Plato()-v.Final.Plato()) * 586 / 619.5
		if math.Abs(float64(h.Watts)/c.watts-1) > 0.03 || math.Abs(float64(h.Rate)/points-1) > 0.03 {
			t.Errorf("%v P a day: %.1f W (%.1f), %.3f points an hour (%.3f)", c.plato, h.Watts, c.watts, h.Rate, points)
		}
	}
}

func TestWhereItMeansNothingItSaysSo(t *testing.T) {
	still := swinging(10, 0)
	busy := func(h, _ float64) (bool, bool) { return false, h > 6 && math.Mod(h, 0.5) < 0.05 }
	for name, c := range map[string]struct {
		v      thermal.Vat
		tank   tub
		length time.Duration
		relays func(h, beer float64) (bool, bool)
		want   thermal.Off
	}{
		"in the first hours it learns":                          {vat(), tub{loss: 1, room: still}, 2 * time.Hour, off, thermal.Learning},
		"a sleeved vessel in a room like the beer is told":      {vat(), tub{loss: 1, room: swinging(19, 0.2)}, 24 * time.Hour, off, thermal.On},
		"a leaky one in a cold room is not, until it is learnt": {vat(), tub{loss: 8, room: still, heater: 200}, 24 * time.Hour, func(_, beer float64) (bool, bool) { return beer < 19, false }, thermal.TooLeaky},
		"a loss that somebody measured tells it":                {thermal.Vat{Volume: 60, Original: 1.052, Final: 1.010, Loss: 1}, tub{loss: 1, room: still}, 24 * time.Hour, off, thermal.On},
		"cooling that never rests leaves nothing to see":        {vat(), tub{loss: 1, room: swinging(19, 0), yeast: 15}, 48 * time.Hour, busy, thermal.Disturbed},
		"without its volume there is no heat":                   {thermal.Vat{Original: 1.052, Final: 1.010}, tub{loss: 1, room: still}, 6 * time.Hour, off, thermal.NoVolume},
	} {
		t.Run(name, func(t *testing.T) {
			c.tank.beer = 19
			b := c.tank.run(thermal.Balance{}, c.v, c.length, false, c.relays)
			if h := b.Heat(c.v); h.Off != c.want {
				t.Errorf("%q, want %q: %+v", h.Off, c.want, h)
			}
		})
	}
}

func TestAnOutageWidensTheSumAndKeepsTheVessel(t *testing.T) {
	tank := &tub{beer: 19, loss: 2, room: swinging(15, 3), yeast: 10}
	b := tank.run(thermal.Balance{}, vat(), 48*time.Hour, false, off)
	before := b.Heat(vat())
	after := b.Gap(12*time.Hour, vat()).Heat(vat())
	if after.FallenSD < before.FallenSD+3 || after.High < before.High+0.2 {
		t.Errorf("12 h unseen: fallen ±%.1f, rate to %.2f; before ±%.1f, %.2f", after.FallenSD, after.High, before.FallenSD, before.High)
	}
	if math.Abs(float64(after.Loss-before.Loss)) > 0.01 {
		t.Errorf("the loss was %.2f and is %.2f W/K", before.Loss, after.Loss)
	}
	half := vat()
	half.Volume = 30
	carried := b.Step(thermal.Moment{Elapsed: time.Second, Beer: 19, Around: 15, Known: true}, half).Heat(half)
	if math.Abs(float64(carried.Loss-before.Loss)) > 0.01 || math.Abs(float64(carried.Watts-before.Watts)) > 0.1 {
		t.Errorf("with half of the beer %.2f W/K, %.2f W; before %.2f, %.2f", carried.Loss, carried.Watts, before.Loss, before.Watts)
	}
}

func TestTheSumBeginsWithTheYeast(t *testing.T) {
	tank := &tub{beer: 19, loss: 2, room: swinging(15, 3), yeast: 10}
	b := tank.run(thermal.Balance{}, vat(), 24*time.Hour, false, off).Pitched()
	if h := b.Heat(vat()); h.Fallen != 0 || h.FallenSD > 0.01 {
		t.Errorf("fallen %v ± %v", h.Fallen, h.FallenSD)
	}
}

func TestTheStoredBalanceIsSmallAndComesBackEqual(t *testing.T) {
	tank := &tub{beer: 19, loss: 2, room: swinging(15, 3), yeast: 10, heater: 80}
	b := thermal.Balance{}
	longest := 0
	for range 600 {
		b = tank.run(b, vat(), 13*time.Minute, false, func(h, _ float64) (bool, bool) { return math.Mod(h, 7) < 0.3, math.Mod(h, 5) > 4.8 })
		text, err := json.Marshal(b)
		if err != nil {
			t.Fatal(err)
		}
		longest = max(longest, len(text))
		var back thermal.Balance
		if err := json.Unmarshal(text, &back); err != nil || back != b {
			t.Fatalf("%v: %s came back as %+v", err, text, back)
		}
	}
	t.Logf("at most %d bytes", longest)
	if longest > 600 {
		t.Errorf("%d bytes, 600 are allowed", longest)
	}
}

// FuzzBalance: whatever comes, every number stays one, and no variance is negative.
func FuzzBalance(f *testing.F) {
	f.Add(19.0, 15.0, 60.0, int64(30e9), uint8(1))
	f.Add(-4.0, 60.0, 1.0, int64(3600e9), uint8(7))
	f.Add(1e300, -1e300, 1e9, int64(899e9), uint8(3))
	f.Add(math.NaN(), math.Inf(1), 20.0, int64(300e9), uint8(9))
	f.Fuzz(func(t *testing.T, beer, around, volume float64, elapsed int64, bits uint8) {
		v := thermal.Vat{Volume: units.Litres(volume), Original: 1.052, Final: 1.010}
		b := thermal.Balance{}
		for i := range 40 {
			m := thermal.Moment{
				Elapsed: time.Duration(elapsed) / time.Duration(1+i%3), Beer: units.Celsius(beer), Around: units.Celsius(around * float64(i%2)),
				Known: bits&1 != 0 || i%4 > 0, Heat: bits&2 != 0 && i%8 < 3, Cool: bits&4 != 0 && i%16 < 2, Quiet: bits&8 != 0 && i < 20,
			}
			b = b.Step(m, v)
			if i == 20 {
				b = b.Pitched()
			}
			text, err := json.Marshal(b)
			if err != nil {
				t.Fatalf("%v: %+v", err, b)
			}
			h := b.Heat(v)
			if _, err := json.Marshal(h); err != nil || h.LossSD < 0 || h.Low < 0 || h.High < h.Low || h.Rate < 0 {
				t.Fatalf("%v: %+v of %s", err, h, text)
			}
		}
	})
}

func TestWhyThereIsNoOpinionIsSaidInWords(t *testing.T) {
	seen := map[string]bool{}
	for _, o := range []thermal.Off{thermal.On, thermal.NoAround, thermal.NoVolume, thermal.Learning, thermal.Disturbed, thermal.TooLeaky} {
		text := o.String()
		if text == "" || text == string(o) || seen[text] {
			t.Errorf("%q reads %q", string(o), text)
		}
		seen[text] = true
	}
}
