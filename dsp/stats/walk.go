package stats

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// LeastFigures is the fewest figures of a series from which anything is told.
const LeastFigures = 4

// Series is a figure over time with the errors of its measurement. The zero
// value is an empty one.
type Series struct {
	T, Y, SE []float64 // T ascending; of one length
	unit     float64   // median of SE, 0 until it is asked for
}

// Add adds a figure that is later than all others.
func (s *Series) Add(t, y, se float64) {
	s.T, s.Y, s.SE, s.unit = append(s.T, t), append(s.Y, y), append(s.SE, se), 0
}

// typical is the error of a typical figure, above 0.
func (s *Series) typical() float64 {
	if s.unit == 0 {
		s.unit = max(medianOf(s.SE), 1e-12)
	}
	return s.unit
}

// Len is the number of figures.
func (s *Series) Len() int { return len(s.Y) }

// Level is one model of a series: a level that wanders as a random walk, seen
// through white noise (A. C. Harvey, Forecasting, Structural Time Series Models
// and the Kalman Filter, 1989, section 2.3: the local level). The noise is the
// errors of the measurement times noise; the walk gains the variance walk in a
// second.
type Level struct {
	Walk    float64
	Noise   float64 // factor on the variances of the measurement
	Weight  float64 // posterior probability among all models
	Freedom float64 // of its scale
}

// Levels fits models from no wander at all to nothing but wander, and weighs
// them by their likelihood, so that what is not known of the wander is part of
// every interval. Some of the models, a quarter by their weight before anything is
// known, have a slope as well that changes smoothly (section 2.3 again: the local
// linear trend): where the runs truly differ in their course, that is not taken
// for wander. The scale is robust, for the last minutes of a spring, which no
// model holds. It returns nil where the series is too short.
func (s *Series) Levels() []Level {
	n := s.Len()
	if n < LeastFigures {
		return nil
	}
	var models []Level
	var likelihood []float64
	for _, m := range s.noises() {
		white, logs := s.whiten(m.walk, m.bend, [][]float64{s.Y})
		scale := max(huberScale(white[0]), 1e-6)
		models = append(models, Level{Walk: m.walk * scale * scale, Noise: scale * scale, Freedom: float64(n - 1)})
		likelihood = append(likelihood, math.Log(m.prior)-logs/2-float64(n-1)*math.Log(scale))
	}
	best := slices.Max(likelihood)
	total := 0.0
	for k := range models {
		models[k].Weight = math.Exp(likelihood[k] - best)
		total += models[k].Weight
	}
	models = slices.DeleteFunc(models, func(m Level) bool { return m.Weight < 1e-5*total })
	total = 0
	for _, m := range models {
		total += m.Weight
	}
	for k := range models {
		models[k].Weight /= total
	}
	return models
}

// noise is a model of what wanders, relative to the noise of the measurement: the
// variance that the level gains in a second, that which its slope gains, and its
// probability before anything is known, up to a factor.
type noise struct{ walk, bend, prior float64 }

// noises are the models that Levels weighs.
func (s *Series) noises() []noise {
	n := s.Len()
	step := (s.T[n-1] - s.T[0]) / float64(n-1)
	unit := s.typical()
	const perDecade, low, high, bends, bent = 4, -6, 5, 4, 0.3
	var all []noise
	for k := low*perDecade - 1; k <= high*perDecade; k++ {
		walk := unit * unit / step * math.Pow(10, float64(k)/perDecade)
		if k < low*perDecade {
			walk = 0
		}
		all = append(all, noise{walk, 0, 1})
		for j := 1; j <= bends; j++ {
			// From a window to the next the slope gains no more than the walk,
			// or it would pass for the walk.
			all = append(all, noise{walk, walk / (step * step) * math.Pow(10, 1-float64(j)), bent / bends})
		}
	}
	return all
}

// whiten returns what each figure after the first has of news, in standard
// errors, where the noise is that of the series, of the series itself or of
// whatever else is given at its times; and the sum of the logarithms of their
// variances. The slope gains the variance bend in a second; there is none where
// that is 0.
func (s *Series) whiten(walk, bend float64, vectors [][]float64) (white [][]float64, logs float64) {
	n := s.Len()
	type state struct{ at, slope float64 }
	states := make([]state, len(vectors))
	white = make([][]float64, len(vectors))
	for v := range vectors {
		states[v].at = vectors[v][0]
		white[v] = make([]float64, n-1)
	}
	ll, ls, ss := s.Variance(0), 0.0, bend*(s.T[n-1]-s.T[0])
	for i := 1; i < n; i++ {
		dt := s.T[i] - s.T[i-1]
		ll += dt*(2*ls+dt*ss) + walk*dt + bend*dt*dt*dt/3
		ls += dt*ss + bend*dt*dt/2
		ss += bend * dt
		total := ll + s.Variance(i)
		logs += math.Log(total)
		k, g, root := ll/total, ls/total, math.Sqrt(total)
		for v := range states {
			st := &states[v]
			st.at += st.slope * dt
			news := vectors[v][i] - st.at
			white[v][i-1] = news / root
			st.at += k * news
			st.slope += g * news
		}
		ss -= g * ls
		ls -= k * ls
		ll -= k * ll
	}
	return white, logs
}

