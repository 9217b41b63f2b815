package fault

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

const (
	nCubic  = 4 // polynomial terms of a trend
	nHalves = 6 // half swings of the fastest wave of a trend: three whole ones in the stretch
	nTrend  = nCubic + 2*nHalves
	// trendBlocks is the number of averages that a trend is fitted to. Over one
	// of them its fastest wave turns by a degree.
	trendBlocks = 1024
)

// trend holds the coefficients of the terms of trendBasis.
type trend [nTrend]float64

// detrend subtracts from x its trend, which is whatever is slower than three
// swings in the stretch: the least-squares fit of a cubic, and of waves of half,
// one, one and a half … three swings of any phase. Where x has two sides, so
// that neighbouring values belong to tick and tock, the difference between them
// is detrended likewise, and its trend subtracted. NaN is not allowed.
func detrend(x []float64, sides int) {
	// The second round takes away what the first leaves because it takes the
	// mean of a wave over a block for its value at the middle.
	for range 2 {
		even := fitTrend(len(x), func(i int) float64 { return x[i] })
		odd := even
		if sides == 2 {
			for j, d := range fitTrend(len(x), func(i int) float64 { return sideOf(x, i) }) {
				even[j] += d
				odd[j] -= d
			}
		}
		subtract(x, &even, &odd)
	}
}

// subtract takes the trends of the even and of the odd values away.
func subtract(x []float64, even, odd *trend) {
	const exact = 64 // values in which the turning of the wave adds up no error worth a digit
	stepSin, stepCos := math.Sincos(math.Pi / float64(len(x)))
	var sin, cos float64
	for i := range x {
		u := place(i, len(x))
		if i%exact == 0 {
			sin, cos = math.Sincos(math.Pi / 2 * u)
		} else {
			sin, cos = sin*stepCos+cos*stepSin, cos*stepCos-sin*stepSin
		}
		t := even
		if i%2 == 1 {
			t = odd
		}
		x[i] -= t.at(u, sin, cos)
	}
}

// sideOf is half of what the even values near index i have over the odd ones.
// Only neighbours are compared, so that a wander that both sides follow has no
// part in it.
func sideOf(x []float64, i int) float64 {
	if len(x) < 3 {
		return 0
	}
	i = min(max(i, 1), len(x)-2)
	d := (x[i] - (x[i-1]+x[i+1])/2) / 2
	if i%2 == 1 {
		return -d
	}
	return d
}

// place turns index i of n into a coordinate from -1 to 1.
func place(i, n int) float64 {
	return float64(2*i+1-n) / float64(n)
}

// fitTrend fits a trend to the n values of at. Where they are few, the faster
// waves are left out of it.
func fitTrend(n int, at func(i int) float64) (t trend) {
	size := max(2, (n/trendBlocks+1)/2*2) // even, to hold as many of either side
	blocks := (n + size - 1) / size
	terms := min(nTrend, blocks/2)
	if terms == 0 {
		return t
	}
	design := mat.NewDense(blocks, terms, nil)
	values := mat.NewVecDense(blocks, nil)
	for b := range blocks {
		from, to := b*size, min((b+1)*size, n)
		sum := 0.0
		for i := from; i < to; i++ {
			sum += at(i)
		}
		weight := math.Sqrt(float64(to - from))
		basis := trendBasis((place(from, n) + place(to-1, n)) / 2)
		for j := range terms {
			design.Set(b, j, weight*basis[j])
		}
		values.SetVec(b, sum/weight)
	}
	// The terms nearly depend on each other. That leaves coefficients uncertain
	// but not the fit, hence a bad condition is no fault.
	var qr mat.QR
	qr.Factorize(design)
	var solution mat.VecDense
	if err := qr.SolveVecTo(&solution, false, values); err != nil && solution.Len() != terms {
		return t
	}
	copy(t[:], solution.RawVector().Data)
	return t
}

// at is the trend at place u, given the sine and cosine of πu/2.
func (t *trend) at(u, sin, cos float64) float64 {
	var re, im float64
	for k := nTrend - 2; k >= nCubic; k -= 2 {
		re, im = (re+t[k])*cos-(im-t[k+1])*sin, (re+t[k])*sin+(im-t[k+1])*cos
	}
	return re + t[0] + u*(t[1]+u*1.5*t[2]+(2.5*u*u-1.5)*t[3]) - 0.5*t[2]
}

// trendBasis returns the terms of a trend at place u: Legendre's polynomials of degree 0
// to 3, then cos(kπu/2) and sin(kπu/2) in turn.
func trendBasis(u float64) (b trend) {
	b[0], b[1], b[2], b[3] = 1, u, (3*u*u-1)/2, (5*u*u-3)*u/2
	sin, cos := math.Sincos(math.Pi / 2 * u)
	s, c := sin, cos
	for k := nCubic; k < nTrend; k += 2 {
		b[k], b[k+1] = c, s
		c, s = c*cos-s*sin, s*cos+c*sin
	}
	return b
}

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
				x[k] = lineAt(x, last, i, k)
			}
			last = i
		}
	}
}

// lineAt is the value at k on the line through those at a and b, of which
// either may lie outside x.
func lineAt(x []float64, a, b, k int) float64 {
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
