package fusee

import (
	"math"
	"math/rand/v2"
	"testing"
)

// exhaustive tries every stretch, each figure of it anew.
func exhaustive(x []float64, n int, relative bool) (first int, spread float64) {
	spread = math.Inf(1)
	for a := 0; a+n < len(x); a++ {
		low, high, sum := math.Inf(1), math.Inf(-1), 0.0
		for _, v := range x[a : a+n+1] {
			low, high, sum = min(low, v), max(high, v), sum+v
		}
		s := high - low
		if relative {
			s /= sum / float64(n+1)
		}
		if s < spread {
			first, spread = a, s
		}
	}
	return first, spread
}

func TestSteadiestIsTheBestOfAll(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	for range 200 {
		x := make([]float64, 5+rng.IntN(200))
		level := 100.0
		for i := range x {
			level += rng.NormFloat64()
			x[i] = level
		}
		n := 1 + rng.IntN(len(x)-1)
		for _, relative := range []bool{true, false} {
			first, spread, ok := steadiest(x, n, relative)
			want, least := exhaustive(x, n, relative)
			if !ok || math.Abs(spread-least) > 1e-12 || first != want && math.Abs(spread-least) > 0 {
				t.Fatalf("%d of %d: %v from %d, want %v from %d", n, len(x), spread, first, least, want)
			}
		}
	}
	gap := []float64{1, 1.1, math.NaN(), 5, 7, 8}
	if first, spread, ok := steadiest(gap, 2, false); !ok || first != 3 || spread != 3 {
		t.Errorf("across a gap: %v from %d", spread, first)
	}
	if _, _, ok := steadiest(gap, 3, false); ok {
		t.Error("a stretch longer than what is known")
	}
}

// The one recommended is the longest of all stretches, tried one by one, whose spread
// is within the tolerance; and of that length the steadiest.
func TestRecommendedIsTheBestOfAll(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	found := 0
	for range 60 {
		torque := randomTorque(rng)
		tolerance := 5 + 40*rng.Float64()
		var x []float64
		for i := 0; torque.Start()+float64(i)/perTurn <= torque.End()+1e-9; i++ {
			x = append(x, torque.At(torque.Start()+float64(i)/perTurn))
		}
		longest, from, least := 0.0, 0.0, 0.0
		for half := 1; half*perTurn/2 < len(x); half++ {
			if first, spread := exhaustive(x, half*perTurn/2, true); 100*spread <= tolerance {
				longest, from, least = float64(half)/2, float64(first)/perTurn, 100*spread
			}
		}
		list := StopWork(torque, nil)
		i, ok := Recommend(list, false, tolerance)
		if ok != (longest > 0) {
			t.Fatalf("found %v, want %v turns", ok, longest)
		}
		if !ok {
			continue
		}
		found++
		if k := list[i]; k.Turns != longest || math.Abs(k.ByTorque.Spread-least) > 1e-9 || math.Abs(k.ByTorque.From-torque.Start()-from) > 1e-9 {
			t.Errorf("recommended %+v, want %v turns from %v, %v %%", k, longest, from, least)
		}
	}
	if found < 40 {
		t.Errorf("only %d of 60 had one", found)
	}
}
