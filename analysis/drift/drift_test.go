package drift

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distmv"
)

// series is what is observed at some times of a level that drifts from a state
// known beforehand at the time 0.
type series struct {
	prior        State
	processNoise float64
	t, y         []float64
	variance     []float64 // of y; +Inf where nothing is observed
}

// forward returns what is known at each time before and after its observation,
// and the log likelihood, up to a constant, of all of them.
func (s *series) forward(processNoise float64) (before, after []State, likelihood float64) {
	g, last := s.prior, 0.
	for i, t := range s.t {
		g = g.After(t-last, processNoise)
		before = append(before, g)
		if v := s.variance[i]; !math.IsInf(v, 1) {
			e, total := s.y[i]-g.Level, g.LevelVar+v
			likelihood -= (math.Log(total) + e*e/total) / 2
			g = g.Update(s.y[i], v)
		}
		after, last = append(after, g), t
	}
	return before, after, likelihood
}

// smooth returns what is known at each time from all observations, and the
// gains from each time to the one before.
func (s *series) smooth() ([]State, []Gain) {
	before, all, _ := s.forward(s.processNoise)
	gains := make([]Gain, len(all)-1)
	for i := len(all) - 2; i >= 0; i-- {
		gains[i] = all[i].Gain(s.t[i+1]-s.t[i], before[i+1])
		all[i] = all[i].Back(gains[i], before[i+1], all[i+1])
	}
	return all, gains
}

// example has ten times at uneven distances, two of them without an
// observation.
func example() *series {
	none := math.Inf(1)
	return &series{
		prior:        State{Level: 2, Slope: -1, LevelVar: 4, SlopeVar: 0.5, Cov: 0.6},
		processNoise: 0.3,
		t:            []float64{0, 0.1, 1, 1.5, 2.5, 4, 4.2, 7, 7.5, 9},
		y:            []float64{1.5, 2.2, 0.4, 7, -1, -3.2, -2.9, 0, 1.1, 4},
		variance:     []float64{0.2, 0.1, 0.3, none, 0.2, 0.5, 0.05, none, 0.2, 0.4},
	}
}

// joint returns mean and covariance of levels and slopes at all times, the
// levels first, before anything is observed. The integral of a random walk from
// 0 has the covariance process noise·(|s−t|·v²/2 + v³/3) at times s and t, v being the
// lesser (C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine
// Learning, 2006, section 6.3.1); those of the slopes are its derivatives.
func (s *series) joint() (*mat.VecDense, *mat.SymDense) {
	n := len(s.t)
	mean, cov := mat.NewVecDense(2*n, nil), mat.NewSymDense(2*n, nil)
	p := s.prior
	for i, a := range s.t {
		mean.SetVec(i, p.Level+p.Slope*a)
		mean.SetVec(n+i, p.Slope)
		for k, b := range s.t {
			v := math.Min(a, b)
			cov.SetSym(i, k, p.LevelVar+(a+b)*p.Cov+a*b*p.SlopeVar+s.processNoise*(math.Abs(a-b)*v*v/2+v*v*v/3))
			cov.SetSym(i, n+k, p.Cov+a*p.SlopeVar+s.processNoise*(a*v-v*v/2))
			cov.SetSym(n+i, n+k, p.SlopeVar+s.processNoise*v)
		}
	}
	return mean, cov
}

// dense returns mean and covariance of levels and slopes at all times from all
// observations, and the log density of those, by the formula of conditional
// Gaussians.
func (s *series) dense() (mean *mat.VecDense, cov *mat.Dense, density float64) {
	prior, joint := s.joint()
	var seen []int
	for i, v := range s.variance {
		if !math.IsInf(v, 1) {
			seen = append(seen, i)
		}
	}
	m, n := len(seen), 2*len(s.t)
	expected, off := make([]float64, m), mat.NewVecDense(m, nil)
	y, of, with := make([]float64, m), mat.NewSymDense(m, nil), mat.NewDense(n, m, nil)
	for i, a := range seen {
		y[i], expected[i] = s.y[a], prior.AtVec(a)
		off.SetVec(i, y[i]-expected[i])
		for k, b := range seen {
			of.SetSym(i, k, joint.At(a, b))
		}
		of.SetSym(i, i, of.At(i, i)+s.variance[a])
		for k := range n {
			with.Set(k, i, joint.At(k, a))
		}
	}
	normal, ok := distmv.NewNormal(expected, of, nil)
	if !ok {
		panic("observations without a density")
	}
	var inverse, gain mat.Dense
	if err := inverse.Inverse(of); err != nil {
		panic(err)
	}
	gain.Mul(with, &inverse)
	mean, cov = mat.NewVecDense(n, nil), mat.NewDense(n, n, nil)
	mean.MulVec(&gain, off)
	mean.AddVec(prior, mean)
	cov.Mul(&gain, with.T())
	cov.Sub(joint, cov)
	return mean, cov, normal.LogProb(y)
}

func near(a, b float64) bool { return math.Abs(a-b) <= 1e-9*(1+math.Abs(b)) }

