package drift

import "math"

// Wander returns the wander between 10^low and 10^high at which the likelihood
// is greatest: on a grid of decades from low on, then by golden section to
// about 1 %. likelihood is up to a constant, and may be logarithmic; it is called
// some tens of times. Where it is greatest at an end, that end is approached.
// It panics where low exceeds high.
func Wander(low, high float64, likelihood func(wander float64) float64) float64 {
	if !(low <= high) {
		panic("drift: no range for the wander")
	}
	at := func(e float64) float64 { return likelihood(math.Pow(10, e)) }
	best, top := low, math.Inf(-1)
	for e := low; e <= high; e++ {
		if l := at(e); l > top {
			best, top = e, l
		}
	}
	const (
		golden = 0.6180339887
		steps  = 12 // two decades to 0.6 % of one
	)
	lo, hi := math.Max(low, best-1), math.Min(high, best+1)
	a, b := hi-golden*(hi-lo), lo+golden*(hi-lo)
	la, lb := at(a), at(b)
	for range steps {
		if la > lb {
			hi, b, lb = b, a, la
			a = hi - golden*(hi-lo)
			la = at(a)
		} else {
			lo, a, la = a, b, lb
			b = lo + golden*(hi-lo)
			lb = at(b)
		}
	}
	return math.Pow(10, (lo+hi)/2)
}
