package plant_test

import (
	"math"
	"testing"
	"time"

	"example.org/restpoint/controller/plant"
)

func TestAnOpenDoorKeepsTheHeatBalance(t *testing.T) {
	p := plant.New(plant.Bucket20(), plant.PaleAle(), plant.Quiet(), 1, 12)
	p.SetAmbient(22)
	p.Advance(time.Hour, plant.Outputs{Cool: true})
	before := p.Surround()
	p.OpenDoor(0.6)
	if want := float64(before) + 0.6*(22-float64(before)); math.Abs(float64(p.Surround())-want) > 1e-9 {
		t.Errorf("air at %v, want %v", p.Surround(), want)
	}
	p.Advance(time.Hour, plant.Outputs{})
	l := p.Ledger()
	if off := l.Held - (l.Yeast + l.Heater - l.Cooled - l.Lost); math.Abs(off) > 1 {
		t.Errorf("%.1f J came from nowhere", off)
	}
	p.OpenDoor(7)
	if math.Abs(float64(p.Surround()-22)) > 1e-9 {
		t.Errorf("more than all of the air: %v", p.Surround())
	}
}

func TestAJacketHasNoDoor(t *testing.T) {
	p := plant.New(plant.Conical60(), plant.PaleAle(), plant.Quiet(), 1, 12)
	before := p.Surround()
	p.OpenDoor(1)
	if p.Surround() != before {
		t.Errorf("%v, want %v", p.Surround(), before)
	}
}

func TestACopyGoesItsOwnWay(t *testing.T) {
	p := plant.New(plant.Conical60(), plant.PaleAle(), plant.Mild(), 1, 15)
	p.Pitch()
	p.Advance(5*time.Hour, plant.Outputs{})
	q, same := p.Copy(), p.Copy()
	q.Advance(time.Hour, plant.Outputs{Cool: true})
	p.Advance(time.Hour, plant.Outputs{})
	same.Advance(time.Hour, plant.Outputs{})
	if p.Beer() != same.Beer() || p.ReadThermowell() != same.ReadThermowell() {
		t.Errorf("the same hour gave %v and %v", p.Beer(), same.Beer())
	}
	if q.Beer() >= p.Beer() {
		t.Errorf("cooled %v, not cooled %v", q.Beer(), p.Beer())
	}
}
