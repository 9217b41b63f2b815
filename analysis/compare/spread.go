package compare

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// doubt is the distribution of an estimate's error: a mixture of Student's
// distributions about zero.
type doubt []part

type part struct{ weight, sigma, freedom float64 }

// past returns the probability of an error larger than x either way.
func (d doubt) past(x float64) float64 {
	p := 0.0
	for _, k := range d {
		switch {
		case k.sigma > 0:
			p += k.weight * 2 * distuv.StudentsT{Sigma: k.sigma, Nu: k.freedom}.Survival(math.Abs(x))
		case x == 0:
			p += k.weight
		}
	}
	return min(p, 1)
}

// half returns the half-width of the 95 % interval.
func (d doubt) half() float64 {
	high := 0.0
	for _, k := range d {
		high = max(high, k.sigma)
	}
	low := 0.0
	for d.past(high) > 0.05 {
		low, high = high, 2*high
	}
	for range 60 {
		if mid := (low + high) / 2; d.past(mid) > 0.05 {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}

// and returns the doubt with an independent standard deviation added to it.
func (d doubt) and(sigma float64) doubt {
	out := slices.Clone(d)
	for i := range out {
		out[i].sigma = math.Hypot(out[i].sigma, sigma)
	}
	return out
}
