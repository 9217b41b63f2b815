// Package stats holds the order statistics, and small formulas of their kind,
// that several stages share.
package stats

const (
	// PerMedian is the standard deviation of a Gaussian over its median magnitude,
	// 1/Φ⁻¹(3/4).
	PerMedian = 1.4826
	// TwoSided is how many standard errors either side hold 95 % of a Gaussian,
	// Φ⁻¹(0.975).
	TwoSided = 1.959963985
)

// Median returns the median of x, which it reorders: Hoare's selection, the
// mean of the two middle figures where their number is even. It panics where
// x is empty.
func Median(x []float64) float64 {
	if len(x) == 0 {
		panic("stats: Median of nothing")
	}
	k := len(x) / 2
	selectNth(x, k)
	if len(x)%2 == 1 {
		return x[k]
	}
	below := x[0]
	for _, v := range x[1:k] {
		below = max(below, v)
	}
	return (below + x[k]) / 2
}

// selectNth reorders x so that x[k] is what it would be if sorted, with
// nothing larger before it and nothing smaller after.
func selectNth(x []float64, k int) {
	lo, hi := 0, len(x)-1
	for lo < hi {
		pivot := x[lo+(hi-lo)/2]
		i, j := lo, hi
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
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return
		}
	}
}

// Vertex returns where a parabola through three equally spaced values has its
// extremum, relative to the middle one and in their spacing, within ±1/2; 0
// where they lie on a line.
func Vertex(a, b, c float64) float64 {
	d := a - 2*b + c
	if d == 0 {
		return 0
	}
	return max(-0.5, min(0.5, 0.5*(a-c)/d))
}
