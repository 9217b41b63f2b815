package stats

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is %v, want %v", what, got, want)
	}
}

// The limits of a Poisson mean as the tables after F. Garwood, Biometrika 28
// (1936), have them (from memory).
func TestPoissonInterval(t *testing.T) {
	for _, c := range []struct{ n, low, high float64 }{
		{0, 0, 3.689}, {1, 0.0253, 5.572}, {5, 1.623, 11.668}, {10, 4.795, 18.390},
	} {
		low, high := PoissonInterval(c.n)
		near(t, "lower limit", low, c.low, 5e-4)
		near(t, "upper limit", high, c.high, 5e-4)
	}
}

// The test agrees with adding up the binomial distribution.
func TestConditional(t *testing.T) {
	for _, c := range []struct{ a, b, share float64 }{{3, 9, 0.5}, {0, 7, 0.5}, {12, 0, 0.3}, {5, 5, 0.8}, {1, 0, 0.5}} {
		n := distuv.Binomial{N: c.a + c.b, P: c.share}
		var atMost, atLeast float64
		for k := 0.0; k <= c.a+c.b; k++ {
			if k <= c.b {
				atMost += n.Prob(k)
			}
			if k >= c.b {
				atLeast += n.Prob(k)
			}
		}
		near(t, "probability", Conditional(c.a, c.b, c.share), min(1, 2*min(atMost, atLeast)), 1e-12)
	}
	near(t, "probability of nothing", Conditional(0, 0, 0.5), 1, 0)
}

// R. A. Fisher, The Design of Experiments (1935): three of four cups told right
// have the one-sided probability 17/70.
func TestFisher(t *testing.T) {
	near(t, "tea", Fisher(3, 4, 1, 4), 2*17./70, 1e-12)
	near(t, "all or none", Fisher(4, 4, 0, 4), 2./70, 1e-12)
	near(t, "none at all", Fisher(0, 30, 0, 20), 1, 1e-12)
}

// The limits of a proportion after C. J. Clopper and E. S. Pearson, Biometrika 26
// (1934): none of 10 allows 31 %, 5 of 10 from 19 % to 81 %.
func TestProportionInterval(t *testing.T) {
	for _, c := range []struct{ k, n, low, high float64 }{{0, 10, 0, 0.3085}, {5, 10, 0.1871, 0.8129}, {10, 10, 0.6915, 1}} {
		low, high := ProportionInterval(c.k, c.n)
		near(t, "lower limit", low, c.low, 5e-5)
		near(t, "upper limit", high, c.high, 5e-5)
	}
}
