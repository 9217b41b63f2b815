package beat

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

// repeat is a period at whose multiples the sound resembles itself.
type repeat struct {
	period float64 // samples
	z      float64 // in standard deviations of noise
}

// repeats returns the autocorrelation at lags up to about most, in standard
// deviations of that of noise. It is summed over blocks, for the sake of memory.
func (s *steady) repeats(most int) []float64 {
	size := quickLength(2 * most)
	block := size / 2
	fft := fourier.NewFFT(size)
	x := make([]float64, size)
	var spectra [2][]complex128
	sum := make([]complex128, size/2+1)
	for n := 0; n <= len(s.x)/block; n++ {
		clear(x)
		for i, v := range s.x[n*block : min((n+1)*block, len(s.x))] {
			x[i] = float64(v)
		}
		now, before := fft.Coefficients(spectra[n%2], x), spectra[1-n%2]
		spectra[n%2] = now
		// Each block with itself, and the one before it with this one, which is
		// half a transform later: each odd frequency is then turned by half a
		// circle.
		for k, v := range now {
			sum[k] += complex(real(v)*real(v)+imag(v)*imag(v), 0)
			if n > 0 {
				u := before[k]
				if k%2 == 1 {
					v = -v
				}
				sum[k] += complex(real(u), -imag(u)) * v
			}
		}
	}
	r := fft.Sequence(x, sum)[:min(block, len(s.x))]
	for l := range r {
		r[l] /= float64(size) * math.Sqrt(float64(len(s.x)-l))
	}
	return r
}

// periods returns the periods at whose multiples the sound resembles itself
// most, the clearest first.
func (s *steady) periods() []repeat {
	const (
		furthest  = 36 // seconds
		multiples = 32
		least     = 5.5
		enough    = 10
	)
	most := min(len(s.x)/2, int(furthest*s.perSec))
	r := s.repeats(most)[:most]
	for i, v := range r {
		// A sound that came twice, and no more, is not a beat.
		r[i] = max(-5, min(5, v))
	}
	var out []repeat
	for p := shortestPeriod * s.perSec; p < min(longestPeriod*s.perSec, float64(most)/4); {
		n := min(multiples, int(float64(most-1)/p))
		var sum float64
		for k := 1; k <= n; k++ {
			sum += r[int(float64(k)*p+0.5)]
		}
		if z := sum / math.Sqrt(float64(n)); z > least {
			last := len(out) - 1
			switch {
			case last < 0 || p-out[last].period > 3:
				out = append(out, repeat{p, z})
			case z > out[last].z:
				out[last] = repeat{p, z}
			}
		}
		p += 1 / float64(n)
	}
	slices.SortStableFunc(out, func(a, b repeat) int { return cmp.Compare(b.z, a.z) })
	return out[:min(len(out), enough)]
}
