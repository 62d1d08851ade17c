package plant

import (
	"math"
	"testing"
)

// An internal test: the generator and the elementary functions have no
// exported form, and all that the package promises rests on them.

func TestElementaryFunctions(t *testing.T) {
	for x := -60.0; x <= 60; x += 0.0137 {
		if got, want := exp(x), math.Exp(x); math.Abs(got-want) > 2e-15*want {
			t.Errorf("exp(%v) = %v, want %v", x, got, want)
		}
	}
	for x := 1e-300; x < 1e300; x *= 1.173 {
		if got, want := ln(x), math.Log(x); math.Abs(got-want) > 4e-16*max(1, math.Abs(want)) {
			t.Errorf("ln(%v) = %v, want %v", x, got, want)
		}
	}
	for x := -20.0; x <= 20; x += 0.00173 {
		if got, want := turnSine(x), math.Sin(2*math.Pi*x); math.Abs(got-want) > 1e-13 {
			t.Errorf("turnSine(%v) = %v, want %v", x, got, want)
		}
	}
	for _, x := range []float64{-1e9, 1e9} {
		if got := exp(x); math.IsInf(got, 0) || math.IsNaN(got) {
			t.Errorf("exp(%v) = %v", x, got)
		}
	}
}

// Published first outputs of splitmix64 from seed 1234567 (Rosetta task
// "Pseudo-random numbers/Splitmix64", from memory).
func TestSplitmix(t *testing.T) {
	c := chance{1234567}
	for _, want := range []uint64{6457827717110365317, 3203168211198807973, 9817491932198370423, 4593380528125082431, 16408922859458223821} {
		if got := c.next(); got != want {
			t.Errorf("next = %d, want %d", got, want)
		}
	}
}

// Moments and tails: the tails of Student t with 4 degrees of freedom at scale
// 1/sqrt 2 are P(|t4| > 4.604) = 0.01 (printed tables), so 3.2556 here.
func TestDistributions(t *testing.T) {
	const n = 400_000
	c := stream(7, 3)
	var sum, square, beyond, tSum, tSquare, tBeyond, uSum float64
	for range n {
		z, s := c.normal(), c.student()
		sum += z
		square += z * z
		tSum += s
		tSquare += min(s*s, 1e4)
		if math.Abs(z) > 2.5758 { // 1 % of a normal
			beyond++
		}
		if math.Abs(s) > 4.604/math.Sqrt2 {
			tBeyond++
		}
		uSum += c.uniform()
	}
	for _, row := range []struct {
		name                 string
		got, want, tolerance float64
	}{
		{"mean of normal", sum / n, 0, 0.006},
		{"variance of normal", square / n, 1, 0.01},
		{"1 % tails of normal", beyond / n, 0.01, 0.0008},
		{"mean of student", tSum / n, 0, 0.006},
		{"variance of student", tSquare / n, 1, 0.05},
		{"1 % tails of student", tBeyond / n, 0.01, 0.0008},
		{"mean of uniform", uSum / n, 0.5, 0.002},
	} {
		if math.Abs(row.got-row.want) > row.tolerance {
			t.Errorf("%s = %v, want %v within %v", row.name, row.got, row.want, row.tolerance)
		}
	}
}

// Streams of one seed, and the same stream of neighbouring seeds, have nothing to do with each other.
func TestStreamsAreIndependent(t *testing.T) {
	for name, pair := range map[string][2]chance{
		"two streams": {stream(1, 0), stream(1, 1)},
		"two seeds":   {stream(1, 0), stream(2, 0)},
	} {
		a, b := pair[0], pair[1]
		var product float64
		const n = 50_000
		for range n {
			product += a.normal() * b.normal()
		}
		if r := product / n; math.Abs(r) > 0.02 { // 4.5 standard errors
			t.Errorf("%s: correlation %v", name, r)
		}
	}
}
