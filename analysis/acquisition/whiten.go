package acquisition

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

// white is a stretch of sound in which the room is as loud at each frequency as
// at any other, with no more samples than the band takes.
type white struct {
	x      []float32
	every  float64 // frames a sample
	perSec float64 // samples a second
}

// The band that is listened to, in hertz.
const (
	bandFrom = 700
	bandTo   = 5500
)

// leastNoise is the least that a room is taken to have: which part of the power of the
// sound's differences (hum has little). Sound that was made has none, and what
// is left of its clicks between them, though nothing can be heard of it, is the
// same every time.
const leastNoise = 1e-7

// roomed returns x with the least noise that a room has.
func roomed(x []float32) []float32 {
	var sum float64
	for i := 1; i < len(x); i++ {
		d := float64(x[i]) - float64(x[i-1])
		sum += d * d
	}
	// Of an even distribution, the variance is a twelfth of the width squared.
	width := float32(math.Sqrt(12 * leastNoise * sum / float64(max(1, len(x)))))
	r := rand.New(rand.NewPCG(1, 1))
	out := make([]float32, len(x))
	for i, v := range x {
		out[i] = v + width*(r.Float32()-0.5)
	}
	return out
}

// rounded is which part of its power the rounding of a sound has, about.
const rounded = 1e-11

func whiten(x []float32, rate float64) white {
	x = roomed(x)
	every := 1
	for rate/float64(2*every) > 2.1*bandTo {
		every *= 2
	}
	size := every * 256
	hop, out := size/2, size/every
	hann := make([]float64, size)
	for i := range hann {
		hann[i] = 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(size))
	}
	fft, back := fourier.NewFFT(size), fourier.NewFFT(out)
	mean := 0.0
	for _, v := range x {
		mean += float64(v) / float64(len(x))
	}
	piece, c := make([]float64, size), make([]complex128, size/2+1)
	transform := func(at int) {
		for i := range piece {
			piece[i] = hann[i] * (float64(x[at+i]) - mean)
		}
		fft.Coefficients(c, piece)
	}
	perHz := float64(size) / rate
	from, to := int(bandFrom*perHz), min(int(bandTo*perHz), out/2-1)
	gain := make([]float64, to+1)
	spectra := make([][]float64, to+1)
	step := max(hop, len(x)/1000/hop*hop)
	for at := 0; at+size <= len(x); at += step {
		transform(at)
		for k := from; k <= to; k++ {
			spectra[k] = append(spectra[k], real(c[k])*real(c[k])+imag(c[k])*imag(c[k]))
		}
	}
	top, loudest := 0.0, 0.0
	for k := from; k <= to; k++ {
		if len(spectra[k]) > 0 {
			slices.Sort(spectra[k])
			gain[k] = spectra[k][len(spectra[k])/3]
			top, loudest = max(top, gain[k]), max(loudest, spectra[k][len(spectra[k])-1])
		}
	}
	least := max(1e-6*top, rounded*float64(size)*power(x), 1e-20)
	for k := from; k <= to; k++ {
		gain[k] = 1 / math.Sqrt(max(gain[k], least))
	}
	w := white{x: make([]float32, (len(x)/hop+2)*hop/every), every: float64(every), perSec: rate / float64(every)}
	if loudest < least {
		return w // nothing but rounding
	}
	narrow, y := make([]complex128, out/2+1), make([]float64, out)
	for at := 0; at+size <= len(x); at += hop {
		transform(at)
		for k := from; k <= to; k++ {
			narrow[k] = c[k] * complex(gain[k], 0)
		}
		back.Sequence(y, narrow)
		for i, v := range y {
			w.x[at/every+i] += float32(v)
		}
	}
	return w
}
