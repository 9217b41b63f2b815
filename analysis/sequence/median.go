package sequence

import (
	"math"
	"slices"
)

// median returns the median of x, which it puts into another order; NaN where x
// is empty. Of an even number, it is the greater of the two in the middle.
func median(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	return nth(x, len(x)/2)
}

// mad returns the standard deviation of the Gaussian with the same median
// deviation from mid as x, which it overwrites.
func mad(x []float64, mid float64) float64 {
	const quartile = 0.67449 // of the standard Gaussian
	for i, v := range x {
		x[i] = math.Abs(v - mid)
	}
	return median(x) / quartile
}

// nth returns the value that has place n in ascending order, by halving the part
// that it may be in (C. A. R. Hoare, Communications of the ACM 4, 1961).
func nth(x []float64, n int) float64 {
	for len(x) > 12 {
		a, b, c := x[0], x[len(x)/2], x[len(x)-1]
		pivot := max(min(a, b), min(max(a, b), c))
		i, j := 0, len(x)-1
		for i <= j {
			for x[i] < pivot {
				i++
			}
			for x[j] > pivot {
				j--
			}
			if i <= j {
				x[i], x[j] = x[j], x[i]
				i++
				j--
			}
		}
		switch {
		case n <= j:
			x = x[:j+1]
		case n >= i:
			x, n = x[i:], n-i
		default:
			return pivot
		}
	}
	slices.Sort(x)
	return x[n]
}
