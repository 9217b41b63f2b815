package fault

import (
	"math"
	"slices"
)

// fillGaps puts a straight line in place of every stretch of NaN among every
// stride-th value of x, each side on its own. A hole would tear a slow wander,
// which then passes for white noise, and would give the sides different trends.
// At the ends the nearest value is kept; where there is none at all, 0.
func fillGaps(x []float64, stride int) {
	for side := range stride {
		last := side - stride
		for i := side; i-stride < len(x); i += stride {
			if i < len(x) && math.IsNaN(x[i]) {
				continue
			}
			for k := last + stride; k < min(i, len(x)); k += stride {
				x[k] = between(x, last, i, k)
			}
			last = i
		}
	}
}

// between is the value at k on the line through those at a and b, of which
// either may lie outside x.
func between(x []float64, a, b, k int) float64 {
	switch {
	case a < 0 && b >= len(x):
		return 0
	case a < 0:
		return x[b]
	case b >= len(x):
		return x[a]
	}
	return x[a] + (x[b]-x[a])*float64(k-a)/float64(b-a)
}

// flatten detrends x across its gaps, which stay. The values with the indices in
// except have no part in the trend, but it is subtracted from them too.
func flatten(x []float64, except []int, sides int) {
	trend := slices.Clone(x)
	for _, i := range except {
		trend[i] = math.NaN()
	}
	fillGaps(trend, sides)
	left := slices.Clone(trend)
	detrend(left, sides)
	for i := range x {
		x[i] -= trend[i] - left[i]
	}
}
