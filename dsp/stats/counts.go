package stats

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// LogGammaTail is the logarithm of the probability that a gamma variate of
// integer shape m ≥ 1 and scale 1 exceeds x ≥ 0. It is the sum of m independent
// normalised periodogram bins of noise. It doesn't underflow: the tail is
// exp(-x) Σ x^i/i! for i < m (the Poisson sum), taken here from its last term
// down, as far as the terms count.
func LogGammaTail(m int, x float64) float64 {
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

// LogRatioTail is LogGammaTail(1, x) where x is a bin over a level that was
// itself estimated from w other bins: Snedecor's F with 2 and 2w degrees of
// freedom, whose tail is (1 + x/w)^-w.
func LogRatioTail(w, x float64) float64 {
	return -w * math.Log1p(x/w)
}

// LogBinomialTail is the logarithm of the probability of c or more successes in
// n trials of probability p, 0 < p < 1.
func LogBinomialTail(n, c int, p float64) float64 {
	if c <= 0 {
		return 0
	}
	if c > n {
		return math.Inf(-1)
	}
	first := LogChoose(n, c) + float64(c)*math.Log(p) + float64(n-c)*math.Log1p(-p)
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

// LogChoose is the logarithm of the number of ways to choose k of n.
func LogChoose(n, k int) float64 {
	a, _ := math.Lgamma(float64(n + 1))
	b, _ := math.Lgamma(float64(k + 1))
	c, _ := math.Lgamma(float64(n - k + 1))
	return a - b - c
}

// PoissonInterval returns the exact 95 % interval of a Poisson mean of which n were
// counted (F. Garwood, Biometrika 28, 1936).
func PoissonInterval(n float64) (low, high float64) {
	if n > 0 {
		low = distuv.Gamma{Alpha: n, Beta: 1}.Quantile(0.025)
	}
	return low, distuv.Gamma{Alpha: n + 1, Beta: 1}.Quantile(0.975)
}

// Conditional is the two-sided probability of counts a and b where each of
// them falls to b with the given share: the exact test that two Poisson rates are
// one (J. Przyborowski and H. Wilenski, Biometrika 31, 1940).
func Conditional(a, b, share float64) float64 {
	if a+b == 0 {
		return 1
	}
	atLeast, atMost := 1.0, 1.0
	if b > 0 {
		atLeast = mathext.RegIncBeta(b, a+1, share)
	}
	if a > 0 {
		atMost = mathext.RegIncBeta(a, b+1, 1-share)
	}
	return min(1, 2*min(atLeast, atMost))
}

// ProportionInterval returns the exact 95 % interval of a proportion (C. J. Clopper and E.
// S. Pearson, Biometrika 26, 1934).
func ProportionInterval(k, n float64) (low, high float64) {
	high = 1
	if k > 0 {
		low = distuv.Beta{Alpha: k, Beta: n - k + 1}.Quantile(0.025)
	}
	if k < n {
		high = distuv.Beta{Alpha: k + 1, Beta: n - k}.Quantile(0.975)
	}
	return low, high
}

// Fisher is the two-sided probability of two proportions as unlike as these if
// they are one (R. A. Fisher's exact test, tails doubled).
func Fisher(ka, na, kb, nb float64) float64 {
	choose := func(n, k float64) float64 {
		lg := func(x float64) float64 { y, _ := math.Lgamma(x + 1); return y }
		return lg(n) - lg(k) - lg(n-k)
	}
	all := ka + kb
	tail := func(from, to float64) float64 {
		p := 0.0
		for k := max(from, all-na, 0); k <= min(to, nb, all); k++ {
			p += math.Exp(choose(nb, k) + choose(na, all-k) - choose(na+nb, all))
		}
		return p
	}
	return min(1, 2*min(tail(0, kb), tail(kb, math.Inf(1))))
}
