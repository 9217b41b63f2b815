package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestInflation compares the variance of means of autoregressions with what is said of
// single ones.
func TestInflation(t *testing.T) {
	const n, runs = 400, 300
	for _, rho := range []float64{-0.3, 0, 0.4, 0.8} {
		rng := rand.New(rand.NewPCG(9, 9))
		var means, told float64
		for range runs {
			x := make([]float64, n)
			var sum, last, squares float64
			for i := range x {
				last = rho*last + math.Sqrt(1-rho*rho)*rng.NormFloat64()
				x[i] = last
				sum += last
				squares += last * last
			}
			means += sum / n * sum / n / runs
			told += Inflation(x) * squares / n / n / runs
		}
		if q := told / means; rho >= 0 && (q < 0.8 || q > 1.25) || q < 0.8 {
			t.Errorf("ρ = %g: %.2f of the variance that means have", rho, q)
		}
	}
	if Inflation(nil) != 1 || Inflation([]float64{0, 0}) != 1 {
		t.Error("nothing inflates")
	}
}
