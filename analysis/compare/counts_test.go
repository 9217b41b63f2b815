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
