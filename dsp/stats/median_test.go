package stats

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// TestMedian compares the median with that of sorted figures, of all sorts.
func TestMedian(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for name, figure := range map[string]func(i int) float64{
		"random":      func(int) float64 { return rng.NormFloat64() },
		"few values":  func(int) float64 { return float64(rng.IntN(3)) },
		"all alike":   func(int) float64 { return 7 },
		"rising":      func(i int) float64 { return float64(i) },
		"falling":     func(i int) float64 { return -float64(i) },
		"there, back": func(i int) float64 { return float64(i % 10) },
	} {
		for n := 1; n < 60; n++ {
			x := make([]float64, n)
			for i := range x {
				x[i] = figure(i)
			}
			sorted := slices.Sorted(slices.Values(x))
			want := (sorted[(n-1)/2] + sorted[n/2]) / 2
			if got := Median(x); got != want {
				t.Fatalf("%s, %d figures: %v, want %v", name, n, got, want)
			}
			slices.Sort(x)
			if !slices.Equal(x, sorted) {
				t.Fatalf("%s, %d figures: some were changed", name, n)
			}
		}
	}
	defer func() {
		if recover() == nil {
			t.Error("a median of nothing")
		}
	}()
	Median(nil)
}
