package acquisition

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/mathext"
)

// The slowest and the fastest movement looked for, as the period of two beats
// in seconds: 1 200 and 43 200 beats an hour, with a little room.
const (
	longestPeriod  = 6.1
	shortestPeriod = 0.163
)

// loudEnough is the strength beyond which an onset counts no more, so that a
// slammed door weighs as much as a beat.
const loudEnough = 3

// dilate returns the maximum of x, which is nowhere negative, about each place,
// falling linearly to zero at four places away: it makes up for beats that come
// a block early or late.
func dilate(x []float32) []float32 {
	out := make([]float32, len(x))
	var next [3]float32
	copy(next[:], x)
	d, e, f := next[0], next[1], next[2] // this place and two after
	var a, b, c float32                  // three before
	for i := range x {
		var g float32
		if i+3 < len(x) {
			g = x[i+3]
		}
		out[i] = max(d, 0.75*max(c, e), 0.5*max(b, f), 0.25*max(a, g))
		a, b, c, d, e, f = b, c, d, e, f, g
	}
	return out
}

// vertex returns where a parabola through three equally spaced values has its
// extremum, relative to the middle one, within ±1/2.
func vertex(a, b, c float64) float64 {
	d := a - 2*b + c
	if d == 0 {
		return 0
	}
	return max(-0.5, min(0.5, 0.5*(a-c)/d))
}

// peakNear returns the place, to a fraction, and the value of the maximum of r
// within reach of at.
func peakNear(r []float64, at float64, reach int) (float64, float64) {
	c := int(at + 0.5)
	p := min(max(1, c-reach), len(r)-2)
	for i := p; i <= min(len(r)-2, c+reach); i++ {
		if r[i] > r[p] {
			p = i
		}
	}
	return float64(p) + vertex(r[p-1], r[p], r[p+1]), r[p]
}

// quickLength returns the least length from n on that has no prime factor but 2,
// 3 and 5, at least two of them 2: of such, the Fourier transform is quick.
func quickLength(n int) int {
	for n = max(4, (n+3)/4*4); ; n += 4 {
		rest := n
		for _, f := range []int{2, 3, 5} {
			for rest%f == 0 {
				rest /= f
			}
		}
		if rest == 1 {
			return n
		}
	}
}

// autocorrelation returns the autocorrelation of x, its mean taken out, at lags
// 0 … most: each lag divided by the energies of the two stretches that overlap,
// hence 1 at lag 0 and within ±1.
func autocorrelation(x []float32, most int) []float64 {
	n := len(x)
	size := quickLength(n + most)
	var mean float64
	for _, v := range x {
		mean += float64(v)
	}
	mean /= float64(n)
	padded := make([]float64, size)
	energy := make([]float64, n+1) // running sum of squares
	for i, v := range x {
		padded[i] = float64(v) - mean
		energy[i+1] = energy[i] + padded[i]*padded[i]
	}
	fft := fourier.NewFFT(size)
	c := fft.Coefficients(nil, padded)
	for i, v := range c {
		c[i] = complex(real(v)*real(v)+imag(v)*imag(v), 0)
	}
	r := fft.Sequence(padded, c)
	out := make([]float64, most+1)
	for l := range out {
		if l >= n {
			break
		}
		if d := math.Sqrt(energy[n-l] * (energy[n] - energy[l])); d > 0 {
			out[l] = r[l] / float64(size) / d
		}
	}
	return out
}

// logBinomialTail returns ln P(X ≥ k) for X binomial of n trials at p.
func logBinomialTail(n, k int, p float64) float64 {
	switch {
	case k <= 0:
		return 0
	case k > n || p <= 0:
		return math.Inf(-1)
	case p >= 1:
		return 0
	}
	if tail := mathext.RegIncBeta(float64(k), float64(n-k+1), p); tail > 1e-250 {
		return math.Log(tail)
	}
	// Chernoff's bound, where the tail itself underflows.
	q := float64(k) / float64(n)
	d := q * math.Log(q/p)
	if q < 1 {
		d += (1 - q) * math.Log((1-q)/(1-p))
	}
	return -float64(n) * d
}

func median(x []float64) float64 {
	y := slices.Clone(x)
	slices.Sort(y)
	return y[len(y)/2]
}