func TestSmoothedIsThePosterior(t *testing.T) {
	s := example()
	states, _ := s.smooth()
	mean, cov, _ := s.dense()
	n := len(s.t)
	for i, got := range states {
		want := State{
			Level: mean.AtVec(i), Slope: mean.AtVec(n + i),
			LevelVar: cov.At(i, i), SlopeVar: cov.At(n+i, n+i), Cov: cov.At(i, n+i),
		}
		if !near(got.Level, want.Level) || !near(got.Slope, want.Slope) || !near(got.LevelVar, want.LevelVar) ||
			!near(got.SlopeVar, want.SlopeVar) || !near(got.Cov, want.Cov) {
			t.Errorf("at %g: %+v, want %+v", s.t[i], got, want)
		}
	}
}

// What is known of one time and of the next varies together by the gain times
// the covariance of the next.
func TestGainIsTheCovarianceOfNeighbours(t *testing.T) {
	s := example()
	states, gains := s.smooth()
	_, cov, _ := s.dense()
	n := len(s.t)
	for i, g := range gains {
		q := states[i+1]
		for _, c := range []struct {
			what      string
			got, want float64
		}{
			{"level, level", g.LL*q.LevelVar + g.LS*q.Cov, cov.At(i, i+1)},
			{"level, slope", g.LL*q.Cov + g.LS*q.SlopeVar, cov.At(i, n+i+1)},
			{"slope, level", g.SL*q.LevelVar + g.SS*q.Cov, cov.At(n+i, i+1)},
			{"slope, slope", g.SL*q.Cov + g.SS*q.SlopeVar, cov.At(n+i, n+i+1)},
		} {
			if !near(c.got, c.want) {
				t.Errorf("%s at %g and the time after: %g, want %g", c.what, s.t[i], c.got, c.want)
			}
		}
	}
}

func TestLikelihoodIsTheDensity(t *testing.T) {
	s := example()
	_, _, got := s.forward(s.processNoise)
	_, _, want := s.dense()
	seen := 8.
	if got -= seen / 2 * math.Log(2*math.Pi); !near(got, want) {
		t.Errorf("log likelihood %g, density %g", got, want)
	}
}

// walk is a series that drifts by the process noise given, and its true levels.
func walk(rng *rand.Rand, n int, processNoise, variance float64) (*series, []float64) {
	s := &series{prior: State{LevelVar: variance, SlopeVar: 1}, processNoise: processNoise}
	level, slope, last := 0., 0., 0.
	var truth []float64
	for range n {
		t := last + 0.2 + 1.6*rng.Float64()
		dt := t - last
		// The gains of slope and level in dt vary together: After's covariance.
		u, v := rng.NormFloat64(), rng.NormFloat64()
		gained := math.Sqrt(processNoise*dt) * u
		level += dt*slope + dt/2*gained + math.Sqrt(processNoise*dt*dt*dt/12)*v
		slope += gained
		truth, last = append(truth, level), t
		s.t, s.variance = append(s.t, t), append(s.variance, variance)
		s.y = append(s.y, level+math.Sqrt(variance)*rng.NormFloat64())
	}
	return s, truth
}

// TestKnownCourse asks of walks with known truth for their process noise, and how
// often the intervals hold the truth.
func TestKnownCourse(t *testing.T) {
	for _, processNoise := range []float64{1e-6, 1e-3, 0.3} {
		in, all, off := 0, 0, 0.
		for seed := range uint64(10) {
			s, truth := walk(rand.New(rand.NewPCG(seed, 7)), 400, processNoise, 0.25)
			s.processNoise = ProcessNoise(-9, 3, func(w float64) float64 { _, _, l := s.forward(w); return l })
			off += math.Log10(s.processNoise/processNoise) / 10
			states, _ := s.smooth()
			for i, g := range states {
				all++
				if math.Abs(g.Level-truth[i]) < 1.96*math.Sqrt(g.LevelVar) {
					in++
				}
			}
		}
		if share := float64(in) / float64(all); share < 0.92 || share > 0.975 || math.Abs(off) > 0.2 {
			t.Errorf("process noise %g: found 10^%.2f of it in the mean, intervals hold the truth in %.3f", processNoise, off, share)
		}
	}
}

func TestWander(t *testing.T) {
	for _, c := range []struct {
		name            string
		low, high, want float64 // decades
		likelihood      func(e float64) float64
	}{
		{"within", -12, 8, -3.7, func(e float64) float64 { return -(e + 3.7) * (e + 3.7) }},
		{"of two, the greater", -12, 8, 2.1, func(e float64) float64 { return math.Max(-math.Abs(e+5)-1, -math.Abs(e-2.1)) }},
		{"at the low end", -12, 8, -12, func(e float64) float64 { return -e }},
		{"at the high end", -12, 0.5, 0.5, func(e float64) float64 { return e }},
		{"flat", -3, -3, -3, func(float64) float64 { return 0 }},
	} {
		got := math.Log10(ProcessNoise(c.low, c.high, func(w float64) float64 { return c.likelihood(math.Log10(w)) }))
		if math.Abs(got-c.want) > 0.01 {
			t.Errorf("%s: 10^%.3f, want 10^%.3f", c.name, got, c.want)
		}
	}
	defer func() {
		if recover() == nil {
			t.Error("no panic over an empty range")
		}
	}()
	ProcessNoise(1, 0, func(float64) float64 { return 0 })
}

func BenchmarkForwardAndBack(b *testing.B) {
	s, _ := walk(rand.New(rand.NewPCG(1, 7)), 11520, 1e-3, 0.25)
	for b.Loop() {
		s.smooth()
	}
}
