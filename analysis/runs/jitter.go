package runs

import (
	"math"
	"slices"
)

// jitter fills in the scatter of each window from the residuals of its beats:
// their median absolute value, which a few wild ones don't move, as the
// standard deviation of a Gaussian.
func (r *Run) jitter() {
	const perSigma = 1.4826 // 1 / Φ⁻¹(3/4)
	rest := r.Residuals
	var sizes []float64
	for i := range r.Windows {
		w := &r.Windows[i]
		n := min(w.Beats, len(rest))
		sizes = sizes[:0]
		for _, x := range rest[:n] {
			if !math.IsNaN(float64(x)) {
				sizes = append(sizes, math.Abs(float64(x)))
			}
		}
		rest = rest[n:]
		w.Jitter = math.NaN()
		if len(sizes) >= 8 {
			slices.Sort(sizes)
			// The fit of a window took up to four coefficients from the scatter.
			w.Jitter = perSigma * sizes[len(sizes)/2] * math.Sqrt(float64(len(sizes))/float64(len(sizes)-4))
		}
	}
}
