package rate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Stability is how steady a movement is over one averaging time. Intervals
// hold the truth 95 times in 100.
type Stability struct {
	Tau    float64 // averaging time, s
	Factor int     // samples in it
	// Allan is the overlapping Allan deviation of the fractional rate (86 400
	// of it are one s/day), with its interval.
	Allan, AllanLow, AllanHigh float64
	// Time is the time deviation in seconds, with its interval.
	Time, TimeLow, TimeHigh float64
	// AllanFloor and TimeFloor are what the scatter of the beats alone would
	// give.
	AllanFloor, TimeFloor float64
	Noise                 string  // the noise that dominates here
	Freedom               float64 // equivalent degrees of freedom of Allan
	alpha                 noise
}

const (
	// firstFactor is the least averaging factor: the samples are averages
	// themselves, which lowers the Allan deviation of white frequency noise by
	// 1/(4·factor), here 3 %.
	firstFactor = 8
	// leastTerms is the fewest equivalent degrees of freedom worth showing.
	leastTerms = 1.5
)

// Stabilities returns the stability at averaging times an octave apart.
// jitter is the standard deviation of beat times, s (Run.Jitter). Samples
// missing from the phase cost only the terms that need them.
//
// Intervals are those of χ² with equivalent degrees of freedom (see
// equivalentFreedom), fewer in proportion where terms are missing.
func Stabilities(p Phase, jitter float64) []Stability {
	var out []Stability
	alpha := noise(0)
	for m := firstFactor; 3*m <= len(p.X); m *= 2 {
		s := Stability{Tau: float64(m) * p.Interval, Factor: m}
		var terms int
		s.Allan, terms = OverlappingAllan(p.X, p.Interval, m)
		if a, ok := identify(p.X, m); ok {
			alpha = a
		} else if n := len(out); n >= 2 {
			alpha = min(alpha, bySlope(s.Allan/out[n-2].Allan))
		}
		s.alpha, s.Noise = alpha, alpha.String()
		s.Freedom = equivalentFreedom(len(p.X), m, alpha, false) * float64(terms) / float64(len(p.X)-2*m)
		if !(s.Freedom >= leastTerms) {
			continue
		}
		s.AllanLow, s.AllanHigh = interval(s.Allan, s.Freedom)
		s.Time, terms = TimeDeviation(p.X, p.Interval, m)
		free := equivalentFreedom(len(p.X), m, alpha, true) * float64(terms) / float64(len(p.X)-3*m+1)
		s.TimeLow, s.TimeHigh = interval(s.Time, free)
		sample := jitter / math.Sqrt(float64(p.Beats))
		s.AllanFloor = math.Sqrt(3) * sample / s.Tau
		s.TimeFloor = sample / math.Sqrt(float64(m))
		out = append(out, s)
	}
	return out
}

// bySlope returns the noise that dominates where the Allan deviation changes by
// a factor over two octaves of averaging time: where too few values are left to
// tell it by their correlation, a slower noise than at the factors before still
// shows in the slope. The bounds lie halfway between the slopes of the noises.
func bySlope(factor float64) noise {
	switch slope := math.Log2(factor) / 2; {
	case slope > 0.25:
		return -2
	case slope > -0.25:
		return -1
	case slope > -0.75:
		return 0
	}
	return 2
}

// interval returns the 95 % confidence interval of a deviation with the given
// degrees of freedom.
func interval(sigma, freedom float64) (low, high float64) {
	if !(freedom > 0) {
		return math.NaN(), math.NaN()
	}
	chi := distuv.ChiSquared{K: freedom}
	return sigma * math.Sqrt(freedom/chi.Quantile(0.975)), sigma * math.Sqrt(freedom/chi.Quantile(0.025))
}

// Between returns the phase from one true time to another, in seconds. It
// shares memory with p.
func (p Phase) Between(from, to float64) Phase {
	first := slices.IndexFunc(p.Time, func(t float64) bool { return t >= from })
	if first < 0 {
		first = len(p.Time)
	}
	last := first
	for i := first; i < len(p.Time); i++ {
		if p.Time[i] < to {
			last = i + 1
		}
	}
	p.Time, p.X = p.Time[first:last], p.X[first:last]
	return p
}

// WithoutDrift returns a copy of the phase without its steady drift of rate,
// a parabola fitted by least squares.
func (p Phase) WithoutDrift() Phase {
	row := func(i int) []float64 {
		u := 2*float64(i)/float64(len(p.X)) - 1
		return []float64{1, u, u * u}
	}
	var a, b []float64
	for i, x := range p.X {
		if !math.IsNaN(x) {
			a = append(a, row(i)...)
			b = append(b, x)
		}
	}
	p.X = slices.Clone(p.X)
	var beta mat.VecDense
	if len(b) < 3 || beta.SolveVec(mat.NewDense(len(b), 3, a), mat.NewVecDense(len(b), b)) != nil {
		return p
	}
	for i := range p.X {
		p.X[i] -= mat.Dot(&beta, mat.NewVecDense(3, row(i)))
	}
	return p
}

// Wander is how far a movement would stray by chance in a day.
type Wander struct {
	Seconds, Low, High float64 // standard deviation over a day, with its 95 % interval
	Tau                float64 // averaging time that it was inferred from, s
	Noise              string  // the noise found there
}

// PredictWander returns what the stability found says of a day: 86 400 s times
// the Allan deviation at a day, the error of the best forecast over that time
// for white frequency noise and worse (D. W. Allan, "Time and frequency
// characterization, estimation, and prediction of precision clocks and
// oscillators", IEEE Trans. UFFC 34, 1987). The Allan deviation is carried
// from the longest averaging time still well known to a day as its noise
// demands: phase and white frequency noise fall with √τ, flicker stays, random
// walk grows with √τ. That is an extrapolation, of chance alone: it knows
// nothing of temperature, position and the run-down of the spring, and the
// interval is that of the measurement only. It reports false where nothing is
// known well enough.
func PredictWander(stabilities []Stability) (Wander, bool) {
	const day = 86400
	const known = 8 // degrees of freedom
	for _, s := range slices.Backward(stabilities) {
		if s.Freedom < known || !(s.Allan > 0) {
			continue
		}
		slope := -0.5
		switch s.alpha {
		case -1:
			slope = 0
		case -2:
			slope = 0.5
		}
		f := day * math.Pow(day/s.Tau, slope)
		return Wander{Seconds: f * s.Allan, Low: f * s.AllanLow, High: f * s.AllanHigh, Tau: s.Tau, Noise: s.Noise}, true
	}
	return Wander{}, false
}
