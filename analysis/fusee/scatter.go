package fusee

import (
	"math"

	"rundown/dsp/stats"
)

// scatter is the standard deviation of figures about a course that bends gently: from how
// far each lies from the cubic through its two neighbours on either side (after T. Gasser,
// L. Sroka and C. Jennen-Steinmetz, Biometrika 73, 1986, who take the line through one on
// either side), by the median, which a few wild ones and the sharp bends of a spring don't
// move. Of fewer than five figures it is 0.
func scatter(x, y []float64) float64 {
	const perSigma = 1.4826 // 1 / Φ⁻¹(3/4)
	var off []float64
	for i := 2; i+2 < len(x); i++ {
		around := []int{i - 2, i - 1, i + 1, i + 2}
		predicted, variance := 0.0, 1.0
		for _, k := range around {
			weight := 1.0 // Lagrange's, of the neighbour k at the place of i
			for _, m := range around {
				if m != k {
					weight *= (x[i] - x[m]) / (x[k] - x[m])
				}
			}
			predicted, variance = predicted+weight*y[k], variance+weight*weight
		}
		if o := math.Abs(y[i]-predicted) / math.Sqrt(variance); o <= most { // NaN where places all but coincide
			off = append(off, o)
		}
	}
	if off == nil {
		return 0
	}
	return perSigma * stats.Median(off)
}
