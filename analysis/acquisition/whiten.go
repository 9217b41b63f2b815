package acquisition

import (
	"math"
	"math/cmplx"
	"runtime"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"

	"rundown/dsp/parallel"
)

// white is a stretch of sound in which the room is as loud at each frequency as
// at any other, with no more samples than the band takes.
type white struct {
	x      []float32
	half   []float32 // the sound half a sample after each of x
	every  float64   // frames a sample
	perSec float64   // samples a second
	hz     float64   // how wide the part of the band is that holds sound
}

// The band that is listened to, in hertz.
const (
	bandFrom = 700
	bandTo   = 9500
)

// mostPerSec is how many samples a second are kept at most: somewhat more than
// twice the band's upper end.
const mostPerSec = 20500

// leastNoise is the least that a room is taken to have: which part of the power of the
// sound's differences (hum has little). Sound that was made has none, and what
// is left of its clicks between them, though nothing can be heard of it, is the
// same every time.
const leastNoise = 1e-7

// hush returns the width of the even distribution of the least noise that a room
// has.
func hush(x []float32) float64 {
	var sum float64
	for i := 1; i < len(x); i++ {
		d := float64(x[i]) - float64(x[i-1])
		sum += d * d
	}
	// Of an even distribution, the variance is a twelfth of the width squared.
	return math.Sqrt(12 * leastNoise * sum / float64(max(1, len(x))))
}

// noise returns the ith of numbers evenly distributed within ±1/2, always the same
// (G. L. Steele, D. Lea and C. H. Flood, OOPSLA 2014, 453: SplitMix).
func noise(i int) float64 {
	z := uint64(i+1) * 0x9e3779b97f4a7c15
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return float64((z^z>>31)>>11)/(1<<53) - 0.5
}

// rounded is which part of its power the rounding of a sound has, about.
const rounded = 1e-11

// pieces are what a stretch is taken apart into: overlapping by half, under a Hann
// window, with the least noise that a room has.
type pieces struct {
	x           []float32
	mean, width float64
	hann, piece []float64
	fft         *fourier.FFT
	c           []complex128
}

func newPieces(x []float32, size int) *pieces {
	p := &pieces{x: x, width: hush(x), hann: make([]float64, size), piece: make([]float64, size), fft: fourier.NewFFT(size), c: make([]complex128, size/2+1)}
	for i := range p.hann {
		p.hann[i] = 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(size))
	}
	for _, v := range x {
		p.mean += float64(v) / float64(len(x))
	}
	return p
}

// beside returns the same pieces, to be taken apart at the same time.
func (p *pieces) beside() *pieces {
	q := *p
	q.piece, q.fft, q.c = make([]float64, len(p.piece)), fourier.NewFFT(len(p.piece)), make([]complex128, len(p.c))
	return &q
}

// transform returns the Fourier transform of the piece at a sample, valid until the
// next call.
func (p *pieces) transform(at int) []complex128 {
	for i := range p.piece {
		p.piece[i] = p.hann[i] * (float64(p.x[at+i]) - p.mean + p.width*noise(at+i))
	}
	return p.fft.Coefficients(p.c, p.piece)
}

// room returns the power of the room at frequencies from one to another, what a
// third of some thousand pieces stay below, and the greatest of any piece.
func (p *pieces) room(from, to int) (room []float64, loudest float64) {
	size := len(p.piece)
	spectra := make([][]float64, to+1)
	step := max(size/2, len(p.x)/1000/(size/2)*(size/2))
	for at := 0; at+size <= len(p.x); at += step {
		c := p.transform(at)
		for k := from; k <= to; k++ {
			spectra[k] = append(spectra[k], real(c[k])*real(c[k])+imag(c[k])*imag(c[k]))
		}
	}
	room = make([]float64, to+1)
	for k, s := range spectra {
		if len(s) > 0 {
			slices.Sort(s)
			room[k] = s[len(s)/3]
			loudest = max(loudest, s[len(s)-1])
		}
	}
	return room, loudest
}

func whiten(x []float32, rate float64) white {
	const out = 256 // samples of a piece, at up to mostPerSec
	size := max(out, quickLength(int(math.Ceil(rate*out/mostPerSec))))
	hop := size / 2
	perHz := float64(size) / rate
	from, to := int(bandFrom*perHz), min(int(bandTo*perHz), out/2-1)
	p := newPieces(x, size)
	gain, loudest := p.room(from, to)
	least := max(1e-6*slices.Max(gain), rounded*float64(size)*power(x), 1e-20)
	heard := 0
	for k := from; k <= to; k++ {
		if gain[k] > least {
			heard++
		}
		gain[k] = 1 / math.Sqrt(max(gain[k], least))
	}
	later := make([]complex128, to+1) // by half a sample
	for k := range later {
		later[k] = cmplx.Rect(1, math.Pi*float64(k)/out)
	}
	every := float64(size) / out
	samples := (len(x)/hop + 2) * out / 2
	w := white{x: make([]float32, samples), half: make([]float32, samples), every: every, perSec: rate / every, hz: float64(heard) / perHz}
	if loudest < least {
		return w // nothing but rounding
	}
	// Every other piece overlaps none of the same.
	all, parts := max(0, len(x)-size+hop)/hop, runtime.GOMAXPROCS(0)
	for odd := range 2 {
		parallel.Each(parts, func(part int) {
			own, back, narrow, y := p.beside(), fourier.NewFFT(out), make([]complex128, out/2+1), make([]float64, out)
			for i := odd + 2*part; i < all; i += 2 * parts {
				c := own.transform(i * hop)
				for k := from; k <= to; k++ {
					narrow[k] = c[k] * complex(gain[k], 0)
				}
				overlap(w.x[i*out/2:], back.Sequence(y, narrow))
				for k := from; k <= to; k++ {
					narrow[k] *= later[k]
				}
				overlap(w.half[i*out/2:], back.Sequence(y, narrow))
			}
		})
	}
	return w
}

// overlap adds x to the start of sum.
func overlap(sum []float32, x []float64) {
	for i, v := range x {
		sum[i] += float32(v)
	}
}
