package compare

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// leastPairs is the fewest figures from which anything is told.
const leastPairs = 4

// series is a figure over time with the errors of its measurement.
type series struct {
	t, y, se []float64
	unit     float64 // median of se, 0 until it is asked for
}

func (s *series) add(t, y, se float64) {
	s.t, s.y, s.se, s.unit = append(s.t, t), append(s.y, y), append(s.se, se), 0
}

// typical is the error of a typical figure, above 0.
func (s *series) typical() float64 {
	if s.unit == 0 {
		s.unit = max(medianOf(s.se), 1e-12)
	}
	return s.unit
}

func (s *series) len() int { return len(s.y) }

// level is one model of a series: a level that wanders as a random walk, seen
// through white noise (A. C. Harvey, Forecasting, Structural Time Series Models
// and the Kalman Filter, 1989, section 2.3: the local level). The noise is the
// errors of the measurement times noise; the walk gains the variance walk in a
// second.
type level struct {
	walk    float64
	noise   float64 // factor on the variances of the measurement
	weight  float64 // posterior probability among all models
	freedom float64 // of its scale
}

// levels fits models from no wander at all to nothing but wander, and weighs
// them by their likelihood, so that what is not known of the wander is part of
// every interval. Some of the models, a quarter by their weight before anything is
// known, have a slope as well that changes smoothly (section 2.3 again: the local
// linear trend): where the runs truly differ in their course, that is not taken
// for wander. The scale is robust, for the last minutes of a spring, which no
// model holds. It returns nil where the series is too short.
func (s *series) levels() []level {
	n := s.len()
	if n < leastPairs {
		return nil
	}
	step := (s.t[n-1] - s.t[0]) / float64(n-1)
	unit := s.typical()
	const perDecade, low, high, bends, bent = 4, -6, 5, 4, 0.3
	var models []level
	var likelihood []float64
	for k := low*perDecade - 1; k <= high*perDecade; k++ {
		walk := unit * unit / step * math.Pow(10, float64(k)/perDecade)
		if k < low*perDecade {
			walk = 0
		}
		for j := range bends + 1 {
			bend, prior := 0.0, 1.0
			if j > 0 {
				// From a window to the next the slope gains no more than the
				// walk, or it would pass for the walk.
				bend, prior = walk/(step*step)*math.Pow(10, 1-float64(j)), bent/bends
			}
			u, logs := s.innovations(walk, bend, unit)
			scale := max(huberScale(u), 1e-6)
			models = append(models, level{walk: walk * scale * scale, noise: scale * scale, freedom: float64(n - 1)})
			likelihood = append(likelihood, math.Log(prior)-logs/2-float64(n-1)*math.Log(scale))
		}
	}
	best := slices.Max(likelihood)
	total := 0.0
	for k := range models {
		models[k].weight = math.Exp(likelihood[k] - best)
		total += models[k].weight
	}
	models = slices.DeleteFunc(models, func(m level) bool { return m.weight < 1e-5*total })
	total = 0
	for _, m := range models {
		total += m.weight
	}
	for k := range models {
		models[k].weight /= total
	}
	return models
}

// innovations returns what each figure after the first has of news, in standard
// errors, and the sum of the logarithms of their variances. The slope gains the
// variance bend in a second; there is none where that is 0.
func (s *series) innovations(walk, bend, unit float64) (u []float64, logs float64) {
	n := s.len()
	at, slope := s.y[0], 0.0
	ll, ls, ss := s.variance(0, unit), 0.0, bend*(s.t[n-1]-s.t[0])
	u = make([]float64, 0, n-1)
	for i := 1; i < n; i++ {
		dt := s.t[i] - s.t[i-1]
		at += slope * dt
		ll += dt*(2*ls+dt*ss) + walk*dt + bend*dt*dt*dt/3
		ls += dt*ss + bend*dt*dt/2
		ss += bend * dt
		f := ll + s.variance(i, unit)
		v := s.y[i] - at
		u = append(u, v/math.Sqrt(f))
		logs += math.Log(f)
		k, g := ll/f, ls/f
		at += k * v
		slope += g * v
		ss -= g * ls
		ls -= k * ls
		ll -= k * ll
	}
	return u, logs
}

// variance is that of the measurement, never so small that it leaves no doubt.
func (s *series) variance(i int, unit float64) float64 {
	se := max(s.se[i], unit/10)
	return se * se
}

// smooth returns the level at each time and its standard error, given a model:
// the Kalman filter, and the smoother of H. E. Rauch, F. Tung and C. T.
// Striebel (AIAA Journal 3, 1965).
func (s *series) smooth(m level) (x, se []float64) {
	n := s.len()
	unit := s.typical()
	x, p := make([]float64, n), make([]float64, n)
	x[0], p[0] = s.y[0], m.noise*s.variance(0, unit)
	for i := 1; i < n; i++ {
		before := p[i-1] + m.walk*(s.t[i]-s.t[i-1])
		r := m.noise * s.variance(i, unit)
		x[i] = x[i-1] + before/(before+r)*(s.y[i]-x[i-1])
		p[i] = before * r / (before + r)
	}
	for i := n - 2; i >= 0; i-- {
		before := p[i] + m.walk*(s.t[i+1]-s.t[i])
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
	scale := 1.4826 * medianOf(sizes)
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
