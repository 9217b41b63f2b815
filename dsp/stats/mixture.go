package stats

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Mixture is the distribution of an estimate's error: a mixture of Student's
// distributions, one for each model of what is not known.
type Mixture []Student

// Student is one of them: its weight among all, where it is centred, its scale,
// in the unit of the estimate, and its degrees of freedom.
type Student struct{ Weight, Centre, Sigma, Freedom float64 }

// Beyond returns the probability of an error larger than x either way.
func (d Mixture) Beyond(x float64) float64 {
	x = math.Abs(x)
	p := 0.0
	for _, k := range d {
		switch {
		case k.Sigma > 0:
			t := distuv.StudentsT{Sigma: k.Sigma, Nu: k.Freedom}
			p += k.Weight * (t.Survival(x-k.Centre) + t.Survival(x+k.Centre))
		case math.Abs(k.Centre) >= x:
			p += k.Weight
		}
	}
	return min(p, 1)
}

// Half returns the half-width of the 95 % interval, 0 where there is no error.
func (d Mixture) Half() float64 {
	high := 0.0
	for _, k := range d {
		high = max(high, k.Sigma+math.Abs(k.Centre))
	}
	low := 0.0
	for high > 0 && d.Beyond(high) > 0.05 {
		low, high = high, 2*high
	}
	for range 60 {
		if mid := (low + high) / 2; d.Beyond(mid) > 0.05 {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}

// And returns the distribution with an independent error of a standard deviation
// added to it.
func (d Mixture) And(sigma float64) Mixture {
	out := slices.Clone(d)
	for i := range out {
		out[i].Sigma = math.Hypot(out[i].Sigma, sigma)
	}
	return out
}