// Variance is that of the measurement, never so small that it leaves no doubt.
func (s *Series) Variance(i int) float64 {
	se := max(s.SE[i], s.typical()/10)
	return se * se
}

// Smooth returns the level at each time and its standard error, given a model:
// the Kalman filter, and the smoother of H. E. Rauch, F. Tung and C. T.
// Striebel (AIAA Journal 3, 1965).
func (s *Series) Smooth(m Level) (x, se []float64) {
	n := s.Len()
	x, p := make([]float64, n), make([]float64, n)
	x[0], p[0] = s.Y[0], m.Noise*s.Variance(0)
	for i := 1; i < n; i++ {
		before := p[i-1] + m.Walk*(s.T[i]-s.T[i-1])
		r := m.Noise * s.Variance(i)
		x[i] = x[i-1] + before/(before+r)*(s.Y[i]-x[i-1])
		p[i] = before * r / (before + r)
	}
	for i := n - 2; i >= 0; i-- {
		before := p[i] + m.Walk*(s.T[i+1]-s.T[i])
		g := p[i] / before
		x[i] += g * (x[i+1] - x[i])
		p[i] += g * g * (p[i+1] - before)
	}
	for i := range p {
		p[i] = math.Sqrt(max(p[i], 0))
	}
	return x, p
}

// huberScale returns the standard deviation of figures about zero, those past
// two of it counting as two (P. J. Huber, Robust Statistics, 1981, section
// 5.2: his proposal 2, location known).
func huberScale(u []float64) float64 {
	const c = 2
	// The mean of min(z², c²) for a Gaussian z.
	phi, tail := distuv.UnitNormal.Prob(c), distuv.UnitNormal.Survival(c)
	expected := 1 - 2*tail - 2*c*phi + 2*c*c*tail
	sizes := make([]float64, len(u))
	for i, x := range u {
		sizes[i] = math.Abs(x)
	}
	scale := PerMedian * medianOf(sizes)
	if scale == 0 {
		scale = slices.Max(sizes)
	}
	for range 30 {
		if scale == 0 {
			return 0
		}
		sum := 0.0
		for _, x := range sizes {
			z := min(x/scale, c)
			sum += z * z
		}
		scale *= math.Sqrt(sum / float64(len(u)) / expected)
	}
	return scale
}

func medianOf(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	sorted := slices.Sorted(slices.Values(x))
	return (sorted[(len(x)-1)/2] + sorted[len(x)/2]) / 2
}

// DoubtOf returns the doubt about a weighted sum of a series: of its noise, and
// of a walk that starts from zero with it.
func (s *Series) DoubtOf(weights []float64, models []Level) Mixture {
	var white, walk, rest float64
	for i := s.Len() - 1; i >= 0; i-- {
		w := weights[i]
		white += w * w * s.Variance(i)
		rest += w
		if i > 0 {
			walk += rest * rest * (s.T[i] - s.T[i-1])
		}
	}
	d := make(Mixture, len(models))
	for k, m := range models {
		d[k] = Student{m.Weight, 0, math.Sqrt(m.Noise*white + m.Walk*walk), m.Freedom}
	}
	return d
}

// Evenly returns the weights of a mean in which a window that is known badly
// counts less.
func (s *Series) Evenly() []float64 {
	w := make([]float64, s.Len())
	m := s.typical()
	total := 0.0
	for i, se := range s.SE {
		w[i] = 1
		if se > m {
			w[i] = 2 * m * m / (m*m + se*se)
		}
		total += w[i]
	}
	for i := range w {
		w[i] /= total
	}
	return w
}

// Weighted is the sum of y times its weights.
func Weighted(w, y []float64) float64 {
	sum := 0.0
	for i := range w {
		sum += w[i] * y[i]
	}
	return sum
}

// Likeliest returns the model of the greatest weight, false where there is none.
func Likeliest(models []Level) (Level, bool) {
	if len(models) == 0 {
		return Level{}, false
	}
	return slices.MaxFunc(models, func(a, b Level) int { return cmp.Compare(a.Weight, b.Weight) }), true
}

// Pick chooses a model by its weight, for a u drawn evenly between 0 and 1.
func Pick(models []Level, u float64) Level {
	for _, m := range models {
		if u -= m.Weight; u < 0 {
			return m
		}
	}
	return models[len(models)-1]
}
