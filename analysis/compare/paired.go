package compare

import "math"

// doubtOf returns the doubt about a weighted sum of a series: of its noise, and
// of a walk that starts from zero with it.
func (s *series) doubtOf(weights []float64, models []level) doubt {
	var white, walk, rest float64
	unit := s.typical()
	for i := s.len() - 1; i >= 0; i-- {
		w := weights[i]
		white += w * w * s.variance(i, unit)
		rest += w
		if i > 0 {
			walk += rest * rest * (s.t[i] - s.t[i-1])
		}
	}
	d := make(doubt, len(models))
	for k, m := range models {
		d[k] = part{m.weight, math.Sqrt(m.noise*white + m.walk*walk), m.freedom}
	}
	return d
}

// evenly returns the weights of a mean in which a window that is known badly
// counts less.
func (s *series) evenly() []float64 {
	w := make([]float64, s.len())
	m := s.typical()
	total := 0.0
	for i, se := range s.se {
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

func weighted(w, y []float64) float64 {
	sum := 0.0
	for i := range w {
		sum += w[i] * y[i]
	}
	return sum
}
