package plant_test

import (
	"math"
	"testing"
	"time"

	"example.org/restpoint/controller/plant"
	"example.org/restpoint/controller/units"
)

// The plants are worth controlling: a plain relay with 0.3 K and a five-minute rest holds
// every vessel at 19 C through the fastest day, and in a cold room with no yeast.
func TestVesselsCanBeHeld(t *testing.T) {
	t.Parallel()
	for name, v := range map[string]plant.Vessel{"bucket": plant.Bucket20(), "conical": plant.Conical60(), "tank": plant.Tank1000()} {
		for room, c := range map[string]units.Celsius{" in a warm room": 25, " in a cold room": 8} {
			p := plant.New(v, plant.PaleAle(), plant.Typical(), 3, 19)
			p.SetAmbient(c)
			if c > 19 {
				p.Pitch()
			}
			low, high, cooled := held(p, 96*time.Hour)
			t.Logf("%s%s: %.2f to %.2f C, cooling on %.1f %% of the time", name, room, low, high, cooled*100)
			within(t, name+room+": least, C", low, 17, 19.1)
			within(t, name+room+": most, C", high, 18.9, 20)
		}
	}
}

// held runs a plain relay at 19 C and gives the range of the beer after 12 h
// and the share of time spent cooling.
func held(p *plant.Plant, long time.Duration) (low, high, cooled float64) {
	var out plant.Outputs
	low, high = 99, 0
	rest := 0
	for p.Elapsed() < long {
		r := p.ReadThermowell()
		was := out
		if rest--; rest <= 0 {
			out = plant.Outputs{Cool: r > 19.3 || (out.Cool && r > 19.1), Heat: r < 18.7 || (out.Heat && r < 18.9)}
		}
		if out != was {
			rest = 5
		}
		p.Advance(time.Minute, out)
		if p.Elapsed() > 12*time.Hour {
			low, high = min(low, float64(p.Beer())), max(high, float64(p.Beer()))
		}
		if out.Cool {
			cooled += time.Minute.Seconds() / long.Seconds()
		}
	}
	return low, high, cooled
}

// Whatever is done to it, a plant stays a plant: finite, between what cools and
// what heats it, gravity never rising, and its heat accounted for.
func FuzzPlant(f *testing.F) {
	f.Add(uint64(1), []byte{1, 2, 3, 250, 17, 99, 4})
	f.Add(uint64(9), []byte{0, 255, 255, 128, 64, 32, 16, 8, 7, 6, 5})
	f.Fuzz(func(t *testing.T, seed uint64, script []byte) {
		if len(script) > 200 {
			script = script[:200]
		}
		v := [...]plant.Vessel{plant.Bucket20(), plant.Conical60(), plant.Tank1000()}[seed%3]
		p := plant.New(v, plant.PaleAle(), plant.Nasty(), seed, 20)
		last := p.Gravity()
		for _, b := range script {
			do(p, b)
			p.Advance(time.Duration(b)*time.Minute+time.Duration(b)*37*time.Millisecond, plant.Outputs{Heat: b&1 != 0, Cool: b&2 != 0})
			g, _ := p.ReadHydrometer()
			sane(t, p, g, last)
			last = p.Gravity()
		}
		l := p.Ledger()
		turned := l.Yeast + l.Heater + math.Abs(l.Cooled) + math.Abs(l.Lost)
		if d := l.Held - (l.Yeast + l.Heater - l.Cooled - l.Lost); math.Abs(d) > 1e-9*turned+1e-3 {
			t.Fatalf("%v J are missing in %+v", d, l)
		}
	})
}

// do is one event of a script.
func do(p *plant.Plant, b byte) {
	switch b % 16 {
	case 1:
		p.Pitch()
	case 5:
		p.Stick()
	case 6:
		p.HoldHydrometer(b > 100)
	case 7:
		p.StepHydrometer(units.Points(b) - 128)
	case 8:
		p.ProbeOut(b > 100)
	case 9:
		p.SetAmbient(units.Celsius(b)/5 - 15)
	case 10:
		p.Knock()
	case 11:
		if b > 240 {
			p.DryHop(1)
		}
	}
}

// sane checks what the plant says of itself against what can be.
func sane(t *testing.T, p *plant.Plant, g, last units.Gravity) {
	t.Helper()
	for name, x := range map[string]float64{
		"beer": float64(p.Beer()), "surround": float64(p.Surround()), "ambient": float64(p.ReadAmbient()), "thermowell": float64(p.ReadThermowell()),
		"hydrometer": float64(g), "drop": float64(p.DropPerDay()), "heat": float64(p.HeatOfFermentation()),
	} {
		if math.IsNaN(x) || math.Abs(x) > 1e5 {
			t.Fatalf("%s is %v", name, x)
		}
	}
	if p.Beer() < -40 || p.Beer() > 150 {
		t.Fatalf("beer at %v", p.Beer())
	}
	if p.Gravity() > last+1e-9 || p.Gravity() < 0.98 {
		t.Fatalf("gravity went from %v to %v", last, p.Gravity())
	}
}
