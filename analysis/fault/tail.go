package fault

import "math"

// logGammaTail is the logarithm of the probability that a gamma variate of
// integer shape m ≥ 1 and scale 1 exceeds x ≥ 0. It is the sum of m independent
// normalised periodogram bins of noise. It doesn't underflow: the tail is
// exp(-x) Σ x^i/i! for i < m (the Poisson sum), taken here from its last term
// down, as far as the terms count.
func logGammaTail(m int, x float64) float64 {
	const counts = 1e-17
	if x <= 0 {
		return 0
	}
	sum, term, per := 1.0, 1.0, 1/x
	for i := m - 1; i > 0 && term > counts*sum; i-- {
		term *= float64(i) * per
		sum += term
	}
	if math.IsInf(sum, 1) {
		return 0
	}
	lg, _ := math.Lgamma(float64(m))
	return min(0, -x+float64(m-1)*math.Log(x)-lg+math.Log(sum))
}

// logRatioTail is logGammaTail(1, x) where x is a bin over a level that was
// itself estimated from w other bins: Snedecor's F with 2 and 2w degrees of
// freedom, whose tail is (1 + x/w)^-w.
func logRatioTail(w, x float64) float64 {
	return -w * math.Log1p(x/w)
}

// logBinomialTail is the logarithm of the probability of c or more successes in
// n trials of probability p, 0 < p < 1.
func logBinomialTail(n, c int, p float64) float64 {
	if c <= 0 {
		return 0
	}
	if c > n {
		return math.Inf(-1)
	}
	first := logChoose(n, c) + float64(c)*math.Log(p) + float64(n-c)*math.Log1p(-p)
	sum, term := 1.0, 1.0
	for j := c; j < n; j++ {
		term *= float64(n-j) / float64(j+1) * p / (1 - p)
		sum += term
		if term < 1e-12*sum && float64(j) > float64(n)*p {
			break
		}
	}
	return min(0, first+math.Log(sum))
}

func logChoose(n, k int) float64 {
	a, _ := math.Lgamma(float64(n + 1))
	b, _ := math.Lgamma(float64(k + 1))
	c, _ := math.Lgamma(float64(n - k + 1))
	return a - b - c
}
