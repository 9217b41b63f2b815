package contacts

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// whitening is the order of the prediction-error filter: at 48 kHz it resolves
// the room's spectrum to some 1.5 kHz.
const whitening = 32

// Whitener makes the room's noise white, of variance 1 for a single beat, by
// linear prediction (J. Makhoul, Proc. IEEE 63, 1975): what follows from the
// samples before is taken out, so that nothing sounds ahead of its time.
type Whitener struct {
	taps [whitening + 1]float32
}

// lowest is the frequency below which a room rumbles and hums, and mechanisms
// don't tick, Hz.
const lowest = 700

// NewWhitener takes the room's power spectrum at multiples of rate/2/(len−1) Hz,
// one-sided, scaled such that white noise of variance v has 2v throughout.
func NewWhitener(room []float64, rate float64) *Whitener {
	n := 2 * (len(room) - 1)
	c := make([]complex128, len(room))
	for k, p := range room {
		hz := float64(k) * rate / float64(n)
		// Below lowest, a room that is loud without bound passes nothing.
		if hz < lowest {
			p *= math.Pow(lowest/math.Max(hz, lowest/8), 4)
		}
		c[k] = complex(p/2, 0)
	}
	r := fourier.NewFFT(n).Sequence(nil, c)
	for i := range r {
		r[i] /= float64(n)
	}
	return predictionError(r[:whitening+1])
}

// predictionError returns the filter of an autocorrelation, which passes everything where there
// is no sound to predict.
func predictionError(r []float64) *Whitener {
	w := &Whitener{}
	if r[0] == 0 {
		w.taps[0] = 1
		return w
	}
	a, variance := levinson(r)
	gain := 1 / math.Sqrt(variance)
	for i, v := range a {
		w.taps[i] = float32(v * gain)
	}
	return w
}

// levinson returns the prediction-error filter of the order for which it has
// autocorrelations, and the variance of the error (N. Levinson, J. Math. Phys.
// 25, 1947; J. Durbin, Rev. Inst. Int. Stat. 28, 1960). It is of a lower order where the
// autocorrelations are no more exact than that.
func levinson(r []float64) (a []float64, variance float64) {
	a = make([]float64, len(r))
	a[0], variance = 1, r[0]*(1+1e-9)
	for m := 1; m < len(r); m++ {
		acc := r[m]
		for i := 1; i < m; i++ {
			acc += a[i] * r[m-i]
		}
		k := -acc / variance
		if !(math.Abs(k) < 1) {
			break // rounding: what is left is foretold as well as it can be
		}
		for i, j := 1, m-1; i <= j; i, j = i+1, j-1 {
			a[i], a[j] = a[i]+k*a[j], a[j]+k*a[i]
		}
		a[m] = k
		variance *= 1 - k*k
	}
	return a, variance
}

// Append appends to dst the whitened sound x, as many samples; the first ones
// lack what came before them.
func (w *Whitener) Append(dst, x []float32) []float32 {
	for i := range x {
		if i < whitening {
			dst = append(dst, 0)
			continue
		}
		y := x[i-whitening : i+1]
		var s0, s1 float32
		for k := 0; k < whitening; k += 2 {
			s0 += w.taps[k] * y[whitening-k]
			s1 += w.taps[k+1] * y[whitening-k-1]
		}
		dst = append(dst, s0+s1+w.taps[whitening]*y[0])
	}
	return dst
}
