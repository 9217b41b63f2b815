package compare

import (
	"math"
	"math/rand/v2"
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
func TestGarwood(t *testing.T) {
	for _, c := range []struct{ n, low, high float64 }{
		{0, 0, 3.689}, {1, 0.0253, 5.572}, {5, 1.623, 11.668}, {10, 4.795, 18.390},
	} {
		low, high := garwood(c.n)
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
		near(t, "probability", conditional(c.a, c.b, c.share), min(1, 2*min(atMost, atLeast)), 1e-12)
	}
	near(t, "probability of nothing", conditional(0, 0, 0.5), 1, 0)
}

// Two rates that are one differ by the interval, and by the test, seldom.
func TestCompareCounts(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 32))
	for _, mean := range []float64{0.3, 3, 40} {
		const trials = 1000
		apart, unlikely := 0, 0
		for range trials {
			a := count{distuv.Poisson{Lambda: 8 * mean, Src: rng}.Rand(), 8, 1}
			b := count{distuv.Poisson{Lambda: 5 * mean, Src: rng}.Rand(), 5, 1}
			low, high, p := compareCounts(a, b)
			if low > 0 || high < 0 {
				apart++
			}
			if p <= 0.05 {
				unlikely++
			}
		}
		if apart > 60 || unlikely > 60 {
			t.Errorf("mean %v: %d intervals leave out zero, %d tests at 5 %%, of %d", mean, apart, unlikely, trials)
		}
	}
	low, high, p := compareCounts(count{80, 8, 1}, count{20, 8, 1})
	if high >= 0 || low > -7.5 || p > 1e-6 {
		t.Errorf("80 to 20: %v to %v, p %v", low, high, p)
	}
}

func TestClustering(t *testing.T) {
	rng := rand.New(rand.NewPCG(33, 34))
	var single, bursts []float64
	for at := 0.0; at < 36000; at += rng.ExpFloat64() * 60 {
		single = append(single, at)
		if rng.IntN(5) == 0 {
			bursts = append(bursts, at, at+0.1, at+0.2, at+0.3, at+0.4)
		}
	}
	if c := clustering(single, 36000); c > 2.5 {
		t.Errorf("single events cluster by %v", c)
	}
	if c := clustering(bursts, 36000); c < 2.5 || c > 12 {
		t.Errorf("bursts of five cluster by %v", c)
	}
	for _, times := range [][]float64{nil, {5}} {
		near(t, "clustering of too few", clustering(times, 100), 1, 0)
	}
}

// R. A. Fisher, The Design of Experiments (1935): three of four cups told right
// have the one-sided probability 17/70.
func TestFisher(t *testing.T) {
	near(t, "tea", fisher(3, 4, 1, 4), 2*17./70, 1e-12)
	near(t, "all or none", fisher(4, 4, 0, 4), 2./70, 1e-12)
	near(t, "none at all", fisher(0, 30, 0, 20), 1, 1e-12)
}

// The limits of a proportion after C. J. Clopper and E. S. Pearson, Biometrika 26
// (1934): none of 10 allows 31 %, 5 of 10 from 19 % to 81 %.
func TestClopper(t *testing.T) {
	for _, c := range []struct{ k, n, low, high float64 }{{0, 10, 0, 0.3085}, {5, 10, 0.1871, 0.8129}, {10, 10, 0.6915, 1}} {
		low, high := clopper(c.k, c.n)
		near(t, "lower limit", low, c.low, 5e-5)
		near(t, "upper limit", high, c.high, 5e-5)
	}
}

func TestWave(t *testing.T) {
	rng := rand.New(rand.NewPCG(35, 36))
	const period, height, sigma = 37.5, 40e-6, 100e-6
	x := make([]float32, 20000)
	for i := range x {
		x[i] = float32(height*math.Cos(2*math.Pi*float64(i)/period+1) + sigma*rng.NormFloat64())
		if i%100 == 7 {
			x[i] = float32(math.NaN())
		}
	}
	size, se, _ := wave(x, period)
	near(t, "height", size, height, 4*se)
	near(t, "its error", se, sigma*math.Sqrt(2./20000), 0.4*se)
	if size, _, _ := wave(x[:100], period); !math.IsNaN(size) {
		t.Errorf("two turns gave a height of %v", size)
	}
}
