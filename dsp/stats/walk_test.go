package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

// walk is a series of n figures a minute apart: white noise of the given
// standard deviation on a random walk that gains step every minute.
func walk(rng *rand.Rand, n int, white, step float64) *Series {
	s := &Series{}
	at := 0.0
	for i := range n {
		s.Add(60*float64(i), at+white*rng.NormFloat64(), white)
		at += step * rng.NormFloat64()
	}
	return s
}

// stepOf is the walk of the models in a minute, and noise the factor on the
// errors, both weighted means.
func stepOf(models []Level) (step, noise float64) {
	for _, m := range models {
		step += m.Weight * math.Sqrt(60*m.Walk)
		noise += m.Weight * math.Sqrt(m.Noise)
	}
	return step, noise
}

func TestLevelsFindTheWander(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	for _, want := range []float64{0.02, 0.1, 0.5, 3} {
		const pairs = 4
		var step, noise float64
		for range pairs {
			a, b := stepOf(walk(rng, 300, 0.1, want).Levels())
			step += a / pairs
			noise += b / pairs
		}
		if math.Abs(step/want-1) > 0.25 {
			t.Errorf("a walk of %v a minute was found to be %v", want, step)
		}
		if want <= 0.1 && math.Abs(noise-1) > 0.1 {
			t.Errorf("errors true as given were found too small by %v", noise)
		}
	}
	if step, _ := stepOf(walk(rng, 400, 0.1, 0).Levels()); step > 0.01 {
		t.Errorf("no walk was found to be %v", step)
	}
}

// A course that truly differs in a steep end is no wander.
func TestLevelsIgnoreSteepEnd(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 14))
	s := walk(rng, 400, 0.1, 0.1)
	for i := range s.Y {
		s.Y[i] += 60 * math.Pow(float64(i)/400, 25)
	}
	if step, _ := stepOf(s.Levels()); math.Abs(step/0.1-1) > 0.6 {
		t.Errorf("a walk of 0.1 a minute was found to be %v", step)
	}
}

// The interval of a mean holds the truth 95 times in 100, whether little or
// much of it is wander, and with few windows too.
func TestDoubtCoversTheMean(t *testing.T) {
	rng := rand.New(rand.NewPCG(15, 16))
	for _, c := range []struct {
		n    int
		step float64
	}{{20, 0.1}, {20, 1}, {60, 0.03}} {
		const trials = 60
		within := 0
		for range trials {
			s := walk(rng, c.n, 0.1, c.step)
			w := s.Evenly()
			if math.Abs(Weighted(w, s.Y)) <= s.DoubtOf(w, s.Levels()).Half() {
				within++
			}
		}
		// Three standard errors of the share are 8 %.
		if share := float64(within) / trials; share < 0.87 {
			t.Errorf("%d windows, walk %v: %.1f %% of intervals hold the truth", c.n, c.step, 100*share)
		}
	}
}

// The doubt of a weighted sum agrees with the scatter of such sums.
func TestDoubtOf(t *testing.T) {
	rng := rand.New(rand.NewPCG(17, 18))
	const trials = 4000
	m := Level{Walk: 0.3 * 0.3 / 60, Noise: 1, Weight: 1, Freedom: 1e6}
	weights := []float64{0.5, -0.2, 0.1, 0.3, -0.4, 0.2, 0.05, 0.45}
	var want, got float64
	for range trials {
		s := walk(rng, len(weights), 0.2, 0.3)
		x := Weighted(weights, s.Y)
		got += x * x / trials
		want = math.Pow(s.DoubtOf(weights, []Level{m})[0].Sigma, 2)
	}
	if math.Abs(got/want-1) > 0.1 {
		t.Errorf("variance %v, predicted %v", got, want)
	}
}

// Smoothing gives what the normal equations give.
func TestSmooth(t *testing.T) {
	rng := rand.New(rand.NewPCG(19, 20))
	s := walk(rng, 60, 0.2, 0.3)
	m := Level{Walk: 0.3 * 0.3 / 60, Noise: 1}
	got, se := s.Smooth(m)
	// Relax (x − y)²/r + (Δx)²/q to its least.
	r, q := 0.2*0.2, m.Walk*60
	x := make([]float64, s.Len())
	for range 3000 {
		for i := range x {
			a, b := s.Y[i]/r, 1/r
			if i > 0 {
				a, b = a+x[i-1]/q, b+1/q
			}
			if i < len(x)-1 {
				a, b = a+x[i+1]/q, b+1/q
			}
			x[i] = a / b
		}
	}
	for i := range x {
		if math.Abs(got[i]-x[i]) > 1e-9 {
			t.Fatalf("level %d is %v, want %v", i, got[i], x[i])
		}
	}
	// In the middle of a long series: 1/se² = 1/r + 2/(P + q), P the filter's.
	p := r
	for range 100 {
		p = (p + q) * r / (p + q + r)
	}
	if want := 1 / math.Sqrt(1/r+2/(p+q)); math.Abs(se[30]/want-1) > 1e-6 {
		t.Errorf("standard error %v, want %v", se[30], want)
	}
}

func TestHuberScale(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 22))
	u := make([]float64, 20000)
	for i := range u {
		u[i] = 3 * rng.NormFloat64()
	}
	if got := huberScale(u); math.Abs(got/3-1) > 0.02 {
		t.Errorf("scale %v of a Gaussian of 3", got)
	}
	for i := range len(u) / 10 {
		u[i] = 1e6
	}
	if got := huberScale(u); got > 5 {
		t.Errorf("scale %v with a tenth of wild figures", got)
	}
	if got := huberScale(make([]float64, 9)); got != 0 {
		t.Errorf("scale %v of zeros", got)
	}
}

func BenchmarkLevels(b *testing.B) {
	s := walk(rand.New(rand.NewPCG(23, 24)), 480, 0.1, 0.1)
	for b.Loop() {
		s.Levels()
	}
}
